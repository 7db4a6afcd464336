"""The model of trim left against closed forms, and against scipy on the same data."""

import numpy as np
import pytest
from scipy import stats

from nest.drift.model import KNOWN, Design, posterior


def level_only(values, scale=1e3) -> Design:
    """Values of one hide each with nothing known of them but a level."""
    n = len(values)
    return Design(np.ones((n, 1)), np.array([KNOWN]), np.array([scale]), np.zeros(0), np.ones(n), np.asarray(values),
                  0.0, np.arange(n))


def test_a_mean_has_the_interval_of_student():
    """Without groups the level's interval is that of Student's t (scipy.stats), for the prior says little."""
    values = np.random.default_rng(5).normal(0.4, 0.8, 25)
    low, high = posterior(level_only(values)).of(np.ones(1)).interval
    expected = stats.t.interval(0.95, 24, values.mean(), stats.sem(values))
    assert (low, high) == pytest.approx(expected, abs=0.03)


def test_pieces_of_one_hide_count_as_one_where_hides_differ():
    """Ten hides of a hundred pieces, hides far apart beside pieces: the interval is that of the ten means."""
    rng = np.random.default_rng(6)
    own = rng.normal(0.0, 1.0, 10)
    design = Design(np.ones((10, 1)), np.array([KNOWN]), np.array([1e3]), np.zeros(0), np.full(10, 100.0), own,
                    990.0 * 0.01, np.arange(10))
    one = posterior(design).of(np.ones(1))
    low, high = one.interval
    assert one.mean == pytest.approx(own.mean(), abs=0.02)
    assert high - low == pytest.approx(2 * stats.t.ppf(0.975, 9) * own.std(ddof=1) / np.sqrt(10), rel=0.12)


def test_groups_are_drawn_to_their_mean_as_far_as_their_spread_says():
    """The eight schools (Rubin 1981; Gelman et al. 2013, section 5.5; values from memory), with errors of equal size.

    With the spread of groups integrated over, effects are drawn far to the mean: no school is sure to be above it, and
    the order of the schools stands. The model knows one scatter, so each school is a thousand pupils' mean.
    """
    effect = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
    error, pupils = 12.5, 1000.0
    n = len(effect)
    x = np.column_stack([np.ones(n), np.eye(n)])
    within = n * (pupils - 1.0) * error**2 * pupils
    design = Design(x, np.array([KNOWN] + [0] * n), np.full(n + 1, 1e3), np.array([25.0]), np.full(n, pupils), effect,
                    within, np.arange(n))
    found = posterior(design)
    drawn = np.array([found.of(row).mean for row in x])
    assert (np.argsort(drawn) == np.argsort(effect)).all()
    shrunk = np.ptp(drawn) / np.ptp(effect)
    assert 0.1 < shrunk < 0.6 and found.of(np.eye(n + 1)[0]).mean == pytest.approx(effect.mean(), abs=1.0)
    assert all(found.of(np.eye(n + 1)[1 + i]).interval[0] < 0.0 for i in range(n))
