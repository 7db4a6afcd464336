"""What changed in cost from one plan to another, cause by cause; the causes add up to the change.

The material cost of a style, size and role is a product of seven factors:

    pairs wanted × pairs cut a pair wanted × net area × rough area a net area × paid area a rough area
    × (its share of each material and class × price of each)

Its change is shared out among the factors by the Shapley value: the mean, over every sequence in which the factors may
be changed one after another, of what each changes when its turn comes. So no factor is favoured by its place, and the
shares add up exactly. Where one plan uses a material, class or hide with its own price that the other does not, it has
in the other the price that plan lists for it, else the same: what another mix costs is no change of price. A size that
only one plan has counts whole as order mix. What does not follow the product, cutting and scrap credit, stands as a
cause of its own; so do freight, duty, set-up, pressing, overhead and margin.

References
----------
L. S. Shapley (1953), A value for n-person games; A. F. Shorrocks (2013), Decomposition procedures for distributional
analysis: a unified framework based on the Shapley value, Journal of Economic Inequality 11, 99-126 (from memory).
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from itertools import combinations
from math import factorial, fsum, prod

from nest.accounts.areas import MaterialUse
from nest.accounts.charges import ChargeKind, plan_charges, unit_mm2
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.errors import PlanProblem
from nest.pieces.piece import Role
from nest.plan import Plan
from nest.stock.prices import hide_price


class Cause(StrEnum):
    """Why one plan costs more than another."""

    ORDER = "order mix"
    REJECTS = "rejects, pairs short or over"
    NET = "net area of the pieces"
    ALLOWANCE = "allowance"
    YIELD = "yield"
    MIX = "mix of hides, classes and materials"
    PRICE = "price"
    FREIGHT = "freight"
    DUTY = "duty"
    CUTTING = "cutting time"
    SETUP = "set-up"
    PRESS = "pressing"
    SCRAP = "scrap credit"
    OVERHEAD = "overhead"
    MARGIN = "margin"


FACTORS = (Cause.ORDER, Cause.REJECTS, Cause.NET, Cause.ALLOWANCE, Cause.YIELD, Cause.MIX, Cause.PRICE)
_SCALARS = 5

Stock = tuple[ChargeKind, str, int, str]
"""What has one price: leather or roll; a class of leather, or the id of a hide that has its own price in a plan."""


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
    by_size: tuple[tuple[str, str, Decimal], ...]
    """Change of each style and size; they add up to the change."""
    notes: tuple[str, ...]


def compare(
    before: tuple[Plan, Sequence[MaterialUse]], after: tuple[Plan, Sequence[MaterialUse]],
    seconds: tuple[Mapping[str, float] | None, Mapping[str, float] | None] = (None, None),
) -> Comparison:
    """Compare two plans; each with its uses (`nest.accounts.areas`), and cutting time as `plan_charges` takes it.

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
    own = {hide.hide_id for plan in plans for hide in plan.hides if hide.price is not None}
    sides = [_side(*side, time, alone, own) for side, time in zip((before, after), seconds, strict=True)]
    exact: dict[tuple[Cause, Role], Fraction] = {}
    by_size: dict[tuple[str, str], Fraction] = {}

    def add(key: tuple[str, str], cause: Cause, role: Role, amount: Fraction) -> None:
        exact[cause, role] = exact.get((cause, role), Fraction(0)) + amount
        by_size[key] = by_size.get(key, Fraction(0)) + amount

    for key, role in dict.fromkeys([*sides[0].taken, *sides[1].taken]):
        shares = _shares(sides[0].taken.get((key, role)), sides[1].taken.get((key, role)), sides)
        for cause, amount in zip(FACTORS, shares, strict=True):
            add(key, cause, role, amount)
    for key, role, kind in dict.fromkeys([*sides[0].apart, *sides[1].apart]):
        gap = sides[1].apart.get((key, role, kind), Fraction(0)) - sides[0].apart.get((key, role, kind), Fraction(0))
        add(key, Cause[kind.name], role, gap)
    digits = minor_digits(currencies[0])
    costs = [rounded(side.cost, digits) for side in sides]
    change = costs[1] - costs[0]
    causes, sizes = _shown(exact, change, digits), sorted(by_size.items())
    shown = apportioned([amount for _, amount in sizes], change, digits)
    notes = []
    if alone and plans[0].styles[0].name != plans[1].styles[0].name:
        notes.append(f"Sizes of {plans[0].styles[0].name} are compared with those of {plans[1].styles[0].name}.")
    return Comparison(
        currencies[0], _totals(*before, costs[0]), _totals(*after, costs[1]), change, causes,
        tuple((*key, amount) for (key, _), amount in zip(sizes, shown, strict=True)), tuple(notes),
    )


@dataclass(frozen=True, slots=True)
class _Taken:
    """Material of one size and role: the five numbers, and the share of each stock in the area paid for."""

    numbers: tuple[Fraction, ...]
    shares: Mapping[Stock, Fraction]
    prices: Mapping[Stock, Fraction]


@dataclass(frozen=True, slots=True)
class _Side:
    taken: dict[tuple[tuple[str, str], Role], _Taken]
    apart: dict[tuple[tuple[str, str], Role, ChargeKind], Fraction]
    plan: Plan
    cost: Fraction


