"""Shares pooled in part, against a published example."""

import numpy as np
import pytest

from nest.teaching.binomial import hyper_grid, pooled_shares

TUMOURS = [0] * 14 + [1] * 8 + [2] * 9 + [1, 5, 2, 5, 3, 2, 7, 7, 3, 3, 2, 9, 10] + [4] * 7 + [
    10, 4, 4, 4, 5, 11, 12, 5, 5, 6, 5, 6, 6, 6, 6, 16, 15, 15, 9]
RATS = [20] * 7 + [19] * 4 + [18, 18, 17] + [20] * 4 + [19, 19, 18, 18, 25, 24, 23] + [20] * 6 + [
    10, 49, 19, 46, 27, 17, 49, 47, 20, 20, 13, 48, 50] + [20] * 7 + [
    48, 19, 19, 19, 22, 46, 49, 20, 20, 23, 19, 22, 20, 20, 20, 52, 46, 47, 24]
"""Tarone (1982), as in Gelman et al., Bayesian Data Analysis, 3rd edition, table 5.1 (from memory): 70 earlier groups
of rats, of which the 71st had 4 of 14."""


def test_tumours_of_rats():
    """The likeliest prior of the 71 groups is near α = 2.4, β = 14.0 (the book, section 5.3; from memory).

    A group without a tumour is drawn up from 0, one of 15 in 47 down from 0.32, each by the others.
    """
    k, n = np.array([*TUMOURS, 4], float), np.array([*RATS, 14], float)
    assert len(k) == len(n) == 71
    a, b, weight = hyper_grid(k, n)
    best = int(weight.argmax())
    assert a[best] == pytest.approx(2.4, abs=0.5) and b[best] == pytest.approx(14.0, abs=3.0)
    found = pooled_shares([*TUMOURS, 4], [*RATS, 14])
    assert 0.05 < found[0].mean < 0.08 and found[0].low < 0.02
    assert found[68].mean < 15 / 47
    assert found[-1].mean == pytest.approx(0.21, abs=0.015)
    assert found[-1].low < 4 / 14 < found[-1].high


def test_groups_that_do_not_differ_are_drawn_together():
    """Equal groups keep their share; the fewer pieces a group has, the nearer it comes to all."""
    few, many = pooled_shares([3, 30, 10, 10, 10, 10], [10, 100, 100, 100, 100, 100])[:2]
    assert few.mean < many.mean < 0.3 and few.high - few.low > many.high - many.low
    with pytest.raises(ValueError, match="no more than were tried"):
        pooled_shares([3], [2])


HITS = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]
REST = [346, 298, 276, 222, 273, 270, 263, 210, 269, 230, 264, 256, 303, 264, 226, 285, 316, 200]
DRAWN = [290, 286, 281, 277, 273, 273, 268, 264, 259, 259, 254, 254, 254, 254, 254, 249, 244, 239]
"""B. Efron, C. Morris (1975), Data analysis using Stein's estimator and its generalizations, J. Am. Statist. Assoc. 70,
311-319, table 1 (values from memory): hits of 18 batters in their first 45 at bats, what they hit in the rest of the
season, and what the paper draws the first average to, both in thousandths."""


def test_batting_averages():
    """Averages are drawn to their mean as in the paper, and foretell the rest of the season about as well: the sum of
    squared errors falls to less than 0.4 of that of plain averages (the paper: to 0.022 from 0.077)."""
    found = np.array([one.mean for one in pooled_shares(HITS, [45] * 18)])
    rest = np.array(REST) / 1000.0
    plain = float(((np.array(HITS) / 45.0 - rest) ** 2).sum())
    assert plain == pytest.approx(0.077, abs=0.002)
    assert float(((found - rest) ** 2).sum()) < 0.4 * plain
    assert np.abs(found - np.array(DRAWN) / 1000.0).max() < 0.02
