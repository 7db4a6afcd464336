"""Shares of several groups pooled in part: the beta-binomial, with its prior found from the groups themselves.

A group's share is drawn from a beta distribution that all share. How much they differ is estimated from the data, so
that a group of few pieces is drawn to the mean of all and one of many keeps its own share. Mean and size of the prior
are integrated over, not taken at their likeliest, for with few groups they are far from certain.

References
----------
A. Gelman et al. (2013), Bayesian Data Analysis, 3rd edition, section 5.3, with its hyperprior (α + β)^(−5/2).
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

_STEPS, _LEAST_WEIGHT = 48, 1e-4
_SPREAD, _SIZES = 6.0, (-1.0, 9.0)
"""Log odds of the mean within this of those of all pieces; logarithm of the prior's size, in pieces."""


@dataclass(frozen=True, slots=True)
class PooledShare:
    """A group's share: mean, 95 % interval, the pieces it rests on, and those that failed."""

    failed: int
    tried: int
    mean: float
    low: float
    high: float


def pooled_shares(failed: Sequence[int], tried: Sequence[int]) -> tuple[PooledShare, ...]:
    """The share of each group, pooled in part.

    Parameters
    ----------
    failed, tried : (n,) counts by group; groups without pieces have the share to be expected of a further one.

    Raises
    ------
    ValueError
        If more failed than were tried.
    """
    from scipy.special import betainc

    k, n = np.asarray(failed, float), np.asarray(tried, float)
    if len(k) != len(n) or (k > n).any() or (k < 0).any():
        raise ValueError("expected as many failures as groups, and no more than were tried")
    a, b, weight = hyper_grid(k, n)
    known: dict[tuple[float, float], PooledShare] = {}
    for mine, whole in dict.fromkeys(zip(k.tolist(), n.tolist(), strict=True)):
        mean = float(weight @ ((a + mine) / (a + b + whole)))

        def below(share: float, mine=mine, whole=whole) -> float:
            return float(weight @ betainc(a + mine, b + whole - mine, share))

        known[mine, whole] = PooledShare(int(mine), int(whole), mean, _where(below, 0.025), _where(below, 0.975))
    return tuple(known[one] for one in zip(k.tolist(), n.tolist(), strict=True))


def hyper_grid(k: np.ndarray, n: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """α and β of priors, and the weight that each has after the data, adding up to 1."""
    from scipy.special import betaln, expit, logit

    centre = logit((k.sum() + 0.5) / (n.sum() + 1.0))
    odds, sizes = (part.ravel() for part in np.meshgrid(
        np.linspace(centre - _SPREAD, centre + _SPREAD, 2 * _STEPS), np.linspace(*_SIZES, _STEPS)))
    size = np.exp(sizes)
    a, b = expit(odds) * size, expit(-odds) * size
    alike = Counter(zip(k.tolist(), n.tolist(), strict=True))
    log = sum(count * (betaln(a + mine, b + whole - mine) - betaln(a, b)) for (mine, whole), count in alike.items())
    log = log - 2.5 * np.log(size) + np.log(a) + np.log(b)  # of (log α ÷ β, log α + β): the book's equation 5.9
    weight = np.exp(log - log.max())
    held = weight > _LEAST_WEIGHT
    return a[held], b[held], weight[held] / weight[held].sum()


def _where(rising, share: float) -> float:
    from scipy.optimize import brentq

    return float(brentq(lambda x: rising(x) - share, 0.0, 1.0, xtol=1e-5))