def _side(
    plan: Plan, uses: Sequence[MaterialUse], seconds: Mapping[str, float] | None, alone: bool, own: Collection[str]
) -> _Side:
    """The factors of each size and role, and the charges that do not follow them; hides in `own` are kept separate."""
    charges = plan_charges(plan, uses, seconds)
    wanted = {(line.style, line.size): line.pairs_wanted for line in plan.order}
    widths = {roll.roll_id: Fraction(roll.width_mm) for roll in plan.rolls}
    classes = {hide.hide_id: hide.quality for hide in plan.hides}
    pieces: dict[tuple[tuple[str, str], Role], list[Fraction]] = {}
    for use in uses:
        for part in use.sizes:
            row = pieces.setdefault(((part.style, part.size), use.role), [Fraction(0)] * 3)
            for i, value in enumerate((Fraction(part.pieces, 2), Fraction(part.net_mm2), Fraction(part.rough_mm2))):
                row[i] += value
    paid: dict[tuple[tuple[str, str], Role], dict[Stock, Fraction]] = {}
    prices: dict[Stock, Fraction] = {}
    apart: dict[tuple[tuple[str, str], Role, ChargeKind], Fraction] = {}
    for charge in charges:
        if not charge.stock:
            whose = _named(charge.key, alone), charge.role, charge.kind
            apart[whose] = apart.get(whose, Fraction(0)) + charge.exact
            continue
        unit = unit_mm2(charge.unit) if charge.kind is ChargeKind.LEATHER else 1000 * widths[charge.stock]
        alike = charge.of not in own
        quality = classes[charge.of] if alike and charge.kind is ChargeKind.LEATHER else 0
        stock = charge.kind, charge.stock, quality, "" if alike else charge.of
        prices[stock] = charge.paid_price / unit
        mine = paid.setdefault((charge.key, charge.role), {})
        mine[stock] = mine.get(stock, Fraction(0)) + charge.quantity * unit
    taken = {}
    for (key, role), (cut, net, rough) in pieces.items():
        areas = paid[key, role]
        area, pairs = sum(areas.values()), Fraction(wanted.get(key) or cut)
        taken[_named(key, alone), role] = _Taken(
            (pairs, cut / pairs, net / cut, rough / net, area / rough),
            {stock: part / area for stock, part in areas.items()}, prices,
        )
    return _Side(taken, apart, plan, sum((charge.exact for charge in charges), Fraction(0)))


def _listed(plan: Plan, stock: Stock) -> Fraction | None:
    """Price a mm² that a plan lists for what it does not use, before breaks; None if it does not."""
    kind, name, quality, hide_id = stock
    if kind is ChargeKind.REINFORCEMENT:
        roll = next((one for one in plan.rolls if one.roll_id == name), None)
        return None if roll is None else Fraction(roll.price_per_m) / (1000 * Fraction(roll.width_mm))
    leather = next((one for one in plan.leathers if one.name == name), None)
    hide = next((one for one in plan.hides if one.hide_id == hide_id), None)
    if leather is None or (hide_id and hide is None):
        return None
    price, unit = (
        hide_price(hide, leather) if hide else
        (dict(leather.price_by_quality).get(quality, leather.price), leather.price_unit)
    )
    return Fraction(price) / unit_mm2(unit)


def _shares(before: _Taken | None, after: _Taken | None, sides: Sequence[_Side]) -> tuple[Fraction, ...]:
    """What each factor changes, by the Shapley value."""
    if before is None or after is None:
        change = Fraction(0)
        for one, sign in ((before, -1), (after, 1)):
            if one is not None:
                price = sum((share * one.prices[stock] for stock, share in one.shares.items()), Fraction(0))
                change += sign * prod(one.numbers, start=Fraction(1)) * price
        return (change, *[Fraction(0)] * (len(FACTORS) - 1))
    stocks = dict.fromkeys([*before.shares, *after.shares])
    mine: list[dict[Stock, Fraction]] = []
    for one, other, side in ((before, after, sides[0]), (after, before, sides[1])):
        known = ((stock, (one.prices.get(stock), _listed(side.plan, stock), other.prices.get(stock)))
                 for stock in stocks)
        mine.append({stock: next(price for price in prices if price is not None) for stock, prices in known})

    def value(chosen: frozenset[int]) -> Fraction:
        numbers = prod(((after if i in chosen else before).numbers[i] for i in range(_SCALARS)), start=Fraction(1))
        mix, prices = (after if _SCALARS in chosen else before).shares, mine[_SCALARS + 1 in chosen]
        return numbers * sum((share * prices[stock] for stock, share in mix.items()), Fraction(0))

    return shapley(value, len(FACTORS))


def _named(key: tuple[str, str], alone: bool) -> tuple[str, str]:
    return ("", key[1]) if alone else key


def shapley(value: Callable[[frozenset[int]], Fraction], count: int) -> tuple[Fraction, ...]:
    """Share of each of `count` factors in value(all) − value(none), exactly; they add up to it.

    `value` of a set of factors is what comes out when these have changed. O(2ⁿ n).
    """
    sets = (frozenset(one) for size in range(count + 1) for one in combinations(range(count), size))
    values = {chosen: value(chosen) for chosen in sets}
    weights = [Fraction(factorial(k) * factorial(count - k - 1), factorial(count)) for k in range(count)]
    return tuple(
        sum((weights[len(chosen)] * (values[chosen | {i}] - found)
             for chosen, found in values.items() if i not in chosen), Fraction(0))
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
    area, paid = fsum(use.account.material_mm2 for use in hides), fsum(use.paid_mm2 for use in hides)
    rough, net = fsum(use.account.rough_mm2 for use in hides), fsum(use.account.net_mm2 for use in hides)
    cut = sum((Fraction(part.pieces, 2) for use in hides for part in use.sizes), Fraction(0))
    backing = fsum(use.paid_mm2 for use in uses if use.role is Role.REINFORCEMENT)
    return Totals(
        sum(line.pairs_wanted for line in plan.order), cut, paid / 1e6, backing / 1e6,
        rough / area if area else None, net / area if area else None, paid / 1e4 / float(cut) if cut else None, cost,
    )
