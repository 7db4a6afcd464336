"""One piece again: placed in what is left of its hide, or said to fit nowhere."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tiny_plans import HIDE_LENGTH, HIDE_WIDTH, box_plan, hide, in_pairs, slant_plan, spots, zone
from vamp_plans import vamp_plan

from nest.errors import PlanProblem
from nest.plan import HideLayout
from nest.planning.again import ALREADY_CUT, again
from nest.verify import verify


@pytest.mark.parametrize(("plan", "number"), [(vamp_plan(1), 3), (box_plan(), 1), (slant_plan(), 2)])
def test_the_piece_lies_clear_of_all_that_was_cut(plan, number):
    """Judged by the judge, and by shapely against the old layout: the gap is kept, its own old place included."""
    made = again(plan, plan.layouts[0].hide_id, number)
    assert verify(made).ok
    (one,) = made.layouts[0].placed
    assert one.piece_id == plan.layouts[0].placed[number - 1].piece_id
    new = shapely.Polygon(one.pose.apply(made.piece(one.piece_id).cut_outline))
    for old in plan.layouts[0].placed:
        cut = shapely.Polygon(old.pose.apply(plan.piece(old.piece_id).cut_outline))
        assert shapely.distance(new, cut) >= plan.settings.hide_gap_mm - 0.01
    assert sum(flaw.kind == ALREADY_CUT for flaw in made.hides[0].flaws) == len(plan.layouts[0].placed)


def test_it_takes_the_roomiest_place():
    """One 224 × 124 rectangle cut in a corner of 1000 × 500: the new one has as much room as the far side gives.

    With headings 0 and 180 alone, the largest free rectangle for it is the rest above the old one or beside it.
    """
    plan = box_plan(layouts=(HideLayout("H1", box_plan().layouts[0].placed[:1]),))
    plan = replace(plan, styles=(replace(plan.styles[0], rules=replace(plan.styles[0].rules, tolerance_deg=0.0)),))
    (one,) = again(plan, "H1", 1).layouts[0].placed
    # Above y = 133 the free centres fill 776 × 243 mm less the safety: half of the lesser is about 121 mm, and beside
    # the old piece they fill 542 × 376 mm: half of that is 188 mm, the most there is.
    new = shapely.Polygon(one.pose.apply(plan.pieces[0].cut_outline))
    old = shapely.Polygon(plan.layouts[0].placed[0].pose.apply(plan.pieces[0].cut_outline))
    edge = shapely.box(0, 0, HIDE_LENGTH, HIDE_WIDTH).boundary
    assert min(shapely.distance(new, old), shapely.distance(new, edge)) > 185.0


def test_a_full_hide_has_no_room_and_says_so():
    """Twelve rectangles in a dense grid leave no place for a thirteenth."""
    centres = spots(12, first=(113.0, 63.0), pitch=(225.0, 125.0))
    plan = box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 12, centres)),))
    assert verify(plan).ok
    with pytest.raises(PlanProblem, match=r"piece no. 5 of hide H1 \(box 38\) fits nowhere"):
        again(plan, "H1", 5)


def test_a_piece_of_a_pair_keeps_its_class():
    """Of two free zones it takes the one of its old class, though the other has more room."""
    butt, belly = shapely.box(0, 0, 560, 500), shapely.box(560, 0, 1000, 500)
    zones = (zone("butt", 1, outline=butt), zone("belly", 2, outline=belly))
    base = box_plan(hides=(hide(zones=zones),), layouts=(HideLayout("H1", in_pairs(["V38"] * 2, spots(2))),))
    rules = replace(base.styles[0].rules, net_quality=2)
    plan = replace(base, styles=(replace(base.styles[0], rules=rules),))
    (one,) = again(plan, "H1", 1).layouts[0].placed
    assert one.pose.apply(plan.pieces[0].net_outline)[:, 0].max() <= 560.0
    single = HideLayout("H1", tuple(replace(one, pair=0) for one in plan.layouts[0].placed))
    (free,) = again(replace(plan, layouts=(single,)), "H1", 1).layouts[0].placed
    assert np.hypot(free.pose.x - one.pose.x, free.pose.y - one.pose.y) > 100.0


@pytest.mark.parametrize(
    ("hide_id", "number", "words"), [("H9", 1, "H9"), ("H1", 0, "no. 1 to 4"), ("H1", 5, "no. 1 to 4")]
)
def test_unknown_hides_and_numbers_are_said(hide_id, number, words):
    """One sentence each."""
    with pytest.raises(PlanProblem, match=words):
        again(box_plan(), hide_id, number)
