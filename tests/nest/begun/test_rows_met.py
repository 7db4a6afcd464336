"""How many pairs of an order a plan meets, counted by hand."""

from dataclasses import replace

import pytest
from tiny_plans import box_plan, in_pairs, slant_plan, spots, style, vamp

from nest.begun.rows import rows_met
from nest.pieces.piece import Foot
from nest.plan import Begun, CutHide, CutLine, HideLayout, Side, Spoiled


def met(plan) -> list[tuple[int, int]]:
    """Pairs met and short of every row."""
    return [(row.met, row.short) for row in rows_met(plan)]


def without(plan, *spots: int):
    """The plan without some vamps of its hide."""
    kept = tuple(one for at, one in enumerate(plan.layouts[0].placed) if at not in spots)
    return replace(plan, layouts=(HideLayout("H1", kept),))


def test_a_whole_plan_meets_its_order():
    """Two pairs of vamps and of reinforcements, two pairs wanted."""
    assert met(box_plan()) == [(2, 0)]


@pytest.mark.parametrize(("spots", "pairs"), [((0,), 1), ((0, 1), 1), ((0, 2), 1), ((0, 1, 2), 0)])
def test_a_vamp_less_is_a_pair_less(spots, pairs):
    """Two vamps for either foot make a pair, whichever they are."""
    assert met(without(box_plan(), *spots)) == [(pairs, 2 - pairs)]


def test_a_vamp_that_belongs_to_no_pair_does_not_count():
    """Where the rules want pairs from one hide, two vamps without a pair number meet nothing; else they do."""
    plan = box_plan()
    placed = tuple(replace(one, pair=0) if one.pair == 1 else one for one in plan.layouts[0].placed)
    alone = replace(plan, layouts=(HideLayout("H1", placed),))
    assert met(alone) == [(1, 1)]
    for one in ("pairs_from_one_hide", "pairs_same_class"):
        rules = replace(plan.styles[0].rules, **{"pairs_from_one_hide": False, "pairs_same_class": False, one: True})
        assert met(replace(alone, styles=(replace(plan.styles[0], rules=rules),))) == [(1, 1)]
    rules = replace(plan.styles[0].rules, pairs_from_one_hide=False, pairs_same_class=False)
    assert met(replace(alone, styles=(replace(plan.styles[0], rules=rules),))) == [(2, 0)]


def test_a_pair_without_its_reinforcements_is_not_met():
    """One ply of two is one pair less; a style without a roll needs none."""
    fewer = replace(box_plan(), lays=(replace(box_plan().lays[0], plies=1),))
    assert met(fewer) == [(1, 1)]
    assert met(replace(fewer, lays=(), styles=(style(roll=""),))) == [(2, 0)]


def test_rejects_are_taken_off_in_proportion():
    """Of four to cut for two wanted, two are cut: one good pair."""
    assert met(box_plan(order=(CutLine("box", "38", 2, 4),))) == [(1, 1)]


def test_left_and_right_are_counted_apart():
    """A pair is a left and a right: without two lefts of four vamps none is met, without one of either one."""
    assert met(slant_plan()) == [(2, 0)]
    for gone, pairs in (((0,), 1), ((0, 1), 1), ((0, 2), 0), ((0, 3), 1)):
        assert met(without(slant_plan(), *gone)) == [(pairs, 2 - pairs)], gone


@pytest.mark.parametrize(("spoiled", "pairs"), [
    (Spoiled("box", "38", Side.PAIR, 1), 1), (Spoiled("box", "38", Side.EITHER, 1), 1),
    (Spoiled("box", "38", Side.PAIR, 1, backed=False), 1), (Spoiled("box", "38", Side.PAIR, 2), 0),
])
def test_what_is_spoiled_is_missing(spoiled, pairs):
    """Whether or not its reinforcement was lost, the vamp is to be cut again."""
    assert met(box_plan(begun=Begun((CutHide("H1"),), spoiled=(spoiled,)))) == [(pairs, 2 - pairs)]


def test_a_reinforcement_that_was_kept_is_not_needed_again():
    """Six vamps for two pairs and one spoiled; four reinforcements do where that pair's were kept, else not."""
    plan = box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 6, spots(6))),))
    for backed, pairs in ((False, 2), (True, 1)):
        spoiled = Spoiled("box", "38", Side.PAIR, 1, backed)
        assert met(replace(plan, begun=Begun((CutHide("H1"),), spoiled=(spoiled,)))) == [(pairs, 2 - pairs)]


def test_an_order_of_a_style_that_is_not_there_meets_nothing():
    """All its pairs are missing."""
    assert met(box_plan(order=(CutLine("sock", "38", 2, 2),))) == [(0, 2)]


def test_pieces_of_other_sizes_change_nothing():
    """A size whose outline serves both feet stays so when another size has a left and a right vamp."""
    plan = box_plan()
    assert met(replace(plan, pieces=(*plan.pieces, vamp("L39", size="39", foot=Foot.LEFT)))) == [(2, 0)]


def test_a_vamp_in_place_of_a_spoiled_one_may_be_alone():
    """Its partner is there already; a second vamp alone counts for nothing where pairs come from one hide."""
    spoiled = Begun((CutHide("H1"),), spoiled=(Spoiled("box", "38", Side.EITHER, 1, backed=False),))
    placed = in_pairs(["V38"] * 6, spots(6))
    for pairs, kept in ((2, placed[:5]), (1, placed[:4]), (1, (placed[0], placed[1], placed[4], placed[5]))):
        lone = tuple(one if one.pair < 3 else replace(one, pair=0) for one in kept)
        assert met(box_plan(layouts=(HideLayout("H1", lone),), begun=spoiled)) == [(pairs, 2 - pairs)]
