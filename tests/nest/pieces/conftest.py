"""Lets the tests of pieces import their shared style, `small_styles`, by name."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
