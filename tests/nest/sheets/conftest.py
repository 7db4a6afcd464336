"""Lets the tests of sheets import their shared helpers by name."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
