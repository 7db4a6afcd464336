"""What a job adds to the price of material: labour, scrap, and which other materials to set beside its own."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from nest.pieces.style import OrderLine


@dataclass(frozen=True, slots=True)
class Costing:
    """Optional settings of the cost sheet; what is not given is left out of it.

    labour_per_hour : wage of the cutting table with its overhead, money an hour.
    scrap_per_m2 : money got for leather outside the cut lines, per m². Trim-off carries adhesive and is never sold.
    pairs_per_year : good pairs a year in all, to say what a change comes to in a year; 0 for not given. They are shared
        by the styles as the order's pairs are.
    pairs_per_year_by_style : the same style by style, in place of one number.
    candidates : materials to cost the same layouts with: (leather or roll of the job, another of them).
    """

    labour_per_hour: Decimal | None = None
    scrap_per_m2: Decimal | None = None
    pairs_per_year: int = 0
    candidates: tuple[tuple[str, str], ...] = ()
    pairs_per_year_by_style: tuple[tuple[str, int], ...] = ()

    def pairs_a_year(self, style: str, order: Iterable[OrderLine]) -> float | None:
        """Good pairs of a style a year; None if the job does not say."""
        if self.pairs_per_year_by_style:
            return dict(self.pairs_per_year_by_style).get(style)
        lines = tuple(order)
        wanted = sum(line.pairs for line in lines)
        if not self.pairs_per_year or not wanted:
            return None
        return self.pairs_per_year * sum(line.pairs for line in lines if line.style == style) / wanted


PLAIN_COSTING = Costing()
"""Material alone."""
