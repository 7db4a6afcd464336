"""What changed in cost from one plan to another, cause by cause; the causes add up to the change.

The material cost of a style, size and role is a product of six factors:

    pairs wanted × pairs cut a pair wanted × net area × rough area a net area × paid area a rough area × price an area

Its change is shared out among the factors by the Shapley value: the mean, over every sequence in which the factors may
be changed one after another, of what each changes when its turn comes. So no factor is favoured by its place, and the
shares add up exactly. A size that only one plan has counts whole as order mix. What does not follow the product,
cutting time and scrap credit, stands as a cause of its own.

References
----------
L. S. Shapley (1953), A value for n-person games; A. F. Shorrocks (2013), Decomposition procedures for distributional
analysis: a unified framework based on the Shapley value, Journal of Economic Inequality 11, 99-126 (from memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from itertools import combinations
from math import factorial, prod

from nest.accounts.areas import MaterialUse
from nest.accounts.charges import Charge, Kind, plan_charges
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.errors import PlanProblem
from nest.pieces.piece import Role
from nest.plan import Plan


class Cause(StrEnum):
    """Why one plan costs more than another."""

    ORDER = "order mix"
    REJECTS = "rejects, pairs short or over"
    NET = "net area of the pieces"
    ALLOWANCE = "allowance"
    YIELD = "yield"
    PRICE = "price"
    CUTTING = "cutting time"
    SCRAP = "scrap credit"


FACTORS = (Cause.ORDER, Cause.REJECTS, Cause.NET, Cause.ALLOWANCE, Cause.YIELD, Cause.PRICE)


@dataclass(frozen=True, slots=True)
class CauseAmount:
    """What one cause changes in leather and in reinforcement, and in all."""

    cause: Cause
    leather: Decimal
    reinforcement: Decimal
    amount: Decimal
    exact: Fraction


@dataclass(frozen=True, slots=True)
class Totals:
    """What a plan comes to: pairs wanted and cut, areas m², cutting and net yield (0..1, None without material)."""

    pairs_wanted: int
    pairs_cut: Fraction
    leather_m2: float
    reinforcement_m2: float
    cutting_yield: float | None
    net_yield: float | None
    dm2_per_pair: float | None
    cost: Decimal


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two plans side by side: `causes` add up to `change` = cost of `after` − cost of `before`."""

    currency: str
    before: Totals
    after: Totals
    change: Decimal
    causes: tuple[CauseAmount, ...]
    by_size: tuple[tuple[str, str, Fraction], ...]
    """Change of each style and size, exact; they add up to the exact change."""
    notes: tuple[str, ...]


def compare(
    before: tuple[Plan, Sequence[MaterialUse]],
    after: tuple[Plan, Sequence[MaterialUse]],
    seconds: tuple[Mapping[str, float], Mapping[str, float]] = ({}, {}),
) -> Comparison:
    """Compare two plans; each with its uses (`nest.accounts.areas`) and what the table takes for each hide and lay.

    Where each plan holds one style, sizes are compared with each other whatever the styles are called.

    Raises
    ------
    PlanProblem
        If the plans are costed in different currencies.
    """
    plans = before[0], after[0]
    currencies = [plan.settings.currency for plan in plans]
    if currencies[0] != currencies[1]:
        raise PlanProblem(f"the plans are costed in {currencies[0]} and {currencies[1]}; plan one of them again.")
    alone = all(len(plan.styles) == 1 for plan in plans)
    sides = [_side(*side, time, alone) for side, time in zip((before, after), seconds, strict=True)]
    exact: dict[tuple[Cause, Role], Fraction] = {}
    by_size: dict[tuple[str, str], Fraction] = {}

    def add(key, cause: Cause, role: Role, amount: Fraction) -> None:
        exact[cause, role] = exact.get((cause, role), Fraction(0)) + amount
        by_size[key] = by_size.get(key, Fraction(0)) + amount

    for key, role in dict.fromkeys([*sides[0].factors, *sides[1].factors]):
        shares = shapley(sides[0].factors.get((key, role)), sides[1].factors.get((key, role)))
        for cause, amount in zip(FACTORS, shares, strict=True):
            add(key, cause, role, amount)
    for key, role, kind in dict.fromkeys([*sides[0].apart, *sides[1].apart]):
        gap = sides[1].apart.get((key, role, kind), Fraction(0)) - sides[0].apart.get((key, role, kind), Fraction(0))
        add(key, Cause.CUTTING if kind is Kind.CUTTING else Cause.SCRAP, role, gap)
    digits = minor_digits(currencies[0])
    costs = [rounded(side.cost, digits) for side in sides]
    causes = _shown(exact, costs[1] - costs[0], digits)
    notes = []
    if alone and plans[0].styles[0].name != plans[1].styles[0].name:
        notes.append(f"Sizes of {plans[0].styles[0].name} are compared with those of {plans[1].styles[0].name}.")
    return Comparison(
        currencies[0], *(_totals(plan, uses, cost) for (plan, uses), cost in zip((before, after), costs, strict=True)),
        costs[1] - costs[0], causes, tuple((*key, amount) for key, amount in sorted(by_size.items())), tuple(notes),
    )


