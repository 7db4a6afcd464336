"""What the order costs: leather by the hide, reinforcement by the metre, by pair and size.

A hide costs its measured area in the price unit (to nine decimals, so that what was measured as 4¼ ft²
costs exactly that) times its own price, or the price of its class, or that of its leather. A
roll costs the length taken off it, end losses of every ply included. A price break takes its percentage off the
price of everything the plan uses of that leather or roll, hides with a price of their own left out. Each material
is charged whole to the sizes cut from it, in proportion to their rough area there.

Rounding: everything is reckoned exactly and rounded once, at the end, to the currency's minor unit, halves to
even; parts beside a total are rounded by largest remainder, so that they add up to it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nest.accounts.areas import MaterialUse
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.errors import PlanProblem
from nest.pieces.piece import Role
from nest.plan import CutLine, Plan
from nest.stock.material import Hide, Leather, Roll
from nest.units import MM2_PER_AREA_UNIT

UNIT_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class MaterialCost:
    """What one hide or lay costs: `quantity` in `unit` times `price`."""

    material_id: str
    role: Role
    quantity: Decimal
    unit: str
    price: Decimal
    amount: Decimal
    exact: Fraction


@dataclass(frozen=True, slots=True)
class SizeCost:
    """What one style and size costs, all pairs together; `total` = `leather` + `reinforcement`.

    pairs_cut : vamps cut ÷ 2. pairs_good : what is expected to come out well of them, at most the pairs wanted.
    """

    style: str
    size: str
    pairs_cut: Fraction
    pairs_good: Fraction
    leather: Decimal
    reinforcement: Decimal
    total: Decimal
    exact_leather: Fraction
    exact_reinforcement: Fraction


@dataclass(frozen=True, slots=True)
class PairCost:
    """Cost of one pair. `good_pair` = `leather` + `reinforcement` + `spoilage`; the first two are for a pair cut.

    size "" : the style's run; style "" : the whole order. `exact_good_pair` is not rounded.
    """

    style: str
    size: str
    leather: Decimal
    reinforcement: Decimal
    spoilage: Decimal
    good_pair: Decimal
    cut_pair: Decimal
    exact_good_pair: Fraction


@dataclass(frozen=True, slots=True)
class OrderCost:
    """The whole order; `leather` + `reinforcement` = `total`, and the columns of materials and sizes add up to them."""

    currency: str
    leather: Decimal
    reinforcement: Decimal
    total: Decimal
    materials: tuple[MaterialCost, ...]
    sizes: tuple[SizeCost, ...]
    pairs: tuple[PairCost, ...]


def hide_price(hide: Hide, leather: Leather) -> Decimal:
    """Price of a hide per price unit of its leather: its own, else that of its class, else the leather's."""
    return hide.price if hide.price is not None else dict(leather.price_by_quality).get(hide.quality, leather.price)


def order_cost(plan: Plan, uses: Sequence[MaterialUse]) -> OrderCost:
    """Cost of everything cut in `plan`; `uses` from `nest.accounts.areas`.

    Raises
    ------
    PlanProblem
        If a hide is of a leather that is not in the plan, or a price unit is not known.
    """
    digits = minor_digits(plan.settings.currency)
    stocks = [_stock(plan, use) for use in uses]
    bought: dict[str, Fraction] = {}
    for stock, _, _, quantity, _, _ in stocks:
        bought[stock] = bought.get(stock, Fraction(0)) + Fraction(quantity)
    bare = []
    for use, (stock, breaks, unit, quantity, price, own) in zip(uses, stocks, strict=True):
        price = price if own else less_percent(price, percent_off(breaks, bought[stock]))
        bare.append((use.material_id, use.role, quantity, unit, price, Fraction(quantity) * Fraction(price)))
    exact = {role: sum((one[-1] for one in bare if one[1] is role), Fraction(0)) for role in Role}
    total = rounded(sum(exact.values()), digits)
    shown = dict(zip(exact, apportioned(tuple(exact.values()), total, digits), strict=True))
    materials = _with_amounts(bare, shown, digits)
    sizes = _sizes(plan, uses, materials, shown, digits)
    pairs = tuple(pair for pair in _pairs(sizes, digits) if pair is not None)
    leather, reinforcement = shown[Role.VAMP], shown[Role.REINFORCEMENT]
    return OrderCost(plan.settings.currency, leather, reinforcement, total, materials, sizes, pairs)


def percent_off(breaks: Sequence[tuple[Decimal, Decimal]], quantity: Fraction) -> Decimal:
    """Percent off the price of `quantity` units: that of the last break it reaches, 0 before the first."""
    return max(((start, off) for start, off in breaks if start <= quantity), default=(0, Decimal(0)))[1]


def less_percent(price: Decimal, off: Decimal) -> Decimal:
    """A price with a percentage taken off; exact."""
    return price * (100 - off) / 100 if off else price


