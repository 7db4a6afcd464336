"""In which order the table cuts, and where it begins each outline: a short way for the head from piece to piece."""

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from ortools.constraint_solver import pywrapcp, routing_enums_pb2

SECONDS = 2.0
"""No order is sought for longer than this, unless more time is asked for."""

_SOLUTIONS_TIMES_POINTS = 6_000
"""One search stops after this many solutions ÷ points: well under `SECONDS`, so the clock does not decide."""

_SHORT_TIMES_POINTS = 300
"""The same for each of the many searches that take turns with the choice of places."""

_TRIALS = 20
_NOISE = 0.5
_WORSE, _BACK = 0.02, 0.05
"""A route this much longer may still be gone on from; and how often the search goes back to the best."""

_LEAST_GAIN_MM = 1e-6

Before = Iterable[tuple[int, int]]
"""Pairs (i, j): i is cut before j. There is no circle in them."""


def cut_order(points, start=(0.0, 0.0), before: Before = ()) -> np.ndarray:
    """Indices of `points` in a short travel order.

    The head sets out from `start`, visits every point once and stays at the last. The same points give
    the same order.

    Parameters
    ----------
    points : (n, 2) array-like
        Where each piece is begun, mm.
    start : pair of floats
        Where the head waits before the first piece, mm.
    before : pairs of indices
        What is visited before what.

    Returns
    -------
    (n,) int array
        A permutation of 0 .. n - 1, never longer on the way than always going to the nearest point left.

    References
    ----------
    Voudouris & Tsang (1999), Guided local search and its application to the traveling salesman problem,
    European Journal of Operational Research 113, 469-499 (from memory).
    """
    order, _ = cut_route([point[None] for point in np.asarray(points, dtype=np.float64).reshape(-1, 2)], start, before)
    return order


