"""What must be cut again, worked out by hand from what was spoiled."""

import pytest

from nest.begun.needs import lost_pieces, needed
from nest.pieces.piece import Foot
from nest.plan import Begun, Side, Spoiled

LEFT, RIGHT, EITHER = Foot.LEFT, Foot.RIGHT, Foot.EITHER


def lost(side: Side, count: int, size: str = "38", backed: bool = True) -> Spoiled:
    """So much spoiled of the one style."""
    return Spoiled("box", size, side, count, backed)


@pytest.mark.parametrize(("spoiled", "either", "pieces"), [
    ([lost(Side.PAIR, 3)], True, {EITHER: 6}),
    ([lost(Side.PAIR, 3)], False, {LEFT: 3, RIGHT: 3}),
    ([lost(Side.EITHER, 3), lost(Side.PAIR, 1)], True, {EITHER: 5}),
    ([lost(Side.LEFT, 2), lost(Side.RIGHT, 1), lost(Side.PAIR, 4)], False, {LEFT: 6, RIGHT: 5}),
    ([], False, {}),
])
def test_pieces_that_were_lost(spoiled, either, pieces):
    """A pair is two pieces; single ones count for their foot."""
    assert lost_pieces(spoiled, either=either) == pieces


@pytest.mark.parametrize(("spoiled", "either", "pairs", "alone"), [
    ([], False, 7, {}),
    ([lost(Side.PAIR, 2)], False, 9, {}),
    ([lost(Side.PAIR, 2)], True, 9, {}),
    ([lost(Side.LEFT, 3)], False, 7, {LEFT: 3}),
    ([lost(Side.LEFT, 1), lost(Side.RIGHT, 1)], False, 7, {LEFT: 1, RIGHT: 1}),
    ([lost(Side.PAIR, 2), lost(Side.RIGHT, 3)], False, 9, {RIGHT: 3}),
    ([lost(Side.EITHER, 3)], True, 7, {EITHER: 3}),
    ([lost(Side.PAIR, 1), lost(Side.EITHER, 1)], True, 8, {EITHER: 1}),
    ([lost(Side.PAIR, 5, size="39")], False, 7, {}),
])
def test_pairs_again_as_pairs_and_singles_as_singles(spoiled, either, pairs, alone):
    """Of seven pairs to cut: each pair lost is one more, each single vamp is that vamp alone; other sizes count not."""
    need = needed(Begun(spoiled=tuple(spoiled)), "box", "38", pairs_wanted=5, pairs_to_cut=7, either=either)
    assert (need.pairs, need.alone) == (pairs, alone)


@pytest.mark.parametrize(("spoiled", "either", "pairs", "alone"), [
    ([lost(Side.PAIR, 2)], False, 7, {}),
    ([lost(Side.PAIR, 3)], False, 8, {}),
    ([lost(Side.PAIR, 3)], True, 8, {}),
    ([lost(Side.LEFT, 3)], False, 7, {LEFT: 1}),
    ([lost(Side.EITHER, 5)], True, 7, {EITHER: 1}),
    ([lost(Side.PAIR, 1), lost(Side.LEFT, 2)], False, 7, {LEFT: 1}),
])
def test_the_rejects_expected_cover_what_they_can(spoiled, either, pairs, alone):
    """Seven to cut for five wanted: two pairs spoiled are covered, what goes beyond them is cut again."""
    begun = Begun(spoiled=tuple(spoiled), rejects_cover=True)
    need = needed(begun, "box", "38", pairs_wanted=5, pairs_to_cut=7, either=either)
    assert (need.pairs, need.alone) == (pairs, alone)


def test_reinforcements_that_were_kept_are_not_cut_again():
    """Of two pairs lost one kept its reinforcements: two pairs of vamps again, one of reinforcements."""
    begun = Begun(spoiled=(lost(Side.PAIR, 1), lost(Side.PAIR, 1, backed=False)))
    of = {"pairs_wanted": 5, "pairs_to_cut": 7, "either": False}
    assert needed(begun, "box", "38", **of).pairs == 9
    assert needed(begun, "box", "38", **of, backing=True).pairs == 8
