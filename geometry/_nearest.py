"""Which edges can be nearest to some point of a box: few, so that a look-up asks few.

The distance to an edge is a convex function of the point. So it lies nowhere below its tangent plane at the centre of
the box, and the distance to another edge less that plane is convex too: it is greatest at a corner. An edge whose
plane is at every corner no lower than the distance to another edge is nowhere in the box the nearest alone. Planes
are exact where the nearest point of the edge is not an end of it, so that little is kept in vain.
"""

import numpy as np

from geometry.compiled import Whole, compiled, inlined, uncounted

_TRIED = 12
"""An edge is held against this many others at most, so that the time grows with their number only."""

_BLOCK, _LEVELS = 4, 3
"""Cells along the largest blocks, and how often they are halved, counting the whole."""


@uncounted
def point_edge_squared(px: float, py: float, edge: np.ndarray, e: Whole) -> float:
    """Squared distance of a point from edge e (`tables.Tables.edge`)."""
    n = e + np.uint64(1)
    dx, dy = edge[n, 0] - edge[e, 0], edge[n, 1] - edge[e, 1]
    qx, qy = px - edge[e, 0], py - edge[e, 1]
    along = min(max((qx * dx + qy * dy) * edge[e, 2], 0.0), 1.0)
    qx -= along * dx
    qy -= along * dy
    return float(qx * qx + qy * qy)


@compiled
def nearest_lists(
    edge: np.ndarray, nx: int, ny: int, box: np.ndarray, wanted: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges that can be nearest to a point of each wanted cell of a grid, sought in ever smaller blocks of cells.

    Parameters
    ----------
    edge : (e, 3) as `tables.Tables.edge`
    nx, ny, box : cells along x and y, and the grid's x0, y0, x1, y1
    wanted : (nx * ny,) whether a cell is

    Returns
    -------
    near : indices of edges, cell after cell, in their order
    spans : (nx * ny, 2) first and end of a cell in `near`
    least : (nx * ny,) a distance that no point of the cell is nearer to any edge than
    """
    n, cw, ch = len(edge), (box[2] - box[0]) / nx, (box[3] - box[1]) / ny
    slack = 1e-9 * (abs(cw) + abs(ch)) + 1e-12
    near = np.empty(max(64, nx * ny * 4), np.int32)
    spans = np.zeros((nx * ny, 2), np.int64)
    least = np.zeros(nx * ny)
    some, counts = np.empty((_LEVELS + 1, n), np.int32), np.empty(_LEVELS + 1, np.int64)
    whole = np.flatnonzero(edge[:, 2] > 0.0)
    counts[0] = len(whole)
    some[0, :len(whole)] = whole
    reach, kept = np.empty(n), np.empty((n, 4))
    stack = np.empty((4 * _LEVELS + 4, 3), np.int64)
    used = 0
    for bj in range(0, ny, _BLOCK):
        for bi in range(0, nx, _BLOCK):
            stack[0] = 1, bi, bj
            waiting = 1
            while waiting:
                waiting -= 1
                level, i0, j0 = stack[waiting]
                size = _BLOCK >> (level - 1)
                i1, j1 = min(i0 + size, nx), min(j0 + size, ny)
                if not _any_wanted(wanted, nx, i0, j0, i1, j1):
                    continue
                mine, m = some[level], counts[level - 1]
                mine[:m] = some[level - 1, :m]
                half_x, half_y = 0.5 * (i1 - i0) * cw, 0.5 * (j1 - j0) * ch
                m, away = _keep_nearest(
                    edge, mine, m, box[0] + i0 * cw + half_x, box[1] + j0 * ch + half_y, half_x, half_y, slack,
                    reach, kept)
                counts[level] = m
                if level == _LEVELS:
                    if used + m > len(near):
                        bigger = np.empty(2 * len(near) + m, np.int32)
                        bigger[:used] = near[:used]
                        near = bigger
                    near[used:used + m] = mine[:m]
                    spans[j0 * nx + i0] = used, used + m
                    least[j0 * nx + i0] = away
                    used += m
                    continue
                size //= 2
                for j in range(j0, j1, size):
                    for i in range(i0, i1, size):
                        stack[waiting] = level + 1, i, j
                        waiting += 1
    return near[:used], spans, least


@uncounted
def _any_wanted(wanted: np.ndarray, nx: int, i0: int, j0: int, i1: int, j1: int) -> bool:
    for j in range(j0, j1):
        for i in range(i0, i1):
            if wanted[j * nx + i]:
                return True
    return False


@inlined
def _keep_nearest(
    edge: np.ndarray, some: np.ndarray, count: int, x: float, y: float, half_x: float, half_y: float, slack: float,
    reach: np.ndarray, kept: np.ndarray,
) -> tuple[int, float]:
    """Keep those of some edges that can be nearest to a point of the box about (x, y), in their order.

    Parameters
    ----------
    edge : (e, 3) as `tables.Tables.edge`
    some, count : indices of edges and how many they are, at least one; what is kept is moved to the front
    half_x, half_y : half the sides of the box, mm
    slack : edges are kept that are farther by this, mm
    reach, kept : scratch, (e,) and (e, 4)

    Returns
    -------
    how many are kept, and a distance that no point of the box is nearer to any edge than
    """
    across = 2.0 * np.sqrt(half_x * half_x + half_y * half_y) + slack
    best, begin = np.inf, 0
    for q in range(count):
        reach[q] = np.sqrt(point_edge_squared(x, y, edge, np.uint64(some[q])))
        if reach[q] < best:
            best, begin = reach[q], q
    most = best + across
    least, n = np.inf, 0
    for p in range(count):  # from the nearest onwards, then back from it: those that beat others come early
        q = begin + p if begin + p < count else count - 1 - p
        away = reach[q]
        if away > most:
            continue
        e = np.uint64(some[q])
        gx = gy = 0.0
        if away > 0.0:
            dx, dy = edge[e + np.uint64(1), 0] - edge[e, 0], edge[e + np.uint64(1), 1] - edge[e, 1]
            qx, qy = x - edge[e, 0], y - edge[e, 1]
            along = min(max((qx * dx + qy * dy) * edge[e, 2], 0.0), 1.0)
            gx = (qx - along * dx) * half_x / away
            gy = (qy - along * dy) * half_y / away
        low = away - slack
        a, b, c, d = low - gx - gy, low + gx - gy, low - gx + gy, low + gx + gy
        beaten = False
        for k in range(n - 1, max(n - _TRIED, 0) - 1, -1):  # the last kept lies between most often
            if kept[k, 0] <= a and kept[k, 1] <= b and kept[k, 2] <= c and kept[k, 3] <= d:
                beaten = True
                break
        if beaten:
            reach[q] = np.inf
            continue
        least = min(least, away - abs(gx) - abs(gy))
        kept[n, 0] = np.sqrt(point_edge_squared(x - half_x, y - half_y, edge, e))
        kept[n, 1] = np.sqrt(point_edge_squared(x + half_x, y - half_y, edge, e))
        kept[n, 2] = np.sqrt(point_edge_squared(x - half_x, y + half_y, edge, e))
        kept[n, 3] = np.sqrt(point_edge_squared(x + half_x, y + half_y, edge, e))
        n += 1
    n = 0
    for q in range(count):
        if reach[q] <= most:
            some[n] = some[q]
            n += 1
    return n, least
