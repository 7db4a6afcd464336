"""What the program stands on: every library is listed with its licence, and states the same of itself."""

import re
import tomllib
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
GUIDE = (ROOT / "nest/guide/python.md").read_text(encoding="utf-8")

REQUIRED = sorted({
    re.match(r"[\w-]+", requirement)[0]
    for group in (PROJECT["dependencies"], *PROJECT["optional-dependencies"].values()) for requirement in group
} - {"vampyield"})


def listed() -> dict[str, str]:
    """The licence by library, as the guide has it."""
    table = GUIDE.split("\n| licence | libraries |\n")[1].split("\n\n")[0]
    found = {}
    for row in table.splitlines()[1:]:
        licence, names = (cell.strip() for cell in row.strip("|").split("|"))
        for name in names.split(", "):
            if not name.startswith("for "):
                assert name not in found
                found[name] = licence
    return found


def test_every_library_is_listed_once():
    """Those of `pyproject.toml`, all extras too, and no others."""
    assert sorted(listed()) == REQUIRED


def test_every_library_has_a_lower_bound_and_no_upper_one():
    """Bounds are tested by `tests/bench/supply.py`; an upper one would keep mended versions out."""
    for group in (PROJECT["dependencies"], *PROJECT["optional-dependencies"].values()):
        for requirement in group:
            assert re.fullmatch(r"[\w-]+(\[\w+\])?>=[\d.]+|vampyield\[\w+\]", requirement), requirement


@pytest.mark.parametrize("name", REQUIRED)
def test_a_library_states_the_licence_that_is_listed(name):
    """By its own metadata, where it is installed and has any."""
    try:
        about = metadata(name)
    except PackageNotFoundError:
        pytest.skip("not installed")
    said = " ".join([about.get("License-Expression") or "", about.get("License") or "",
                     *(one for one in about.get_all("Classifier") or () if one.startswith("License"))])
    if not said.strip():
        pytest.skip("it states none")
    words = listed()[name].split(" or ")
    assert any(word in said for word in words), said[:200]
