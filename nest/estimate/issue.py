"""How many hides to issue for an order, and what a pair takes, from a sample of hides and what they hold.

What n further hides hold together lies, with the confidence asked for, above n x̄ − t s √(n + n² ÷ m): the one-sided
prediction bound for the sum of n further values after m values of mean x̄ and standard deviation s, t the quantile of
Student's distribution with m − 1 degrees of freedom. The first term under the root is what hides differ by, the
second what is not known of their mean. It is exact for normal values; sums of several hides are near enough to that
(G. J. Hahn, W. Q. Meeker, Statistical Intervals, 1991, section 4.8; from memory; the test simulates it). The number to
issue is the least n whose bound is no less than the order's rough area.

Areas are added up as if sizes could be exchanged freely. The planner does exchange them, but the last pairs of an order
fit less freely than the first; `tests/bench/issue.py` measures what comes of it.

Consumption is that of a ratio: hide area of the sample ÷ rough area on it, its error by linearisation (W. G. Cochran,
Sampling Techniques, 1977, section 6.4; from memory). Every mm² of rough area bears the same share of its hide, so a
size takes its rough area times that ratio.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil, floor, sqrt
from statistics import fmean, stdev

import numpy as np

from nest.statistics import student_quantile

_quantile = cache(student_quantile)

LEAST_HIDES = 3
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Factor:
    """Hide area ÷ rough area held: mean, spread from hide to hide, and the two-sided interval of the mean."""

    mean: float
    spread: float
    low: float
    high: float


def bound_of_sum(held: Sequence[float], count: int, confidence: float = CONFIDENCE) -> float:
    """What `count` further hides hold together at least, with this confidence, after a sample that held `held`.

    Raises
    ------
    ValueError
        If the sample holds fewer than two values.
    """
    sample = len(held)
    if sample < 2:
        raise ValueError(f"expected a sample of at least two hides, found {sample}")
    return _bound(fmean(held), _quantile(confidence, sample - 1) * stdev(held), sample, count)


def _bound(mean: float, reach: float, sample: int, count: int) -> float:
    """The bound, from the mean and t times the standard deviation."""
    return count * mean - reach * sqrt(count + count * count / sample)


def hides_to_issue(needed: float, held: Sequence[float], confidence: float = CONFIDENCE) -> int | None:
    """The least number of hides that hold `needed` with this confidence; None if the sample promises no number.

    That is so where hides of the sample hold so little, or so unequally, that even their mean is not known to be
    above zero. Errors as `bound_of_sum`.
    """
    if len(held) < 2:
        raise ValueError(f"expected a sample of at least two hides, found {len(held)}")
    if needed <= 0.0:
        return 0
    sample, mean = len(held), fmean(held)
    reach = _quantile(confidence, sample - 1) * stdev(held)
    if mean <= reach / sqrt(sample):
        return None
    # Where the bound equals what is needed: the larger root of a quadratic.
    a = mean * mean - reach * reach / sample
    b = 2.0 * needed * mean + reach * reach
    root = (b + sqrt(max(0.0, b * b - 4.0 * a * needed * needed))) / (2.0 * a)
    count = max(1, floor(root))
    while _bound(mean, reach, sample, count) < needed * (1.0 - 1e-12):
        count += 1
    return count


def hides_on_the_mean(needed: float, held: Sequence[float]) -> int | None:
    """Hides that hold `needed` if each holds the mean; None if they hold nothing."""
    mean = fmean(held)
    return ceil(needed / mean - 1e-9) if mean > 0.0 else None


def area_factor(areas: Sequence[float], rough: Sequence[float], confidence: float = CONFIDENCE) -> Factor | None:
    """Hide area for a unit of rough area, from hides of these areas that hold so much; None if they hold nothing.

    The spread is that of the ratio among the hides that hold anything. Errors as `bound_of_sum`.
    """
    if len(areas) < 2:
        raise ValueError(f"expected a sample of at least two hides, found {len(areas)}")
    whole, held = np.array(areas, float), np.array(rough, float)
    if held.sum() <= 0.0:
        return None
    ratio = float(whole.sum() / held.sum())
    error = float(np.std(whole - ratio * held, ddof=1) / (held.mean() * sqrt(len(whole))))
    reach = _quantile(0.5 * (1.0 + confidence), len(whole) - 1) * error
    each = whole[held > 0.0] / held[held > 0.0]
    return Factor(ratio, float(each.std(ddof=1)) if len(each) > 1 else 0.0, ratio - reach, ratio + reach)
