"""Simulated weeks with known drift: intervals cover, nothing is claimed that is not so. The worlds are invented."""

from dataclasses import replace

import pytest
from trim_worlds import JOB, K, summed, world

from nest.drift import Conclusion, advised, drift_of


def test_a_few_worlds():
    """Of six worlds nine of ten intervals cover, and no allowance is cut too far; nothing idle is claimed."""
    sums = summed(world(seed, weeks=8, hides=3) for seed in range(1, 7))
    assert sums["covered"] >= 0.9 * sums["intervals"] and sums["false"] == 0 and sums["too_far"] == 0


@pytest.mark.slow
def test_eighty_worlds():
    """95 ± 3 % of the intervals cover; of effects that are nil no more than 5 % are claimed, and most others found."""
    sums = summed(world(seed) for seed in range(1, 81))
    assert 0.92 <= sums["covered"] / sums["intervals"] <= 0.98
    assert sums["false"] <= 0.05 * sums["nil"] and sums["found"] >= 0.4 * sums["real"]
    assert sums["too_far"] <= 0.05 * sums["cut"]


def test_few_pieces_tell_nothing():
    """Two weeks of a hide each: no drift, and no allowance shrinks, however much was left."""
    made = world(3, weeks=2, hides=1)
    found = drift_of([replace(one, trim_mm=one.trim_mm + 4.0) for one in made.record], JOB)
    assert not any(effect.told for part in found.parts for effect in part.effects)
    assert {one.conclusion for one in advised(found, JOB, K)} == {Conclusion.CANNOT_TELL}
