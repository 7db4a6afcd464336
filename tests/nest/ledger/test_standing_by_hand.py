"""How a plan stands, which bookings move a roll, and which columns may be blank, worked out by hand. Invented."""

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from box_jobs import hide as whole_hide
from box_jobs import style
from day_jobs import HIDE, ROLL, wanted
from sqlalchemy import Integer
from tiny_plans import box_plan, hide, in_pairs, roll, slant_plan, spots, vamp

from nest.ledger import tables
from nest.ledger.closing import _remnants_of, _smallest_first
from nest.ledger.offer import _roll_for
from nest.ledger.orders import move_line
from nest.ledger.plans import _book_rolls, book_difference, plan_row
from nest.ledger.remnant import _opened
from nest.ledger.rows import held_by_plan, hide_rows, line_rows, roll_rows
from nest.ledger.standing import lays_done, pairs_of, standing
from nest.ledger.stock import RollReceived, came_on, move_roll, put_in, receive_rolls
from nest.ledger.store import open_ledger
from nest.ledger.summary import Stock, stock_by_class
from nest.pieces.piece import Foot
from nest.plan import Begun, CutHide, CutLine, HideLayout, Side, Spoiled, UsedRoll
from nest.stock.material import Hide

BOX = ("box", "38")


def two_of_each(**changes):
    """Two hides with two pairs each, and two rolls with one lay of two plies of two pieces, 898 mm long."""
    plan = box_plan()
    second = HideLayout("H2", in_pairs(["V38"] * 4, spots(4), first_pair=3))
    return replace(
        plan, order=(CutLine(*BOX, 4, 4),), hides=(hide("H1"), hide("H2")), layouts=(*plan.layouts, second),
        rolls=(roll(), roll(roll_id="felt")), lays=(*plan.lays, replace(plan.lays[0], lay_id="L2", roll_id="felt")),
        **changes,
    )


HIDES = CutHide("H1"), CutHide("H2")


@pytest.mark.parametrize(("begun", "to_cut", "cut", "spoiled", "held", "is_open"), [
    (Begun(), 4, 0, 0, [898.0, 898.0], True),
    (Begun(HIDES[:1]), 2, 2, 0, [898.0, 898.0], True),
    (Begun(HIDES), 0, 4, 0, [898.0, 898.0], True),
    (Begun(HIDES, (UsedRoll("knit"),)), 0, 4, 0, [0.0, 898.0], True),
    (Begun(HIDES, (UsedRoll("knit", 449.0), UsedRoll("felt"))), 0, 4, 0, [449.0, 0.0], True),
    (Begun(HIDES, (UsedRoll("knit"), UsedRoll("felt"))), 0, 4, 0, [0.0, 0.0], False),
    (Begun(HIDES[:1], (UsedRoll("knit"), UsedRoll("felt"))), 2, 2, 0, [0.0, 0.0], True),
    (Begun(HIDES[:1], (UsedRoll("knit"), UsedRoll("felt")), withdrawn=("H2",)), 0, 2, 0, [0.0, 0.0], False),
    (Begun(HIDES, (UsedRoll("knit", 0.0, True), UsedRoll("felt", 900.0))), 0, 4, 0, [0.0, 0.0], False),
    (Begun(HIDES, spoiled=(Spoiled(*BOX, Side.EITHER, 1),)), 0, 4, 1, [898.0, 898.0], True),
    (Begun(HIDES, spoiled=(Spoiled(*BOX, Side.EITHER, 2),)), 0, 4, 1, [898.0, 898.0], True),
    (Begun(HIDES, spoiled=(Spoiled(*BOX, Side.PAIR, 2),)), 0, 4, 2, [898.0, 898.0], True),
])
def test_how_a_plan_stands(begun, to_cut, cut, spoiled, held, is_open):
    """A plan is open while a hide is to be cut or a roll is held for it; a withdrawn plan holds nothing."""
    found = standing(two_of_each(), begun)
    assert (found.to_cut[BOX], found.cut[BOX], found.spoiled[BOX]) == (to_cut, cut, spoiled)
    assert [found.held_mm[name] for name in ("knit", "felt")] == pytest.approx(held) and found.open is is_open
    given_up = standing(two_of_each(), begun, given_up=True)
    assert not given_up.open and not any(given_up.held_mm.values())
    assert (given_up.to_cut[BOX], given_up.cut[BOX]) == (0, cut)


