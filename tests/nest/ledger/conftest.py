"""Ledgers for tests: the same tests run on SQLite and on a real PostgreSQL."""

import sys
from pathlib import Path

import pytest

sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[1] / "planning")]

from postgres import cluster, new_database, programs

from nest.pieces.make import make_pieces

_MADE: dict = {}


@pytest.fixture(scope="session")
def postgresql():
    """Address of a running cluster."""
    if programs() is None:
        pytest.skip("PostgreSQL is not installed here (apt-get install postgresql), or only root could run it")
    with cluster() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request, tmp_path):
    """Address of a ledger that is not made yet."""
    if request.param == "sqlite":
        return str(tmp_path / "ledger.db")
    return new_database(request.getfixturevalue("postgresql"))


@pytest.fixture
def ledger(address):
    """An empty ledger."""
    from nest.ledger.store import open_ledger

    return open_ledger(address, make=True)


@pytest.fixture(autouse=True)
def pieces_once(monkeypatch):
    """Make each piece once: closing a day and estimating ask for the same few again and again."""
    from nest.ledger import closing
    from nest.pieces import make

    def made(style, sizes):
        key = style.name, style.roll, style.leather, tuple(sizes)
        if key not in _MADE or _MADE[key][0] is not style.templates:
            _MADE[key] = style.templates, make_pieces(style, sizes)
        return _MADE[key][1]

    for module in (closing, make):
        monkeypatch.setattr(module, "make_pieces", made)
