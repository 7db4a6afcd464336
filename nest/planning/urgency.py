"""Where there is too little leather, the least urgent pairs go short.

Filling hides knows no urgency: where all is met it makes no difference, and sizes in plenty fill better. Where
something is short the order is filled anew without its least urgent pairs, as many as do not fit, so that the hides are
shared out among the others alone; then what was left out is put into the room that is left. What comes of it counts by
urgency, the most urgent first, and only where it is better so does it take the first plan's place.
"""

from collections.abc import Callable, Sequence
from math import fsum

from nest.planning.fill import LeatherTask, UnitsByHide
from nest.planning.ranks import missed, without_least
from nest.planning.run import TimeShare
from nest.planning.tail import absorbed

ROUNDS = 3
"""How often the order is filled anew; each time more is left out, while urgent pairs are missing."""

Fill = Callable[[list[int], TimeShare], tuple[UnitsByHide, list[int]]]
"""Fills the hides with some of what is wanted, within a share of time: units of each hide, and what is missing."""


def urgent_first(
    task: LeatherTask, wanted: Sequence[int], first: tuple[UnitsByHide, list[int]], refill: Fill, share: TimeShare,
) -> tuple[UnitsByHide, list[int]]:
    """The hides filled so that what is missing is the least urgent as far as can be, and what is missing.

    Parameters
    ----------
    wanted : units to place of each want; of a want placed in part before, the least urgent ones
    first : the result of filling without regard to urgency
    """

    def lost(found: tuple[UnitsByHide, list[int]]) -> tuple[float, ...]:
        return missed(task.wants, found[1])

    best, left_out, still = first, 0.0, first[1]
    for turn in range(ROUNDS):
        left_out += (turn + 1) * fsum(n * want.area_mm2 for n, want in zip(still, task.wants, strict=True))
        fewer = without_least(task.wants, wanted, left_out)
        if not any(lost(best)[:-1]) or not any(fewer) or task.run.cancelled() or share.left == 0.0:
            break
        part = share if share.left is None else TimeShare(share.run, share.run.elapsed + share.left / (ROUNDS - turn))
        placed, still = refill(fewer, part)
        short = [n + whole - some for n, whole, some in zip(still, wanted, fewer, strict=True)]
        again = absorbed(task, placed, short, part)
        best = min((best, (placed, short), again), key=lost)
        if not any(still):
            break
    return best
