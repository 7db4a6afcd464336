"""Presses with known rates: intervals cover, and nothing is claimed that is not so. The worlds are invented."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[2] / "bench"))

from worlds import scores, world

from nest.teaching.rates import taught


def held(worlds) -> tuple[float, float, int]:
    """Share of intervals that cover, share of idle factors claimed, effects found."""
    all_scores = [scores(made, taught(made.factors, made.failed, made.hide)) for made in worlds]
    covered = sum(one.covered for one in all_scores) / sum(one.intervals for one in all_scores)
    return covered, sum(one.false for one in all_scores) / sum(one.nil for one in all_scores), sum(
        one.found for one in all_scores)


def test_a_few_small_worlds():
    """Two worlds of 300 pieces: nine of ten intervals cover, and no idle factor is claimed."""
    covered, false, _ = held(world(seed, 300) for seed in (1, 2))
    assert covered >= 0.9 and false == 0.0


def test_a_plain_effect_is_found_and_charged_to_what_has_it():
    """Where class alone matters it is found, and what goes with it (zone, edge) is not claimed."""
    made = world(7, 2_000, null=1.0)
    rng = np.random.default_rng(7)
    risk = np.array([0.03, 0.08, 0.2])[made.values["class"]]
    told = taught(made.factors, rng.random(2_000) < risk, made.hide)
    assert [one.name for one in told.factors if one.told] == ["class"]
    rates = told.factor("class").levels
    assert all(level.low < true < level.high for level, true in zip(rates, (0.03, 0.08, 0.2), strict=True))


@pytest.mark.slow
def test_twenty_worlds():
    """95 ± 3 % of the intervals of twenty worlds cover, and no more than 5 % of idle factors are claimed."""
    covered, false, found = held(world(seed, 200 * seed) for seed in range(1, 21))
    assert 0.92 <= covered <= 0.98 and false <= 0.05 and found > 20


def test_nothing_is_made_of_nothing():
    """Without pieces there is an error; of pieces that are alike nothing can be told."""
    with pytest.raises(ValueError, match="at least one piece"):
        taught((), [], [])
    made = world(1, 50)
    told = taught(made.factors[:1], np.zeros(50, bool), made.hide)
    assert not told.factors[0].told and told.overall.low > 0.0 and told.overall.high < 0.15
