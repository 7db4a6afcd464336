"""Days in the ledger: planned, reserved, cut, spoiled, withdrawn, given up; remnants and what was used. Invented."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
import shapely
from bookers import adds_up
from box_jobs import hide
from day_jobs import HOUSE, list_file, pieces_of, plan_named, planned, rows_plan, states, stocked, wanted
from sqlalchemy import func, select

from nest.errors import InputProblems, LedgerProblem, Taken
from nest.ledger import tables
from nest.ledger.closing import close_day
from nest.ledger.offer import offer
from nest.ledger.plans import plan_rows, release, reserve
from nest.ledger.remnant import Needs, left_over
from nest.ledger.rows import held_by_plan, hide_rows, line_rows, roll_rows
from nest.ledger.stock import receive_hides
from nest.ledger.used import lots, used_by
from nest.rules import Rules
from nest.verify import verify


def lines(ledger):
    """Wanted, planned, cut, spoiled, finished and short of every line, by order and size."""
    with ledger.reading() as connection:
        return {
            (row.order_no, row.size): (row.wanted, row.planned, row.cut, row.spoiled, row.finished, row.short)
            for row in line_rows(connection)
        }


def roll_of(ledger):
    """The only roll."""
    with ledger.reading() as connection:
        return roll_rows(connection)[0]


def closed(ledger, folder, code="", cut=(), spoiled=(), **more):
    """A close of day by lists of these rows."""
    cut = list_file(folder, "cut.csv", "material,state,used,unit,cutter", *cut) if cut else None
    spoiled = list_file(folder, "spoiled.csv", "size,side,pieces", *spoiled) if spoiled else None
    return close_day(ledger, HOUSE, code, cut=cut, spoiled=spoiled, by="Cy", **more)


def test_a_plan_reserves_what_it_uses_and_nothing_else(ledger):
    """Hides with a layout are reserved, others free; pairs and their rejects are planned; the roll's length is held."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 9, "2026-12-01"), ("B", "38", 3, "2026-12-03"), ("C", "38", 5, "2026-12-24"))
    code = planned(ledger, until="2026-12-04")
    plan = plan_named(ledger, code)
    assert verify(plan).ok and plan.name == "P0001 until 2026-12-04"
    used = {layout.hide_id for layout in plan.layouts}
    assert {name for name, state in states(ledger).items() if state == "reserved"} == used
    # 12 pairs and 5 % rejects are 13: 12 × 1.05 = 12.6 rounded up
    assert lines(ledger) == {("A", "38"): (9, 10, 0, 0, 0, 0), ("B", "38"): (3, 3, 0, 0, 0, 0),
                             ("C", "38"): (5, 0, 0, 0, 0, 5)}
    (lay,) = plan.lays
    assert roll_of(ledger).held_mm == pytest.approx(lay.length_mm + 2 * 20.0)


def test_nothing_is_planned_twice(ledger):
    """Once all that is due is planned there is nothing to plan, in words."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    planned(ledger)
    with pytest.raises(LedgerProblem, match="nothing to plan"):
        planned(ledger)


def test_the_second_planner_is_told_what_was_taken(ledger):
    """Of two plans made of the same stock and orders the second reserves nothing; it says what was booked."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    offered = offer(ledger, HOUSE)
    plans = [rows_plan(offered.job) for _ in range(2)]
    reserve(ledger, offered, plans[0], by="Ann")
    with pytest.raises(Taken, match=r"somebody else has just booked hide H\d, roll R1, order A, box 38"):
        reserve(ledger, offered, plans[1], by="Bo")
    with ledger.reading() as connection:
        assert len(plan_rows(connection)) == 1
        assert connection.scalar(select(func.count()).select_from(tables.line_move)) == 2


