"""Types: no fault in any room, and every signature typed in those that pyproject.toml holds strictly."""

import getpass
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent

CACHE = Path(tempfile.gettempdir()) / f"vampyield-types-{getpass.getuser()}"
"""Outside the project: a copy of it stays as it is when its tests run, and the next copy is checked sooner."""

STRICT = {"geometry.*", "nest.plan", "nest.placement.*", "nest.selection.*", "nest.verify.*", "nest.accounts.*"}
"""Rooms that stay strict; pyproject.toml names more."""


def faults(*what: str | Path) -> str:
    """What mypy says of files or packages, by the settings of the project; "" if nothing is wrong."""
    command = [sys.executable, "-m", "mypy", "--cache-dir", str(CACHE), "--no-error-summary", *map(str, what)]
    found = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert found.returncode in (0, 1), found.stdout + found.stderr
    return found.stdout if found.returncode else ""


def test_no_room_has_a_fault_of_types():
    """Every call fits what it calls, every attribute is there; in strict rooms every signature is typed."""
    assert faults("geometry", "nest") == ""


def test_strict_rooms_stay_strict():
    """Those agreed are among the rooms of pyproject.toml, each of which is there."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        (rooms,) = tomllib.load(file)["tool"]["mypy"]["overrides"]
    assert set(rooms["module"]) >= STRICT and rooms["disallow_untyped_defs"]
    for room in rooms["module"]:
        place = ROOT / room.removesuffix(".*").replace(".", "/")
        assert place.is_dir() if room.endswith(".*") else place.with_suffix(".py").is_file(), room


def test_the_packages_say_that_they_are_typed():
    """`py.typed` (PEP 561) tells a user's type checker to read them."""
    assert all((ROOT / package / "py.typed").is_file() for package in ("nest", "geometry"))
