"""The judge of pairs, and what is short of the order or over it."""

from dataclasses import replace

from judged import only
from shapely.geometry import box
from tiny_plans import HIDE_WIDTH, SLANT, box_plan, hide, slant_plan, vamp, with_hide, with_placed, with_rules, zone

from nest.pieces.piece import Foot
from nest.plan import CutLine, HideLayout
from nest.verify import Rule, verify


def two_hides(**changes):
    """One pair on each of two hides."""
    plan = box_plan(hides=(hide("H1"), hide("H2")), **changes)
    placed = plan.layouts[0].placed
    return replace(plan, layouts=(HideLayout("H1", placed[:2]), HideLayout("H2", placed[2:])))


def test_pair_from_two_hides():
    """A pair may lie on two hides only if the style lets it."""
    plan = two_hides()
    assert verify(plan).ok
    first, second = plan.layouts[0].placed[1], plan.layouts[1].placed[1]
    swapped = with_placed(with_placed(plan, 1, replace(first, pair=2)), 1, replace(second, pair=1), layout=1)
    findings = verify(swapped).findings
    assert [f.rule for f in findings] == [Rule.PAIR] * 2 and "one hide" in findings[0].sentence
    assert verify(with_rules(swapped, pairs_from_one_hide=False)).ok


def test_pair_from_two_classes():
    """A piece's class is the worst that holds more than 0.1 % of its net area; a pair's must be equal."""
    def plan(border):
        zones = (zone("a", 1, outline=box(0, 0, border, HIDE_WIDTH)), zone("b", 2, outline=box(border, 0, 1000, 500)))
        return with_rules(with_hide(box_plan(), zones=zones), net_quality=2)

    # Net areas: x 20..220, 250..450, 480..680, 710..910. Border between the two of the second pair.
    assert only(plan(695.0), Rule.PAIR).spots == (2, 3)
    assert verify(plan(465.0)).ok
    assert verify(with_rules(plan(695.0), pairs_same_class=False)).ok
    # 0.15 mm of 200 mm is 0.075 %: it does not count; 0.25 mm is 0.125 % and makes the first of the pair class 2.
    assert only(plan(679.85), Rule.PAIR)
    assert verify(plan(679.75)).ok


def test_pair_of_wrong_feet_size_or_number():
    """A pair is exactly two pieces of one style and size, a left and a right."""
    plan = slant_plan()
    placed = plan.layouts[0].placed
    lefts = verify(with_placed(plan, 1, replace(placed[1], piece_id="L38")))
    assert [f.rule for f in lefts.wrong] == [Rule.PAIR] and "feet left and left" in lefts.wrong[0].sentence
    three = with_placed(plan, 2, replace(placed[2], pair=1))
    findings = verify(three).findings
    assert [(f.rule, f.amount) for f in findings] == [(Rule.PAIR, 1.0)] * 2
    sizes = replace(plan, pieces=(*plan.pieces, vamp("R39", "slant", "39", Foot.RIGHT, SLANT)))
    mixed = verify(with_placed(sizes, 1, replace(placed[1], piece_id="R39")))
    assert [f.rule for f in mixed.wrong] == [Rule.PAIR] and "size" in mixed.wrong[0].sentence
    assert len(mixed.short) == 1 and len(mixed.over) == 1


def test_short_is_apart_from_wrong():
    """Missing pieces leave the layout right and the order unmet."""
    plan = box_plan(order=(CutLine("box", "38", 3, 3),))
    verdict = verify(plan)
    assert verdict.ok and not verdict.order_met and verdict.wrong == ()
    # Two vamps, and two reinforcements, are missing.
    assert [(f.rule, f.where, f.amount) for f in verdict.short] == [(Rule.SHORT, "order", 2.0)] * 2


def test_over_is_reported():
    """Pieces beyond the order are reported and spoil nothing."""
    verdict = verify(box_plan(order=(CutLine("box", "38", 1, 1),)))
    assert verdict.ok and verdict.order_met and [f.amount for f in verdict.over] == [2.0, 2.0]
    stranger = verify(box_plan(order=()))
    assert [f.amount for f in stranger.over] == [4.0, 4.0]


def test_plies_count():
    """Pieces on a lay count once a ply; one ply less leaves the order short by what it held."""
    lay = box_plan().lays[0]
    verdict = verify(box_plan(lays=(replace(lay, plies=1),)))
    assert verdict.ok and [(f.rule, f.amount) for f in verdict.findings] == [(Rule.SHORT, 2.0)]
    assert [f.amount for f in verify(box_plan(lays=(replace(lay, plies=3),))).over] == [2.0]


def test_two_lefts_are_no_two_pairs():
    """Feet are counted apart: right pieces that are missing are short though the number of pieces is right."""
    plan = with_rules(slant_plan(), pairs_from_one_hide=False, pairs_same_class=False)
    placed = tuple(replace(p, piece_id="L38", pair=0) for p in plan.layouts[0].placed)
    verdict = verify(replace(plan, layouts=(HideLayout("H1", placed),)))
    assert verdict.ok and verdict.short[0].amount == 2.0 and verdict.over[0].amount == 2.0
    assert verdict.checks.unpaired == 4


def test_unpaired_vamps_do_not_meet_an_order_that_wants_pairs():
    """Where pairs must share a hide, pieces without a partner leave the order short."""
    plan = box_plan()
    placed = tuple(replace(p, pair=0) if i > 1 else p for i, p in enumerate(plan.layouts[0].placed))
    plan = replace(plan, layouts=(HideLayout("H1", placed),))
    verdict = verify(plan)
    assert verdict.ok and [f.amount for f in verdict.short] == [2.0] and verdict.checks.unpaired == 2
    assert verify(with_rules(plan, pairs_from_one_hide=False, pairs_same_class=False)).order_met
