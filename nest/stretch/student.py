"""How many standard errors an interval takes when the error is itself estimated from few readings."""

from math import atan, inf, log, pi, sqrt
from statistics import NormalDist


def t_quantile(share: float, freedom: float) -> float:
    """Return t such that a Student variable lies within ±t with chance `share` (0..1, exclusive).

    Parameters
    ----------
    freedom : degrees of freedom, a whole number from 1, or infinity for the normal distribution.

    References
    ----------
    Abramowitz & Stegun (1964), Handbook of Mathematical Functions, 26.7.3 and 26.7.4; inverted by bisection.
    """
    if freedom == inf:
        return NormalDist().inv_cdf(0.5 + 0.5 * share)
    low, high = 0.0, 1.0
    while _within(high, int(freedom)) < share:
        high *= 2.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _within(middle, int(freedom)) < share else (low, middle)
    return 0.5 * (low + high)


def f2_quantile(share: float, freedom: float) -> float:
    """Return f such that F with 2 and `freedom` degrees of freedom stays below f with chance `share`.

    In closed form: the chance to exceed f is (1 + 2 f ÷ ν)^(−ν ÷ 2).
    """
    if freedom == inf:
        return -log(1.0 - share)  # half a chi square with 2 degrees of freedom is exponential
    return 0.5 * freedom * ((1.0 - share) ** (-2.0 / freedom) - 1.0)


def _within(t: float, freedom: int) -> float:
    """Chance of a Student variable to lie within ±t."""
    angle = atan(t / sqrt(freedom))
    cos2 = 1.0 / (1.0 + t * t / freedom)
    sin = t / sqrt(freedom + t * t)
    if freedom % 2:
        term, total = sqrt(cos2), 0.0
        for k in range(1, (freedom - 1) // 2 + 1):
            total += term
            term *= cos2 * 2 * k / (2 * k + 1)
        return 2.0 / pi * (angle + sin * total)
    term, total = 1.0, 0.0
    for k in range(1, freedom // 2 + 1):
        total += term
        term *= cos2 * (2 * k - 1) / (2 * k)
    return sin * total
