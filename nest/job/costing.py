"""What a job adds to the price of material: labour, scrap, and which other materials to set beside its own."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Costing:
    """Optional settings of the cost sheet; what is not given is left out of it.

    labour_per_hour : wage of the cutting table with its overhead, money an hour.
    scrap_per_m2 : money got for leather outside the cut lines, per m². Trim-off carries adhesive and is never sold.
    pairs_per_year : good pairs of each style a year, to say what a change comes to in a year; 0 for not given.
    candidates : materials to cost the same layouts with: (leather or roll of the job, another of them).
    """

    labour_per_hour: Decimal | None = None
    scrap_per_m2: Decimal | None = None
    pairs_per_year: int = 0
    candidates: tuple[tuple[str, str], ...] = ()


PLAIN_COSTING = Costing()
"""Material alone."""