def test_a_plan_given_up_frees_all_of_it(ledger):
    """Hides, roll and pairs stand as before the plan, and it can be planned again; twice it cannot be given up."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 9, "2026-12-01"))
    before = states(ledger), lines(ledger), roll_of(ledger).free_mm
    code = planned(ledger)
    release(ledger, code, by="Bo", why="the order waits")
    assert (states(ledger), lines(ledger), roll_of(ledger).free_mm) == before
    with pytest.raises(LedgerProblem, match="is given up"):
        release(ledger, code, by="Bo")
    assert planned(ledger) == "P0002"


def test_a_plan_moves_only_what_it_has_booked_itself(ledger, tmp_path):
    """Two plans for one line: the second is given up, then spoils a pair and takes that back; the first is as it was.

    The later line is the one they share, and what is given up is taken from later lines first.
    """
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-09"))
    first = planned(ledger)
    wanted(ledger, ("A", "38", 7, "2026-12-09"), ("B", "38", 4, "2026-12-01"))
    before = lines(ledger)
    second = planned(ledger)
    release(ledger, second, by="Bo")
    assert lines(ledger) == before
    adds_up(ledger)
    third = planned(ledger)
    for code in (third, first):
        hides = tuple(f"{one.hide_id},cut,,," for one in plan_named(ledger, code).layouts)
        for spoiled in ("2", "1", "2"):
            closed(ledger, tmp_path, code, cut=hides, spoiled=(f"38,pair,{spoiled}",))
            adds_up(ledger)
    # of 5 pairs and 7: 2 more for A, 4 for B, and one for rejects of these
    assert {key: found[1:4] for key, found in lines(ledger).items()} == {("A", "38"): (0, 7, 4), ("B", "38"): (0, 5, 0)}


def test_what_is_cut_serves_the_most_urgent_order(ledger, tmp_path):
    """Six pairs on a hide, four for each of two orders: the earlier one is whole, and spoiled is a pair of the later.
    """
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-09"), ("B", "38", 4, "2026-12-01"))
    first, *_ = (layout.hide_id for layout in plan_named(ledger, planned(ledger)).layouts)
    assert closed(ledger, tmp_path, cut=(f"{first},cut,,,",), spoiled=("38,pair,1",)).pairs_cut == 6
    found = lines(ledger)
    assert found["B", "38"][2] >= 4 and found["A", "38"][2] == 6 - found["B", "38"][2]
    assert (found["B", "38"][3], found["A", "38"][3]) == (0, 1) and found["B", "38"][4] == 4


def test_a_day_is_closed(ledger, tmp_path):
    """A hide cut, others withdrawn, a pair spoiled: pairs and open work are those worked out by hand."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 12, "2026-12-01"))  # 13 pairs to cut; a hide holds 12 vamps in rows of 4
    code = planned(ledger)
    first, *others = (layout.hide_id for layout in plan_named(ledger, code).layouts)
    rows = (f"{first},cut,,,Cem", *(f"{one},withdrawn,,," for one in others))
    done = closed(ledger, tmp_path, cut=rows, spoiled=("38,pair,1",))
    on_first = len(next(one for one in plan_named(ledger, code).layouts if one.hide_id == first).placed) // 2
    assert (done.pairs_cut, done.pairs_spoiled, done.cut, done.withdrawn) == (on_first, 1, (first,), tuple(others))
    wants, planned_now, cut, spoiled, finished, short = lines(ledger)["A", "38"]
    assert (wants, planned_now, cut, spoiled, finished) == (12, 0, on_first, 1, on_first - 1)
    assert short == 12 - finished
    assert {states(ledger)[one] for one in others} == {"withdrawn"} and states(ledger)[first] == "cut"
    assert done.state == "open"  # the lay of the roll is still to be cut


