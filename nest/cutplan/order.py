"""In which order the table marks and cuts, and where it begins each line: a short way for the head."""

from collections.abc import Iterable, Sequence

import numpy as np

from nest.cutplan._route import search

ROUNDS, ROUNDS_EACH = 2_000, 20
"""Outlines are taken out and put back this often from each fresh start, and no more than this for each of them."""

STARTS, OUTLINES = 20, 60
"""This many fresh starts for as many outlines or fewer; for more of them, fewer, so that time stays about the same."""

Before = Iterable[tuple[int, int]]
"""Pairs (i, j): i is cut before j. There is no circle in them."""


def cut_route(
    places: Sequence[np.ndarray], start=(0.0, 0.0), before: Before = (), effort: float = 1.0, *,
    ends: Sequence[np.ndarray] | None = None, back: bool = False,
) -> tuple[np.ndarray, np.ndarray]:
    """Order of outlines or lines, and where each is begun, for little travel.

    From the order of always going to the nearest, outlines are taken out and put back
    where, begun at the best of their places, they cost least (`nest.cutplan._route`), several times afresh; the best
    places for an order are found exactly, by dynamic programming. The search ends by a count, never by the clock, so
    the same input gives the same route.

    Parameters
    ----------
    places : n arrays (k, 2)
        Where each outline may be begun, mm; k may differ.
    start : pair of floats
        Where the head waits before the first of them, mm.
    before : pairs of indices
        What is cut before what.
    effort
        Fresh starts as a multiple of the usual number.
    ends : n arrays (k, 2)
        Where the head is left by what is begun at each place, mm; without them where it was begun, as outlines do.
    back
        Whether the way back to `start` counts.

    Returns
    -------
    (n,) int array, (n,) int array
        The order; for each outline (not in this order) the index of its place.
    """
    places = _pairs(places)
    if not places:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    left = np.vstack(places if ends is None else _pairs(ends))
    later = _later(len(places), before)
    first = np.concatenate(((0,), np.cumsum([len(place) for place in places])))
    order = _nearest_first(np.array([place.mean(axis=0) for place in places]), start, later)
    points, home, pick = np.vstack(places), np.asarray(start, dtype=np.float64), np.random.default_rng(0)
    starts = max(1, round(effort * STARTS * OUTLINES / max(OUTLINES, len(places))))
    rounds = min(ROUNDS, ROUNDS_EACH * len(places))
    found = [
        search(points, left, first, home, back, later, order, first[:-1].copy(), rounds, pick) for _ in range(starts)
    ]
    order, picks = min(found, key=lambda one: _driven(points, left, home, back, one[1][one[0]]))
    return order, picks - first[:-1]


def travel_mm(points, start=(0.0, 0.0)) -> float:
    """Length of the way from `start` through `points` (n, 2) in the order given, mm."""
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    return _driven(points, points, np.asarray(start, dtype=np.float64), False, np.arange(len(points)))


def _driven(points, ends, home, back: bool, picks) -> float:
    """Length of the way from home to each place picked, from where that leaves the head to the next, and home, mm."""
    to = np.vstack((points[picks], home)) if back else points[picks]
    return float(np.hypot(*(to - np.vstack((home, ends[picks]))[: len(to)]).T).sum())


def _pairs(places) -> list[np.ndarray]:
    return [np.asarray(place, dtype=np.float64).reshape(-1, 2) for place in places]


def _later(count: int, before: Before) -> np.ndarray:
    """Whether the first must come before the second, directly or through others, (n, n) (S. Warshall, 1962)."""
    later = np.zeros((count, count), dtype=bool)
    for i, j in before:
        later[i, j] = True
    for k in np.flatnonzero(later.any(axis=0) & later.any(axis=1)):
        later |= later[:, k, None] & later[None, k]
    return later


def _nearest_first(points, start, later: np.ndarray) -> np.ndarray:
    """Always to the nearest point left of those that nothing left must come before."""
    waits = later.sum(axis=0)
    left = np.ones(len(points), dtype=bool)
    order, here = [], np.asarray(start, dtype=np.float64)
    while left.any():
        free = left & (waits == 0)
        # Outlines that ask for each other first, as when they overlap: any of them.
        free = free if free.any() else left
        index = int(np.argmin(np.where(free, np.hypot(*(points - here).T), np.inf)))
        left[index] = False
        waits = waits - later[index]
        order.append(index)
        here = points[index]
    return np.array(order, dtype=np.int64)
