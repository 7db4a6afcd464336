"""Every figure of cost is a sum of charges: who bears it, for what, and which layout or estimate is behind it.

A charge is a quantity times a price, exactly. Whatever shows money adds charges up, so each amount can be taken apart
again into the hides, lays or estimates it comes from.

A hide costs its measured area times its own price, or that of its class, or its leather's; a roll the length taken off
it, end losses of every ply included. A price break takes its percentage off everything that is charged of that leather
or roll; a hide with a price of its own counts towards the break and has nothing off. Each material is borne whole by
the sizes cut from it, in proportion to their rough area there; cutting time in proportion to the length of their cuts.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from geometry.polygon import edge_lengths
from nest.accounts.areas import MaterialUse
from nest.cutplan.work import priced_seconds
from nest.errors import PlanProblem
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.pieces.piece import Role
from nest.plan import Placed, Plan
from nest.stock.material import Hide, Leather, Roll
from nest.stock.prices import hide_price, in_units, percent_off, to_units
from nest.units import MM2_PER_AREA_UNIT, MM2_PER_M2


class ChargeKind(StrEnum):
    """What a charge is for."""

    LEATHER = "leather"
    REINFORCEMENT = "reinforcement"
    FREIGHT = "freight"
    DUTY = "duty"
    CUTTING = "cutting"
    SETUP = "set-up"
    PRESS = "pressing"
    SCRAP = "scrap credit"
    OVERHEAD = "overhead"
    MARGIN = "margin"


@dataclass(frozen=True, slots=True)
class Charge:
    """`quantity` in `unit` at `price`, borne by one style and size; `source` names the layout or estimate behind it.

    material : what is priced, in words: a leather and its class, a roll, labour, scrap.
    stock : the leather or roll whose price breaks hold; "" for labour and scrap.
    own_price : whether the price is a hide's own, which no break changes.
    percent_off : by the price break that is reached.
    of : id of the hide or lay; "" in an estimate.
    on : the leather or roll that freight and duty are on; "" for everything else.

    What is added in percent (freight, duty, overhead, margin) has money as its quantity. A scrap credit has a price
    below zero.
    """

    style: str
    size: str
    kind: ChargeKind
    source: str
    quantity: Fraction
    unit: str
    price: Fraction
    material: str
    stock: str = ""
    own_price: bool = False
    percent_off: Fraction = Fraction(0)
    of: str = ""
    role: Role = Role.VAMP
    on: str = ""

    @property
    def key(self) -> tuple[str, str]:
        """Style and size."""
        return self.style, self.size

    @property
    def paid_price(self) -> Fraction:
        """The price, less what the break takes off."""
        return self.price * (100 - self.percent_off) / 100 if self.percent_off else self.price

    @property
    def exact(self) -> Fraction:
        """The amount, not rounded."""
        return self.quantity * self.paid_price


ADDED = (ChargeKind.FREIGHT, ChargeKind.DUTY, ChargeKind.OVERHEAD, ChargeKind.MARGIN)
"""What is added in percent of other charges, in this order."""

WHOLE = (ChargeKind.OVERHEAD, ChargeKind.MARGIN)
"""What is added to all costs, spoilage among them."""


def with_added(charges: Sequence[Charge], settings: Settings) -> list[Charge]:
    """The charges and, after them, freight, duty, overhead and margin, each on those before it.

    Freight is on what a material costs, duty on that with its freight (the value at the border, cost, insurance and
    freight: common practice, no source), overhead on all costs, margin on the price.
    """
    costing, found = settings.costing, list(charges)
    for kind, percents in ((ChargeKind.FREIGHT, costing.freight_percent), (ChargeKind.DUTY, costing.duty_percent)):
        by_name = dict(percents)
        for charge in tuple(found) if by_name else ():
            name = charge.stock or (charge.on if kind is ChargeKind.DUTY else "")
            percent = by_name.get(name, by_name.get("", 0)) if name else 0
            if percent:
                found.append(replace(
                    charge, kind=kind, quantity=charge.exact, unit=settings.currency, price=Fraction(percent) / 100,
                    material=f"{kind} of {name}", stock="", own_price=False, percent_off=Fraction(0), on=name,
                ))
    overhead, margin = Fraction(costing.overhead_percent or 0), Fraction(costing.margin_percent or 0)
    for kind, price, words in (
        (ChargeKind.OVERHEAD, overhead / 100, f"overhead, {costing.overhead_percent} % of cost"),
        (ChargeKind.MARGIN, margin / (100 - margin), f"margin, {costing.margin_percent} % of the price"),
    ):
        if price:
            sums: dict[tuple[str, str, str, Role], Fraction] = {}
            for charge in found:
                key = charge.style, charge.size, charge.of, charge.role
                sums[key] = sums.get(key, Fraction(0)) + charge.exact
            found += [
                Charge(style, size, kind, words, amount, settings.currency, price, words, of=of, role=role)
                for (style, size, of, role), amount in sums.items()
            ]
    return found


def times(charges: Iterable[Charge]) -> Callable[[Charge], Fraction]:
    """How many times itself a charge costs with all that is added to it in percent."""
    rates = {(one.kind, one.on): one.price for one in charges if one.kind in ADDED}

    def of(charge: Charge) -> Fraction:
        factor = Fraction(1)
        for kind in ADDED:
            name = "" if kind in WHOLE else charge.stock
            if kind in WHOLE or name:
                factor *= 1 + rates.get((kind, name), Fraction(0))
        return factor

    return of


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of one style and size: cut, and expected to come out well."""

    cut: Fraction
    good: Fraction


