"""One piece again: placed in what is left of its hide or of another, or said to fit nowhere, and why."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tiny_plans import HIDE_LENGTH, HIDE_WIDTH, box_plan, hide, in_pairs, slant_plan, spots, zone
from vamp_plans import vamp_plan

from nest.errors import NoRoom, PlanProblem
from nest.plan import CUT_BY_PLAN, HideLayout
from nest.planfile import plan_from_text, plan_text
from nest.planning.leftover import Leftover
from nest.planning.recut import Leave, lost_piece, ways_out
from nest.planning.recut import again as place_again
from nest.verify import verify


def again(plan, hide_id, number, on="", any_class=False):
    """The plan with one piece of it placed again."""
    return place_again(plan, [lost_piece(plan, hide_id, number)], Leave(on, any_class=any_class))


def full_hide(hide_id="H1"):
    """A layout of twelve rectangles in a dense grid: the hide takes no thirteenth."""
    return HideLayout(hide_id, in_pairs(["V38"] * 12, spots(12, first=(113.0, 64.0), pitch=(225.0, 125.0))))


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
    assert sum(flaw.kind == CUT_BY_PLAN for flaw in made.hides[0].flaws) == len(plan.layouts[0].placed)


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
    plan = box_plan(layouts=(full_hide(),))
    assert verify(plan).ok
    with pytest.raises(NoRoom, match=r"piece no. 5 of hide H1 \(box 38\) fits nowhere in what is left of hide H1: no"):
        again(plan, "H1", 5)


STRIP = zone("strip", 2, outline=shapely.box(0, 400, HIDE_LENGTH, HIDE_WIDTH))


@pytest.mark.parametrize(
    ("zones", "words"),
    [
        # The lower 260 mm are taken by pieces; above them ground of another kind, 240 mm high.
        ([zone("a", 1, outline=shapely.box(0, 0, 1000, 260)), zone("b", 2, outline=shapely.box(0, 260, 1000, 500))],
         "the only free ground that is large enough is poorer than class 1, the poorest that its style takes"),
        ([zone("a", 1, outline=shapely.box(0, 0, 1000, 260)), zone("b", 1, 45.0, shapely.box(0, 260, 1000, 500))],
         "the only free ground that is large enough stretches the wrong way for it"),
        ([zone("a", 1, outline=shapely.box(0, 0, 1000, 260)), zone("b", 2, 45.0, shapely.box(0, 260, 1000, 500))],
         "is poorer than class 1, the poorest that its style takes and stretches the wrong way for it"),
    ],
    ids=["poor ground", "wrong stretch", "both"],
)
def test_why_there_is_no_room(zones, words):
    """Each rule that stands in the way is named alone, or both where neither helps alone.

    Rough outlines of 224 × 124 mm in 237 mm of free height; turned by 45° they need 348 / √2 = 246.
    """
    base = box_plan(hides=(hide(zones=zones),), layouts=(HideLayout("H1", in_pairs(["V38"] * 8, spots(8))),))
    plan = replace(base, styles=(replace(base.styles[0], rules=replace(base.styles[0].rules, tolerance_deg=2.0)),))
    with pytest.raises(NoRoom) as caught:
        again(plan, "H1", 1)
    assert words in str(caught.value)


def test_the_class_of_its_partner_is_named_and_can_be_left_aside():
    """Room on class 2 alone, partner on class 1: said, with the way out; then the new class is said too."""
    zones = [zone("a", 1, outline=shapely.box(0, 0, 1000, 260)), zone("b", 2, outline=shapely.box(0, 260, 1000, 500))]
    base = box_plan(hides=(hide(zones=zones),), layouts=(HideLayout("H1", in_pairs(["V38"] * 8, spots(8))),))
    plan = replace(base, styles=(replace(base.styles[0], rules=replace(base.styles[0].rules, net_quality=2)),))
    with pytest.raises(NoRoom, match="only on ground of another class than its partner's, class 1"):
        again(plan, "H1", 1)
    made = again(plan, "H1", 1, any_class=True)
    assert verify(made).ok and "It lies on ground of class 2, its partner on class 1." in made.warnings


def test_ground_of_the_partners_class_is_found_beside_better_ground():
    """The roomiest place of any class is on class 1; the only ones of class 2 reach into a strip beside it."""
    zones = [zone("butt", 1, outline=shapely.box(0, 0, HIDE_LENGTH, 400)), STRIP]
    pair = HideLayout("H1", in_pairs(["V38"] * 2, spots(2, first=(120.0, 430.0))))
    base = box_plan(hides=(hide(zones=zones),), layouts=(pair,))
    plan = replace(base, styles=(replace(base.styles[0], rules=replace(base.styles[0].rules, net_quality=2)),))
    made = again(plan, "H1", 1)
    (one,) = made.layouts[0].placed
    assert verify(made).ok and one.pose.apply(plan.pieces[0].net_outline)[:, 1].max() > 400.0


def test_another_hide_is_found_and_used():
    """Of three full hides and one that is left whole, the last has room; the piece has its own number there."""
    names = ("H1", "H2", "H3", "H4")
    layouts = (full_hide("H1"), full_hide("H2"), HideLayout("H3", in_pairs(["V38"] * 4, spots(4))))
    plan = box_plan(hides=tuple(map(hide, names)), layouts=layouts)
    assert Leftover(plan).others("calf", "H1") == ["H2", "H3", "H4"]
    ((leave, _),) = ways_out(plan, [lost_piece(plan, "H1", 5)], Leave())
    assert leave == Leave("H3")
    made = again(plan, "H1", 5, on="H3")
    assert verify(made).ok and made.layouts[0].hide_id == "H3" and made.layouts[0].number(0) == 5
    assert sum(flaw.kind == CUT_BY_PLAN for flaw in made.hides[0].flaws) == 4
    assert "match the two by hand" in made.warnings[1]
    assert again(plan, "H1", 5, on="H4").layouts[0].number(0) == 1
    withdrawn = replace(plan, begun=replace(plan.begun, withdrawn=("H3",)))
    ((leave, _),) = ways_out(withdrawn, [lost_piece(plan, "H1", 5)], Leave())
    assert leave == Leave("H4")
    with pytest.raises(PlanProblem, match="H3 is withdrawn"):
        again(withdrawn, "H1", 5, on="H3")
    with pytest.raises(PlanProblem, match="no hide named H9"):
        again(plan, "H1", 5, on="H9")
    kid = replace(plan, hides=(*plan.hides[:3], replace(plan.hides[3], leather="kid")))
    with pytest.raises(PlanProblem, match="hide H4 is kid, but box is cut from calf"):
        again(kid, "H1", 5, on="H4")


@pytest.mark.parametrize(("plan", "number"), [(box_plan(), 3), (slant_plan(), 2)])
def test_a_piece_cut_again_is_none_of_the_order(plan, number):
    """It is wanted for one that was spoiled: nothing is short, nothing over; its number stays, in the file too."""
    made = plan_from_text(plan_text(again(plan, "H1", number)))
    verdict = verify(made)
    assert verdict.ok and verdict.order_met and not verdict.findings
    assert made.layouts[0].number(0) == number


def test_the_same_piece_once_more():
    """A piece that is bad again is placed clear of both; other numbers are not there."""
    first = again(box_plan(), "H1", 3)
    second = again(first, "H1", 3)
    assert verify(second).ok and len(second.hides[0].flaws) == 5
    with pytest.raises(PlanProblem, match=r"hide H1 holds the pieces no. 3, not 1; see its drawing"):
        again(first, "H1", 1)


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


def test_several_pieces_find_room_together():
    """Four pieces of a hide with four on it: all clear of the old ones and of each other, each with its number."""
    plan = box_plan()
    made = place_again(plan, [lost_piece(plan, "H1", number) for number in (1, 2, 3, 4)])
    assert verify(made).ok and verify(made).order_met and not verify(made).findings
    assert sorted(made.layouts[0].number(i) for i in range(4)) == [1, 2, 3, 4]
    with pytest.raises(PlanProblem, match="named twice"):
        place_again(plan, [lost_piece(plan, "H1", 1)] * 2)


def test_where_the_roomiest_places_are_too_few_they_lie_close():
    """Room for exactly two side by side: the middle of it would leave none for the second.

    Ten of twelve places of a dense grid are taken; two are cut again in the gap of 450 mm that the others leave.
    """
    ten = HideLayout("H1", in_pairs(["V38"] * 10, spots(12, first=(113.0, 64.0), pitch=(225.0, 125.0))[:10]))
    plan = box_plan(layouts=(ten,))
    lost = [lost_piece(plan, "H1", 1), lost_piece(plan, "H1", 4)]
    first = place_again(plan, lost[:1])
    with pytest.raises(NoRoom):
        place_again(plan, lost[1:], earlier=[first])
    made = place_again(plan, lost)
    assert verify(made).ok and len(made.layouts[0].placed) == 2


def test_both_of_a_pair_stay_on_one_hide_and_class():
    """H1 has room for neither, H2 for one, H3 for both: with leave for any hide both go to H3, as a pair."""
    dense = spots(12, first=(113.0, 64.0), pitch=(225.0, 125.0))
    eleven = HideLayout("H2", in_pairs(["V38"] * 11, dense[:11]))
    plan = box_plan(hides=tuple(map(hide, ("H1", "H2", "H3"))), layouts=(full_hide("H1"), eleven))
    pair = plan.layouts[0].placed[0].pair
    numbers = [index + 1 for index, one in enumerate(plan.layouts[0].placed) if one.pair == pair]
    lost = [lost_piece(plan, "H1", number) for number in numbers]
    assert len(lost) == 2
    with pytest.raises(NoRoom, match="and its partner"):
        place_again(plan, lost)
    made = place_again(plan, lost, Leave(any_hide=True))
    assert [layout.hide_id for layout in made.layouts] == ["H3"] and verify(made).ok
    assert {one.pair for one in made.layouts[0].placed} == {1} and "match" not in " ".join(made.warnings)
    single = place_again(plan, lost[:1], Leave(any_hide=True))
    assert single.layouts[0].hide_id == "H2" and "match the two by hand" in " ".join(single.warnings)


def test_a_second_recut_knows_of_the_first():
    """What was cut again before is cut: each recut of the same piece takes one more place, until none is left."""
    dense = spots(12, first=(113.0, 64.0), pitch=(225.0, 125.0))
    plan = box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 10, dense[:10])),))
    lost = [lost_piece(plan, "H1", 1)]
    earlier, shapes = [], [shapely.Polygon(one.pose.apply(plan.pieces[0].cut_outline)) for one in
                           plan.layouts[0].placed]
    with pytest.raises(NoRoom):
        for _ in range(3):
            made = place_again(plan, lost, earlier=earlier)
            new = shapely.Polygon(made.layouts[0].placed[0].pose.apply(plan.pieces[0].cut_outline))
            assert verify(made).ok and all(new.distance(old) >= plan.settings.hide_gap_mm - 0.01 for old in shapes)
            earlier.append(made)
            shapes.append(new)
    assert 1 <= len(earlier) <= 2


def test_numbers_on_another_hide_go_on_from_what_was_cut_again():
    """The next number of a foreign hide counts the pieces that were cut again from it before."""
    plan = box_plan(hides=tuple(map(hide, ("H1", "H2"))), layouts=(full_hide("H1"),))
    first = place_again(plan, [lost_piece(plan, "H1", 5)], Leave("H2"))
    second = place_again(plan, [lost_piece(plan, "H1", 6)], Leave("H2"), [first])
    assert (first.layouts[0].number(0), second.layouts[0].number(0)) == (1, 2)
