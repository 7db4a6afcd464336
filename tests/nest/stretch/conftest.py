"""Lets the tests import the shared builders one folder up."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))
