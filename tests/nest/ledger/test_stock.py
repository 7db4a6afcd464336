"""Stock in the ledger: received, listed, set aside, counted; kept, and moved to another database. Invented."""

from dataclasses import replace

import pytest
from box_jobs import hide
from day_jobs import states
from sqlalchemy import func, select

from nest.errors import InputProblems, LedgerProblem, Taken
from nest.ledger import stocktake, tables
from nest.ledger.exchange import export, import_all
from nest.ledger.lists import Counted
from nest.ledger.rows import hide_rows, roll_rows
from nest.ledger.stock import (
    RollReceived,
    give_class,
    give_place,
    hide_of,
    history,
    move_hides,
    move_roll,
    receive_hides,
    receive_rolls,
    set_aside,
)
from nest.ledger.store import begun_ledger, open_ledger
from nest.ledger.summary import rolls_by_article, stock_by_class
from nest.stock.material import Leather
from nest.units import MM2_PER_AREA_UNIT

CALF = Leather("calf", 40, "m2", ((2, 30),))


def stocked(ledger, count=4, **more):
    """The ledger with some hides of 1000 × 500 mm."""
    receive_hides(ledger, [hide(f"H{i}", **more) for i in range(1, count + 1)], [CALF], by="Ann", since="2026-11-02")
    return ledger


def test_a_ledger_begins_with_its_first_booking_or_not_at_all(address):
    """A first booking that is refused leaves no ledger, in either database; one that is kept begins it."""
    with pytest.raises(LedgerProblem, match=r"U\+202E"), begun_ledger(address) as first:
        receive_hides(first, [hide("H1")], [CALF], by="Ann\u202e", since="2026-11-02")
    with pytest.raises(LedgerProblem, match="there is no ledger"):
        open_ledger(address)
    for name in ("H1", "H2"):
        with begun_ledger(address) as ledger:
            receive_hides(ledger, [hide(name)], [CALF], by="Ann", since="2026-11-02")
    assert states(open_ledger(address)) == {"H1": "received", "H2": "received"}


def test_of_two_who_begin_a_ledger_at_once_the_second_is_refused(tmp_path):
    """What the first has booked stays, the other gets a sentence, and no other file is left."""
    path = tmp_path / "ledger.db"
    with pytest.raises(Taken, match="somebody else has just begun this ledger"), begun_ledger(path) as slow:
        stocked(slow, 1)
        with begun_ledger(path) as quick:
            stocked(quick, 2)
    assert len(states(open_ledger(path))) == 2 and [one.name for one in tmp_path.iterdir()] == ["ledger.db"]


@pytest.mark.parametrize("name", ["50% off?.db", "a#b.db", "a b;c.db"])
def test_a_ledger_may_have_any_name(name, tmp_path):
    """What is special in an address is not in the name of a file."""
    stocked(open_ledger(tmp_path / name, make=True), 1)
    assert [one.name for one in tmp_path.iterdir()] == [name] and states(open_ledger(tmp_path / name))


def test_hides_come_back_as_they_came_in(ledger):
    """A hide read from the ledger is the one received: outline, zones and flaws; its cost is area × price."""
    stocked(ledger, 1)
    with ledger.reading() as connection:
        (row,) = hide_rows(connection)
        found = hide_of(ledger, connection, row, CALF)
    given = hide("H1")
    assert found.outline.equals(given.outline) and found.zones[0].outline.equals(given.zones[0].outline)
    assert (row.state, row.cost, row.area_mm2) == ("received", "20.0000", 500_000.0)  # half a m² at 40 a m²


def test_every_change_stays_with_its_time_and_name(ledger):
    """What happened to a hide is all there, in its sequence; nothing is overwritten."""
    stocked(ledger)
    set_aside(ledger, ["H2"], "withdrawn", by="Bo", why="loose")
    set_aside(ledger, ["H2"], "received", by="Cy")
    give_place(ledger, ["H2"], "rack 4", by="Cy")
    told = history(ledger, "H2")
    assert [(who, what, then) for _, who, what, then, _ in told] == [
        ("Ann", "received", "received"), ("Bo", "withdrawn", "withdrawn"), ("Cy", "brought back", "received"),
        ("Cy", "place", "received"),
    ]
    assert told[1][4] == "H2: loose"
    assert [at for at, *_ in told] == sorted(at for at, *_ in told)


