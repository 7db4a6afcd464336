"""Pairs to cut for the pairs wanted: some fail after crimping, so that many more are cut."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import TYPE_CHECKING

from nest.errors import PlanProblem

if TYPE_CHECKING:
    from nest.job.job import OrderLine, Style


@dataclass(frozen=True, slots=True)
class CutQuantity:
    """Pairs wanted and pairs to cut of one style and size."""

    style: str
    size: str
    pairs_wanted: int
    pairs_to_cut: int


def pairs_to_cut(pairs_wanted: int, reject_percent: float) -> int:
    """Least number of pairs of which (100 − reject_percent) % are `pairs_wanted` or more.

    Reckoned in fractions of the decimal number as written, so that 90 wanted at 10 % are 100, not 101.

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


def reject_percent_to_use(
    reject_percent: float, by_quality: Sequence[tuple[int, float]], net_quality: int
) -> float:
    """Return the reject share to reckon with before it is known which ground each pair is cut from.

    It is the largest share among the zone classes the net area may lie in (1 to `net_quality`); a class
    without a share of its own has `reject_percent`. So the order is covered wherever the pairs are cut.
    """
    given = dict(by_quality)
    return max(given.get(quality, reject_percent) for quality in range(1, max(1, net_quality) + 1))


def reject_percents(styles: Sequence["Style"]) -> dict[str, float]:
    """Reject share to reckon with of each style, percent; see `reject_percent_to_use`."""
    return {
        style.name: reject_percent_to_use(
            style.reject_percent, style.reject_percent_by_quality, style.rules.net_quality
        )
        for style in styles
    }


def cut_quantities(order: Sequence["OrderLine"], styles: Sequence["Style"]) -> tuple[CutQuantity, ...]:
    """Return pairs to cut for each style and size of `order`, in its sequence; equal lines are added up first.

    Raises
    ------
    KeyError
        If a line names a style that is not among `styles`.
    ValueError
        As `pairs_to_cut`.
    """
    shares = reject_percents(styles)
    wanted: dict[tuple[str, str], int] = {}
    for line in order:
        wanted[line.style, line.size] = wanted.get((line.style, line.size), 0) + line.pairs
    quantities = []
    for (name, size), pairs in wanted.items():
        quantities.append(CutQuantity(name, size, pairs, pairs_to_cut(pairs, shares[name])))
    return tuple(quantities)


def ordered_quantities(order: Sequence["OrderLine"], styles: Sequence["Style"]) -> tuple[CutQuantity, ...]:
    """Return what `cut_quantities` does, sizes of which nothing is cut left out.

    Raises
    ------
    PlanProblem
        If nothing is left.
    """
    quantities = tuple(line for line in cut_quantities(order, styles) if line.pairs_to_cut > 0)
    if not quantities:
        raise PlanProblem("the order holds no pairs; add sizes with pairs to the order.")
    return quantities
