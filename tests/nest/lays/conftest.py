"""Lets the tests import the shared builders by name."""

import sys
from pathlib import Path

sys.path += [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "planning")]