def test_a_hide_known_already_is_refused_and_nothing_booked(ledger):
    """An index with one id that is taken books none of its hides."""
    stocked(ledger, 2)
    with pytest.raises(InputProblems, match="hide H2"):
        receive_hides(ledger, [hide("H9"), hide("H2")], [CALF], by="Ann", since="2026-11-03")
    assert states(ledger).keys() == {"H1", "H2"}


def test_what_is_not_there_cannot_be_set_aside(ledger):
    """A name that is not known, and a hide that is gone, are refused in a sentence."""
    stocked(ledger)
    set_aside(ledger, ["H1"], "gone", by="Bo")
    with pytest.raises(LedgerProblem, match="H1 is gone"):
        set_aside(ledger, ["H2", "H1"], "withdrawn", by="Bo")
    with pytest.raises(LedgerProblem, match="did you mean 'H2'"):
        set_aside(ledger, ["h 2"], "withdrawn", by="Bo")
    assert states(ledger)["H2"] == "received"


def test_another_class_keeps_what_was_paid(ledger):
    """A hide given a lower class counts as of that class and costs what it did."""
    stocked(ledger, 1)
    give_class(ledger, ["H1"], 2, by="Bo", why="fly bites")
    with ledger.reading() as connection:
        (row,) = hide_rows(connection, quality=2)
        found = hide_of(ledger, connection, row, CALF)
    assert (row.quality, row.received_quality, found.quality) == (2, 1, 2)
    assert found.price * int(found.measured_area_mm2) / int(MM2_PER_AREA_UNIT["m2"]) == 20


def test_two_who_book_the_same_hide_do_not_both_get_it(ledger):
    """Of two bookings from the same state of a hide the second is refused, and nothing of it is kept."""
    stocked(ledger)
    with ledger.reading() as connection:
        seen = hide_rows(connection)
    with ledger.booking("Ann", "reserved") as booking:
        move_hides(booking, seen[:2], "reserved")
    with pytest.raises(Taken, match="somebody else"), ledger.booking("Bo", "reserved") as booking:
        move_hides(booking, seen[1:], "reserved")
    assert states(ledger) == {"H1": "reserved", "H2": "reserved", "H3": "received", "H4": "received"}
    with ledger.reading() as connection:
        assert connection.scalar(select(func.count()).select_from(tables.change)) == 2


def test_stock_is_counted_by_leather_lot_and_class(ledger):
    """Counts and areas are those of the hides that are there."""
    stocked(ledger)
    receive_rolls(ledger, [RollReceived("R1", "knit", 4e4, (1e4,)), RollReceived("R2", "knit", 1e4)], by="Ann",
                  since="2026-11-02")
    give_class(ledger, ["H1"], 2, by="Bo")
    set_aside(ledger, ["H2"], "withdrawn", by="Bo")
    set_aside(ledger, ["H3", "R2"], "gone", by="Bo")
    with ledger.reading() as connection:
        found = stock_by_class(hide_rows(connection))
        rolls = rolls_by_article(roll_rows(connection))
    assert {key: (one.free, one.free_mm2, one.withdrawn) for key, one in found.items()} == {
        ("calf", "lot 1", 1): (1, 5e5, 1), ("calf", "lot 1", 2): (1, 5e5, 0),
    }
    assert rolls == {"knit": (1, 4e4, 0.0)}


def test_stocktake_says_and_books_what_differs(ledger):
    """What is missing, what is there again, what nobody knows, lengths that differ; booked only when asked."""
    stocked(ledger)
    receive_rolls(ledger, [RollReceived("R1", "knit", 4e4)], by="Ann", since="2026-11-02")
    set_aside(ledger, ["H4"], "gone", by="Bo")
    counted = [Counted("H1"), Counted("H2"), Counted("H4"), Counted("X"), Counted("R1", 3.5e4)]
    found = stocktake.compare(ledger, counted)
    assert [row.code for row in found.missing] == ["H3"]
    assert [row.code for row in found.returned] == ["H4"]
    assert (found.unknown, found.agreed) == (("X",), 2)
    assert states(ledger)["H3"] == "received"
    assert stocktake.book(ledger, found, by="Cy") == 3
    assert states(ledger) == {"H1": "received", "H2": "received", "H3": "gone", "H4": "received"}
    with ledger.reading() as connection:
        assert roll_rows(connection)[0].left_mm == 3.5e4