@dataclass(frozen=True, slots=True)
class _Side:
    factors: dict[tuple[tuple[str, str], Role], tuple[Fraction, ...]]
    apart: dict[tuple[tuple[str, str], Role, Kind], Fraction]
    cost: Fraction


def _side(plan: Plan, uses: Sequence[MaterialUse], seconds: Mapping[str, float], alone: bool) -> _Side:
    """The factors of each size and role, and the charges that do not follow them."""
    charges = plan_charges(plan, uses, seconds)
    wanted = {(line.style, line.size): line.pairs_wanted for line in plan.order}
    sums: dict[tuple[tuple[str, str], Role], list[Fraction]] = {}
    for use in uses:
        paid = Fraction(use.paid_mm2)
        whole = sum(Fraction(part.rough_mm2) for part in use.sizes)
        for part in use.sizes:
            row = sums.setdefault(((part.style, part.size), use.role), [Fraction(0)] * 4)
            rough = Fraction(part.rough_mm2)
            mine = (Fraction(part.pieces, 2), Fraction(part.net_mm2), rough, paid * rough / whole)
            for i, value in enumerate(mine):
                row[i] += value
    factors, apart = {}, {}
    for (key, role), (cut, net, rough, paid) in sums.items():
        kind = Kind.LEATHER if role is Role.VAMP else Kind.REINFORCEMENT
        cost = sum((one.exact for one in charges if (one.style, one.size) == key and one.kind is kind), Fraction(0))
        pairs = Fraction(wanted.get(key) or cut)
        factors[_named(key, alone), role] = (pairs, cut / pairs, net / cut, rough / net, paid / rough, cost / paid)
    for charge in charges:
        if charge.kind in (Kind.CUTTING, Kind.SCRAP):
            key = _named((charge.style, charge.size), alone), _role(charge), charge.kind
            apart[key] = apart.get(key, Fraction(0)) + charge.exact
    return _Side(factors, apart, sum((charge.exact for charge in charges), Fraction(0)))


def _role(charge: Charge) -> Role:
    return Role.REINFORCEMENT if charge.source.startswith("lay ") else Role.VAMP


def _named(key: tuple[str, str], alone: bool) -> tuple[str, str]:
    return ("", key[1]) if alone else key


def shapley(before: Sequence[Fraction] | None, after: Sequence[Fraction] | None) -> tuple[Fraction, ...]:
    """Share of each factor in product(after) − product(before), exactly; they add up to it.

    Where one side is None the first factor has it all. O(2ⁿ n) for n factors.
    """
    if before is None or after is None:
        only = prod(after or (), start=Fraction(1)) if after else -prod(before, start=Fraction(1))
        return (only, *[Fraction(0)] * (len(before or after) - 1))
    count = len(before)
    values = {
        chosen: prod((after[i] if i in chosen else before[i] for i in range(count)), start=Fraction(1))
        for size in range(count + 1) for chosen in map(frozenset, combinations(range(count), size))
    }
    weights = [Fraction(factorial(k) * factorial(count - k - 1), factorial(count)) for k in range(count)]
    return tuple(
        sum((weights[len(chosen)] * (values[chosen | {i}] - value)
             for chosen, value in values.items() if i not in chosen), Fraction(0))
        for i in range(count)
    )


def _shown(exact: Mapping[tuple[Cause, Role], Fraction], change: Decimal, digits: int) -> tuple[CauseAmount, ...]:
    """Causes rounded so that they add up to the change, and leather and reinforcement to each."""
    keys = [(cause, role) for cause in Cause for role in Role]
    parts = [exact.get(key, Fraction(0)) for key in keys]
    amounts = dict(zip(keys, apportioned(parts, change, digits), strict=True))
    found = []
    for cause in Cause:
        leather, backing = amounts[cause, Role.VAMP], amounts[cause, Role.REINFORCEMENT]
        whole = sum((exact.get((cause, role), Fraction(0)) for role in Role), Fraction(0))
        found.append(CauseAmount(cause, leather, backing, leather + backing, whole))
    return tuple(found)


def _totals(plan: Plan, uses: Sequence[MaterialUse], cost: Decimal) -> Totals:
    hides = [use for use in uses if use.role is Role.VAMP]
    area, paid = sum(use.account.material_mm2 for use in hides), sum(use.paid_mm2 for use in hides)
    rough, net = sum(use.account.rough_mm2 for use in hides), sum(use.account.net_mm2 for use in hides)
    cut = sum((Fraction(part.pieces, 2) for use in hides for part in use.sizes), Fraction(0))
    backing = sum(use.paid_mm2 for use in uses if use.role is Role.REINFORCEMENT)
    return Totals(
        sum(line.pairs_wanted for line in plan.order), cut, paid / 1e6, backing / 1e6,
        rough / area if area else None, net / area if area else None, paid / 1e4 / float(cut) if cut else None, cost,
    )
