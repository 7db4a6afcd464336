"""In which order the table marks and cuts, and where it begins each line: a short way for the head."""

from collections.abc import Sequence

import numpy as np

from nest.cutplan._route import best_places, discs_around, search

ROUNDS, ROUNDS_EACH, MOST_ROUNDS = 600, 6, 10_000
"""In each search stops are taken out and put back this often, and as often again for each of them, but no more often
than the last (trial 173).
"""

DICE = 88172645463325252, 2545431786934927, 7919041281163733
"""What each search draws its numbers from; the shortest route that any finds is taken."""

NEAR = 24
"""A stop is put beside one of this many that are nearest to it."""

Before = Sequence[tuple[int, int]] | np.ndarray
"""Pairs (i, j), as an array (m, 2): i is cut before j. There is no circle in them."""


def cut_route(
    places: Sequence[np.ndarray], start=(0.0, 0.0), before: Before = (), effort: float = 1.0, *,
    ends: Sequence[np.ndarray] | None = None, back: bool = False,
) -> tuple[np.ndarray, np.ndarray]:
    """Order of outlines or lines, and where each is begun, for little travel.

    From the order of always going to the nearest, outlines are taken out and put back where, begun at the best of
    their places, they cost least (`nest.cutplan._route`); of several such searches the best is kept, and the best
    places for its order are found exactly, by dynamic programming. They end by a count, never by the clock, so the
    same input gives the same route.

    Parameters
    ----------
    places : n arrays (k, 2)
        Where each outline may be begun, mm; k may differ.
    start : pair of floats
        Where the head waits before the first of them, mm.
    before : pairs of indices
        What is cut before what.
    effort
        Rounds of the search as a multiple of the usual number.
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
    left = places if ends is None else _pairs(ends)
    later = _later(len(places), before)
    first = np.concatenate(((0,), np.cumsum([len(place) for place in places])))
    order = _nearest_first(np.array([place.mean(axis=0) for place in places]), start, later)
    points, away = np.vstack((*places, start)), np.vstack((*left, start))
    discs, parts = discs_around(points, away, first), _in_parts(later)
    near, rules = _near(discs, parts), _rules(later, parts)
    rounds = max(1, round(effort * min(MOST_ROUNDS, ROUNDS + ROUNDS_EACH * len(places))))
    found = (
        search(points, away, first, back, discs, near, rules, order, rounds, np.full(1, dice, dtype=np.uint64))
        for dice in DICE
    )
    order, _, _ = min(found, key=lambda one: one[2])
    return order, best_places(points, away, first, back, order) - first[:-1]


def travel_mm(points, start=(0.0, 0.0)) -> float:
    """Length of the way from `start` through `points` (n, 2) in the order given, mm."""
    way = np.vstack((start, np.asarray(points, dtype=np.float64).reshape(-1, 2)))
    return float(np.hypot(*np.diff(way, axis=0).T).sum())


def _pairs(places) -> list[np.ndarray]:
    return [np.asarray(place, dtype=np.float64).reshape(-1, 2) for place in places]


def _later(count: int, before: Before) -> np.ndarray:
    """Whether the first must come before the second, directly or through others, (n, n) (S. Warshall, 1962)."""
    later = np.zeros((count, count), dtype=bool)
    i, j = np.asarray(before, dtype=np.int64).reshape(-1, 2).T
    later[i, j] = True
    for k in np.flatnonzero(later.any(axis=0) & later.any(axis=1)):
        first, last = np.flatnonzero(later[:, k]), np.flatnonzero(later[k])
        first = first[~later[np.ix_(first, last)].all(axis=1)]
        later[np.ix_(first, last)] = True
    return later


def _in_parts(later: np.ndarray) -> np.ndarray | None:
    """Whether each stop belongs to the second of two parts, all of the first before all of the second; else None."""
    second = later.any(axis=0)
    return np.asarray(second) if second.any() and later[np.ix_(~second, second)].all() else None


def _rules(later: np.ndarray, second: np.ndarray | None):
    """What `nest.cutplan._route` is given of the order: where the second part begins, and what parts leave open."""
    if second is None:
        return -1.0, np.zeros(len(later), dtype=bool), *_lists(later.T), *_lists(later)
    rest = later & second[:, None]
    return float((~second).sum()) - 0.5, second, *_lists(rest.T), *_lists(rest)


def _lists(pairs: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The columns that hold in each row, one row after another, and where those of each row begin."""
    rows, columns = np.nonzero(pairs)
    return np.searchsorted(rows, np.arange(len(pairs) + 1)), columns.astype(np.int64)


def _near(discs: np.ndarray, second: np.ndarray | None) -> np.ndarray:
    """For each stop those nearest to it, itself first, (n, NEAR) or fewer; of its own part before others."""
    found = np.empty((len(discs), min(len(discs), NEAR)), dtype=np.int64)
    for i, (x, y, _) in enumerate(discs):
        away = np.hypot(discs[:, 0] - x, discs[:, 1] - y)
        if second is not None:
            away[second != second[i]] += 1e9
        away[i] = -1.0
        nearest = np.argpartition(away, found.shape[1] - 1)[: found.shape[1]]
        found[i] = nearest[np.lexsort((nearest, away[nearest]))]
    return found


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
