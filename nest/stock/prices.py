"""What stock costs: price of a hide, price breaks, and areas in the unit they are priced by; exact."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from nest.errors import PlanProblem
from nest.stock.material import Hide, Leather
from nest.units import MM2_PER_AREA_UNIT

UNIT_DECIMALS = 9
"""So that what was measured as 4¼ ft², and kept in mm², is exactly that again."""


def hide_price(hide: Hide, leather: Leather) -> tuple[Decimal, str]:
    """Price of a hide before breaks, and the area unit it is for: its own, else that of its class, else the leather's.

    Raises
    ------
    PlanProblem
        If the unit is not known.
    """
    if hide.price is None:
        price, unit = dict(leather.price_by_quality).get(hide.quality, leather.price), leather.price_unit
    else:
        price, unit = hide.price, hide.price_unit or leather.price_unit
    if unit not in MM2_PER_AREA_UNIT:
        known = ", ".join(MM2_PER_AREA_UNIT)
        raise PlanProblem(f"leather {leather.name} is priced by {unit!r}; use one of {known}.")
    return price, unit


def in_units(area_mm2: float, unit: str) -> Fraction:
    """An area in a price unit, to nine decimals."""
    return to_units(area_mm2 / MM2_PER_AREA_UNIT[unit])


def to_units(quantity: float) -> Fraction:
    """A quantity to nine decimals, exact from there on."""
    return Fraction(Decimal(repr(round(quantity, UNIT_DECIMALS))))


def percent_off(breaks: Sequence[tuple[Decimal, Decimal]], quantity: Fraction) -> Decimal:
    """Percent off the price of `quantity` units: that of the last break it reaches, 0 before the first."""
    return max(((start, off) for start, off in breaks if start <= quantity), default=(0, Decimal(0)))[1]


def cost_of_hides(hides: Sequence[Hide], leather: Leather) -> Fraction:
    """What these hides of one leather cost whole, the price break off that they reach together."""
    return sum(costs_of_hides(hides, leather, breaks_off(hides, leather)), Fraction(0))


def costs_of_hides(hides: Sequence[Hide], leather: Leather, off: Decimal = Decimal(0)) -> list[Fraction]:
    """What each of these hides costs whole, `off` percent taken off where the price is not its own."""
    costs = []
    for hide in hides:
        price, unit = hide_price(hide, leather)
        factor = Fraction(1) if hide.price is not None else 1 - Fraction(off) / 100
        costs.append(in_units(hide.measured_area_mm2, unit) * Fraction(price) * factor)
    return costs


def breaks_off(hides: Sequence[Hide], leather: Leather) -> Decimal:
    """Percent off that these hides reach together; those with a price of their own count, but have nothing off."""
    bought = sum((in_units(hide.measured_area_mm2, leather.price_unit) for hide in hides), Fraction(0))
    return percent_off(leather.breaks, bought)