def test_the_same_list_booked_again_changes_nothing(ledger, tmp_path):
    """Lists count from the beginning of the plan: what is booked already is not booked again."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 12, "2026-12-01"))
    code = planned(ledger)
    rows = (f"{plan_named(ledger, code).layouts[0].hide_id},cut,,,", "R1,cut,1.5,m,")
    closed(ledger, tmp_path, cut=rows, spoiled=("38,,1",))
    with ledger.reading() as connection:
        before = connection.scalar(select(func.count()).select_from(tables.change))
    again = closed(ledger, tmp_path, cut=rows, spoiled=("38,,1",))
    assert (again.cut, again.pairs_cut, again.remnants) == ((), 0, ())
    with ledger.reading() as connection:
        assert connection.scalar(select(func.count()).select_from(tables.change)) == before


def test_a_lay_cut_in_part_is_cut_further_the_next_day(ledger, tmp_path):
    """Lengths off a roll add up over two days; nothing is held once the lay is done, and splices come nearer."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 12, "2026-12-01"))
    code = planned(ledger)
    (lay,) = plan_named(ledger, code).lays
    whole = (lay.length_mm + 40.0) / 1e3
    closed(ledger, tmp_path, cut=(f"R1,cut,{0.5 * whole:.2f},m,",))
    assert roll_of(ledger).left_mm == pytest.approx(20_000.0 - 500.0 * whole, abs=30)
    assert 0.0 < roll_of(ledger).held_mm < 1e3 * whole
    closed(ledger, tmp_path, cut=(f"R1,cut,{whole + 0.03:.2f},m,",))
    assert roll_of(ledger).held_mm == 0.0
    assert roll_of(ledger).left_mm == pytest.approx(20_000.0 - 1e3 * round(whole + 0.03, 2))
    with ledger.reading() as connection:
        assert used_by(connection, "plan")[code].used_mm == pytest.approx(1e3 * round(whole + 0.03, 2))


def test_a_lay_cut_in_part_is_cut_whole_the_next_day(ledger, tmp_path):
    """An empty cell says that all of the lay is cut now; a greater length that was measured stays as it is."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    code = planned(ledger)
    (lay,) = plan_named(ledger, code).lays
    whole = lay.length_mm + 40.0
    closed(ledger, tmp_path, code, cut=("R1,cut,0.5,m,",))
    closed(ledger, tmp_path, code, cut=("R1,cut,,,",))
    assert roll_of(ledger).left_mm == pytest.approx(20_000.0 - whole) and roll_of(ledger).held_mm == 0.0
    closed(ledger, tmp_path, code, cut=(f"R1,cut,{1e-3 * whole + 0.1:.2f},m,",))
    before = roll_of(ledger).left_mm
    closed(ledger, tmp_path, code, cut=("R1,cut,,,",))
    assert roll_of(ledger).left_mm == before < 20_000.0 - whole - 50.0


def test_plies_of_a_lay_are_booked_one_by_one(ledger, tmp_path):
    """Of a lay of three plies one is cut today and two tomorrow: metres off the roll and reinforcements follow."""
    stocked(ledger, 2)
    wanted(ledger, ("A", "38", 5, "2026-12-01"))
    offered = offer(ledger, HOUSE)
    plan = rows_plan(offered.job)
    (lay,) = plan.lays
    ply = replace(lay, placed=lay.placed[:4], plies=3, length_mm=1.0 + max(
        one.pose.apply(plan.piece(one.piece_id).cut_outline)[:, 0].max() for one in lay.placed[:4]))
    code, plan = reserve(ledger, offered, replace(plan, lays=(ply,)), by="Ann")
    each = ply.length_mm + 40.0
    assert verify(plan).ok and roll_of(ledger).held_mm == pytest.approx(3 * each)
    closed(ledger, tmp_path, code, cut=(f"R1,cut,{1e-3 * each:.2f},m,",))
    assert roll_of(ledger).held_mm == pytest.approx(2 * each, abs=10) and roll_of(ledger).left_mm < 20_000.0 - each + 10
    with ledger.reading() as connection:
        assert held_by_plan(connection) == {code: {"R1": pytest.approx(2 * each, abs=10)}}
    with pytest.raises(InputProblems, match="the end of a ply"):
        closed(ledger, tmp_path, code, cut=(f"R1,cut,{1.5e-3 * each:.2f},m,",))
    closed(ledger, tmp_path, code, cut=("R1,cut,,,", *(f"{one.hide_id},cut,,," for one in plan.layouts)))
    assert (roll_of(ledger).held_mm, roll_of(ledger).left_mm) == (0.0, pytest.approx(20_000.0 - 3 * each))
    with ledger.reading() as connection:
        assert used_by(connection, "plan")[code].used_mm == pytest.approx(3 * each) and not held_by_plan(connection)


def test_a_hide_left_whole_can_be_withdrawn_with_the_plan_too(ledger, tmp_path):
    """One that was on offer and is free is withdrawn in the stock as well; one that another plan has is refused."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    code = planned(ledger)
    first, *free = (name for name, state in sorted(states(ledger).items()) if state == "received")
    closed(ledger, tmp_path, code, withdrawn=(first,))
    assert states(ledger)[first] == "withdrawn"
    wanted(ledger, ("B", "38", 3, "2026-12-02"))
    planned(ledger)
    (other,) = (name for name in free if states(ledger)[name] == "reserved")
    with pytest.raises(LedgerProblem, match=f"hide {other} is reserved by plan P0002"):
        closed(ledger, tmp_path, code, withdrawn=(other,))