def cut_route(
    places: Sequence[np.ndarray], start=(0.0, 0.0), before: Before = (), seconds: float | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Order of outlines and where each is begun, for little travel.

    An outline ends where it began. Three steps take turns: an order for given places to begin, their distances
    disturbed (routing by guided local search); the best places for that order (exact, by dynamic programming over
    all of them); and outlines taken out and put back where, begun at the best of their places, they cost least. The
    search goes on from what it finds if that is not much longer (iterated local search; Lourenço, Martin & Stützle
    2003, doi:10.1007/0-306-48056-5_11). Without `seconds` the same input gives the same route.

    Parameters
    ----------
    places : n arrays (k, 2)
        Where each outline may be begun, mm; k may differ.
    start, before
        As in `cut_order`.
    seconds
        Search for so long; by default as long as pays, below `SECONDS`.

    Returns
    -------
    (n,) int array, (n,) int array
        The order; for each outline (not in this order) the index of its place.
    """
    before = sorted(set(before))
    places = [np.asarray(place, dtype=np.float64).reshape(-1, 2) for place in places]
    if not places:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    first = np.array([place.mean(axis=0) for place in places])
    order = _nearest_first(first, start, before)
    if all(len(place) == 1 for place in places):
        limit = _Limit(_SOLUTIONS_TIMES_POINTS // len(places), SECONDS if seconds is None else seconds)
        found = _searched(_ways(first, start), order, before, limit)
        picks = np.zeros(len(places), dtype=np.int64)
        return min(order, found, key=lambda one: _length(places, one, picks, start)), picks
    until = time.monotonic() + (SECONDS if seconds is None else seconds)
    shapes = np.array([shapely.Point(start), *map(shapely.MultiPoint, places)])
    least = shapely.distance(shapes[:, None], shapes[None])
    picks = _best_places(places, order, start)
    best = here = _length(places, order, picks, start), order, picks
    pick, trial = np.random.default_rng(0), 0
    while time.monotonic() < until and (seconds is not None or trial < _TRIALS):
        ways = _trial_ways(places, start, least, here[2], trial)
        found = _searched(ways, here[1], before, _Limit(_SHORT_TIMES_POINTS // len(places), SECONDS))
        found, picks = _reinserted(places, found, _best_places(places, found, start), start, before)
        picks = _best_places(places, found, start)
        route = _length(places, found, picks, start), found, picks
        if route[0] < here[0] * (1.0 + _WORSE * pick.random()):
            here = route
        if route[0] < best[0]:
            best = route
        elif pick.random() < _BACK:
            here = best
        trial += 1
    return best[1], best[2]


def travel_mm(points, start=(0.0, 0.0)) -> float:
    """Length of the way from `start` through `points` (n, 2) in the order given, mm."""
    way = np.vstack((np.asarray(start, dtype=np.float64), np.asarray(points, dtype=np.float64).reshape(-1, 2)))
    return float(np.hypot(*np.diff(way, axis=0).T).sum())


def _length(places, order, picks, start) -> float:
    return travel_mm([places[i][picks[i]] for i in order], start)


def _nearest_first(points, start, before: Before) -> np.ndarray:
    """Always to the nearest point left of those that nothing left must come before."""
    count = len(points)
    needs = np.zeros((count, count), dtype=bool)
    for i, j in before:
        needs[j, i] = True
    left = np.ones(count, dtype=bool)
    order, here = [], np.asarray(start, dtype=np.float64)
    while left.any():
        free = left & ~(needs & left).any(axis=1)
        index = int(np.argmin(np.where(free, np.hypot(*(points - here).T), np.inf)))
        left[index] = False
        order.append(index)
        here = points[index]
    return np.array(order, dtype=np.int64)


def _best_places(places, order, start) -> np.ndarray:
    """Where each outline is best begun in this order: the shortest path through layers of places (exact)."""
    cost, here = np.zeros(1), np.asarray(start, dtype=np.float64)[None]
    came = []
    for index in order:
        there = places[index]
        ways = cost[:, None] + np.hypot(here[:, None, 0] - there[None, :, 0], here[:, None, 1] - there[None, :, 1])
        came.append(np.argmin(ways, axis=0))
        cost, here = ways.min(axis=0), there
    picks = np.zeros(len(places), dtype=np.int64)
    at = int(np.argmin(cost))
    for index, back in zip(order[::-1], came[::-1], strict=True):
        picks[index] = at
        at = int(back[at])
    return picks


def _reinserted(places, order, picks, start, before: Before) -> tuple[np.ndarray, np.ndarray]:
    """Take out each outline in turn and put it back where it costs least, until that gains nothing."""
    order, picks = [int(i) for i in order], picks.copy()
    first = {j: {i for i, k in before if k == j} for _, j in before}
    later = {i: {k for j, k in before if j == i} for i, _ in before}
    gained = True
    while gained:
        gained = False
        for i in list(order):
            at = order.index(i)
            rest = order[:at] + order[at + 1 :]
            stops = np.vstack((start, *(places[j][picks[j]] for j in rest)))
            there = places[i]
            cost = np.hypot(stops[:, None, 0] - there[None, :, 0], stops[:, None, 1] - there[None, :, 1])
            legs = np.hypot(*np.diff(stops, axis=0).T)
            cost[:-1] += cost[1:] - legs[:, None]
            low = max((rest.index(j) + 1 for j in first.get(i, ())), default=0)
            high = min((rest.index(j) for j in later.get(i, ())), default=len(rest))
            if high < low:  # outlines that ask for each other first, as when they overlap: this one stays
                continue
            gap, place = np.unravel_index(int(np.argmin(cost[low : high + 1])), (high + 1 - low, len(there)))
            gap += low
            if cost[gap, place] < cost[at, picks[i]] - _LEAST_GAIN_MM:
                picks[i] = place
                order = [*rest[:gap], i, *rest[gap:]]
                gained = True
    return np.array(order, dtype=np.int64), picks


@dataclass(frozen=True, slots=True)
class _Limit:
    """When one search ends."""

    solutions: int
    seconds: float


def _ways(points, start) -> np.ndarray:
    """Distances between stops, (n + 1, n + 1), the start first."""
    stops = np.vstack((np.asarray(start, dtype=np.float64), points))
    return np.hypot(*(stops[:, None] - stops[None]).transpose(2, 0, 1))


def _trial_ways(places, start, least, picks, trial: int) -> np.ndarray:
    """Ways to search an order on, (n + 1, n + 1): between the places of the best route, each third time the least.

    From the third trial on the ways are disturbed, each trial otherwise, so that the search leaves where it was.
    """
    ways = least
    if trial % 3 != 2:
        ways = _ways([place[pick] for place, pick in zip(places, picks, strict=True)], start)
    if trial >= 2:
        ways = ways * np.random.default_rng(trial).uniform(1.0 - _NOISE, 1.0 + _NOISE, ways.shape)
    return ways


def _searched(ways, first: np.ndarray, before: Before, limit: _Limit) -> np.ndarray:
    """The best order found by guided local search from `first`; `first` itself if none is better."""
    count = len(first)
    if count < 2:
        return first
    tenths = np.rint(ways * 10.0).astype(np.int64)
    tenths[:, 0] = 0  # the head does not return
    manager = pywrapcp.RoutingIndexManager(count + 1, 1, 0)
    routing = pywrapcp.RoutingModel(manager)
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitMatrix(tenths.tolist()))
    if before:
        _demand_precedence(routing, manager, before, count)
    search = pywrapcp.DefaultRoutingSearchParameters()
    search.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    search.solution_limit = max(1, limit.solutions)
    search.time_limit.FromMilliseconds(max(1, int(limit.seconds * 1000)))
    routing.CloseModelWithParameters(search)
    known = routing.ReadAssignmentFromRoutes([[int(i) + 1 for i in first]], True)
    solution = routing.SolveFromAssignmentWithParameters(known, search)
    if solution is None:
        return first
    order, index = [], solution.Value(routing.NextVar(routing.Start(0)))
    while not routing.IsEnd(index):
        order.append(manager.IndexToNode(index) - 1)
        index = solution.Value(routing.NextVar(index))
    return np.array(order, dtype=np.int64)


def _demand_precedence(routing, manager, before: Before, count: int) -> None:
    """Number the stops on the way, and hold the numbers of each pair in order."""
    one = routing.RegisterTransitMatrix(np.ones((count + 1, count + 1), dtype=np.int64).tolist())
    routing.AddDimension(one, 0, count + 1, True, "turn")
    turn = routing.GetDimensionOrDie("turn")
    for i, j in before:
        first, then = manager.NodeToIndex(i + 1), manager.NodeToIndex(j + 1)
        routing.solver().Add(turn.CumulVar(first) < turn.CumulVar(then))
