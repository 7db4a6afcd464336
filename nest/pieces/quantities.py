"""Pairs to cut for the pairs wanted: some fail after crimping, so more are cut.

How many more is an expectation, a fraction of a pair; pairs are whole. By default the fractions of all sizes of a style
are put together and rounded up once, and the pairs that this gives are handed out to the sizes by largest remainder
(Hamilton's method: M. L. Balinski and H. P. Young, Fair Representation, Yale University Press 1982, chapter 3).
Rounded up size by size, 30 pairs in six sizes at 3 % would become 36.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import ceil

from nest.errors import PlanProblem
from nest.pieces.style import OrderLine, Style

RATE_DIGITS = 3
"""Decimals of an expected rate, percent: it is worked out, not written by anyone."""


class RejectPairs(StrEnum):
    """How many pairs are cut beyond those wanted, for the rejects expected."""

    POOLED = "pooled"
    """As many as all sizes of a style need together, handed out by largest remainder; a size may get none."""
    BY_SIZE = "by size"
    """As many as each size needs by itself, rounded up: every size is covered."""
    NONE = "none"
    """None: what fails is missing, or cut again later."""

    @property
    def words(self) -> str:
        """The rule in a few words, after "for rejects"."""
        return {
            RejectPairs.POOLED: "pooled over the sizes of each style",
            RejectPairs.BY_SIZE: "rounded up size by size",
            RejectPairs.NONE: "none by the job's choice",
        }[self]


@dataclass(frozen=True, slots=True)
class DueRow:
    """Pairs wanted of one style and size by a date (ISO 8601, "" for none); priority 1 is the first, 0 none."""

    due: str
    priority: int
    pairs: int


@dataclass(frozen=True, slots=True)
class CutLine:
    """Pairs wanted and pairs to cut (grossed up by the reject rate) of one style and size.

    rows : the pairs wanted by due date and priority; empty where the order names neither.
    """

    style: str
    size: str
    pairs_wanted: int
    pairs_to_cut: int
    rows: tuple[DueRow, ...] = ()


def pairs_to_cut(pairs_wanted: int, reject_percent: float) -> int:
    """Least number of pairs of which (100 − reject_percent) % are `pairs_wanted` or more.

    Worked out in fractions of the decimal number as written, so that 90 wanted at 10 % are 100, not 101.

    Raises
    ------
    ValueError
        If the pairs are negative, or the share is not from 0 to below 100.
    """
    if pairs_wanted < 0:
        raise ValueError(f"expected pairs that are not below zero, found {pairs_wanted}")
    if not 0.0 <= reject_percent < 100.0:
        raise ValueError(f"expected a reject share from 0 to below 100 %, found {reject_percent}")
    good = 1 - Fraction(str(reject_percent)) / 100
    return ceil(pairs_wanted / good)


def reject_percent_to_use(reject_percent: float, by_quality: Sequence[tuple[int, float]], net_quality: int) -> float:
    """Return the reject share to count on before it is known which ground each pair is cut from.

    It is the largest share among the zone classes the net area may lie in (1 to `net_quality`); a class
    without a share of its own has `reject_percent`. So the order is covered wherever the pairs are cut.
    """
    given = dict(by_quality)
    return max(given.get(quality, reject_percent) for quality in range(1, max(1, net_quality) + 1))


def reject_percents(styles: Sequence[Style]) -> dict[str, float]:
    """Reject share to count on for each style, percent; see `reject_percent_to_use`, and `RejectRates.expected`."""
    return {
        style.name: round(style.rates.expected(style.rules.net_quality, style.rules.tolerance_deg), RATE_DIGITS)
        if style.rates is not None else reject_percent_to_use(
            style.reject_percent, style.reject_percent_by_quality, style.rules.net_quality
        )
        for style in styles
    }


def handed_out(number: int, shares: Sequence[int]) -> tuple[int, ...]:
    """Hand out `number` whole things in proportion to `shares`, by largest remainder; they add up exactly.

    Each gets its quota rounded down; what is left goes one by one to the largest remainders, of equal ones to the
    larger share first, then to the one that comes first.

    Raises
    ------
    ValueError
        If something is below zero, or there is something to hand out and no share.
    """
    if number < 0 or min(shares, default=0) < 0:
        raise ValueError(f"expected a number and shares that are not below zero, found {number} and {list(shares)}")
    whole = sum(shares)
    if not whole:
        if number:
            raise ValueError(f"expected a share to hand out {number} by, found none")
        return (0,) * len(shares)
    given = [number * share // whole for share in shares]
    order = sorted(range(len(shares)), key=lambda i: (-(number * shares[i] % whole), -shares[i], i))
    for i in order[: number - sum(given)]:
        given[i] += 1
    return tuple(given)


def cut_quantities(order: Sequence[OrderLine], styles: Sequence[Style], rejects: RejectPairs) -> tuple[CutLine, ...]:
    """Return pairs to cut for each style and size of `order`, in its sequence; rows of one style and size are one line.

    Raises
    ------
    KeyError
        If a line names a style that is not among `styles`.
    ValueError
        As `pairs_to_cut`.
    """
    shares = reject_percents(styles)
    wanted: dict[tuple[str, str], int] = {}
    rows: dict[tuple[str, str], list[DueRow]] = defaultdict(list)
    dated = any(line.due or line.priority for line in order)
    for line in order:
        wanted[line.style, line.size] = wanted.get((line.style, line.size), 0) + line.pairs
        if dated and line.pairs:
            rows[line.style, line.size].append(DueRow(line.due, line.priority, line.pairs))
    more: dict[tuple[str, str], int] = {}
    for name in dict.fromkeys(name for name, _ in wanted):
        mine = {key: pairs for key, pairs in wanted.items() if key[0] == name}
        more.update(zip(mine, _for_rejects(list(mine.values()), shares[name], rejects), strict=True))
    return tuple(CutLine(*key, pairs, pairs + more[key], tuple(rows[key])) for key, pairs in wanted.items())


def _for_rejects(pairs: Sequence[int], share: float, rejects: RejectPairs) -> Sequence[int]:
    """Pairs to cut beyond those wanted of each size of one style, of which `share` percent are rejected."""
    if rejects is RejectPairs.NONE:
        return [0] * len(pairs)
    if rejects is RejectPairs.BY_SIZE:
        return [pairs_to_cut(wanted, share) - wanted for wanted in pairs]
    whole = sum(pairs)
    return handed_out(pairs_to_cut(whole, share) - whole, pairs)


def ordered_quantities(
    order: Sequence[OrderLine], styles: Sequence[Style], rejects: RejectPairs
) -> tuple[CutLine, ...]:
    """Return what `cut_quantities` does, sizes of which nothing is cut left out.

    Raises
    ------
    PlanProblem
        If nothing is left.
    """
    quantities = tuple(line for line in cut_quantities(order, styles, rejects) if line.pairs_to_cut > 0)
    if not quantities:
        raise PlanProblem("the order holds no pairs; add sizes with pairs to the order.")
    return quantities