def test_length_measured_later_is_used_too(ledger, tmp_path):
    """A roll measured again at a greater length, with no more pieces: the length is used by the sizes on it."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    code = planned(ledger)
    (lay,) = plan_named(ledger, code).lays
    first = round((lay.length_mm + 40.0) / 1e3, 2) + 0.02
    closed(ledger, tmp_path, code, cut=(f"R1,cut,{first:.2f},m,",))
    closed(ledger, tmp_path, code, cut=(f"R1,cut,{first + 0.1:.2f},m,",))
    with ledger.reading() as connection:
        assert used_by(connection, "style")["box"].used_mm == pytest.approx(1e3 * (first + 0.1))
    assert roll_of(ledger).left_mm == pytest.approx(20_000.0 - 1e3 * (first + 0.1))


def test_a_hide_measured_after_it_was_booked_counts_as_measured(ledger, tmp_path):
    """An area that comes a day later is used as if it had come with the first list; emptied again it is not."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 2, "2026-12-01"))
    (name,) = (one.hide_id for one in plan_named(ledger, planned(ledger)).layouts)
    found = []
    for used in ("", "49,dm2", ""):
        closed(ledger, tmp_path, "P0001", cut=(f"{name},cut,{used or ','},Cem",))
        with ledger.reading() as connection:
            found.append(used_by(connection, "cutter")["Cem"])
    first, measured, emptied = found
    assert measured.used_mm2 == pytest.approx(first.used_mm2 * 0.49 / 0.5) and emptied.used_mm2 == first.used_mm2
    assert (measured.hides, measured.vamps, measured.planned_mm2, measured.used_cost) == (
        first.hides, first.vamps, first.planned_mm2, first.used_cost)


def test_a_plan_that_is_cut_whole_is_done(ledger, tmp_path):
    """All hides cut and the roll cut: the plan is done, the order finished, nothing is held."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    plan = plan_named(ledger, planned(ledger))
    done = closed(ledger, tmp_path, cut=(*(f"{one.hide_id},cut,,," for one in plan.layouts), "R1,cut,,,"))
    assert done.state == "done" and roll_of(ledger).held_mm == 0.0
    assert lines(ledger) == {("A", "38"): (4, 0, 5, 0, 4, 0)}
    with pytest.raises(LedgerProblem, match="no plans are open"):
        closed(ledger, tmp_path, cut=("R1,cut,,,",))


def test_spoiled_beyond_the_rejects_is_short_and_planned_again(ledger, tmp_path):
    """Five pairs cut for four: one spoiled is covered, two are not, and the next plan cuts the pair that is missing."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    code = planned(ledger)
    rows = tuple(f"{one.hide_id},cut,,," for one in plan_named(ledger, code).layouts)
    closed(ledger, tmp_path, cut=rows, spoiled=("38,pair,1",))
    assert lines(ledger)["A", "38"][-1] == 0
    closed(ledger, tmp_path, code, cut=rows, spoiled=("38,pair,2",))
    assert lines(ledger)["A", "38"] == (4, 0, 5, 2, 3, 1)
    planned(ledger)
    assert lines(ledger)["A", "38"][-1] == 0


