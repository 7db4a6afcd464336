"""Stock that is not there: leathers without a hide, styles without a roll; reinforcements laid later. Invented."""

from dataclasses import replace

import pytest
from box_jobs import ROWS, hide, style
from day_jobs import HOUSE, list_file, plan_named, planned, rows_plan, stocked, wanted

from nest.errors import LedgerProblem, Taken
from nest.ledger.backing import lacking, offer_of_rolls
from nest.ledger.closing import close_day
from nest.ledger.lists import OrderedLine
from nest.ledger.offer import offer
from nest.ledger.orders import take_orders
from nest.ledger.plans import release, reserve
from nest.ledger.rows import line_rows, roll_rows
from nest.ledger.stock import RollReceived, receive_hides, receive_rolls, set_aside
from nest.planning.backing import plan_reinforcements
from nest.planning.make import make_plan
from nest.stock.material import Leather
from nest.verify import verify


def lacks(ledger):
    """Pairs that lack their reinforcement."""
    with ledger.reading() as connection:
        return lacking(connection)


def rolls_in(ledger, *lengths_m, first=2):
    """Rolls of knit received."""
    receive_rolls(ledger, [RollReceived(f"R{n}", "knit", 1e3 * length) for n, length in enumerate(lengths_m, first)],
                  by="Ann", since="2026-11-05")


def backed(ledger, by="Ann"):
    """A plan of what is lacking, reserved; its code, and the plan."""
    offered, pairs = offer_of_rolls(ledger, HOUSE)
    plan = plan_reinforcements(offered.job, pairs, passes=1, engine=ROWS)
    assert verify(plan).ok
    return reserve(ledger, offered, plan, by=by)


def test_a_style_without_a_roll_is_planned_and_its_reinforcements_booked_as_lacking(ledger):
    """The vamps are planned, what is missing is said, and once a roll is there the reinforcements are laid on it."""
    receive_hides(ledger, [hide("H1")], HOUSE.leathers, by="Ann", since="2026-11-02")
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    offered = offer(ledger, HOUSE)
    assert offered.said == ("no roll of knit is free: the reinforcements of box are short, and booked as such.",)
    plan = make_plan(offered.job, passes=1, engine=ROWS)
    verdict = verify(plan)
    assert verdict.ok and not verdict.order_met and not plan.lays and any("are short" in one for one in plan.warnings)
    reserve(ledger, offered, plan, by="Ann")
    assert lacks(ledger) == {("box", "38"): 5}  # 4 pairs and 5 % rejects
    with pytest.raises(LedgerProblem, match="no roll of knit is free; receive one"):
        offer_of_rolls(ledger, HOUSE)
    rolls_in(ledger, 20.0)
    code, plan = backed(ledger)
    assert sum(len(lay.placed) for lay in plan.lays) == 10 and not plan.layouts and not lacks(ledger)
    with pytest.raises(LedgerProblem, match="no reinforcement is lacking"):
        offer_of_rolls(ledger, HOUSE)
    release(ledger, code, by="Bo")
    assert lacks(ledger) == {("box", "38"): 5}


def test_a_roll_too_short_leaves_reinforcements_lacking_until_they_are_cut(ledger, tmp_path):
    """What the roll holds is laid, the rest is lacking; a longer roll takes it, is cut, and nothing is lacking."""
    receive_hides(ledger, [hide("H1")], HOUSE.leathers, by="Ann", since="2026-11-02")
    rolls_in(ledger, 1.0)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    plan = plan_named(ledger, planned(ledger))
    (lay,) = plan.lays
    missing = 5 - len(lay.placed) // 2
    assert missing > 0 and lacks(ledger) == {("box", "38"): missing}
    rolls_in(ledger, 9.0, first=3)
    code, laid = backed(ledger)
    assert {one.roll_id for one in laid.lays} == {"R3"}
    done = close_day(ledger, HOUSE, code, cut=list_file(tmp_path, "cut.csv", "material,state", "R3,cut"), by="Cy")
    assert done.state == "done" and not lacks(ledger)
    with ledger.reading() as connection:
        assert roll_rows(connection, codes=["R3"])[0].held_mm == 0.0
        assert (line_rows(connection)[0].cut, line_rows(connection)[0].planned) == (0, 5)


def test_a_roll_withdrawn_while_its_vamps_are_cut_is_booked_as_lacking(ledger, tmp_path):
    """Vamps that are cut count, but their reinforcements are lacking and laid on another roll."""
    stocked(ledger, 1)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    planned(ledger)
    assert not lacks(ledger)
    rows = "H1,cut", "R1,withdrawn"
    done = close_day(ledger, HOUSE, cut=list_file(tmp_path, "cut.csv", "material,state", *rows), by="Cy")
    assert done.pairs_cut == 5 and lacks(ledger) == {("box", "38"): 5}
    rolls_in(ledger, 20.0)
    backed(ledger)
    assert not lacks(ledger)


def test_two_do_not_lay_the_same_reinforcements(ledger):
    """Of two plans for what is lacking, on rolls of their own, the second reserves nothing."""
    receive_hides(ledger, [hide("H1")], HOUSE.leathers, by="Ann", since="2026-11-02")
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    offered = offer(ledger, HOUSE)
    reserve(ledger, offered, rows_plan(replace(offered.job, rolls=())), by="Ann")
    rolls_in(ledger, 5.0, 6.0)
    first, pairs = offer_of_rolls(ledger, HOUSE)
    set_aside(ledger, ["R3"], "withdrawn", by="Ann")
    second, _ = offer_of_rolls(ledger, HOUSE)
    set_aside(ledger, ["R3"], "received", by="Ann")
    first = replace(first, rolls=tuple(replace(row, seq=row.seq + 2) for row in first.rolls))
    plans = [plan_reinforcements(one.job, pairs, passes=1, engine=ROWS) for one in (first, second)]
    reserve(ledger, first, plans[0], by="Ann")
    with pytest.raises(Taken, match="somebody else has just"):
        reserve(ledger, second, plans[1], by="Bo")
    with ledger.reading() as connection:
        assert [row.held_mm for row in roll_rows(connection, codes=["R2"])] == [0.0]


def test_what_no_hide_is_free_for_waits_and_the_rest_is_planned(ledger):
    """An order of two leathers, one of them missing: the other is planned, and the sentence says what must wait."""
    house = replace(
        HOUSE, styles=(*HOUSE.styles, style("kid", leather="kid")), leathers=(*HOUSE.leathers, Leather("kid", 40, "m2"))
    )
    stocked(ledger, 1)
    take_orders(ledger, [OrderedLine("A", "box", "38", 2), OrderedLine("B", "kid", "38", 3)], by="Ann")
    offered = offer(ledger, house)
    assert offered.said == (
        "no hide of kid is free: kid must wait (3 pairs, order B); receive some, or give up a plan that holds them.",
    )
    assert [row.order_no for row in offered.lines] == ["A"] and [one.style for one in offered.job.order] == ["box"]
    with pytest.raises(LedgerProblem, match=r"no hide of kid is free: kid must wait"):
        offer(ledger, house, orders=["B"])
