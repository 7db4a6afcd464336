"""Penetration depth of outlines from tables with a grid look-up.

A *table* holds a set of polygons (outer rings and holes, even-odd) as edges, and a grid over their
bounding box. A grid cell knows whether it lies outside, inside or across the boundary, and which
edges can be nearest to a point in it. Two questions are answered in about a hundred nanoseconds:

- `depth_inside`: how deep a point lies inside the polygons (0 when outside). With the no-fit polygon
  of two pieces and their displacement this is the penetration depth: the shortest move that parts
  them (Dobkin, Hershberger, Kirkpatrick & Suri 1993, doi:10.1007/BF01190153).
- `depth_outside`: how far a point lies outside the polygons (0 when inside). With the inner-fit
  polygon of a container and a piece this is the shortest move that brings the piece inside.

Edge ends are stored, never recomputed: an end one rounding error off its neighbour's start would
break the parity of the ray cast exactly where touching moves land.
"""

from typing import NamedTuple

import numpy as np
import shapely

from geometry.compiled import compiled, lean

OUTSIDE, INSIDE, MIXED = 0, 1, 2


class Tables(NamedTuple):
    """Many tables in flat arrays, table t at index t; see `build_tables`."""

    box: np.ndarray
    """(t, 4) x0, y0, x1, y1 of the grid."""
    per_cell: np.ndarray
    """(t, 2) cells per mm along x and y."""
    shape: np.ndarray
    """(t, 2) number of cells along x and y."""
    first_cell: np.ndarray
    first_row: np.ndarray
    first_edge: np.ndarray
    state: np.ndarray
    """OUTSIDE, INSIDE or MIXED of every cell."""
    near_start: np.ndarray
    near: np.ndarray
    """Edges that can be nearest, cell after cell, counted from the table's first; cell c owns
    near[near_start[c]:near_start[c + 1]]."""
    row_start: np.ndarray
    row: np.ndarray
    """Edges that cross a row of cells, row after row, counted from the table's first."""
    edge: np.ndarray
    """(e, 7) x0, y0, x1, y1 of every edge, and x1 - x0, y1 - y0, 1 / length²."""


@lean
def _point_edge_squared(px, py, edge, e):
    qx, qy = px - edge[e, 0], py - edge[e, 1]
    along = min(max((qx * edge[e, 4] + qy * edge[e, 5]) * edge[e, 6], 0.0), 1.0)
    qx -= along * edge[e, 4]
    qy -= along * edge[e, 5]
    return qx * qx + qy * qy


@lean
def _crossings_odd(px, py, edge, first, index, start, end):
    """Parity of the edges index[start:end] that a ray from the point towards +x crosses."""
    odd = False
    for k in range(start, end):
        e = first + index[k]
        x0, y0, x1, y1 = edge[e, 0], edge[e, 1], edge[e, 2], edge[e, 3]
        if (y0 > py) != (y1 > py):
            if px < x0 and px < x1:
                odd = not odd
            elif px <= x0 or px <= x1:
                side = (x1 - x0) * (py - y0) - (px - x0) * (y1 - y0)
                if side > 0.0 if y1 > y0 else side < 0.0:
                    odd = not odd
    return odd


@compiled
def _segment_meets_box(x0, y0, x1, y1, bx0, by0, bx1, by1):
    if max(x0, x1) < bx0 or min(x0, x1) > bx1 or max(y0, y1) < by0 or min(y0, y1) > by1:
        return False
    dx, dy = x1 - x0, y1 - y0
    a = dx * (by0 - y0) - dy * (bx0 - x0)
    b = dx * (by0 - y0) - dy * (bx1 - x0)
    c = dx * (by1 - y0) - dy * (bx0 - x0)
    d = dx * (by1 - y0) - dy * (bx1 - x0)
    return not ((a > 0 and b > 0 and c > 0 and d > 0) or (a < 0 and b < 0 and c < 0 and d < 0))