def test_every_mm2_and_every_cent_of_a_cut_hide_is_somewhere(ledger, tmp_path):
    """Net, trim-off, waste and remnant are the hide's area; what the plan bears and the remnants cost is its cost."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 2, "2026-12-01"))
    code = planned(ledger)
    (name,) = (one.hide_id for one in plan_named(ledger, code).layouts)
    done = closed(ledger, tmp_path, cut=(f"{name},cut,,,",))
    with ledger.reading() as connection:
        row = connection.execute(select(tables.spent)).one()
        kept = hide_rows(connection, states=("remnant",))
        (whole,) = hide_rows(connection, codes=[name])
    assert row.net_mm2 + row.trim_mm2 + row.waste_mm2 + row.remnant_mm2 == pytest.approx(whole.drawn_mm2, abs=1e-3)
    assert min(row.net_mm2, row.trim_mm2, row.waste_mm2, row.remnant_mm2) > 0.0
    assert Decimal(row.cost) + sum(Decimal(one.cost) for one in kept) == Decimal(whole.cost)
    assert row.returned_mm2 == pytest.approx(sum(one.area_mm2 for one in kept))
    assert [one.code for one in kept] == list(done.remnants) == [f"{name}-r1"]
    assert sum(one.drawn_mm2 for one in kept) == pytest.approx(row.remnant_mm2)
    assert (kept[0].parent, kept[0].since) == (name, whole.since)


def test_a_remnant_is_planned_like_a_hide_and_has_remnants(ledger, tmp_path):
    """The rest of H1 is a hide again; what is left of that is called after H1 too."""
    stocked(ledger, 1)
    wanted(ledger, ("A", "38", 2, "2026-12-01"))
    planned(ledger)
    closed(ledger, tmp_path, cut=("H1,cut,,,", "R1,cut,,,"))
    wanted(ledger, ("B", "38", 1, "2026-12-02"))
    code = planned(ledger)
    plan = plan_named(ledger, code)
    assert verify(plan).ok and [one.hide_id for one in plan.layouts] == ["H1-r1"]
    done = closed(ledger, tmp_path, code, cut=("H1-r1,cut,,,",))
    assert done.remnants == ("H1-r2",)


def test_each_hide_keeps_the_margin_that_its_drawing_states(ledger):
    """Where the job asks for measured margins a hide and its remnants keep their own; one that states none is said."""
    sure, unsure = replace(hide("H1"), within_mm=2.0), replace(hide("H2"), within_mm=9.0, margin_mm=4.0)
    receive_hides(ledger, [sure, unsure], HOUSE.leathers, by="Ann", since="2026-11-02")
    wanted(ledger, ("A", "38", 2, "2026-12-01"))
    measured = replace(HOUSE, measured_margins=True)
    assert [one.margin_mm for one in offer(ledger, measured).job.hides] == [2.0, 9.0]
    assert [one.margin_mm for one in offer(ledger, HOUSE).job.hides] == [0.0, 0.0]
    receive_hides(ledger, [hide("H3")], HOUSE.leathers, by="Ann", since="2026-11-02")
    with pytest.raises(LedgerProblem, match="hide H3: its drawing did not say how sure its outline is"):
        offer(ledger, measured)


def vamps(plan):
    """Vamps of a plan with the rules of its style."""
    return tuple((piece, plan.styles[0].rules) for piece in plan.pieces if piece.role == "vamp")


def test_what_is_left_keeps_off_cut_lines_and_bridges(ledger):
    """A remnant lies within the hide, at least the gap off every cut, and a vamp has room on it; scraps are let go."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 3, "2026-12-01"))
    plan = plan_named(ledger, planned(ledger))
    whole = next(one for one in plan.hides if one.hide_id == plan.layouts[0].hide_id)
    rings = [one.pose.apply(plan.piece(one.piece_id).cut_outline) for one in plan.layouts[0].placed]
    found = left_over(whole, rings, Needs(vamps(plan), False, 0.0, 1.0))
    assert found
    for one in found:
        assert whole.outline.buffer(1e-3).covers(one.outline)
        assert all(shapely.distance(one.outline, shapely.Polygon(ring)) > 1.0 - 0.01 for ring in rings)
        assert sum(zone.outline.area for zone in one.zones) == pytest.approx(one.outline.area, rel=1e-6)


