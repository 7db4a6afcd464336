"""Penetration depth of outlines from tables with a grid look-up.

A *table* (`geometry.tables`) holds a set of polygons, outer rings and holes, even-odd. Two questions are answered
from it in about a hundred nanoseconds:

- `depth_inside`: how deep a point lies inside the polygons (0 when outside). With the no-fit polygon
  of two pieces and their displacement this is the penetration depth: the shortest move that parts
  them (Dobkin, Hershberger, Kirkpatrick & Suri 1993, doi:10.1007/BF01190153).
- `depth_outside`: how far a point lies outside the polygons (0 when inside). With the inner-fit
  polygon of a container and a piece this is the shortest move that brings the piece inside.
"""

import numpy as np

from geometry._nearest import point_edge_squared
from geometry.compiled import Whole, inlined, uncounted
from geometry.tables import AWAY, INSIDE, MIXED, OUTSIDE, Tables, crossings_odd


@uncounted
def _cell_of(tables: Tables, t: Whole, x: float, y: float) -> Whole:
    """Index of the cell of a point inside the frame."""
    nx, ny = tables.place[t, 0], tables.place[t, 1]
    i = int((x - tables.frame[t, 0]) * tables.frame[t, 4])
    j = int((y - tables.frame[t, 1]) * tables.frame[t, 5])
    i, j = min(max(i, 0), nx - 1), min(max(j, 0), ny - 1)
    return np.uint64(tables.place[t, 2] + j * nx + i)


@uncounted
def _cell_towards(tables: Tables, t: Whole, x: float, y: float) -> tuple[float, float, Whole]:
    """The place in the frame that is nearest to a point, and the index of its cell."""
    frame = tables.frame
    bx = min(max(x, frame[t, 0]), frame[t, 2])
    by = min(max(y, frame[t, 1]), frame[t, 3])
    return bx, by, _cell_of(tables, t, bx, by)


@uncounted
def _odd_from(tables: Tables, t: Whole, c: Whole, x: float, y: float) -> bool:
    """Whether a ray from a point of the MIXED cell c crosses an odd number of edges."""
    start, end = tables.first[c, 0], tables.first[c, 1]
    return crossings_odd(x, y, tables.edge, tables.place[t, 3], tables.near, start >> 1, end, start & 1 == 1)


@uncounted
def inside(tables: Tables, t: Whole, x: float, y: float) -> bool:
    """Whether the point lies inside table t's polygons (a half-open rule on the boundary)."""
    frame = tables.frame
    if x < frame[t, 0] or x > frame[t, 2] or y < frame[t, 1] or y > frame[t, 3]:
        return False
    t = np.uint64(t)
    c = _cell_of(tables, t, x, y)
    s = tables.cell[c]
    if s == MIXED:
        return _odd_from(tables, t, c, x, y)
    return bool(s == INSIDE or (s >= AWAY and tables.place[t, 4] == 0))


@uncounted
def _nearest_squared(tables: Tables, t: Whole, c: Whole, x: float, y: float) -> float:
    best = np.inf
    edge, near, first = tables.edge, tables.near, tables.place[t, 3]
    for k in range(tables.first[c, 1], tables.first[c + np.uint64(1), 0] >> 1):
        best = min(best, point_edge_squared(x, y, edge, np.uint64(first + near[np.uint64(k)])))
    return best


@inlined
def depth_inside(tables: Tables, t: Whole, x: float, y: float, enough: float = np.inf) -> float:
    """Distance from the point to the boundary when it lies inside table t, otherwise 0; mm.

    When it is `enough` or more, some value from `enough` to the distance may be returned.
    """
    t = np.uint64(t)
    frame = tables.frame
    if x <= frame[t, 0] or x >= frame[t, 2] or y <= frame[t, 1] or y >= frame[t, 3]:
        return 0.0
    c = _cell_of(tables, t, x, y)
    s = tables.cell[c]
    if s == OUTSIDE:
        return 0.0
    if s == MIXED:
        if not _odd_from(tables, t, c, x, y):
            return 0.0
    else:
        least = (s - AWAY) * frame[t, 6]
        if least >= enough:
            return float(least)
    return float(np.sqrt(_nearest_squared(tables, t, c, x, y)))


@uncounted
def depth_outside(tables: Tables, t: Whole, x: float, y: float, enough: float = np.inf) -> float:
    """Distance from the point to table t's polygons when it lies outside them, otherwise 0; mm.

    Beyond the grid the distance to the grid is added: larger than the truth, never smaller than 0. When
    it is `enough` or more, some value from `enough` to the distance may be returned.
    """
    t = np.uint64(t)
    bx, by, c = _cell_towards(tables, t, x, y)
    s = tables.cell[c]
    beyond = np.sqrt((x - bx) ** 2 + (y - by) ** 2)
    if s == INSIDE:
        return float(beyond)
    if s == MIXED:
        if _odd_from(tables, t, c, bx, by):
            return float(beyond)
    else:
        least = beyond + (s - AWAY) * tables.frame[t, 6]
        if least >= enough:
            return float(least)
    return float(beyond + np.sqrt(_nearest_squared(tables, t, c, bx, by)))


@uncounted
def _nearest_move(tables: Tables, t: Whole, c: Whole, x: float, y: float) -> tuple[float, float]:
    """Move (dx, dy) from the point to the nearest boundary point of table t, by the candidates of cell c."""
    best, mx, my = np.inf, 0.0, 0.0
    edge, near, first = tables.edge, tables.near, tables.place[t, 3]
    for k in range(tables.first[c, 1], tables.first[c + np.uint64(1), 0] >> 1):
        e = np.uint64(first + near[np.uint64(k)])
        n = e + np.uint64(1)
        x0, y0, x1, y1 = edge[e, 0], edge[e, 1], edge[n, 0], edge[n, 1]
        dx, dy = x1 - x0, y1 - y0
        along = ((x - x0) * dx + (y - y0) * dy) * edge[e, 2]
        if along <= 0.0:
            qx, qy = x0, y0
        elif along >= 1.0:
            qx, qy = x1, y1
        else:
            qx, qy = x0 + along * dx, y0 + along * dy
        d = (qx - x) ** 2 + (qy - y) ** 2
        if d < best:
            best, mx, my = d, qx - x, qy - y
    return mx, my


@uncounted
def move_out(tables: Tables, t: Whole, x: float, y: float) -> tuple[float, float]:
    """Shortest move (dx, dy) of the point to the boundary when it lies inside table t, otherwise (0, 0); mm."""
    t = np.uint64(t)
    frame = tables.frame
    if x <= frame[t, 0] or x >= frame[t, 2] or y <= frame[t, 1] or y >= frame[t, 3]:
        return 0.0, 0.0
    c = _cell_of(tables, t, x, y)
    s = tables.cell[c]
    if s == OUTSIDE or (s == MIXED and not _odd_from(tables, t, c, x, y)):
        return 0.0, 0.0
    return _nearest_move(tables, t, c, x, y)


@uncounted
def move_in(tables: Tables, t: Whole, x: float, y: float) -> tuple[float, float]:
    """Move (dx, dy) of the point to the boundary when it lies outside table t's polygons, otherwise (0, 0); mm.

    Within the grid it is the shortest; from beyond it leads to a boundary point near the place where the grid is met.
    """
    t = np.uint64(t)
    bx, by, c = _cell_towards(tables, t, x, y)
    s = tables.cell[c]
    if s == INSIDE:
        return bx - x, by - y
    if s == MIXED and bx == x and by == y and _odd_from(tables, t, c, bx, by):
        return 0.0, 0.0
    return _nearest_move(tables, t, c, x, y)
