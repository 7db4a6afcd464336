"""How the time of a plan is shared out between filling hides and finishing."""

from dataclasses import replace

import pytest
from box_jobs import hide, job, style

from nest.pieces.make import make_pieces
from nest.pieces.quantities import CutLine
from nest.planning.fill import LeatherTask
from nest.planning.hides import FINISH_SHARE, FINISH_SOLVES, finish_share, hides_expected
from nest.planning.offer import see_hide
from nest.planning.wants import vamp_wants


def task(pairs, hides):
    """So many pairs of the box vamp (about 27,700 mm² each piece) and hides of half a square metre."""
    one = replace(style(), rules=replace(style().rules, tolerance_deg=0.0))
    pieces, _ = make_pieces(one, ["38"])
    wants = vamp_wants([CutLine("box", "38", pairs, pairs)], pieces, {"box": one.rules})
    seen = [see_hide(hide(f"H{i}"), wants, job().settings, one_way=False) for i in range(hides)]
    return LeatherTask(wants, seen, [1] * hides, job().settings, run=None)


def test_the_finish_takes_a_fixed_share_of_small_orders():
    """Of one hide or a few, a fifth of the time is kept; and no hide at all is no reason to fail."""
    assert finish_share(hides_expected(task(3, 1))) == FINISH_SHARE
    assert finish_share(hides_expected(task(30, 12))) == FINISH_SHARE
    assert finish_share(hides_expected(task(3, 0))) == FINISH_SHARE


def test_the_finish_takes_no_more_than_a_few_solves_of_large_orders():
    """300 pairs open some fifty hides, at 5.9 pairs a hide: as many solves as it is for, of all there will be."""
    large = task(300, 60)
    expected = 300 * 2 * 27_700 / (0.65 * 500_000)
    assert finish_share(hides_expected(large)) == pytest.approx(FINISH_SOLVES / (expected + FINISH_SOLVES), rel=0.02)
    # No more hides are opened than there are.
    assert finish_share(hides_expected(task(3_000, 60))) == pytest.approx(FINISH_SOLVES / (60 + FINISH_SOLVES))
