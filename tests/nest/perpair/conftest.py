"""The boxes live beside the planning tests."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "planning"))
