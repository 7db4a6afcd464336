"""Tables of outlines for `geometry.overlap`: edges, and a grid over their bounding box.

A grid cell knows whether it lies outside, inside or across the boundary, which edges can be nearest to a point in it,
and which a ray from there may cross or miss. Edge ends are stored, never recomputed: an end one rounding error off its
neighbour's start would break the parity of the ray cast exactly where touching moves land.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import DTypeLike

from geometry._nearest import nearest_lists
from geometry.compiled import Whole, compiled, uncounted
from geometry.precision import Region
from geometry.winding import laid_end_to_end

OUTSIDE, INSIDE, MIXED, AWAY = 0, 1, 2, 3
LEAST_STEPS = 255 - AWAY


class Tables(NamedTuple):
    """Many tables in flat arrays, table t at index t; see `build_table`. Few arrays, so that calls stay cheap."""

    frame: np.ndarray
    """(t, 7) x0, y0, x1, y1 of the grid, cells per mm along x and y, and the step of `cell` in mm."""
    place: np.ndarray
    """(t, 5) number of cells along x and y, first cell, first edge, and whether it is made for `depth_outside`."""
    cell: np.ndarray
    """(c,) OUTSIDE, INSIDE or MIXED; or, of the side that depths are asked of, AWAY plus the steps that every point of
    the cell is away from the boundary at least."""
    first: np.ndarray
    """(c + 1, 2) twice the first of a cell's edges in `near`, plus 1 if a ray crosses an odd number of edges not there;
    and the first of those that can be nearest. What is looked up together lies together."""
    near: np.ndarray
    """Edges, counted from the table's first, cell after cell: first those that a ray from a MIXED cell towards +x may
    cross or miss, then those that can be nearest."""
    edge: np.ndarray
    """(e, 3) x0, y0 of every edge and 1 / length²; it ends where the next row begins. The row behind a ring's last edge
    is its first corner again, and no edge: 0 in place of 1 / length². A corner is kept once, for tables are many."""


@uncounted
def crossings_odd(
    px: float, py: float, edge: np.ndarray, first: Whole, index: np.ndarray, start: Whole, end: Whole, odd: bool
) -> bool:
    """Parity of the edges index[start:end] that a ray from the point towards +x crosses, beginning with `odd`."""
    for k in range(start, end):
        e = np.uint64(first + index[np.uint64(k)])
        n = e + np.uint64(1)
        y0, y1 = edge[e, 1], edge[n, 1]
        if (y0 > py) != (y1 > py):
            x0, x1 = edge[e, 0], edge[n, 0]
            if px < x0 and px < x1:
                odd = not odd
            elif px <= x0 or px <= x1:
                side = (x1 - x0) * (py - y0) - (px - x0) * (y1 - y0)
                if side > 0.0 if y1 > y0 else side < 0.0:
                    odd = not odd
    return odd


@compiled
def _segment_meets_box(
    x0: float, y0: float, x1: float, y1: float, bx0: float, by0: float, bx1: float, by1: float
) -> bool:
    if max(x0, x1) < bx0 or min(x0, x1) > bx1 or max(y0, y1) < by0 or min(y0, y1) > by1:
        return False
    dx, dy = x1 - x0, y1 - y0
    a = dx * (by0 - y0) - dy * (bx0 - x0)
    b = dx * (by0 - y0) - dy * (bx1 - x0)
    c = dx * (by1 - y0) - dy * (bx0 - x0)
    d = dx * (by1 - y0) - dy * (bx1 - x0)
    return not ((a > 0 and b > 0 and c > 0 and d > 0) or (a < 0 and b < 0 and c < 0 and d < 0))


@compiled
def _listed(
    edge: np.ndarray, nx: int, ny: int, box: np.ndarray, slack: float, state: np.ndarray, spans: np.ndarray,
    near: np.ndarray, row_start: np.ndarray, row: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """`Tables.first` and `Tables.near` of one table, from the nearest edges near[spans[c, 0]:spans[c, 1]] of its cells.

    Edges that a ray from a MIXED cell crosses or misses wherever in the cell it begins are counted here, once and for
    all.
    """
    cw, ch = (box[2] - box[0]) / nx, (box[3] - box[1]) / ny
    first = np.zeros((nx * ny + 1, 2), np.int64)
    listed = np.empty(2 * len(near) + 64, np.int32)
    k = 0
    for c in range(nx * ny):
        j, i = c // nx, c % nx
        most = k + row_start[j + 1] - row_start[j] + spans[c, 1] - spans[c, 0]
        if most > len(listed):
            bigger = np.empty(2 * most, np.int32)
            bigger[:k] = listed[:k]
            listed = bigger
        first[c, 0] = 2 * k
        if state[c] == MIXED:
            by0, by1 = box[1] + j * ch - slack, box[1] + (j + 1) * ch + slack
            bx0, bx1 = box[0] + i * cw - slack, box[0] + (i + 1) * cw + slack
            for q in range(row_start[j], row_start[j + 1]):
                e = row[q]
                low, high = min(edge[e, 1], edge[e + 1, 1]), max(edge[e, 1], edge[e + 1, 1])
                left, right = min(edge[e, 0], edge[e + 1, 0]), max(edge[e, 0], edge[e + 1, 0])
                if high < by0 or low > by1 or right < bx0:
                    continue
                if left > bx1 and low < by0 and high > by1:
                    first[c, 0] ^= 1
                else:
                    listed[k] = e
                    k += 1
        first[c, 1] = k
        for q in range(spans[c, 0], spans[c, 1]):
            listed[k] = near[q]
            k += 1
    first[nx * ny] = 2 * k, k
    return first, listed[:k]


@compiled
def _build_one(
    edge: np.ndarray, nx: int, ny: int, box: np.ndarray, want_state: Whole
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Grid of one table: cell states, how far from the boundary cells lie, and their edges as in `Tables`.

    The edges that can be nearest are listed for MIXED and `want_state` cells.
    """
    n = len(edge)
    cw, ch = (box[2] - box[0]) / nx, (box[3] - box[1]) / ny
    state = np.zeros(nx * ny, np.int8)
    slack = 1e-9 * (abs(cw) + abs(ch)) + 1e-12
    row_count = np.zeros(ny + 1, np.int64)
    for e in range(n):
        if edge[e, 2] == 0.0:
            continue
        x0, y0, x1, y1 = edge[e, 0], edge[e, 1], edge[e + 1, 0], edge[e + 1, 1]
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
        if edge[e, 2] == 0.0:
            continue
        y0, y1 = edge[e, 1], edge[e + 1, 1]
        j0 = max(0, int((min(y0, y1) - box[1] - slack) / ch) - 1)
        j1 = min(ny - 1, int((max(y0, y1) - box[1] + slack) / ch) + 1)
        for j in range(j0, j1 + 1):
            row[fill[j]] = e
            fill[j] += 1
    for c in range(nx * ny):
        if state[c] != MIXED:
            px, py = box[0] + (c % nx + 0.5) * cw, box[1] + (c // nx + 0.5) * ch
            odd = crossings_odd(px, py, edge, 0, row, row_start[c // nx], row_start[c // nx + 1], False)
            state[c] = INSIDE if odd else OUTSIDE
    near, spans, least = nearest_lists(edge, nx, ny, box, (state == MIXED) | (state == want_state))
    first, listed = _listed(edge, nx, ny, box, slack, state, spans, near, row_start, row)
    return state, least, first, listed


@compiled
def _edges(points: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Edges, as in `Tables.edge`, of rings laid end to end, ring k at points[start[k]:start[k + 1]]."""
    edge = np.empty((len(points) + len(start) - 1, 3))
    used = 0
    for r in range(len(start) - 1):
        first, last = start[r], start[r + 1]
        for i in range(first, last):
            after = first if i + 1 == last else i + 1
            squared = (points[after, 0] - points[i, 0]) ** 2 + (points[after, 1] - points[i, 1]) ** 2
            if squared > 0.0:
                edge[used, 0], edge[used, 1], edge[used, 2] = points[i, 0], points[i, 1], 1.0 / squared
                used += 1
        edge[used, 0], edge[used, 1], edge[used, 2] = points[first, 0], points[first, 1], 0.0
        used += 1
    return edge[:used]


@compiled
def _table(
    edge: np.ndarray, cells: int, outside: bool
) -> tuple[np.ndarray, int, int, float, np.ndarray, np.ndarray, np.ndarray]:
    """What a `Table` holds beside its edges: box, cells along x and y, step, `cell`, `first` and `near`.

    The grid has `cells` along its longer side.
    """
    x0, y0, x1, y1 = edge[0, 0], edge[0, 1], edge[0, 0], edge[0, 1]
    for e in range(1, len(edge)):
        x0, x1 = min(x0, edge[e, 0]), max(x1, edge[e, 0])
        y0, y1 = min(y0, edge[e, 1]), max(y1, edge[e, 1])
    pad = 1e-6 * max(x1 - x0, y1 - y0, 1e-6)
    box = np.array((x0 - pad, y0 - pad, x1 + pad, y1 + pad))
    width, height = box[2] - box[0], box[3] - box[1]
    size = max(width, height) / cells
    nx, ny = max(1, int(np.rint(width / size))), max(1, int(np.rint(height / size)))
    wanted = OUTSIDE if outside else INSIDE
    state, least, first, near = _build_one(edge, nx, ny, box, wanted)
    farthest = 0.0
    for c in range(nx * ny):
        if state[c] == wanted:
            farthest = max(farthest, least[c])
    step = max(farthest / LEAST_STEPS, 1e-30)
    cell = np.empty(nx * ny, np.uint8)
    for c in range(nx * ny):
        steps = np.uint8(max(least[c], 0.0) / step * (1.0 - 2e-6))
        cell[c] = np.uint8(AWAY) + steps if state[c] == wanted else np.uint8(state[c])
    return box, nx, ny, step, cell, first.astype(np.int32), near


def edges_of(polygons: Region | Sequence[np.ndarray]) -> np.ndarray:
    """Edges, as in `Tables.edge`, of a shapely polygon, multipolygon or empty geometry, or of a list of its rings."""
    rings = polygons
    if isinstance(polygons, shapely.Geometry):
        rings = [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(shapely.get_parts(polygons))]
    return np.asarray(_edges(*laid_end_to_end(rings)))


class Table(NamedTuple):
    """One table before it joins the flat arrays; arrays as in `Tables`, counted from its own first."""

    box: np.ndarray
    shape: tuple[int, int]
    outside: bool
    step: float
    cell: np.ndarray
    first: np.ndarray
    near: np.ndarray
    edge: np.ndarray


def build_table(polygons: Region | Sequence[np.ndarray], *, cells: int, outside: bool = False) -> Table:
    """Make the table of a polygon set.

    Parameters
    ----------
    polygons : shapely Polygon or MultiPolygon, or a list of its rings
        Not empty; mm.
    cells : int
        Number of grid cells along the longer side; the shorter side gets square cells.
    outside : bool
        Prepare `depth_outside` in place of `depth_inside`.
    """
    edge = edges_of(polygons)
    box, nx, ny, step, cell, first, near = _table(edge, cells, outside)
    small = np.int16 if len(edge) < np.iinfo(np.int16).max else np.int32
    return Table(box, (nx, ny), outside, step, cell, first, near.astype(small), edge)


def join_tables(tables: list[Table]) -> Tables:
    """Put tables into the flat arrays that the compiled loops read."""
    def starts(counts: Sequence[int]) -> np.ndarray:
        return np.concatenate(([0], np.cumsum(counts, dtype=np.int64)))

    cell0, edge0 = starts([len(t.cell) for t in tables]), starts([len(t.edge) for t in tables])
    near0 = starts([len(t.near) for t in tables])
    shape = np.array([t.shape for t in tables], np.int64).reshape(-1, 2)
    box = np.array([t.box for t in tables]).reshape(-1, 4)
    small = np.int32 if any(t.near.dtype == np.int32 for t in tables) else np.int16

    def flat(arrays: Sequence[np.ndarray], dtype: DTypeLike) -> np.ndarray:
        return np.concatenate(arrays).astype(dtype, copy=False) if arrays else np.empty(0, dtype)

    shifts = np.outer(near0, (2, 1))
    first = np.concatenate([*(t.first[:-1] for t in tables), shifts[-1:]])
    first[:-1] += np.repeat(shifts[:-1], np.diff(cell0), axis=0)
    return Tables(
        frame=np.ascontiguousarray(np.column_stack(
            (box, shape / (box[:, 2:] - box[:, :2]), [t.step for t in tables]))),
        place=np.ascontiguousarray(np.column_stack(
            (shape, cell0[:-1], edge0[:-1], np.array([t.outside for t in tables], np.int64)))),
        cell=flat([t.cell for t in tables], np.uint8),
        first=first.astype(np.int32 if first[-1, 0] <= np.iinfo(np.int32).max else np.int64),
        near=flat([t.near for t in tables], small),
        edge=np.concatenate([t.edge for t in tables]) if tables else np.empty((0, 3)),
    )
