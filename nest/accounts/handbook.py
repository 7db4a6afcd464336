"""The handbook's way beside ours, line by line in area and money: parallelogram, first, second and third waste.

The way is that of `nest.accounts.classical`: R. C. Russ and A. E. Small (Boston 1922) for the parallelogram; F. Y.
Golding, The Manufacture of Boots and Shoes (London 1902), for what the wastes are. Money is area × what the sheet pays
for leather, so both sides have one price and differ in area alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import fsum

from nest.accounts.charges import ChargeKind, unit_mm2
from nest.accounts.classical import THIRD_WASTE_SHARE, Estimate, edge_term_percent
from nest.accounts.estimate import JobEstimate
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.accounts.sheet import CostSheet

REASONS = {
    "rough pair": "what the knife cuts, in both",
    "first waste": "the densest interlocking of one size; sizes that lie mixed may leave less",
    "second waste": "the book takes 39 % ÷ ⁴√(hide ÷ piece); here the edges and shapes of these hides",
    "third waste": "the book adds 15 % for flaws; here the flaws and zones as they are drawn",
    "beyond the drawing": "hides are paid for as measured, which the book does not know",
}
"""The lines, and why the two sides of each differ."""


@dataclass(frozen=True, slots=True)
class HandbookLine:
    """One line of a pair cut of one style and size; "total" for the sum. Areas mm²; money adds up to the total."""

    style: str
    size: str
    line: str
    book_mm2: float
    here_mm2: float
    book: Decimal
    here: Decimal

    @property
    def difference_mm2(self) -> float:
        """Area beyond the book."""
        return self.here_mm2 - self.book_mm2

    @property
    def difference(self) -> Decimal:
        """Money beyond the book."""
        return self.here - self.book

    @property
    def reason(self) -> str:
        """Why the two differ."""
        return REASONS.get(self.line, "")


def handbook(estimates: Sequence[Estimate], sheet: CostSheet) -> tuple[HandbookLine, ...]:
    """Lines of every size and their total; `sheet` says what its leather costs."""
    digits, lines = minor_digits(sheet.currency), []
    for one in estimates:
        price = _price(sheet, (one.style, one.size))
        if price is None:
            continue
        book = [one.rough_mm2, one.first_mm2, one.second_mm2, one.third_mm2, 0.0]
        here = [one.rough_mm2, one.actual_first_mm2, one.actual_second_mm2, one.actual_third_mm2,
                one.actual_measure_mm2]
        sides = []
        for areas in (book, here):
            exact = [Fraction(area) * price for area in areas]
            total = rounded(sum(exact, Fraction(0)), digits)
            sides.append([*apportioned(exact, total, digits), total])
        names = [*REASONS, "total"]
        for name, b, h, b_money, h_money in zip(names, [*book, fsum(book)], [*here, fsum(here)], *sides, strict=True):
            if name != "beyond the drawing" or abs(h) > 0.5:
                lines.append(HandbookLine(one.style, one.size, name, b, h, b_money, h_money))
    return tuple(lines)


def of_estimate(found: JobEstimate) -> tuple[Estimate, ...]:
    """The handbook's figures beside what the standard cost takes; sizes that it leaves no yield for are left out."""
    estimates = []
    for (style, size), one in sorted(found.takes.items()):
        use = one.use
        ratio = one.ground.hide_mm2 / (use.rough_mm2 / 2.0)
        share = use.interlock_yield - edge_term_percent(ratio) / 100.0
        if share <= 0.0:
            continue
        held, with_edge = use.rough_mm2 / use.interlock_yield, use.rough_mm2 / share
        third = THIRD_WASTE_SHARE * with_edge
        estimates.append(Estimate(
            style, size, use.rough_mm2, held, use.interlock_yield, ratio, share, held - use.rough_mm2,
            with_edge - held, third, with_edge + third, use.first_mm2, use.second_mm2, use.third_mm2, 0.0,
            use.material_mm2,
        ))
    return tuple(estimates)


def _price(sheet: CostSheet, key: tuple[str, str]) -> Fraction | None:
    """What a sheet pays for a mm² of leather, breaks off; None where none is charged."""
    mine = [one for one in sheet.charges if one.key == key and one.kind is ChargeKind.LEATHER]
    area = sum((one.quantity * unit_mm2(one.unit) for one in mine), Fraction(0))
    return sum((one.exact for one in mine), Fraction(0)) / area if area else None


def totals(lines: Sequence[HandbookLine]) -> Mapping[tuple[str, str], HandbookLine]:
    """The total of every size."""
    return {(one.style, one.size): one for one in lines if one.line == "total"}
