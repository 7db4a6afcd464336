"""Everything out as CSV and back: whatever the texts and numbers are, nothing is changed. Invented."""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from box_jobs import hide
from day_jobs import stocked
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from sqlalchemy import Float, Integer, LargeBinary, select

from nest.errors import LedgerProblem
from nest.ledger import tables
from nest.ledger.exchange import export, import_all
from nest.ledger.stock import set_aside
from nest.ledger.store import open_ledger
from nest.stock.material import Hide
from nest.text import hidden_in

KINDS = tuple(table for table in tables.metadata.sorted_tables if table is not tables.version)
TEXTS = st.text(st.characters(codec="utf-8"), max_size=8).filter(lambda text: hidden_in(text) is None)
NUMBERS = st.floats(-(2.0**53), 2.0**53)
ODD = ("\\N", "\\\\N", "", ",", '"', "a\r\nb", "\r", " x ", "=1+1", "é", "'")


@cache
def body():
    """A hide as the ledger keeps it."""
    with TemporaryDirectory() as folder:
        ledger = open_ledger(Path(folder) / "one.db", make=True)
        with ledger.booking("Ann", "kept") as booking:
            booking.keep(Hide, hide())
            return booking.connection.scalar(select(tables.body.c.packed))


def row_of(table, texts, numbers):
    """A row of a table: texts and numbers as they come, ids that lead to the only row of another."""
    row = {}
    for at, column in enumerate(table.columns):
        if column.name == "id" or column.foreign_keys:
            row[column.name] = 1
        elif isinstance(column.type, LargeBinary):
            row[column.name] = body()
        elif isinstance(column.type, Integer):
            row[column.name] = at
        elif isinstance(column.type, Float):
            row[column.name] = numbers[at % len(numbers)]
        else:
            row[column.name] = texts[at % len(texts)]
    return row


def all_of(ledger):
    """Every row of every table."""
    with ledger.reading() as connection:
        return {table.name: list(map(tuple, connection.execute(select(table).order_by(table.c.id)))) for table in KINDS}


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@example(list(ODD), [0.1, -0.0, 2.0**53, 5e-324])
@example(list(reversed(ODD)), [1.0 / 3.0])
@given(st.lists(TEXTS, min_size=1, max_size=7), st.lists(NUMBERS, min_size=1, max_size=4))
def test_whatever_is_kept_goes_out_and_comes_back(texts, numbers):
    """A row of every table, of any texts and numbers: read back into a new ledger all of them are what they were."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        ledger = open_ledger(folder / "first.db", make=True)
        with ledger.engine.connect().execution_options(writes=True) as connection, connection.begin():
            for table in KINDS:
                connection.execute(table.insert().values(**row_of(table, texts, numbers)))
        counts = export(ledger, folder / "copy")
        other = open_ledger(folder / "second.db", make=True)
        assert import_all(other, folder / "copy") == {table.name: counts[table.name] for table in KINDS}
        assert repr(all_of(other)) == repr(all_of(ledger))


@pytest.mark.parametrize("said", ["turned\u202e", "\udcff", "bell\a"])
def test_a_text_that_would_not_come_back_is_not_booked(tmp_path, said):
    """What is hidden in a text is refused when it is booked, for an export that holds it is refused too."""
    ledger = stocked(open_ledger(tmp_path / "ledger.db", make=True), 1)
    with pytest.raises(LedgerProblem, match=r"what was said \(--why\): the text holds the character U\+"):
        set_aside(ledger, ["H1"], "withdrawn", by="Bo", why=said)
