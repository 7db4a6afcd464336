"""Which rows of an order come first: by priority, then by due date; and what that means when there are too few pairs.

A row bears `priority` (1 = first, 0 for none), `due` (ISO 8601, "" for none) and `pairs`. Rows with a priority come
before those without one, rows with a due date before those without one; of a style and size no two rows are alike in
both. Scarce pairs are handed to the most urgent row until it is met, then to the next. That is common practice, no
source.
"""

from collections.abc import Iterable, Sequence
from typing import Protocol

Tiers = tuple[tuple[int, int], ...]
"""Of the units of a style and size, most urgent first: rank in the whole order (0 the most urgent), and how many."""

_NO_DAY = "9999-99-99"


class OrderRow(Protocol):
    """What is known of a row."""

    @property
    def due(self) -> str:
        """ISO 8601 date, or ""."""

    @property
    def priority(self) -> int:
        """From 1, the most urgent; 0 for none."""

    @property
    def pairs(self) -> int:
        """Pairs wanted."""


def urgency(row: OrderRow) -> tuple[bool, int, str]:
    """What rows are sorted by; the least is the most urgent."""
    return not row.priority, row.priority, row.due or _NO_DAY


def ranks(rows: Iterable[OrderRow]) -> dict[tuple[bool, int, str], int]:
    """Rank of each urgency that occurs, from 0 for the most urgent."""
    return {key: rank for rank, key in enumerate(sorted({urgency(row) for row in rows}))}


def met_by_row(pairs: int, rows: Sequence[OrderRow]) -> tuple[int, ...]:
    """Pairs that each row gets of those there are, in the sequence of the rows."""
    met = [0] * len(rows)
    for at in sorted(range(len(rows)), key=lambda at: urgency(rows[at])):
        met[at] = min(rows[at].pairs, pairs)
        pairs -= met[at]
    return tuple(met)


def good_pairs(cut: int, wanted: int, to_cut: int) -> int:
    """Pairs wanted that `cut` of the pairs to cut come to: rejects are taken off in proportion, and rounded up."""
    return min(wanted, max(0, cut) * wanted // to_cut) if to_cut else wanted


def tiers(rows: Sequence[OrderRow], to_cut: int, rank: dict[tuple[bool, int, str], int]) -> Tiers:
    """Pairs to cut of one style and size by rank: the least with which the rows as far as that are met."""
    wanted = sum(row.pairs for row in rows)
    found, before, cut = [], 0, 0
    for row in sorted(rows, key=urgency):
        before += row.pairs
        upto = -(-before * to_cut // wanted)
        found.append((rank[urgency(row)], upto - cut))
        cut = upto
    return tuple((at, number) for at, number in found if number)


def last_of(tiers: Tiers, count: int) -> Tiers:
    """The last `count` units, the least urgent ones; where there are fewer the most urgent rank has more."""
    found = []
    for rank, number in reversed(tiers):
        taken = min(number, count)
        count -= taken
        if taken:
            found.append((rank, taken))
    if count and tiers:
        if found and found[-1][0] == tiers[0][0]:
            count += found.pop()[1]
        found.append((tiers[0][0], count))
    return tuple(reversed(found))


def rank_of_next(tiers: Tiers, missing: int) -> int:
    """Rank of the unit that is put next where this many are missing, the last ones: the most urgent of those."""
    for rank, number in reversed(tiers):
        missing -= number
        if missing <= 0:
            return rank
    return tiers[0][0] if tiers else 0


def times(tiers: Tiers, each: int) -> Tiers:
    """The same with `each` units for every one."""
    return tuple((rank, each * number) for rank, number in tiers)


def row_words(due: str, priority: int) -> str:
    """What a row is called: by its due date and priority."""
    said = [f"due {due}"] if due else ["without a due date"]
    return " ".join([*said, *([f"(priority {priority})"] if priority else [])])
