"""Lets the registration tests import the shared helpers of the drawing tests by name."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "cutplan"))
