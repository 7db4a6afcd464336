"""What the trim-off costs: its share of the material, and the part of it that the press does not need.

share : price × trim-off area ÷ cutting yield: what is charged for material times trim-off area ÷ rough area.
avoidable : likewise for the area between the rough outline and the one that the least allowances would
    give; of the leather alone.

What one millimetre more or less would change is a third figure and needs another placement; it is
not worked out here, and the three are never added.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nest.accounts.charges import ChargeKind
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.accounts.sheet import CostSheet
from nest.accounts.trimshares import TrimShare


@dataclass(frozen=True, slots=True)
class TrimCost:
    """Cost of the trim-off of one style and size, all pairs together and for one pair cut.

    size "" and style "" : the whole order, to whose figures the sizes add up. `avoidable` is None where the
    plan does not say how the least rough outline runs.
    """

    style: str
    size: str
    leather_share: Decimal
    reinforcement_share: Decimal
    avoidable: Decimal | None
    leather_share_per_pair: Decimal
    reinforcement_share_per_pair: Decimal
    avoidable_per_pair: Decimal | None


def trim_costs(sheet: CostSheet, trimmed: Sequence[TrimShare]) -> tuple[TrimCost, ...]:
    """Cost of trim-off by size, and for the order; empty if nothing was cut. Rounded as in `nest.accounts.money`."""
    if not sheet.sizes:
        return ()
    digits = minor_digits(sheet.currency)
    keys = [(row.style, row.size) for row in sheet.sizes]
    shares = {(one.style, one.size): one for one in trimmed}
    parts = {name: dict.fromkeys(keys, Fraction(0)) for name in ("leather", "reinforcement", "avoidable")}
    for charge in sheet.charges:
        share = shares[charge.key]
        if charge.kind is ChargeKind.LEATHER:
            parts["leather"][charge.key] += charge.exact * Fraction(share.leather)
            parts["avoidable"][charge.key] += charge.exact * Fraction(share.avoidable or 0.0)
        elif charge.kind is ChargeKind.REINFORCEMENT:
            parts["reinforcement"][charge.key] += charge.exact * Fraction(share.reinforcement)
    pairs = [row.pairs.cut for row in sheet.sizes]
    # Of a size of which no vamp is cut nothing is avoidable, whatever is known of it.
    known = {key: not cut or shares[key].avoidable is not None for key, cut in zip(keys, pairs, strict=True)}
    known["", ""] = all(known.values())
    shown = [_column([*column.values()], pairs, digits) for column in parts.values()]
    rows = []
    for i, key in enumerate([*keys, ("", "")]):
        (leather, each_leather), (backing, each_backing), (avoid, each_avoid) = (column[i] for column in shown)
        rows.append(TrimCost(
            *key, leather, backing, avoid if known[key] else None,
            each_leather, each_backing, each_avoid if known[key] else None,
        ))
    return tuple(rows)


def _column(parts: list[Fraction], pairs: list[Fraction], digits: int) -> list[tuple[Decimal, Decimal]]:
    """For each size, then for all: the amount shown and the same per pair cut (0 where no vamp was cut)."""
    total = sum(parts, Fraction(0))
    amounts = [*apportioned(parts, rounded(total, digits), digits), rounded(total, digits)]
    each = [part / count if count else Fraction(0)
            for part, count in zip([*parts, total], [*pairs, sum(pairs)], strict=True)]
    return [(amount, rounded(one, digits)) for amount, one in zip(amounts, each, strict=True)]
