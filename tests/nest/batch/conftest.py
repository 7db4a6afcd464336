"""Lets the tests import the shared builders one folder up."""

import sys
from pathlib import Path

import pytest

from geometry.processors import CORES_VARIABLE

sys.path.append(str(Path(__file__).parents[1]))


@pytest.fixture(autouse=True)
def cores_as_before(monkeypatch):
    """A task run within a test limits this process to one core: afterwards it has all again."""
    monkeypatch.setenv(CORES_VARIABLE, "1")
    monkeypatch.delenv(CORES_VARIABLE)