Bought = Mapping[tuple[ChargeKind, str], Fraction]
"""Quantity of each leather and roll, in the unit its breaks are in."""


def plan_charges(
    plan: Plan, uses: Sequence[MaterialUse], seconds: Mapping[str, float] | None = None, bought: Bought | None = None
) -> tuple[Charge, ...]:
    """Charges of everything cut in `plan`.

    Cutting: `seconds` by hide and lay at the labour rate. Set-up: each hide and lay. Press labour: each pair of vamps.
    Scrap: what a hide leaves outside the cut lines. Then what is added in percent. All only
    where the plan's settings price them.

    Parameters
    ----------
    uses : from `nest.accounts.areas`
    seconds : what the table takes for each hide and lay, as `nest.cutplan.work.priced_seconds`, by default that; where
        one is missing its cutting costs nothing
    bought : what price breaks go by; by default what is charged here

    Raises
    ------
    PlanProblem
        If a hide is of a leather that is not in the plan, or a price unit is not known.
    """
    costing = plan.settings.costing
    seconds = priced_seconds(plan) if seconds is None else seconds
    hides, leathers = {one.hide_id: one for one in plan.hides}, {one.name: one for one in plan.leathers}
    lays, rolls = {one.lay_id: one for one in plan.lays}, {one.roll_id: one for one in plan.rolls}
    layouts = {one.hide_id: one.placed for one in plan.layouts if one.placed}
    charges: list[Charge] = []
    for use in uses:
        whole = sum(Fraction(part.rough_mm2) for part in use.sizes)
        shares = {(part.style, part.size): Fraction(part.rough_mm2) / whole for part in use.sizes}
        if use.role is Role.VAMP:
            material = _hide_charge(hides[use.material_id], leathers, use.paid_mm2)
            placed, setup = layouts[use.material_id], costing.setup_per_hide
        else:
            lay = lays[use.material_id]
            material = _lay_charge(lay.lay_id, rolls[lay.roll_id], use.length_mm)
            placed, setup = lay.placed, costing.setup_per_lay
        charges += _shared(shares, material)
        source, of, role = material.source, use.material_id, use.role
        if setup:
            charges += _shared(shares, replace(setup_charge(("", ""), source, Fraction(1), setup, role), of=of))
        if use.role is Role.VAMP:
            if costing.scrap_per_m2:
                left = Fraction(use.account.waste_mm2) / Fraction(MM2_PER_M2)
                scrap = scrap_charge(("", ""), source, left, costing.scrap_per_m2)
                charges += _shared(shares, replace(scrap, of=of, role=role))
            charges += [
                replace(one, of=of, role=role) for part in use.sizes
                for one in press_charges((part.style, part.size), source, Fraction(part.pieces, 2), costing)
            ]
        if costing.labour_per_hour and use.material_id in seconds:
            hours = Fraction(seconds[use.material_id]) / 3600
            work = work_charge(("", ""), source, hours, costing.labour_per_hour)
            charges += _shared(_cut_lengths(plan, placed), replace(work, of=of, role=role))
    return complete(charges, plan.leathers, plan.rolls, plan.settings, bought)


def bought_of(charges: Iterable[Charge], leathers: Iterable[Leather]) -> dict[tuple[ChargeKind, str], Fraction]:
    """What charges come to of each leather and roll, in the unit its price breaks are in."""
    units = {leather.name: leather.price_unit for leather in leathers}
    found: dict[tuple[ChargeKind, str], Fraction] = {}
    for charge in charges:
        if charge.stock:
            key = charge.kind, charge.stock
            quantity = charge.quantity
            if charge.kind is ChargeKind.LEATHER and charge.unit != units[charge.stock]:
                quantity *= unit_mm2(charge.unit) / unit_mm2(units[charge.stock])
            found[key] = found.get(key, Fraction(0)) + quantity
    return found