def test_reinforcements_that_vamps_do_without():
    """With one lay missing, two of four pairs lack reinforcements; a plan of reinforcements alone counts below 0."""
    plan = two_of_each()
    assert standing(plan, Begun()).lacking == {}
    assert standing(replace(plan, lays=plan.lays[:1]), Begun()).lacking == {BOX: 2}
    assert standing(replace(plan, layouts=()), Begun()).lacking == {BOX: -4}
    assert standing(plan, Begun(rolls=(UsedRoll("felt", 449.0, True),))).lacking == {BOX: 1}
    bare = replace(plan, styles=(replace(plan.styles[0], roll=""),), lays=())
    assert standing(bare, Begun()).lacking == {}


def test_pairs_that_vamps_make():
    """A pair is a left and a right, or two vamps for either foot; a loss in one size does not touch another."""
    assert pairs_of(Counter({Foot.LEFT: 3, Foot.RIGHT: 2, Foot.EITHER: 5})) == 4
    lefts = slant_plan(begun=Begun())
    lefts = replace(lefts, pieces=(*lefts.pieces, vamp("E39", "slant", "39")))
    begun = Begun((CutHide("H1"),), spoiled=(Spoiled("slant", "38", Side.PAIR, 1),))
    assert standing(lefts, begun).spoiled == Counter({("slant", "38"): 1})


def test_the_lays_of_a_roll_are_done_ply_by_ply():
    """One ply of two does not finish a lay, and lays of other rolls do not count."""
    plan = two_of_each()
    part, few = replace(plan.lays[0], plies=1), plan.lays[0].placed[:1]
    for lays, done in (((), False), (plan.lays[:1], True), ((part,), False), ((replace(part, placed=few),), False)):
        assert lays_done(plan, replace(plan, lays=lays), "knit") is done


def stand(to_cut=0, cut=0, spoiled=0, held_mm=None, used_mm=None, rolls=()):
    """The part of a plan's standing that a booking looks at."""
    pairs = [Counter({BOX: number}) for number in (to_cut, cut, spoiled)]
    return SimpleNamespace(
        to_cut=pairs[0], cut=pairs[1], spoiled=pairs[2], held_mm=held_mm or {}, used_mm=used_mm or {}, lacking={},
        part=SimpleNamespace(begun=SimpleNamespace(rolls=rolls)),
    )


@pytest.mark.parametrize(("after", "early", "late"), [
    (stand(16), (6, 0, 0), (10, 0, 0)), (stand(10), (6, 0, 0), (4, 0, 0)), (stand(3), (3, 0, 0), (0, 0, 0)),
    (stand(10, 6), (0, 6, 0), (10, 0, 0)), (stand(8, 8), (0, 6, 0), (8, 2, 0)), (stand(8, 6), (0, 6, 0), (8, 0, 0)),
    (stand(18), (8, 0, 0), (10, 0, 0)), (stand(0, 17), (0, 7, 0), (0, 10, 0)),
    (stand(0, 16, 1), (0, 6, 0), (0, 10, 1)), (stand(0, 16, 11), (0, 6, 1), (0, 10, 10)),
    (stand(10, 6, 1), (0, 6, 1), (10, 0, 0)),
])
def test_what_came_of_a_plan_moves_its_order_lines(tmp_path, after, early, late):
    """Of 6 and 10 pairs the earlier order is cut first; what is no longer planned, and what is spoiled, is the later's.
    """
    ledger = open_ledger(tmp_path / "ledger.db", make=True)
    wanted(ledger, ("late", "38", 10, "2026-12-09"), ("early", "38", 6, "2026-12-01"))
    with ledger.booking("Ann", "plan") as booking:
        plan_id = booking.add(tables.plan, code="P0001", name="", until="", body_id=booking.keep(Hide, hide()))
        booking.add(tables.plan_move, plan_id=plan_id, seq=1, state="open")
        for row in line_rows(booking.connection):
            move_line(booking, replace(row, planned=row.wanted), plan_id)
    with ledger.booking("Ann", "close") as booking:
        book_difference(booking, plan_row(booking.connection), stand(16), after, Begun(), "open")
    with ledger.reading() as connection:
        assert [(row.planned, row.cut, row.spoiled) for row in line_rows(connection)] == [early, late]
        moved = [row.seq - 2 for row in line_rows(connection)]
    assert moved == [early != (6, 0, 0), late != (10, 0, 0)]


