"""Stock and orders added up."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nest.ledger.rows import HideRow, LineRow, RollRow


@dataclass(slots=True)
class Stock:
    """Hides of one leather, lot and class: how many are free, of these the remnants, and how many are not."""

    free: int = 0
    free_mm2: float = 0.0
    remnants: int = 0
    reserved: int = 0
    withdrawn: int = 0


def stock_by_class(rows: Iterable[HideRow]) -> dict[tuple[str, str, int], Stock]:
    """Hides that are there, by leather, lot and class."""
    found: dict[tuple[str, str, int], Stock] = {}
    for row in rows:
        if row.state in ("cut", "gone"):
            continue
        one = found.setdefault((row.leather, row.lot, row.quality), Stock())
        if row.free:
            one.free += 1
            one.free_mm2 += row.area_mm2
            one.remnants += row.state == "remnant"
        else:
            one.reserved += row.state == "reserved"
            one.withdrawn += row.state == "withdrawn"
    return dict(sorted(found.items()))


def rolls_by_article(rows: Iterable[RollRow]) -> dict[str, tuple[int, float, float]]:
    """Rolls that are there, by article: how many, free and reserved length, mm."""
    found: dict[str, tuple[int, float, float]] = {}
    for row in rows:
        if row.state == "received":
            number, free, held = found.get(row.article, (0, 0.0, 0.0))
            found[row.article] = number + 1, free + row.free_mm, held + row.held_mm
    return dict(sorted(found.items()))


@dataclass(slots=True)
class Order:
    """One order added up: the first day something of it is due, and pairs."""

    due: str = ""
    wanted: int = 0
    planned: int = 0
    cut: int = 0
    spoiled: int = 0
    finished: int = 0
    short: int = 0


def orders_summed(rows: Sequence[LineRow], *, unfinished: bool = False) -> dict[str, Order]:
    """Orders, each with all its lines, in the sequence of their most urgent ones; only the `unfinished`, if asked."""
    found: dict[str, Order] = {}
    for row in rows:
        one = found.setdefault(row.order_no, Order())
        if row.due and (row.wanted > row.finished) and (not one.due or row.due < one.due):
            one.due = row.due
        for name in ("wanted", "planned", "cut", "spoiled", "finished", "short"):
            setattr(one, name, getattr(one, name) + getattr(row, name))
    # By their lines: pairs too many in one size do not finish another.
    still = {row.order_no for row in rows if row.finished < row.wanted}
    return {name: one for name, one in found.items() if not unfinished or name in still}