def complete(
    charges: Sequence[Charge], leathers: Sequence[Leather], rolls: Sequence[Roll], settings: Settings,
    bought: Bought | None = None,
) -> tuple[Charge, ...]:
    """The charges with the price breaks that are reached, and with what is added in percent of them worked out anew.

    bought : what the breaks go by; by default what the charges come to themselves
    """
    own = [one for one in charges if one.kind not in ADDED]
    bought = bought_of(own, leathers) if bought is None else bought
    breaks = {(ChargeKind.LEATHER, one.name): one.breaks for one in leathers}
    breaks |= {(ChargeKind.REINFORCEMENT, one.roll_id): one.breaks for one in rolls}
    off = {key: Fraction(percent_off(breaks[key], quantity)) for key, quantity in bought.items()}
    nil = Fraction(0)
    return tuple(with_added([
        replace(one, percent_off=nil if one.own_price else off.get((one.kind, one.stock), nil)) for one in own
    ], settings))


def unit_mm2(unit: str) -> Fraction:
    """An area unit in mm², exactly as areas are turned into it; PlanProblem if it is not known."""
    if unit not in MM2_PER_AREA_UNIT:
        raise PlanProblem(f"the area unit {unit!r} is not known; use one of {', '.join(MM2_PER_AREA_UNIT)}.")
    return Fraction(MM2_PER_AREA_UNIT[unit])


def material_of(hide: Hide) -> str:
    """Leather, class, and whether the hide has its own price, in words."""
    return f"{hide.leather}, class {hide.quality}" + (", own price" if hide.price is not None else "")


def scrap_charge(key: tuple[str, str], source: str, left_m2: Fraction, per_m2: Decimal) -> Charge:
    """The credit for leather outside the cut lines."""
    return Charge(*key, ChargeKind.SCRAP, source, left_m2, "m2", -Fraction(per_m2), "scrap")


def work_charge(key: tuple[str, str], source: str, hours: Fraction, per_hour: Decimal) -> Charge:
    """What cutting for so long costs."""
    return Charge(*key, ChargeKind.CUTTING, source, hours, "h", Fraction(per_hour), "labour")


def setup_charge(key: tuple[str, str], source: str, count: Fraction, each: Decimal, role: Role) -> Charge:
    """What laying out hides, or spreading lays, costs; a part of one its part."""
    unit = "hide" if role is Role.VAMP else "lay"
    return Charge(*key, ChargeKind.SETUP, source, count, unit, Fraction(each), f"set-up of a {unit}", role=role)


def press_charges(key: tuple[str, str], source: str, pairs: Fraction, costing: Costing) -> tuple[Charge, ...]:
    """What pressing pairs cut costs; nothing where it has no time or no price."""
    if not costing.press_per_hour or not costing.press_s_per_pair:
        return ()
    hours, price = pairs * Fraction(costing.press_s_per_pair) / 3600, Fraction(costing.press_per_hour)
    return (Charge(*key, ChargeKind.PRESS, source, hours, "h", price, "labour at the press"),)


def _hide_charge(hide: Hide, leathers: Mapping[str, Leather], paid_mm2: float) -> Charge:
    if hide.leather not in leathers:
        raise PlanProblem(f"hide {hide.hide_id} is of {hide.leather!r}, which has no price; add its price.")
    price, unit = hide_price(hide, leathers[hide.leather])
    return Charge(
        "", "", ChargeKind.LEATHER, f"layout of hide {hide.hide_id}", in_units(paid_mm2, unit), unit, Fraction(price),
        material_of(hide), hide.leather, hide.price is not None, of=hide.hide_id,
    )


def _lay_charge(lay_id: str, roll: Roll, length_mm: float) -> Charge:
    return Charge(
        "", "", ChargeKind.REINFORCEMENT, f"lay {lay_id}", to_units(length_mm / 1000.0), "m",
        Fraction(roll.price_per_m), roll.roll_id, roll.roll_id, of=lay_id, role=Role.REINFORCEMENT,
    )


def _cut_lengths(plan: Plan, placed: Iterable[Placed]) -> dict[tuple[str, str], Fraction]:
    """Share of each style and size in the length cut on one material."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    lengths: dict[tuple[str, str], Fraction] = {}
    for one in placed:
        piece = pieces[one.piece_id]
        key = piece.style, piece.size
        lengths[key] = lengths.get(key, Fraction(0)) + Fraction(float(edge_lengths(piece.cut_outline).sum()))
    whole = sum(lengths.values())
    return {key: length / whole for key, length in lengths.items()}


def _shared(shares: Mapping[tuple[str, str], Fraction], whole: Charge) -> list[Charge]:
    """One charge for each style and size; the quantities add up to that of `whole`."""
    return [
        replace(whole, style=style, size=size, quantity=whole.quantity * share)
        for (style, size), share in shares.items()
    ]