@compiled
def _build_one(edge, nx, ny, box, want_state):
    """Grid of one table: cell states, nearest-edge lists for MIXED and `want_state` cells, row lists.

    Nearest-edge candidates of a cell: edges no farther from its centre than the nearest one plus the
    cell's diagonal. They are sought in two levels, blocks of 8 by 8 cells first.
    """
    n = len(edge)
    cw, ch = (box[2] - box[0]) / nx, (box[3] - box[1]) / ny
    state = np.zeros(nx * ny, np.int8)
    slack = 1e-9 * (abs(cw) + abs(ch)) + 1e-12
    row_count = np.zeros(ny + 1, np.int64)
    for e in range(n):
        x0, y0, x1, y1 = edge[e, 0], edge[e, 1], edge[e, 2], edge[e, 3]
        i0 = max(0, int((min(x0, x1) - box[0] - slack) / cw) - 1)
        i1 = min(nx - 1, int((max(x0, x1) - box[0] + slack) / cw) + 1)
        j0 = max(0, int((min(y0, y1) - box[1] - slack) / ch) - 1)
        j1 = min(ny - 1, int((max(y0, y1) - box[1] + slack) / ch) + 1)
        for j in range(j0, j1 + 1):
            row_count[j + 1] += 1
            by0, by1 = box[1] + j * ch - slack, box[1] + (j + 1) * ch + slack
            for i in range(i0, i1 + 1):
                if state[j * nx + i] != MIXED and _segment_meets_box(
                    x0, y0, x1, y1, box[0] + i * cw - slack, by0, box[0] + (i + 1) * cw + slack, by1
                ):
                    state[j * nx + i] = MIXED
    row_start = np.cumsum(row_count)
    row = np.empty(row_start[ny], np.int32)
    fill = row_start.copy()
    for e in range(n):
        y0, y1 = edge[e, 1], edge[e, 3]
        j0 = max(0, int((min(y0, y1) - box[1] - slack) / ch) - 1)
        j1 = min(ny - 1, int((max(y0, y1) - box[1] + slack) / ch) + 1)
        for j in range(j0, j1 + 1):
            row[fill[j]] = e
            fill[j] += 1
    near_start = np.zeros(nx * ny + 1, np.int64)
    near = np.empty(max(64, nx * ny * 4), np.int32)
    used = 0
    block = 8
    coarse = np.empty(n, np.int32)
    reach = np.empty(n, np.float64)
    half = 0.5 * np.sqrt(cw * cw + ch * ch)
    spans = np.zeros((nx * ny, 2), np.int64)
    for bj in range(0, ny, block):
        for bi in range(0, nx, block):
            wi, wj = min(block, nx - bi), min(block, ny - bj)
            px, py = box[0] + (bi + 0.5 * wi) * cw, box[1] + (bj + 0.5 * wj) * ch
            radius = 0.5 * np.sqrt((wi * cw) ** 2 + (wj * ch) ** 2)
            best = np.inf
            for e in range(n):
                reach[e] = np.sqrt(_point_edge_squared(px, py, edge, e))
                best = min(best, reach[e])
            m = 0
            for e in range(n):
                if reach[e] <= best + 2.0 * radius + slack:
                    coarse[m] = e
                    m += 1
            for j in range(bj, bj + wj):
                for i in range(bi, bi + wi):
                    c = j * nx + i
                    px, py = box[0] + (i + 0.5) * cw, box[1] + (j + 0.5) * ch
                    if state[c] != MIXED:
                        odd = _crossings_odd(px, py, edge, 0, row, row_start[j], row_start[j + 1])
                        state[c] = INSIDE if odd else OUTSIDE
                        if state[c] != want_state:
                            continue
                    best = np.inf
                    for q in range(m):
                        e = coarse[q]
                        reach[q] = np.sqrt(_point_edge_squared(px, py, edge, e))
                        best = min(best, reach[q])
                    if used + m > len(near):
                        bigger = np.empty(2 * len(near) + m, np.int32)
                        bigger[:used] = near[:used]
                        near = bigger
                    spans[c, 0] = used
                    for q in range(m):
                        if reach[q] <= best + 2.0 * half + slack:
                            near[used] = coarse[q]
                            used += 1
                    spans[c, 1] = used
    ordered = np.empty(used, np.int32)
    k = 0
    for c in range(nx * ny):
        near_start[c] = k
        for q in range(spans[c, 0], spans[c, 1]):
            ordered[k] = near[q]
            k += 1
    near_start[nx * ny] = k
    return state, near_start, ordered, row_start, row