@pytest.mark.parametrize(("more", "kept"), [(0.005, True), (-0.05, False)])
def test_a_strip_is_kept_exactly_if_a_vamp_fits(more, kept):
    """A strip as wide as the rough vamp, 124 mm but for rounding, is a remnant; 0.05 mm less is none."""
    pieces = tuple((piece, Rules()) for piece in pieces_of("38") if piece.role == "vamp")
    width = np.ptp(pieces[0][0].cut_outline, axis=0)[1] + more
    cut = [shapely.get_coordinates(shapely.box(0.0, width + 1.0, 1000.0, 500.0))[:-1]]
    assert bool(left_over(hide(), cut, Needs(pieces, False, 0.0, 1.0))) is kept


def test_used_against_planned_by_order_lot_style_and_cutter(ledger, tmp_path):
    """Whatever it is added up by, area and money are the same; orders share by pairs, cutters by what they cut."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 9, "2026-12-01"), ("B", "38", 3, "2026-12-01"))
    plan = plan_named(ledger, planned(ledger))
    names = [one.hide_id for one in plan.layouts]
    closed(ledger, tmp_path, cut=(f"{names[0]},cut,49,dm2,Cem", *(f"{one},cut,,,Dee" for one in names[1:])))
    with ledger.reading() as connection:
        found = {by: used_by(connection, by) for by in ("order", "lot", "style", "size", "cutter", "plan", "supplier")}
        (lot,) = lots(connection)
    for field in ("hides", "planned_mm2", "used_mm2", "planned_cost", "used_cost"):
        sums = [float(sum(getattr(one, field) for one in groups.values())) for groups in found.values()]
        assert sums == pytest.approx([sums[0]] * len(sums)), field
    assert found["order"].keys() == {"A", "B"} and found["cutter"].keys() == {"Cem", "Dee"}
    assert found["order"]["A"].used_mm2 == pytest.approx(10 / 13 * sum(
        one.used_mm2 for one in found["order"].values()))
    assert lot.cut == len(names) and lot.vamps == 26 and lot.spoiled == 0
    rough = shapely.Polygon(plan.pieces[0].cut_outline).area
    assert lot.cutting_yield == pytest.approx(26 * rough / lot.cut_mm2)


def test_rejects_and_lower_classes_of_a_lot(ledger, tmp_path):
    """A lot knows its hides lowered and withdrawn, and the pairs spoiled of what was cut from it."""
    from nest.ledger.stock import give_class, set_aside

    stocked(ledger)
    wanted(ledger, ("A", "38", 4, "2026-12-01"))
    plan = plan_named(ledger, planned(ledger))
    closed(ledger, tmp_path, cut=tuple(f"{one.hide_id},cut,,," for one in plan.layouts), spoiled=("38,pair,2",))
    give_class(ledger, ["H5"], 2, by="Bo")
    set_aside(ledger, ["H6"], "withdrawn", by="Bo")
    with ledger.reading() as connection:
        (lot,) = lots(connection, lot="lot 1")
    assert (lot.hides, lot.cut, lot.lowered, lot.withdrawn, lot.spoiled) == (6, 1, 1, 1, 2)
