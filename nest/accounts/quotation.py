"""A quotation: what a pair of each style is offered at for several quantities, by the standard cost.

The price of a quantity is the standard cost of the style's size run in the proportions of the order, with the price
breaks that this quantity reaches by itself, and with overhead and margin as the job has them. No hide, no yield and no
plan is behind it, so the offer does not rest on the luck of a lot.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from nest.accounts.charges import ADDED, ChargeKind, Pairs, complete
from nest.accounts.estimate import JobEstimate
from nest.accounts.money import minor_digits, rounded
from nest.accounts.sheet import CostSheet, cost_sheet
from nest.errors import PlanProblem
from nest.job.job import Job

VALID_DAYS = 30
USUAL_STEPS = (1, 2, 5)
"""Quantities offered where none are named, as multiples of the order."""

INCLUDED = {
    ChargeKind.LEATHER: "leather", ChargeKind.REINFORCEMENT: "reinforcement", ChargeKind.FREIGHT: "freight of material",
    ChargeKind.DUTY: "duty on material", ChargeKind.CUTTING: "cutting", ChargeKind.PRESS: "crimping",
}
"""What a customer may know of the lines of a cost sheet."""

NOT_INCLUDED = "lasting, bottoming, packing, carriage to you, taxes"


@dataclass(frozen=True, slots=True)
class PriceStep:
    """A quantity of one style: price of a pair, and of all pairs at that price."""

    pairs: int
    pair: Decimal
    total: Decimal


@dataclass(frozen=True, slots=True)
class StyleOffer:
    """One style: what it is made of, its sizes with their pairs in the order, the quantities."""

    style: str
    materials: tuple[str, ...]
    sizes: tuple[tuple[str, int], ...]
    steps: tuple[PriceStep, ...]


@dataclass(frozen=True, slots=True)
class Quotation:
    """What is offered, to whom, from when until when; dates ISO 8601."""

    name: str
    customer: str
    number: str
    currency: str
    day: str
    valid_until: str
    offers: tuple[StyleOffer, ...]
    included: tuple[str, ...]
    with_margin: bool

    @property
    def terms(self) -> tuple[str, ...]:
        """What is included and what not, in sentences."""
        return (
            f"Included: {', '.join(self.included)}.",
            f"Not included: {NOT_INCLUDED}" + ("." if "crimping" in self.included else "; crimping neither."),
            "A price holds for the quantity named and more, up to the next, in the proportions of the sizes shown.",
            f"Prices in {self.currency} a pair; they are valid until the day named above.",
        )


def quotation(
    job: Job, found: JobEstimate, *, quantities: Sequence[int] = (), customer: str = "", number: str = "",
    day: str, valid_days: int = VALID_DAYS,
) -> Quotation:
    """Offer every style of a job; `found` is its estimate.

    Parameters
    ----------
    quantities : pairs of a style, rising; by default once, twice and five times those ordered
    day : ISO 8601

    Raises
    ------
    PlanProblem
        If a quantity or the time of validity is not above 0.
    """
    if min((*quantities, valid_days), default=1) < 1:
        raise PlanProblem("quantities and days of validity must be 1 or more; correct them.")
    offers, kinds = [], set()
    styles = {style.name: style for style in job.styles}
    for name in dict.fromkeys(row.style for row in found.standard.sizes):
        sizes = tuple((row.size, int(row.pairs.good)) for row in found.standard.sizes if row.style == name)
        ordered = sum(pairs for _, pairs in sizes)
        steps = []
        for pairs in sorted(set(quantities)) or [ordered * step for step in USUAL_STEPS]:
            sheet = _for_pairs(job, found.standard, name, pairs)
            each = rounded(sheet.order.pair_price, minor_digits(sheet.currency))
            steps.append(PriceStep(pairs, each, each * pairs))
            kinds |= {charge.kind for charge in sheet.charges}
        style = styles[name]
        offers.append(StyleOffer(name, tuple(filter(None, (style.leather, style.roll))), sizes, tuple(steps)))
    until = date.fromisoformat(day) + timedelta(days=valid_days)
    return Quotation(
        job.name, customer, number, job.settings.currency, day, until.isoformat(), tuple(offers),
        tuple(words for kind, words in INCLUDED.items() if kind in kinds), ChargeKind.MARGIN in kinds,
    )


def _for_pairs(job: Job, standard: CostSheet, style: str, pairs: int) -> CostSheet:
    """The standard cost of that many pairs of one style, by itself."""
    rows = [row for row in standard.sizes if row.style == style]
    times = Fraction(pairs) / sum(row.pairs.good for row in rows)
    charges = [replace(one, quantity=times * one.quantity) for one in standard.charges
               if one.style == style and one.kind not in ADDED]
    each = {(row.style, row.size): Pairs(times * row.pairs.cut, times * row.pairs.good) for row in rows}
    return cost_sheet(complete(charges, job.leathers, job.rolls, job.settings), each, standard.currency)
