"""The size run as a table: pairs, pieces and material by size, and what a changed order changes in it."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import fsum
from typing import Any

from nest.estimate.make import QuickEstimate, SizeEstimate


@dataclass(frozen=True, slots=True)
class SizeRunRow:
    """Amounts of one style and size, all pairs to cut together; size "" : the style; style "" : the order.

    leather_mm2, reinforcement_mm : material, leaving aside the ragged ends and end losses of lays; None where it cannot
        be estimated for some of the pairs.
    """

    style: str
    size: str
    pairs_wanted: int
    pairs_to_cut: int
    vamps: int
    reinforcements: int
    leather_mm2: float | None
    reinforcement_mm: float | None


_AMOUNTS = tuple(field.name for field in fields(SizeRunRow))[2:]


def size_run(estimate: QuickEstimate) -> tuple[SizeRunRow, ...]:
    """A row for each size, one for each style, and one for the order."""
    rows = [_row(one) for one in estimate.sizes]
    styles = dict.fromkeys(row.style for row in rows)
    by_style = [_total([row for row in rows if row.style == style], style) for style in styles]
    return (*rows, *by_style, _total(rows))


def size_run_changes(before: QuickEstimate, after: QuickEstimate) -> tuple[SizeRunRow, ...]:
    """What `after` takes more than `before`, below zero for less; only sizes, styles and orders that change."""
    old = {(row.style, row.size): row for row in size_run(before)}
    new = {(row.style, row.size): row for row in size_run(after)}
    # Sizes before styles before the order, as in the table itself.
    keys = sorted(dict.fromkeys((*old, *new)), key=lambda key: (key[0] == "", key[1] == ""))
    changes = []
    for key in keys:
        amounts = [_change(new, old, key, name) for name in _AMOUNTS]
        if any(amounts):
            changes.append(SizeRunRow(*key, *amounts))
    return tuple(changes)


def _change(new: dict, old: dict, key: tuple[str, str], name: str) -> Any:
    after, before = (getattr(rows[key], name) if key in rows else 0 for rows in (new, old))
    return None if after is None or before is None else after - before


def _row(one: SizeEstimate) -> SizeRunRow:
    vamps, roll = one.left + one.right + one.either, one.roll
    return SizeRunRow(
        one.style, one.size, one.pairs_wanted, one.pairs_to_cut, vamps, vamps if one.backed else 0,
        None if one.leather is None else one.pairs_to_cut * one.leather.material_mm2,
        (None if one.backed else 0.0) if roll is None else one.pairs_to_cut * roll.length_mm,
    )


def _total(rows: Sequence[SizeRunRow], style: str = "") -> SizeRunRow:
    return SizeRunRow(style, "", *(_sum([getattr(row, name) for row in rows]) for name in _AMOUNTS))


def _sum(amounts: Sequence[Any]) -> Any:
    if None in amounts:
        return None
    return sum(amounts) if all(isinstance(one, int) for one in amounts) else fsum(amounts)