@pytest.mark.parametrize(("used", "held", "gone", "stands"), [
    (0.0, 2000.0, False, None), (0.0, 500.0, False, (20_000.0, 500.0, "1000.0 5000.0", "received")),
    (999.0, 0.0, False, (19_001.0, 0.0, "1.0 4001.0", "received")),
    (1000.0, 1000.0, False, (19_000.0, 1000.0, "4000.0", "received")),
    (19_500.0, 2000.0, False, (500.0, 500.0, "", "received")), (20_001.0, 0.0, False, (0.0, 0.0, "", "received")),
    (0.0, 2000.0, True, (20_000.0, 2000.0, "1000.0 5000.0", "withdrawn")),
])
def test_what_came_of_a_plan_moves_its_roll(tmp_path, used, held, gone, stands):
    """The roll has 20 m, 2 m held, and splices at 1 and 5 m: cutting brings splices nearer; no change is no move."""
    ledger = open_ledger(tmp_path / "ledger.db", make=True)
    receive_rolls(ledger, [RollReceived("R1", "knit", 2e4, (1000.0, 5000.0))], by="Ann", since="2026-11-02")

    row = SimpleNamespace(plan_id=None)
    was, rolls = stand(held_mm={"R1": 2000.0}), (UsedRoll("R1", used, True),) if gone else ()
    with ledger.booking("Ann", "plan") as booking:
        _book_rolls(booking, row, stand(held_mm={"R1": 0.0}), was)
    with ledger.booking("Ann", "close") as booking:
        _book_rolls(booking, row, was, stand(held_mm={"R1": held}, used_mm={"R1": used}, rolls=rolls))
    with ledger.reading() as connection:
        (found,) = roll_rows(connection)
    assert found.seq == (2 if stands is None else 3)
    assert (found.left_mm, found.held_mm, found.splices, found.state) == (
        stands or (20_000.0, 2000.0, "1000.0 5000.0", "received"))


@pytest.mark.parametrize(("needed", "code"), [(4000.0, "R2"), (6300.0, "R2"), (6400.0, "R1"), (9900.0, "R1"),
                                              (10_100.0, "R3"), (None, "R3")])
def test_the_shortest_roll_that_is_long_enough_is_taken(needed, code):
    """A tenth more than estimated must be free; if no roll is as long, or nothing is known, the longest is taken."""
    rolls = [ROLL, replace(ROLL, code="R2", held_mm=8000.0), replace(ROLL, code="R3", held_mm=3900.0)]
    found = SimpleNamespace(rolls=[] if needed is None else [SimpleNamespace(roll_id="R9", length_mm=1.0),
                                                             SimpleNamespace(roll_id="R1", length_mm=needed)])
    assert _roll_for(rolls, found).code == code and _roll_for(rolls[:1], found).code == "R1"
    assert _roll_for([], found) is None


@pytest.mark.parametrize(("wide", "stays"), [(19.9, False), (20.1, True)])
def test_a_strip_narrower_than_20_mm_is_off(wide, stays):
    """The strip lies beside a square of 300 mm."""
    ground = shapely.box(0, 0, 300, 300).union(shapely.box(300, 100, 500, 100 + wide))
    assert _opened(ground).area == pytest.approx(90_000.0 + 200.0 * wide * stays, abs=1.0)


