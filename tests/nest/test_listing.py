"""Lists on the screen: as rich draws a table where it fits, whole at any width, and quick. Invented."""

import io
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from nest.cli.costing_tables import plain_table
from nest.cli.listing import Listing, drawn

HEADER = ("id", "leather", "dm2", "what was said")
ROWS = (
    ("H1", "Black side", "204.10", "loose in the shoulder"), ("H23", "–", "8.00", "two\nlines"),
    ("牛皮 4", "", "1234.50", "fly bites, and a brand that nobody saw"),
)
NUMBERS = (False, False, True, False)


def screen(width, encoding="utf-8"):
    """A screen of this width."""
    return Console(file=io.TextIOWrapper(io.BytesIO(), encoding=encoding), width=width, highlight=False)


def stripped(text):
    """Lines without the blanks at their ends."""
    return [line.rstrip() for line in text.splitlines()]


def rich_table(rows, out):
    """What rich makes of the same list."""
    table = plain_table("hides", HEADER[0], ())
    for name, number in list(zip(HEADER, NUMBERS, strict=True))[1:]:
        table.add_column(name, justify="right" if number else "left", no_wrap=number)
    for row in rows:
        table.add_row(*row)
    with out.capture() as printed:
        out.print(table, markup=False, crop=False)
    return printed.get()


def test_a_list_that_fits_is_the_table_that_rich_draws():
    """Headings, columns, wide letters and lines within a cell stand as rich has them; ASCII where that is all."""
    out, listing = screen(100), Listing("hides", HEADER, ROWS, NUMBERS)
    assert stripped(drawn(listing, out)) == stripped(rich_table(ROWS, out))
    assert "─" not in drawn(listing, screen(100, "ascii"))


WORDS = st.lists(st.text("abé牛1-", min_size=1, max_size=9), min_size=0, max_size=6).map(" ".join)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(WORDS, WORDS, st.integers(0, 10**6).map(str), WORDS), max_size=5), st.integers(12, 90))
def test_no_word_is_lost_or_broken_at_any_width(rows, width):
    """Every word stands there as often as in the cells, and no line is too wide but for a word that is."""
    text = drawn(Listing("hides", HEADER, tuple(rows), NUMBERS), screen(width))
    stands = text.split()
    for word in {word for row in rows for cell in row for word in cell.split()}:
        assert stands.count(word) >= sum(cell.split().count(word) for row in rows for cell in row)
    assert all(len(line) <= width or len(line.split()) == 1 for line in text.splitlines() if line.isascii())


@pytest.mark.parametrize("width", [160, 60])
def test_ten_thousand_rows_are_drawn_in_no_time(width):
    """A list of a whole stock takes half a second of a processor at most, also as blocks."""
    rows = tuple((f"H{n}", "Black side", f"{n}.50", "–", "2026-11-02", "rack 4", "T", "lot 7") for n in range(10_000))
    listing = Listing("hides", ("id",) + 7 * ("heading of it",), rows, (False, False, True) + 5 * (False,))
    took = []
    for _ in range(3):
        begin = time.process_time()
        drawn(listing, screen(width))
        took.append(time.process_time() - begin)
        if took[-1] < 0.25:
            break
    assert min(took) < 0.5, took