def edges_of(polygons) -> np.ndarray:
    """Edges, as in `Tables.edge`, of a shapely polygon, multipolygon or empty geometry: outer rings and holes."""
    rings = shapely.get_rings(shapely.get_parts(polygons))
    if len(rings) == 0:
        return np.empty((0, 7))
    points, which = shapely.get_coordinates(rings, return_index=True)
    same = which[:-1] == which[1:]
    edge = np.hstack((points[:-1], points[1:]))[same]
    edge = edge[np.any(edge[:, :2] != edge[:, 2:], axis=1)]
    along = edge[:, 2:] - edge[:, :2]
    return np.ascontiguousarray(np.column_stack((edge, along, 1.0 / np.sum(along**2, axis=1))))


class Table(NamedTuple):
    """One table before it joins the flat arrays."""

    box: np.ndarray
    shape: tuple[int, int]
    state: np.ndarray
    near_start: np.ndarray
    near: np.ndarray
    row_start: np.ndarray
    row: np.ndarray
    edge: np.ndarray


def build_table(polygons, *, cells: int, outside: bool = False) -> Table:
    """Make the table of a polygon set.

    Parameters
    ----------
    polygons : shapely Polygon or MultiPolygon
        Not empty; mm.
    cells : int
        Number of grid cells along the longer side; the shorter side gets square cells.
    outside : bool
        Prepare `depth_outside` in place of `depth_inside`.
    """
    edge = edges_of(polygons)
    x0, y0, x1, y1 = shapely.bounds(polygons)
    pad = 1e-6 * max(x1 - x0, y1 - y0, 1e-6)
    box = np.array((x0 - pad, y0 - pad, x1 + pad, y1 + pad))
    width, height = box[2] - box[0], box[3] - box[1]
    size = max(width, height) / cells
    nx, ny = max(1, round(width / size)), max(1, round(height / size))
    state, near_start, near, row_start, row = _build_one(edge, nx, ny, box, OUTSIDE if outside else INSIDE)
    small = np.int16 if len(edge) < np.iinfo(np.int16).max else np.int32
    return Table(box, (nx, ny), state, near_start.astype(np.int32), near.astype(small), row_start.astype(np.int32),
                 row.astype(small), edge)


def join_tables(tables: list[Table]) -> Tables:
    """Put tables into the flat arrays that the compiled loops read."""
    cells = np.array([t.shape[0] * t.shape[1] for t in tables], np.int64)
    rows = np.array([t.shape[1] for t in tables], np.int64)
    first_cell = np.concatenate(([0], np.cumsum(cells)))
    first_row = np.concatenate(([0], np.cumsum(rows)))
    near0 = np.cumsum([0] + [len(t.near) for t in tables])
    row0 = np.cumsum([0] + [len(t.row) for t in tables])
    edge0 = np.cumsum([0] + [len(t.edge) for t in tables])
    per_cell = np.array([(t.shape[0] / (t.box[2] - t.box[0]), t.shape[1] / (t.box[3] - t.box[1])) for t in tables])

    small = np.int32 if any(t.near.dtype == np.int32 for t in tables) else np.int16

    def flat(arrays, dtype):
        return np.concatenate(arrays).astype(dtype, copy=False) if arrays else np.empty(0, dtype)

    def starts(arrays, offsets):
        moved = [array[:-1].astype(np.int64) + offset for array, offset in zip(arrays, offsets, strict=False)]
        return flat([*moved, offsets[-1:]], np.int64)

    return Tables(
        box=np.array([t.box for t in tables]).reshape(-1, 4),
        per_cell=per_cell.reshape(-1, 2),
        shape=np.array([t.shape for t in tables], np.int64).reshape(-1, 2),
        first_cell=first_cell,
        first_row=first_row,
        first_edge=np.array(edge0),
        state=flat([t.state for t in tables], np.int8),
        near_start=starts([t.near_start for t in tables], near0),
        near=flat([t.near for t in tables], small),
        row_start=starts([t.row_start for t in tables], row0),
        row=flat([t.row for t in tables], small),
        edge=np.concatenate([t.edge for t in tables]) if tables else np.empty((0, 7)),
    )