@pytest.mark.parametrize(("apex_deg", "stays"), [(24.0, True), (22.0, False)])
def test_a_corner_sharper_than_23_degrees_loses_its_tip(apex_deg, stays):
    """A mitre of 5 is the limit, and 1 / sin(23.07° / 2) is 5."""
    half = 500.0 * np.tan(np.radians(0.5 * apex_deg))
    wedge = shapely.Polygon([(0.0, 0.0), (500.0, -half), (500.0, half)])
    assert (wedge.area - _opened(wedge).area < 1e-3) is stays


def test_remnants_are_numbered_on_and_the_smallest_size_comes_first(tmp_path):
    """Numbers go on from the highest so far, whatever the hides are called; an unknown size comes last."""
    ledger = open_ledger(tmp_path / "ledger.db", make=True)
    with ledger.booking("Ann", "received") as booking:
        assert _remnants_of(booking, "H1") == 0
        for name in ("H1-r9", "H1-r10", "H1-r2", "H10-r30", "H1-r3-r40", "H1-rest"):
            put_in(booking, replace(whole_hide(), hide_id=name), Decimal(0), since="2026-11-02", supplier="")
        assert (_remnants_of(booking, "H1"), _remnants_of(booking, "H2")) == (10, 0)
    assert _smallest_first(style(), {"40", "wide", "38.5", "36"}) == ["36", "38.5", "40", "wide"]


def test_hides_of_one_day_are_listed_remnants_first(tmp_path):
    """Hides of earlier days come before them; days are those on which hides were booked."""
    ledger = open_ledger(tmp_path / "ledger.db", make=True)
    with ledger.booking("Ann", "received") as booking:
        for name, parent, since in (("H1", "", "2026-11-02"), ("H2-r1", "H2", "2026-11-02"), ("H3", "", "2026-11-01")):
            put_in(booking, replace(whole_hide(), hide_id=name), Decimal(0), since=since, supplier="", parent=parent)
    with ledger.reading() as connection:
        assert [row.code for row in hide_rows(connection)] == ["H3", "H2-r1", "H1"]
        assert came_on(connection, ["H1"]) == {"H1": booking.at[:10]} and len(booking.at[:10]) == 10


def test_half_a_millimetre_of_a_roll_is_not_held(tmp_path):
    """A length left over by rounding is not listed as held."""
    ledger = open_ledger(tmp_path / "ledger.db", make=True)
    receive_rolls(ledger, [RollReceived(f"R{n}", "knit", 2e4) for n in (1, 2)], by="Ann", since="2026-11-02")
    with ledger.booking("Ann", "plan") as booking:
        plan_id = booking.add(tables.plan, code="P0001", name="", until="", body_id=booking.keep(Hide, hide()))
        for row, held in zip(roll_rows(booking.connection), (0.49, 0.51), strict=True):
            move_roll(booking, row, held_mm=held, plan_id=plan_id)
    with ledger.reading() as connection:
        assert held_by_plan(connection) == {"P0001": {"R2": 0.51}}


def test_stock_is_added_up_from_nothing():
    """Hides of a class are added up by state; those cut or gone are left out."""
    rows = [replace(HIDE, state=state) for state in (
        "received", "remnant", "remnant", "reserved", "reserved", "reserved", "withdrawn", "cut", "gone")]
    assert stock_by_class(rows) == {("calf", "lot 1", 1): Stock(3, 1.5e6, 2, 3, 1)}
    assert stock_by_class(rows[:1]) == {("calf", "lot 1", 1): Stock(1, 5e5, 0, 0, 0)}
    assert stock_by_class(rows[-2:]) == {} and Stock() == Stock(0, 0.0, 0, 0, 0)


def test_columns_hold_something_unless_they_may_be_left_blank():
    """Texts are empty rather than null; the plan of a move and the details of a change may be blank."""
    some = tables._text("place"), tables._number("left_mm"), tables._number("seq", Integer), tables._of("hide")
    assert not any(column.nullable for column in some)
    assert tables._text("place").server_default.arg == "" and tables._of("plan", needed=False).nullable
    assert tables._id().primary_key
    blank = {str(column) for table in tables.metadata.tables.values() for column in table.c if column.nullable}
    assert blank == {"change.said", "plan_move.begun", "hide_move.plan_id", "roll_move.plan_id", "line_move.plan_id"}
