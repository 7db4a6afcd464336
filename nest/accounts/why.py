"""Why one pair is dearer than another by the standard cost: two sizes, styles, or jobs; the causes add up.

A good pair of any group of sizes is a product of factors, each of them a ratio of sums over the group:

    pairs cut a good pair × rough area a pair cut × (rough + what interlocking and the edge leave) ÷ rough
    × leather ÷ that × price of the leather (freight and duty in it)

and pairs cut a good pair × what else a pair cut costs, all of it times what overhead and margin add. What each factor
changes is its share by the Shapley value, exactly, as in `nest.accounts.compare`.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from nest.accounts.charges import WHOLE, Charge, ChargeKind
from nest.accounts.compare import shapley
from nest.accounts.estimate import JobEstimate
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.errors import PlanProblem


class WhyCause(StrEnum):
    """What makes a pair dearer."""

    AREA = "area"
    SHAPE = "yield (shape)"
    GROUND = "ground"
    PRICE = "price of leather"
    REJECTS = "rejects"
    REINFORCEMENT = "reinforcement"
    LABOUR = "labour and set-up"
    SCRAP = "scrap credit"
    WHOLE = "overhead and margin"


@dataclass(frozen=True, slots=True)
class Subject:
    """A size, a style (size ""), or a whole job (style ""), by name, and the estimate behind it."""

    name: str
    estimate: JobEstimate
    style: str = ""
    size: str = ""


@dataclass(frozen=True, slots=True)
class Why:
    """What a good pair of `after` costs more than one of `before`; `causes` add up to it."""

    names: tuple[str, str]
    currency: str
    before: Decimal
    after: Decimal
    causes: tuple[tuple[WhyCause, Decimal], ...]

    @property
    def difference(self) -> Decimal:
        """What it costs more."""
        return self.after - self.before


def why(before: Subject, after: Subject) -> Why:
    """Split the difference; causes that change nothing are left out.

    Raises
    ------
    PlanProblem
        If the two are costed in different currencies.
    """
    currencies = [one.estimate.standard.currency for one in (before, after)]
    if currencies[0] != currencies[1]:
        raise PlanProblem(
            f"{before.name} is costed in {currencies[0]}, {after.name} in {currencies[1]}: give both jobs one currency "
            "(a [[rate]] turns prices in another)."
        )
    now, then = _factors(before), _factors(after)
    found = dict.fromkeys(WhyCause, Fraction(0))
    leather = (WhyCause.REJECTS, WhyCause.AREA, WhyCause.SHAPE, WhyCause.GROUND, WhyCause.PRICE, WhyCause.WHOLE)
    others = (WhyCause.REINFORCEMENT, WhyCause.LABOUR, WhyCause.SCRAP)
    for players in (leather, *((WhyCause.REJECTS, one, WhyCause.WHOLE) for one in others)):
        def value(chosen: frozenset[int], players: Sequence[WhyCause] = players) -> Fraction:
            product = Fraction(1)
            for i, player in enumerate(players):
                product *= (then if i in chosen else now)[player]
            return product

        for player, amount in zip(players, shapley(value, len(players)), strict=True):
            found[player] += amount
    digits = minor_digits(currencies[0])
    prices = [rounded(one.estimate.standard.row(one.style, one.size).pair_price, digits) for one in (before, after)]
    amounts = apportioned(list(found.values()), prices[1] - prices[0], digits)
    return Why((before.name, after.name), currencies[0], prices[0], prices[1], tuple(
        (cause, amount) for (cause, exact), amount in zip(found.items(), amounts, strict=True) if exact or amount
    ))


def by_size(estimate: JobEstimate) -> tuple[Why, ...]:
    """Every size of every style against the middle one of its style."""
    found = []
    for style in dict.fromkeys(row.style for row in estimate.standard.sizes):
        sizes = [row.size for row in estimate.standard.sizes if row.style == style]
        middle = sizes[len(sizes) // 2]
        subjects = {size: Subject(f"{style} {size}", estimate, style, size) for size in sizes}
        found += [why(subjects[middle], subjects[size]) for size in sizes if size != middle]
    return tuple(found)


def causes_of(found: Sequence[Why]) -> tuple[WhyCause, ...]:
    """Causes that make a difference anywhere, in their order."""
    named = {cause for one in found for cause, amount in one.causes if amount}
    return tuple(cause for cause in WhyCause if cause in named)


def _factors(subject: Subject) -> dict[WhyCause, Fraction]:
    sheet = subject.estimate.standard
    row = sheet.row(subject.style, subject.size)
    keys = [(one.style, one.size) for one in sheet.sizes
            if subject.style in ("", one.style) and subject.size in ("", one.size)]
    rough = held = taken = Fraction(0)
    for key in keys:
        use, cut = subject.estimate.takes[key].use, sheet.row(*key).pairs.cut
        rough += cut * Fraction(use.rough_mm2)
        held += cut * (Fraction(use.rough_mm2) + Fraction(use.first_mm2) + Fraction(use.second_mm2))
        taken += cut * Fraction(use.material_mm2)
    sums = dict.fromkeys((WhyCause.PRICE, WhyCause.REINFORCEMENT, WhyCause.LABOUR, WhyCause.SCRAP, WhyCause.WHOLE),
                         Fraction(0))
    rolls = {one.stock for one in sheet.charges if one.kind is ChargeKind.REINFORCEMENT}
    for charge in sheet.charges:
        if charge.key in keys:
            sums[_cause_of(charge, rolls)] += charge.exact
    costs = sum(sums.values()) - sums[WhyCause.WHOLE]
    cut = row.pairs.cut
    return {
        WhyCause.REJECTS: cut / row.pairs.good, WhyCause.AREA: rough / cut, WhyCause.SHAPE: held / rough,
        WhyCause.GROUND: taken / held, WhyCause.PRICE: sums[WhyCause.PRICE] / taken,
        **{cause: sums[cause] / cut for cause in (WhyCause.REINFORCEMENT, WhyCause.LABOUR, WhyCause.SCRAP)},
        WhyCause.WHOLE: 1 + sums[WhyCause.WHOLE] / costs if costs else Fraction(1),
    }


def _cause_of(charge: Charge, rolls: Collection[str]) -> WhyCause:
    if charge.kind in WHOLE:
        return WhyCause.WHOLE
    name = charge.stock or charge.on
    if name:
        return WhyCause.REINFORCEMENT if name in rolls else WhyCause.PRICE
    return WhyCause.SCRAP if charge.kind is ChargeKind.SCRAP else WhyCause.LABOUR
