"""Slopes and differences with their errors: textbook figures, and coverage on planted noise."""

import numpy as np
import pytest

from nest.whatif.slope import Estimated, common_slope, mean_difference


def test_slope_of_one_line():
    """y = 1, 2, 4 at x = 0, 1, 2: slope 3/2, scatter 1/6, error √(1/12) (normal equations, by hand)."""
    found = common_slope({1: {0.0: 1.0, 1.0: 2.0, 2.0: 4.0}})
    assert found.value == pytest.approx(1.5) and found.freedom == 1
    assert found.error == pytest.approx((1 / 12) ** 0.5)
    assert found.half_width == pytest.approx(12.706 * (1 / 12) ** 0.5, rel=1e-4)


def test_levels_of_seeds_do_not_count():
    """A seed that is dearer throughout changes neither slope nor error; one with a single step is left out."""
    line = {mm: 2.0 * mm + 0.1 * mm**2 for mm in (-2.0, -1.0, 0.0, 1.0, 2.0)}
    high = {mm: value + 100.0 for mm, value in line.items()}
    found = common_slope({1: line, 2: high, 3: {0.0: 7.0}})
    assert found.value == pytest.approx(2.0) and found.freedom == 10 - 2 - 1
    assert common_slope({1: {0.0: 7.0}}) is None
    assert common_slope({1: {0.0: 7.0, 1.0: 9.0}}) == Estimated(2.0, None, 0)


def test_interval_covers_the_planted_slope():
    """With normal noise the 95 % interval holds the planted slope in 95 % of cases (400 cases, 4 standard errors)."""
    random = np.random.default_rng(5)
    hits = 0
    for _ in range(400):
        costs = {seed: {mm: 3.0 + 0.07 * mm + random.normal(0, 0.05) for mm in (-2, -1, 0, 1, 2)} for seed in (1, 2)}
        found = common_slope(costs)
        hits += abs(found.value - 0.07) <= found.half_width
    assert 0.95 - 4 * 0.011 < hits / 400 < 1.0


def test_paired_difference():
    """Differences 1, 2, 3: mean 2, error √(1/3); seeds that one of both lacks are left out."""
    found = mean_difference({1: 1.0, 2: 5.0, 3: 0.0, 4: 9.0}, {1: 2.0, 2: 7.0, 3: 3.0})
    assert found.value == pytest.approx(2.0) and found.error == pytest.approx((1 / 3) ** 0.5)
    assert mean_difference({1: 1.0}, {1: 4.0}) == Estimated(3.0, None, 0)
    assert mean_difference({1: 1.0}, {}) is None
    assert found.times(-10.0).error == pytest.approx(10 * found.error)