def test_a_roll_differs_by_more_than_a_fiftieth(ledger):
    """On 40 m a difference of 0.8 m either way passes; a roll that was not measured agrees."""
    receive_rolls(ledger, [RollReceived("R1", "knit", 4e4)], by="Ann", since="2026-11-02")
    for length, differs in ((None, False), (39_210.0, False), (39_190.0, True), (40_790.0, False), (40_810.0, True)):
        found = stocktake.compare(ledger, [Counted("R1", length)])
        assert [(row.code, measured) for row, measured in found.lengths] == [("R1", length)] * differs
        assert found.agreed == (not differs) and not found.missing


def test_rolls_that_are_missing_or_found_again_are_booked_but_for_what_is_held(ledger):
    """A roll that a plan holds stays in stock, with at least the length that is held."""
    receive_rolls(ledger, [RollReceived(f"R{n}", "knit", 4e4) for n in (1, 2, 3)], by="Ann", since="2026-11-02")

    def rolls():
        with ledger.reading() as connection:
            return {row.code: row for row in roll_rows(connection)}

    with ledger.booking("Ann", "plan") as booking:
        move_roll(booking, rolls()["R2"], held_mm=3e4)
    found = stocktake.compare(ledger, [Counted("R2", 2e4)])
    assert [row.code for row in found.missing] == ["R1", "R3"] and stocktake.book(ledger, found, by="Cy") == 3
    assert {code: row.state for code, row in rolls().items()} == {"R1": "gone", "R2": "received", "R3": "gone"}
    assert (rolls()["R2"].left_mm, rolls()["R2"].held_mm) == (3e4, 3e4)
    found = stocktake.compare(ledger, [Counted("R1")])
    assert [row.code for row in found.returned] == ["R1"] and [row.code for row in found.missing] == ["R2"]
    assert stocktake.book(ledger, found, by="Cy") == 1
    assert {code: row.state for code, row in rolls().items()} == {"R1": "received", "R2": "received", "R3": "gone"}


def test_a_count_of_one_lot_says_what_is_of_another(ledger):
    """A hide that hangs with a lot it is not of is said; hides of other lots that were not counted are not missed."""
    stocked(ledger, 2)
    receive_hides(ledger, [replace(hide(name), lot="lot 2") for name in ("K1", "K2")], [CALF], by="Ann",
                  since="2026-11-02")
    found = stocktake.compare(ledger, [Counted("H1"), Counted("H2"), Counted("K2")], lot="lot 1")
    assert [row.code for row in found.elsewhere] == ["K2"]
    assert (found.missing, found.returned, found.unknown, found.agreed) == ((), (), (), 2)


def test_everything_goes_out_as_csv_and_comes_back(ledger, tmp_path):
    """A copy in CSV, read into a new ledger and written again, is the same to the byte; a full ledger is refused."""
    stocked(ledger)
    receive_rolls(ledger, [RollReceived("R1", "knit", 4e4, (1e4,))], by="Ann", since="2026-11-02")
    set_aside(ledger, ["H4"], "gone", by="Bo", why='"sold", they say;\nno more')
    export(ledger, tmp_path / "copy")
    other = open_ledger(tmp_path / "other.db", make=True)
    import_all(other, tmp_path / "copy")
    export(other, tmp_path / "again")
    for path in sorted((tmp_path / "copy").iterdir()):
        if path.name != "ledger_version.csv":
            assert (tmp_path / "again" / path.name).read_bytes() == path.read_bytes(), path.name
    set_aside(other, ["H1"], "withdrawn", by="Bo")  # ids go on behind those that came in
    with pytest.raises(LedgerProblem, match="not empty"):
        import_all(other, tmp_path / "copy")


def test_a_copy_comes_back_into_the_other_database(ledger, address, tmp_path):
    """A copy of SQLite fills the database at hand, and booking goes on there."""
    first = stocked(open_ledger(tmp_path / "first.db", make=True))
    export(first, tmp_path / "copy")
    import_all(ledger, tmp_path / "copy")
    set_aside(ledger, ["H1"], "withdrawn", by="Bo")
    assert states(ledger)["H1"] == "withdrawn"
