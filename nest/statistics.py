"""Small-sample statistics: intervals of a share, Student's t, and one-sided tolerance factors.

All are worked out from their definitions to about ten digits; the tests hold them against printed tables.
"""

from math import erfc, exp, lgamma, log, sqrt

import numpy as np

_ROUNDS = 200
_TINY = 1e-300


def beta_cdf(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function I_x(a, b), by its continued fraction.

    References
    ----------
    NIST Digital Library of Mathematical Functions, 8.17.22; evaluated by Lentz's method.
    """
    if x <= 0.0 or x >= 1.0:
        return float(x >= 1.0)
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - beta_cdf(b, a, 1.0 - x)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(1.0 - x)) / a
    fraction, c, d = 1.0, 1.0, 0.0
    for i in range(_ROUNDS):
        m = i // 2
        if i == 0:
            term = 1.0
        elif i % 2 == 0:
            term = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        else:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        d = 1.0 / _not_nil(1.0 + term * d)
        c = _not_nil(1.0 + term / c)
        fraction *= c * d
        if i and abs(c * d - 1.0) < 1e-15:
            break
    return front * (fraction - 1.0)


def share_interval(failed: int, tried: int, confidence: float = 0.95) -> tuple[float, float]:
    """Two-sided interval of a share from `failed` of `tried`, never too narrow (Clopper & Pearson).

    References
    ----------
    C. J. Clopper, E. S. Pearson (1934), The use of confidence or fiducial limits illustrated in the case of the
    binomial, Biometrika 26, 404-413.

    Raises
    ------
    ValueError
        If none was tried, or more failed than were tried.
    """
    if tried < 1 or not 0 <= failed <= tried:
        raise ValueError(f"expected 0 to {tried} failures of at least one trial, found {failed} of {tried}")
    tail = 0.5 * (1.0 - confidence)
    low, high = 0.0, 1.0
    if failed:
        low = _root(lambda x: beta_cdf(failed, tried - failed + 1, x) - tail, 0.0, 1.0)
    if failed < tried:
        high = _root(lambda x: beta_cdf(failed + 1, tried - failed, x) - (1.0 - tail), 0.0, 1.0)
    return low, high


def student_quantile(probability: float, freedom: float) -> float:
    """The value that Student's t with `freedom` degrees of freedom stays below with `probability` (0.5 to 1).

    References
    ----------
    Its distribution by the incomplete beta function: Abramowitz & Stegun, 26.7.1 with 26.5.27.
    """
    def cdf(t: float) -> float:
        return 1.0 - 0.5 * beta_cdf(0.5 * freedom, 0.5, freedom / (freedom + t * t))

    return _root(lambda t: cdf(t) - probability, 0.0, 1e5)


def tolerance_factor(cover: float, confidence: float, count: float, freedom: int | None = None) -> float:
    """Factor k by which mean − k × standard deviation is below a share `cover` of a normal population.

    It is so with `confidence`. `count` values are behind the mean, `freedom` degrees of freedom (by default
    count − 1) behind the standard deviation. Exact: k = t'(confidence; freedom, z√count) ÷ √count, with t' the
    quantile of the noncentral t distribution and z the normal quantile of `cover`.

    References
    ----------
    M. G. Natrella (1963), Experimental Statistics, NBS Handbook 91, section 2-5 and table A-7; NIST/SEMATECH
    e-Handbook of Statistical Methods, 7.2.6.3.

    Raises
    ------
    ValueError
        If there is no degree of freedom.
    """
    freedom = int(count) - 1 if freedom is None else freedom
    if freedom < 1:
        raise ValueError("expected at least two measurements, found one")
    delta = normal_quantile(cover) * sqrt(count)
    # The chi distribution, scaled to 1, on a grid that holds all but 1e-12 of it.
    reach = 9.0 / sqrt(2.0 * freedom)
    edges = np.linspace(max(0.0, 1.0 - reach), 1.0 + reach, 4001)
    grid = 0.5 * (edges[1:] + edges[:-1])
    logs = (freedom - 1.0) * np.log(grid) - 0.5 * freedom * grid**2
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()

    def cdf(t: float) -> float:
        return float(weights @ [normal_cdf(t * s - delta) for s in grid])

    return _root(lambda t: cdf(t) - confidence, 0.0, 40.0 * (delta + 10.0)) / sqrt(count)


def normal_cdf(x: float) -> float:
    """Share of the standard normal distribution below `x`."""
    return 0.5 * erfc(-x / sqrt(2.0))


def normal_quantile(probability: float) -> float:
    """The value that a standard normal variable stays below with `probability` (0 to 1, both left out)."""
    if not 0.0 < probability < 1.0:
        raise ValueError(f"expected a probability between 0 and 1, found {probability}")
    return _root(lambda x: normal_cdf(x) - probability, -40.0, 40.0)


def _root(rising, low: float, high: float) -> float:
    """Where a rising function is nil between `low` and `high`, by bisection."""
    for _ in range(_ROUNDS):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if rising(middle) < 0.0 else (low, middle)
    return 0.5 * (low + high)


def _not_nil(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
