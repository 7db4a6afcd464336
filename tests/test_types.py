"""Types of the rooms that hold them strictly."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent

STRICT = (
    "geometry", "nest/plan.py", "nest/rules.py", "nest/units.py", "nest/statistics.py", "nest/atomic.py",
    "nest/plainfile.py", "nest/pieces", "nest/stock", "nest/selection", "nest/placement", "nest/verify",
    "nest/accounts", "nest/stretch", "nest/registration", "nest/outcomes",
)
"""Checked by mypy in strict mode; a room is added when it is clean."""


def test_rooms_held_strictly_have_no_fault_of_types():
    """Every signature is typed and every call fits; what the rooms import is read, not judged."""
    found = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", *STRICT], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stdout + found.stderr


def test_the_packages_say_that_they_are_typed():
    """`py.typed` (PEP 561) tells a user's type checker to read them."""
    assert all((ROOT / package / "py.typed").is_file() for package in ("nest", "geometry"))
