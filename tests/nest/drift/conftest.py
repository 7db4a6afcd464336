"""Lets the tests of this folder import the builders of jobs, plans and worlds by name."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "planning"))
sys.path.append(str(Path(__file__).parents[1]))
sys.path.append(str(Path(__file__).parents[2] / "bench"))
