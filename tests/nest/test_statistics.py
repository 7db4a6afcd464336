"""Small-sample statistics against printed values."""

import pytest

from nest.statistics import beta_cdf, normal_quantile, share_interval, student_quantile, tolerance_factor


def test_beta_in_closed_form():
    """I_x(1, b) = 1 − (1 − x)^b and I_x(a, 1) = x^a; I_x(2, 3) = x²(6 − 8x + 3x²) (elementary)."""
    for x in (0.01, 0.3, 0.5, 0.77, 0.99):
        assert beta_cdf(1, 7, x) == pytest.approx(1 - (1 - x) ** 7, rel=1e-12)
        assert beta_cdf(4, 1, x) == pytest.approx(x**4, rel=1e-12)
        assert beta_cdf(2, 3, x) == pytest.approx(x * x * (6 - 8 * x + 3 * x * x), rel=1e-12)
    assert (beta_cdf(2, 3, 0.0), beta_cdf(2, 3, 1.0)) == (0.0, 1.0)


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
    assert normal_quantile(0.975) == pytest.approx(1.959964, abs=1e-6)


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
