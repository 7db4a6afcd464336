"""The hide that is only part used: a cheaper one if it will do, and the smallest part of it."""

import numpy as np
import shapely
from shapely.geometry import Polygon

from nest.planning.fill import REMNANT_SHARE, LeatherTask, UnitsByHide, solve_hide
from nest.planning.guide import EXPECTED_FILL
from nest.planning.run import TimeShare
from nest.planning.spoilage import expected_loss
from nest.planning.wants import Unit

FULL_SHARE = 0.8
"""A hide filled to this share of the fullest one counts as used up."""

CHEAPER_TRIES = 2
CUTS = 4
"""This many lines across the hide are tried, each halving what is not known of how far the pieces must reach."""


def finish(task: LeatherTask, placed: UnitsByHide, share: TimeShare) -> UnitsByHide:
    """Plan the part-used hide again: what it holds goes on a cheaper hide, or closer to one end of its own."""
    hide = part_used(task, placed)
    if hide is None:
        return placed
    task.run.watch.here = sum(task.pieces(units) for other, units in placed.items() if other != hide)
    for tries, other in enumerate(_cheaper(task, placed, hide)[:CHEAPER_TRIES]):
        if task.run.cancelled() or share.left == 0.0:
            return placed
        units = _all_on(task, other, placed[hide], share, CUTS + CHEAPER_TRIES - tries, 100 + tries)
        if units is not None and _pays(task, (other, units), (hide, placed[hide])):
            placed = {**{h: u for h, u in placed.items() if h != hide}, other: units}
            hide = other
            break
    return {**placed, hide: drawn_together(task, hide, placed[hide], share)}


def _pays(task: LeatherTask, new: tuple[int, tuple[Unit, ...]], old: tuple[int, tuple[Unit, ...]]) -> bool:
    """Whether a cheaper hide is cheaper still with what its vamps are expected to lose in the press."""
    new_cost, old_cost = (task.weights[hide] + expected_loss(task, hide, units) for hide, units in (new, old))
    return new_cost < old_cost


def part_used(task: LeatherTask, placed: UnitsByHide, most: float = FULL_SHARE) -> int | None:
    """The hide with least of its ground used, if that is less than `most` of what the fullest has."""
    if not placed:
        return None
    share = {hide: task.area(units) / task.seen[hide].usable_mm2 for hide, units in placed.items()}
    least = min(share, key=lambda hide: (share[hide], hide))
    fullest = max(share.values()) if len(share) > 1 else EXPECTED_FILL
    return least if share[least] < most * fullest else None


def drawn_together(task: LeatherTask, hide: int, units: tuple[Unit, ...], share: TimeShare) -> tuple[Unit, ...]:
    """The same units on the part of the hide up to a line across it, as far to the left as is found."""
    low, _, high, _ = task.seen[hide].hide.outline.bounds
    bottom, top = task.seen[hide].hide.outline.bounds[1::2]
    right = _reach(task, units)
    # Full ground would hold the pieces up to here; start from what a good layout needs.
    needed = task.area(units) / (EXPECTED_FILL * task.seen[hide].usable_mm2)
    left, best = low, units
    line = min(low + needed * (high - low), 0.5 * (left + right))
    for cut in range(CUTS):
        if task.run.cancelled() or share.left == 0.0:
            break
        part = shapely.box(low, bottom, line, top)
        found = _all_on(task, hide, units, share, CUTS - cut, 200 + cut, part)
        if found is None or not _spares(task, hide, found, best):
            left = line
        else:
            best, right = found, _reach(task, found)
        line = 0.5 * (left + right)
    return best


def _spares(task: LeatherTask, hide: int, new: tuple[Unit, ...], old: tuple[Unit, ...]) -> bool:
    """Whether what is left of a hide by a new layout is worth what that is expected to lose more in the press."""
    lost = expected_loss(task, hide, new) - expected_loss(task, hide, old)
    return lost <= part_cost(task, hide, old) - part_cost(task, hide, new)


def part_cost(task: LeatherTask, hide: int, units: tuple[Unit, ...]) -> float:
    """What the part of a hide up to the last cut costs beside the rest, which is a remnant then."""
    left, _, right, _ = task.seen[hide].hide.outline.bounds
    return REMNANT_SHARE * task.costs[hide] * (_reach(task, units) - left) / (right - left)


def up_to(task: LeatherTask, hide: int, units: tuple[Unit, ...]) -> Polygon:
    """The part of a hide from its left end to the last cut of its layout."""
    low, bottom, _, top = task.seen[hide].hide.outline.bounds
    return shapely.box(low, bottom, _reach(task, units) + 0.1, top)


def _reach(task: LeatherTask, units: tuple[Unit, ...]) -> float:
    """Largest x of any cut line."""
    return max(
        float(np.max(pose.apply(piece.cut_outline)[:, 0]))
        for unit in units
        for piece, pose in zip(task.wants[unit.want].pieces, unit.poses, strict=True)
    )


def _cheaper(task: LeatherTask, placed: UnitsByHide, hide: int) -> list[int]:
    """Closed hides that cost less and may hold as much, cheapest first."""
    needed, weights = task.area(placed[hide]), task.weights
    others = [
        other for other in task.ranked
        if other not in placed and weights[other] < weights[hide]
        and EXPECTED_FILL * task.seen[other].usable_mm2 >= needed
    ]
    return sorted(others, key=lambda other: (weights[other], other))


def _all_on(task: LeatherTask, hide: int, units, share: TimeShare, solves: float, attempt: int, within=None):
    """The same units on a hide, or on a part of it; None if not all of them find a place."""
    limits = {want: number for want, number in enumerate(task.counts(units)) if number}
    layouts = solve_hide(task, hide, limits, share, solves, stage="finish", attempt=attempt, within=within)
    return next((found for found in layouts if len(found) == len(units)), None)
