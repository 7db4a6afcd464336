"""Lets the tests of this folder import their shared builders by name."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