def _stock(plan: Plan, use: MaterialUse) -> tuple:
    """Leather or roll of one hide or lay, its breaks, unit, quantity, price, and whether that is the hide's own."""
    if use.role is Role.REINFORCEMENT:
        lay = next(lay for lay in plan.lays if lay.lay_id == use.material_id)
        roll: Roll = next(roll for roll in plan.rolls if roll.roll_id == lay.roll_id)
        return roll.roll_id, roll.breaks, "m", _quantity(use.length_mm / 1000.0), roll.price_per_m, False
    hide = next(hide for hide in plan.hides if hide.hide_id == use.material_id)
    leather = next((leather for leather in plan.leathers if leather.name == hide.leather), None)
    if leather is None:
        raise PlanProblem(f"hide {hide.hide_id} is of {hide.leather!r}, which has no price; add its price.")
    unit = leather.price_unit
    if unit not in MM2_PER_AREA_UNIT:
        known = ", ".join(MM2_PER_AREA_UNIT)
        raise PlanProblem(f"leather {leather.name} is priced by {unit!r}; use one of {known}.")
    quantity = _quantity(use.paid_mm2 / MM2_PER_AREA_UNIT[unit])
    return leather.name, leather.breaks, unit, quantity, hide_price(hide, leather), hide.price is not None


def _quantity(value: float) -> Decimal:
    return Decimal(repr(round(value, UNIT_DECIMALS))).normalize() + 0


def _with_amounts(bare: list[tuple], shown: Mapping[Role, Decimal], digits: int) -> tuple[MaterialCost, ...]:
    amounts: dict[int, Decimal] = {}
    for role in Role:
        index = [i for i, one in enumerate(bare) if one[1] is role]
        amounts |= zip(index, apportioned([bare[i][-1] for i in index], shown[role], digits), strict=True)
    return tuple(MaterialCost(*one[:-1], amounts[i], one[-1]) for i, one in enumerate(bare))


def _sizes(plan: Plan, uses, materials, shown: Mapping[Role, Decimal], digits: int) -> tuple[SizeCost, ...]:
    exact: dict[tuple[str, str], dict[Role, Fraction]] = {}
    cut: dict[tuple[str, str], int] = {}
    for use, material in zip(uses, materials, strict=True):
        whole = sum(Fraction(part.rough_mm2) for part in use.sizes)
        for part in use.sizes:
            row = exact.setdefault((part.style, part.size), dict.fromkeys(Role, Fraction(0)))
            row[use.role] += material.exact * Fraction(part.rough_mm2) / whole
            if use.role is Role.VAMP:
                cut[part.style, part.size] = cut.get((part.style, part.size), 0) + part.pieces
    keys = sorted(exact)
    columns = {role: apportioned([exact[key][role] for key in keys], shown[role], digits) for role in Role}
    lines = {(line.style, line.size): line for line in plan.order}
    sizes = []
    for i, key in enumerate(keys):
        pairs = Fraction(cut.get(key, 0), 2)
        leather, reinforcement = columns[Role.VAMP][i], columns[Role.REINFORCEMENT][i]
        sizes.append(SizeCost(
            *key, pairs, good_pairs(pairs, lines.get(key)), leather, reinforcement, leather + reinforcement,
            exact[key][Role.VAMP], exact[key][Role.REINFORCEMENT],
        ))
    return tuple(sizes)


def good_pairs(pairs_cut: Fraction, line: CutLine | None) -> Fraction:
    """Good pairs to expect of `pairs_cut`: all if the order says nothing, else their share, at most those wanted."""
    if line is None or line.pairs_to_cut <= 0:
        return pairs_cut
    return min(Fraction(line.pairs_wanted), pairs_cut * line.pairs_wanted / line.pairs_to_cut)


def _pairs(sizes: Sequence[SizeCost], digits: int) -> list[PairCost | None]:
    styles = dict.fromkeys(one.style for one in sizes)
    rows = [_pair(one.style, one.size, [one], digits) for one in sizes]
    rows += [_pair(style, "", [one for one in sizes if one.style == style], digits) for style in styles]
    return [*rows, _pair("", "", sizes, digits)]


def _pair(style: str, size: str, sizes: Sequence[SizeCost], digits: int) -> PairCost | None:
    """Cost of one pair of these sizes together; None if none was cut, or none is expected to be good."""
    cut, good = sum(one.pairs_cut for one in sizes), sum(one.pairs_good for one in sizes)
    if not cut or not good:
        return None
    leather = sum(one.exact_leather for one in sizes)
    reinforcement = sum(one.exact_reinforcement for one in sizes)
    per_good = (leather + reinforcement) / good
    total = rounded(per_good, digits)
    spoilage = per_good - (leather + reinforcement) / cut
    shown = apportioned((leather / cut, reinforcement / cut, spoilage), total, digits)
    return PairCost(style, size, *shown, total, shown[0] + shown[1], per_good)
