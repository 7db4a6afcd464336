"""A figure that is not known for certain, as a mixture of normal distributions."""

from dataclasses import dataclass

import numpy as np

_WIDE = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """Normal distributions with their weights, which add up to 1."""

    weight: np.ndarray
    middle: np.ndarray
    sd: np.ndarray

    @property
    def mean(self) -> float:
        """What is to be expected."""
        return float(self.weight @ self.middle)

    def below(self, value: float) -> float:
        """The chance that it is below a value."""
        from scipy.special import ndtr

        return float(self.weight @ ndtr((value - self.middle) / self.sd))

    def quantile(self, share: float) -> float:
        """The value that it is below with this chance."""
        from scipy.optimize import brentq

        low = float((self.middle - _WIDE * self.sd).min())
        high = float((self.middle + _WIDE * self.sd).max())
        return float(brentq(lambda value: self.below(value) - share, low, high, xtol=1e-6))

    @property
    def interval(self) -> tuple[float, float]:
        """Its 95 % interval."""
        return self.quantile(0.025), self.quantile(0.975)

    @property
    def p(self) -> float:
        """Twice the lesser chance of being above or below zero."""
        below = self.below(0.0)
        return min(1.0, 2.0 * min(below, 1.0 - below))
