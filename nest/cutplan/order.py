"""In which order the table cuts: a short way for the head from piece to piece."""

import numpy as np
from ortools.constraint_solver import pywrapcp, routing_enums_pb2

SECONDS = 2.0
"""No order is sought for longer than this."""

_SOLUTIONS_TIMES_POINTS = 6_000
"""The search stops after this many solutions ÷ points: well under `SECONDS`, so the clock does not decide."""


def cut_order(points, start=(0.0, 0.0)) -> np.ndarray:
    """Indices of `points` in a short travel order.

    The head sets out from `start`, visits every point once and stays at the last. The same points give
    the same order.

    Parameters
    ----------
    points : (n, 2) array-like
        Where each piece is begun, mm.
    start : pair of floats
        Where the head waits before the first piece, mm.

    Returns
    -------
    (n,) int array
        A permutation of 0 .. n - 1, never longer on the way than always going to the nearest point left.

    References
    ----------
    Voudouris & Tsang (1999), Guided local search and its application to the traveling salesman problem,
    European Journal of Operational Research 113, 469-499 (from memory).
    """
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    nearest = _nearest_first(points, start)
    if len(points) < 3:
        return nearest
    searched = _searched(points, start)
    if searched is None or travel_mm(points[nearest], start) < travel_mm(points[searched], start):
        return nearest
    return searched


def travel_mm(points, start=(0.0, 0.0)) -> float:
    """Length of the way from `start` through `points` (n, 2) in the order given, mm."""
    way = np.vstack((np.asarray(start, dtype=np.float64), np.asarray(points, dtype=np.float64).reshape(-1, 2)))
    return float(np.hypot(*np.diff(way, axis=0).T).sum())


def _nearest_first(points, start) -> np.ndarray:
    left = np.ones(len(points), dtype=bool)
    order, here = [], np.asarray(start, dtype=np.float64)
    while left.any():
        distance = np.where(left, np.hypot(*(points - here).T), np.inf)
        index = int(np.argmin(distance))
        left[index] = False
        order.append(index)
        here = points[index]
    return np.array(order, dtype=np.int64)


def _searched(points, start) -> np.ndarray | None:
    """An order by guided local search, or None if none was found in time."""
    stops = np.vstack((np.asarray(start, dtype=np.float64), points))
    way = np.hypot(*(stops[:, None] - stops[None]).transpose(2, 0, 1))
    tenths = np.rint(way * 10.0).astype(np.int64)
    tenths[:, 0] = 0  # the head does not return
    manager = pywrapcp.RoutingIndexManager(len(stops), 1, 0)
    routing = pywrapcp.RoutingModel(manager)
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitMatrix(tenths.tolist()))
    search = pywrapcp.DefaultRoutingSearchParameters()
    search.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PATH_CHEAPEST_ARC
    search.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    search.solution_limit = max(1, _SOLUTIONS_TIMES_POINTS // len(points))
    search.time_limit.FromMilliseconds(int(SECONDS * 1000))
    solution = routing.SolveWithParameters(search)
    if solution is None:
        return None
    order, index = [], solution.Value(routing.NextVar(routing.Start(0)))
    while not routing.IsEnd(index):
        order.append(manager.IndexToNode(index) - 1)
        index = solution.Value(routing.NextVar(index))
    return np.array(order, dtype=np.int64)
