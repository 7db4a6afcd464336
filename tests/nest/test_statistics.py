"""Small-sample statistics against printed values."""

from math import inf

import pytest

from nest.statistics import fisher_quantile, share_interval, student_quantile, tolerance_factor


def test_share_interval():
    """0 of n: (0, 1 − 0.025^(1/n)), closed form; 4 of 20 at 95 %: (0.0573, 0.4366), 5 of 10: (0.187, 0.813).

    The last two are in printed tables of the binomial's limits (values from memory).
    """
    assert share_interval(0, 8) == pytest.approx((0.0, 1 - 0.025 ** (1 / 8)), abs=1e-12)
    assert share_interval(8, 8) == pytest.approx((0.025 ** (1 / 8), 1.0), abs=1e-12)
    assert share_interval(4, 20) == pytest.approx((0.0573, 0.4366), abs=5e-5)
    assert share_interval(5, 10) == pytest.approx((0.187, 0.813), abs=5e-4)
    with pytest.raises(ValueError, match="at least one"):
        share_interval(0, 0)


def test_student():
    """97.5 % points of Student's t: 12.706, 2.571, 2.228, 2.042 for 1, 5, 10, 30 (any table; from memory)."""
    for freedom, value in ((1, 12.706), (5, 2.571), (10, 2.228), (30, 2.042)):
        assert student_quantile(0.975, freedom) == pytest.approx(value, abs=5e-4)
    assert student_quantile(0.975, inf) == pytest.approx(1.959964, abs=1e-6)
    with pytest.raises(ValueError, match="between 0 and 1"):
        student_quantile(1.0, 5)


def test_fisher():
    """95 % points of F with 2 and 1, 2, 5, 10, 30 degrees of freedom, and half of χ² with 2 (from memory)."""
    for freedom, value in ((1, 199.5), (2, 19.0), (5, 5.786), (10, 4.103), (30, 3.316), (inf, 5.991 / 2)):
        assert fisher_quantile(0.95, freedom) == pytest.approx(value, rel=3e-4)


@pytest.mark.parametrize(
    ("cover", "confidence", "count", "factor"),
    [
        (0.90, 0.95, 5, 3.407), (0.90, 0.95, 10, 2.355), (0.90, 0.95, 20, 1.926),
        (0.95, 0.95, 5, 4.203), (0.95, 0.95, 10, 2.911), (0.95, 0.95, 20, 2.396), (0.90, 0.90, 3, 4.258),
    ],
)
def test_tolerance_factor(cover, confidence, count, factor):
    """One-sided factors of NBS Handbook 91, table A-7 (values from memory)."""
    assert tolerance_factor(cover, confidence, count) == pytest.approx(factor, abs=2e-3)


def test_tolerance_factor_of_the_handbook():
    """N = 43, 90 % with 99 % confidence: 1.8740 (NIST/SEMATECH e-Handbook, 7.2.6.3; from memory)."""
    assert tolerance_factor(0.90, 0.99, 43) == pytest.approx(1.8740, abs=5e-4)


def test_more_freedom_means_a_smaller_factor():
    """A spread known better asks for less; without freedom there is none."""
    assert tolerance_factor(0.9, 0.9, 4, 20) < tolerance_factor(0.9, 0.9, 4)
    with pytest.raises(ValueError, match="two"):
        tolerance_factor(0.9, 0.9, 1)
