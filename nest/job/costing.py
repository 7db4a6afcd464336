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
    setup_per_hide, setup_per_lay : money for laying out one hide, for spreading one lay.
    press_per_hour, press_s_per_pair : wage at the crimping press, and seconds there for a pair cut; both or neither.
    freight_percent : on what a material costs; (leather or roll, percent), "" for all others.
    duty_percent : on what a material costs with its freight, in the same form.
    overhead_percent : on all costs before it, spoilage among them.
    margin_percent : of the price, so that price = cost ÷ (1 − margin).
    candidates : materials to cost the same layouts with: (leather or roll of the job, another of them).
    """

    labour_per_hour: Decimal | None = None
    scrap_per_m2: Decimal | None = None
    pairs_per_year: int = 0
    candidates: tuple[tuple[str, str], ...] = ()
    pairs_per_year_by_style: tuple[tuple[str, int], ...] = ()
    setup_per_hide: Decimal | None = None
    setup_per_lay: Decimal | None = None
    press_per_hour: Decimal | None = None
    press_s_per_pair: Decimal | None = None
    freight_percent: tuple[tuple[str, Decimal], ...] = ()
    duty_percent: tuple[tuple[str, Decimal], ...] = ()
    overhead_percent: Decimal | None = None
    margin_percent: Decimal | None = None

    @property
    def words(self) -> str:
        """What a good pair holds beyond material, and what not, in words."""
        named = {
            "freight": self.freight_percent, "duty": self.duty_percent, "cutting": self.labour_per_hour,
            "set-up": self.setup_per_hide or self.setup_per_lay, "pressing": self.press_per_hour,
            "scrap credit": self.scrap_per_m2, "overhead": self.overhead_percent, "margin": self.margin_percent,
        }
        held = [name for name, value in named.items() if value]
        missing = [name for name in ("cutting", "pressing", "overhead", "margin") if name not in held]
        if not held:
            return "material alone, for the job states no [costing]: no labour, overhead or margin"
        return "material, " + ", ".join(held) + ("; without " + ", ".join(missing) if missing else "")

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
