"""Lets the tests import shared builders, those of the planning's boxes too; worker processes that several tests use."""

import sys
from pathlib import Path

import pytest

from geometry.processors import CORES_VARIABLE

NEST = Path(__file__).parents[1]
sys.path += [str(NEST), str(NEST / "planning")]


@pytest.fixture(scope="module")
def workers():
    """A client of two worker processes, started once for a file of tests."""
    pytest.importorskip("distributed")
    pytest.importorskip("cryptography")
    from nest.cluster.connect import connected
    from nest.cluster.where import Where

    with connected(Where(local=2)) as client:
        yield client


@pytest.fixture(autouse=True)
def cores_as_before(monkeypatch):
    """A task run within a test limits this process to one core: afterwards it has all again."""
    monkeypatch.setenv(CORES_VARIABLE, "1")
    monkeypatch.delenv(CORES_VARIABLE)
