"""Lets every test below this folder import the shared builders, such as `tiny_plans`, by name."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
