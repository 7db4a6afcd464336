"""From costs of changed jobs to a price and its uncertainty.

The search is not perfect, so the cost of a job has noise. Jobs that differ in one thing are placed with the same seeds
(common random numbers) and compared seed by seed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum, sqrt

from nest.statistics import student_quantile


@dataclass(frozen=True, slots=True)
class Estimated:
    """A figure with its standard error and 95 % interval; error None where there is nothing to tell it by."""

    value: float
    error: float | None
    freedom: int

    @property
    def half_width(self) -> float | None:
        """Half the width of the 95 % interval, by Student's t."""
        return None if self.error is None else self.error * student_quantile(0.975, self.freedom)

    def sign_told(self, confidence: float = 0.95) -> bool:
        """Whether the interval of this confidence keeps clear of 0, so that dearer and cheaper can be told apart;
        true without any scatter."""
        if not self.error:
            return self.error is not None
        return abs(self.value) > self.error * student_quantile(0.5 + 0.5 * confidence, self.freedom)

    def times(self, factor: float) -> "Estimated":
        """The figure and its error, `factor` times as large."""
        return Estimated(self.value * factor, None if self.error is None else self.error * abs(factor), self.freedom)


def common_slope(costs: Mapping[int, Mapping[float, float]]) -> Estimated | None:
    """Slope of cost on mm by least squares, one level for each seed; None if no seed has two steps.

    costs : by seed, then by mm. Standard error from the scatter about the lines; freedom = values − seeds − 1.
    It is the analysis of covariance of any textbook of statistics, with seeds as blocks.
    """
    blocks = [tuple(block.items()) for block in costs.values() if len(block) > 1]
    if not blocks:
        return None
    centred = []
    for block in blocks:
        mm, cost = (fsum(column) / len(block) for column in zip(*block, strict=True))
        centred += [(x - mm, y - cost) for x, y in block]
    spread = fsum(x * x for x, _ in centred)
    slope = fsum(x * y for x, y in centred) / spread
    freedom = len(centred) - len(blocks) - 1
    if freedom < 1:
        return Estimated(slope, None, 0)
    scatter = fsum((y - slope * x) ** 2 for x, y in centred) / freedom
    return Estimated(slope, sqrt(scatter / spread), freedom)


def farthest_from_slope(costs: Mapping[int, Mapping[float, float]], slope: float) -> float:
    """How far a value lies at most beside a line of this slope through that at 0 mm, per mm away from there.

    costs : by seed, then by mm; seeds without a value at 0 mm tell nothing.
    """
    return max((
        abs(cost - block[0.0] - slope * mm) / abs(mm)
        for block in costs.values() if 0.0 in block for mm, cost in block.items() if mm
    ), default=0.0)


def mean_difference(before: Mapping[int, float], after: Mapping[int, float]) -> Estimated | None:
    """Mean of after − before over the seeds both have, with the standard error of paired values; None if there is none.

    With one seed there is no error to tell.
    """
    gaps = [after[seed] - before[seed] for seed in before.keys() & after.keys()]
    if not gaps:
        return None
    mean = fsum(gaps) / len(gaps)
    if len(gaps) == 1:
        return Estimated(mean, None, 0)
    variance = fsum((gap - mean) ** 2 for gap in gaps) / (len(gaps) - 1)
    return Estimated(mean, sqrt(variance / len(gaps)), len(gaps) - 1)
