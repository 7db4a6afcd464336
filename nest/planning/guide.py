"""What leads the fill of hides: what each style is worth on them now, and which hide to open next.

A style that takes poorer ground than another lies as well where the other cannot. If hides are filled with whatever
makes most area it is used up on ground that the other needs, and the other then has hides to itself of which it can use
half. So what is still to cut and the hides still whole are shared out by a linear programme (`nest.selection.prices`),
and the search fills a hide for the worth that comes of it.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nest.planning.offer import HideGrounds
from nest.planning.wants import Want
from nest.selection.prices import shared_out

EXPECTED_FILL = 0.85
"""Rough area that a hide may hold, as a share of its ground fit for net area; for sharing out sizes."""

EARLY_FILL = 0.65
"""The same of a hide that had little time; for sharing out time, so that the last hides get as much as the first."""

LEAST_WORTH = 0.3
"""What comes free is still worth this share of the dearest style: room that no other can use is to be filled."""

RANK_WEIGHT = 1e-7


@dataclass(frozen=True, slots=True)
class Guide:
    """Worth of a mm² of each style, of the dearest 1; hides by the share the programme opens of them, then by rank."""

    prices: Mapping[str, float]
    order: tuple[int, ...]

    @property
    def plain(self) -> Mapping[str, float] | None:
        """The prices; None where they are all alike."""
        return self.prices if len(set(self.prices.values())) > 1 else None


def guide_of(
    wants: Sequence[Want], seen: Sequence[HideGrounds], costs: Sequence[float], left: Sequence[int],
    ranked: Sequence[int], gauge: float = 1.0, *, by_prices: bool = True,
) -> Guide:
    """Prices and order for hides not opened yet.

    Parameters
    ----------
    left : units still to cut, of each want
    ranked : the hides, least cost for their ground first
    gauge : what hides opened so far held, as a share of what was expected of them
    by_prices : whether to ask the programme; else all styles are worth alike, and the rank of the hides stands
    """
    demand: dict[str, float] = defaultdict(float)
    for number, want in zip(left, wants, strict=True):
        if number:
            demand[want.style] += number * want.area_mm2
    if not demand or not ranked or not by_prices:
        return Guide({want.style: 1.0 for want in wants}, tuple(ranked))
    rooms = [
        {some: EARLY_FILL * gauge * room for some, room in seen[hide].rooms_mm2.items() if demand.keys() & set(some)}
        for hide in ranked
    ]
    # of equals the first in rank is opened
    shared = shared_out([costs[hide] * (1.0 + RANK_WEIGHT * at) for at, hide in enumerate(ranked)], rooms, demand)
    dearest = max(shared.prices.values())
    worth = {want.style: 1.0 for want in wants}
    if dearest > 0.0:
        worth |= {style: round(max(LEAST_WORTH, price / dearest), 3) for style, price in shared.prices.items()}
    # a hide that is opened whole comes before one opened in part; within these the rank stands
    order = sorted(range(len(ranked)), key=lambda at: (-round(shared.opened[at], 6), at))
    return Guide(worth, tuple(ranked[at] for at in order))
