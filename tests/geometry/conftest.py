"""Lets the geometry tests import their shared shapes, `outlines`, by name."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
