"""Reject rates by the class of ground and the deviation from across that a piece has."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

_SLACK_DEG = 1e-6


@dataclass(frozen=True, slots=True)
class RejectRates:
    """Percent of the pieces that fail, by class and deviation.

    up_to_deg : ends of the bands of deviation, rising; what deviates more has the last band's rate.
    percent : by class, the best first, one rate a band; a class that is not named has that of the next better one
        named, or where there is none of the first.
    bias_percent : of pieces at bias; None for the rate by their class and deviation from 45°.
    ground : share of the ground fit for the style by class, for what is not placed yet; empty where it is not known.
    """

    up_to_deg: tuple[float, ...]
    percent: tuple[tuple[int, tuple[float, ...]], ...]
    bias_percent: float | None = None
    ground: tuple[tuple[int, float], ...] = ()

    def row(self, quality: int) -> tuple[float, ...]:
        """The rates of a class, band by band."""
        below = [row for mine, row in self.percent if mine <= quality]
        return below[-1] if below else self.percent[0][1]

    def at(self, quality: int, deviation_deg: float, bias: bool = False) -> float:
        """The rate of one piece, percent."""
        if bias and self.bias_percent is not None:
            return self.bias_percent
        band = bisect_left(self.up_to_deg, deviation_deg - _SLACK_DEG)
        return self.row(quality)[min(band, len(self.up_to_deg) - 1)]

    def expected(self, net_quality: int, tolerance_deg: float) -> float:
        """Rate to expect of pieces before it is known where they lie, percent.

        Deviations lie evenly within the tolerance. Classes count by their share of fit ground; where that is not known
        the class that fails most counts, so that the order is covered wherever pieces are cut.
        """
        classes = range(1, max(1, net_quality) + 1)
        rates = {quality: self._within(self.row(quality), tolerance_deg) for quality in classes}
        shares = {quality: share for quality, share in self.ground if quality in rates}
        whole = fsum(shares.values())
        if not whole:
            return max(rates.values())
        return fsum(share * rates[quality] for quality, share in shares.items()) / whole

    def _within(self, row: Sequence[float], tolerance_deg: float) -> float:
        if tolerance_deg <= 0.0:
            return row[0]
        total, begin = 0.0, 0.0
        for i, (end, rate) in enumerate(zip(self.up_to_deg, row, strict=True)):
            end = tolerance_deg if i == len(row) - 1 else min(end, tolerance_deg)
            total += max(0.0, end - begin) * rate
            begin = max(begin, end)
        return total / tolerance_deg
