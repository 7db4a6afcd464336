"""Small-sample statistics: intervals of a share, Student's t, and one-sided tolerance factors, by scipy's functions.

scipy is imported where it is used: it takes longer to load than all the rest of a command.
"""

from math import isinf, sqrt


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
    from scipy.special import betaincinv

    if tried < 1 or not 0 <= failed <= tried:
        raise ValueError(f"expected 0 to {tried} failures of at least one trial, found {failed} of {tried}")
    tail = 0.5 * (1.0 - confidence)
    low = float(betaincinv(failed, tried - failed + 1, tail)) if failed else 0.0
    high = float(betaincinv(failed + 1, tried - failed, 1.0 - tail)) if failed < tried else 1.0
    return low, high


def student_quantile(probability: float, freedom: float) -> float:
    """The value that Student's t with `freedom` degrees of freedom (infinity: normal) stays below with `probability`.

    Raises
    ------
    ValueError
        If the probability is not between 0 and 1.
    """
    from scipy.special import stdtrit

    if not 0.0 < probability < 1.0:
        raise ValueError(f"expected a probability between 0 and 1, found {probability}")
    return float(stdtrit(freedom, probability))


def fisher_quantile(probability: float, freedom: float) -> float:
    """The value that F with 2 and `freedom` degrees of freedom (infinity: χ² ÷ 2) stays below with `probability`."""
    from scipy.special import chdtri, fdtri

    return float(0.5 * chdtri(2, 1.0 - probability) if isinf(freedom) else fdtri(2, freedom, probability))


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
    from scipy.special import nctdtrit, ndtri

    freedom = int(count) - 1 if freedom is None else freedom
    if freedom < 1:
        raise ValueError("expected at least two measurements, found one")
    return float(nctdtrit(freedom, ndtri(cover) * sqrt(count), confidence)) / sqrt(count)
