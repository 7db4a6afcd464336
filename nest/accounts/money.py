"""Exact money and its rounding.

Amounts are exact fractions. They are rounded once, at the end, to the minor unit of the
currency, halves to even; parts that are shown beside their total are rounded by largest remainder, so that
what is shown always adds up (Hamilton's method of apportionment, from memory).
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from nest.stock.currencies import MINOR_DIGITS


def minor_digits(currency: str) -> int:
    """Digits after the point in which amounts of `currency` are shown; 2 of one that is not known (ISO 4217)."""
    return MINOR_DIGITS.get(currency.upper(), 2)


def rounded(amount: Fraction, digits: int) -> Decimal:
    """`amount` to the minor unit, halves to even."""
    return _decimal(round(amount * 10**digits), digits)


def apportioned(parts: Sequence[Fraction], total: Decimal, digits: int) -> tuple[Decimal, ...]:
    """`parts` to the minor unit so that they add up to `total`, each within one minor unit of itself.

    Rounded down first; the units still missing go to the largest remainders, the first of equals; what is too much
    comes off the smallest; what is nothing stays nothing. `total` is the rounded sum of the parts, or differs from
    their sum by less than a unit for each part.
    """
    units = [part * 10**digits for part in parts]
    floors = [unit.__floor__() for unit in units]
    missing = int(total * 10**digits) - sum(floors)
    some = [i for i, unit in enumerate(units) if unit] or [*range(len(units))]
    some.sort(key=lambda i: floors[i] - units[i])
    if missing < 0:
        some.reverse()
    for i in range(abs(missing)):
        floors[some[i % len(some)]] += 1 if missing > 0 else -1
    return tuple(_decimal(unit, digits) for unit in floors)


def _decimal(units: int, digits: int) -> Decimal:
    return Decimal(units).scaleb(-digits)
