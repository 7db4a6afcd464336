"""Lets the tests import the shared builders by name."""

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path += [str(HERE), str(HERE.parent), str(HERE.parent / "planning")]