@lean
def _cell_of(tables, t, x, y):
    nx, ny = tables.shape[t, 0], tables.shape[t, 1]
    i = int((x - tables.box[t, 0]) * tables.per_cell[t, 0])
    j = int((y - tables.box[t, 1]) * tables.per_cell[t, 1])
    return min(max(i, 0), nx - 1), min(max(j, 0), ny - 1)


@lean
def _odd_in_row(tables, t, r, x, y):
    start, end = tables.row_start[r], tables.row_start[r + 1]
    return _crossings_odd(x, y, tables.edge, tables.first_edge[t], tables.row, start, end)


@lean
def inside(tables, t, x, y):
    """Whether the point lies inside table t's polygons (a half-open rule on the boundary)."""
    if x < tables.box[t, 0] or x > tables.box[t, 2] or y < tables.box[t, 1] or y > tables.box[t, 3]:
        return False
    i, j = _cell_of(tables, t, x, y)
    s = tables.state[tables.first_cell[t] + j * tables.shape[t, 0] + i]
    if s != MIXED:
        return s == INSIDE
    r = tables.first_row[t] + j
    return _odd_in_row(tables, t, r, x, y)


@lean
def _nearest_squared(tables, t, c, x, y):
    best = np.inf
    edge, near, first = tables.edge, tables.near, tables.first_edge[t]
    for k in range(tables.near_start[c], tables.near_start[c + 1]):
        best = min(best, _point_edge_squared(x, y, edge, first + near[k]))
    return best


@lean
def depth_inside(tables, t, x, y):
    """Distance from the point to the boundary when it lies inside table t, otherwise 0; mm."""
    if x <= tables.box[t, 0] or x >= tables.box[t, 2] or y <= tables.box[t, 1] or y >= tables.box[t, 3]:
        return 0.0
    i, j = _cell_of(tables, t, x, y)
    c = tables.first_cell[t] + j * tables.shape[t, 0] + i
    s = tables.state[c]
    if s == OUTSIDE:
        return 0.0
    if s == MIXED:
        r = tables.first_row[t] + j
        if not _odd_in_row(tables, t, r, x, y):
            return 0.0
    return np.sqrt(_nearest_squared(tables, t, c, x, y))


@lean
def depth_outside(tables, t, x, y):
    """Distance from the point to table t's polygons when it lies outside them, otherwise 0; mm.

    Beyond the grid the distance to the grid is added: larger than the truth, never smaller than 0.
    """
    bx = min(max(x, tables.box[t, 0]), tables.box[t, 2])
    by = min(max(y, tables.box[t, 1]), tables.box[t, 3])
    i, j = _cell_of(tables, t, bx, by)
    c = tables.first_cell[t] + j * tables.shape[t, 0] + i
    s = tables.state[c]
    beyond = np.sqrt((x - bx) ** 2 + (y - by) ** 2)
    if s == INSIDE:
        return beyond
    if s == MIXED:
        r = tables.first_row[t] + j
        if _odd_in_row(tables, t, r, bx, by):
            return beyond
    return beyond + np.sqrt(_nearest_squared(tables, t, c, bx, by))


@lean
def exit_move(tables, t, x, y):
    """Move (dx, dy) from the point to the nearest boundary point of table t, by the cell's candidates."""
    bx = min(max(x, tables.box[t, 0]), tables.box[t, 2])
    by = min(max(y, tables.box[t, 1]), tables.box[t, 3])
    i, j = _cell_of(tables, t, bx, by)
    c = tables.first_cell[t] + j * tables.shape[t, 0] + i
    best, mx, my = np.inf, 0.0, 0.0
    for k in range(tables.near_start[c], tables.near_start[c + 1]):
        e = tables.first_edge[t] + tables.near[k]
        x0, y0, x1, y1 = tables.edge[e, 0], tables.edge[e, 1], tables.edge[e, 2], tables.edge[e, 3]
        dx, dy = tables.edge[e, 4], tables.edge[e, 5]
        along = ((x - x0) * dx + (y - y0) * dy) * tables.edge[e, 6]
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
