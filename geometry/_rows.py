"""Compiled search for the best lattice whose first translation is given; private to `geometry.lattice`.

An *obstacle* is a no-fit polygon as a table of `geometry.tables`: `same` for two outlines the same way
round, `turned` for an outline and its half-turned copy. A lattice (u, v) is *clear* when no translation
k u + j v other than 0 lies deeper in `same` than a tolerance; with a half-turned outline at c, when no
c + k u + j v lies deeper in `turned`.
"""

from math import ceil, floor
from typing import TypeAlias

import numpy as np

from geometry.compiled import compiled, uncounted
from geometry.overlap import depth_inside
from geometry.tables import Tables

BANDS = 64
"""Crossings of outlines are looked for in bands of height."""

Bands: TypeAlias = tuple[np.ndarray, np.ndarray, np.ndarray]
"""What `bands_of` returns."""


@uncounted
def cross(ax: float, ay: float, bx: float, by: float) -> float:
    """The determinant of two vectors; positive when b is to the left of a."""
    return ax * by - ay * bx


@uncounted
def reach(table: Tables) -> float:
    """Greatest distance from the origin to a point of the table's box."""
    x = max(abs(table.frame[0, 0]), abs(table.frame[0, 2]))
    y = max(abs(table.frame[0, 1]), abs(table.frame[0, 3]))
    return float(np.sqrt(x * x + y * y))


@uncounted
def row_clear(table: Tables, wx: float, wy: float, ux: float, uy: float, far: float, tolerance: float) -> bool:
    """Whether no w + k u lies deeper in the table than the tolerance."""
    squared = ux * ux + uy * uy
    middle = -(wx * ux + wy * uy) / squared
    half = far / np.sqrt(squared)
    for k in range(ceil(middle - half), floor(middle + half) + 1):
        if depth_inside(table, 0, wx + k * ux, wy + k * uy, 2.0 * tolerance) > tolerance:
            return False
    return True


@uncounted
def corner_clear(
    table: Tables, wx: float, wy: float, ux: float, uy: float, far: float, tolerance: float, other: int
) -> bool:
    """Whether no w + k u lies deeper in the table than the tolerance; for k = 0 and `other` it lies on the outline."""
    squared = ux * ux + uy * uy
    middle = -(wx * ux + wy * uy) / squared
    half = far / np.sqrt(squared)
    for k in range(ceil(middle - half), floor(middle + half) + 1):
        if k == 0 or k == other:
            continue
        if depth_inside(table, 0, wx + k * ux, wy + k * uy, 2.0 * tolerance) > tolerance:
            return False
    return True


@uncounted
def multiples_clear(table: Tables, ux: float, uy: float, far: float, tolerance: float) -> bool:
    """Whether no k u but 0 lies deeper in the table than the tolerance; the table is its own half turn."""
    for k in range(1, floor(far / np.sqrt(ux * ux + uy * uy)) + 1):
        if depth_inside(table, 0, k * ux, k * uy, 2.0 * tolerance) > tolerance:
            return False
    return True


@uncounted
def lattice_clear(
    same: Tables, turned: Tables, double: bool, ux: float, uy: float, vx: float, vy: float, cx: float, cy: float,
    tolerance: float,
) -> bool:
    """Whether the lattice is clear, and with `double` its half-turned copies too."""
    far = reach(same)
    row = cross(ux, uy, vx, vy) / np.sqrt(ux * ux + uy * uy)
    if not row > 1e-3 * tolerance:
        return False
    if not multiples_clear(same, ux, uy, far, tolerance):
        return False
    for j in range(1, floor(far / row) + 1):
        if not row_clear(same, j * vx, j * vy, ux, uy, far, tolerance):
            return False
    if double:
        far = reach(turned)
        height = cross(ux, uy, cx, cy) / np.sqrt(ux * ux + uy * uy)
        for j in range(ceil((-far - height) / row), floor((far - height) / row) + 1):
            if not row_clear(turned, cx + j * vx, cy + j * vy, ux, uy, far, tolerance):
                return False
    return True


@compiled
def bands_of(table: Tables) -> Bands:
    """A table's edges by the bands of height that they meet, BANDS of them over its box.

    Returns where each band's list begins, the lists one after another, and the band that each edge begins in.
    """
    edge, low = table.edge, table.frame[0, 1]
    per = BANDS / (table.frame[0, 3] - low)
    begin, end = np.empty(len(edge), np.int64), np.empty(len(edge), np.int64)
    first = np.zeros(BANDS + 1, np.int64)
    for e in range(len(edge)):
        if edge[e, 2] == 0.0:
            begin[e], end[e] = 0, -1
            continue
        begin[e] = min(max(int((min(edge[e, 1], edge[e + 1, 1]) - low) * per), 0), BANDS - 1)
        end[e] = min(max(int((max(edge[e, 1], edge[e + 1, 1]) - low) * per), 0), BANDS - 1)
        first[begin[e] + 1 : end[e] + 2] += 1
    first = np.cumsum(first)
    fill, listed = first.copy(), np.empty(first[BANDS], np.int64)
    for e in range(len(edge)):
        for band in range(begin[e], end[e] + 1):
            listed[fill[band]] = e
            fill[band] += 1
    return first, listed, begin


@compiled
def free_corners(table: Tables, bands: Bands, ux: float, uy: float, tolerance: float) -> np.ndarray:
    """Corners of the ground that the row of obstacles, table + k u for all k, leaves free.

    They are corners of the obstacle and crossings of its outline with that of its neighbours. Returns
    (n, 3): height det(u, w) and the point w, lowest first; a point stands for all w + k u.
    """
    edge = table.edge
    n = len(edge)
    low, high = table.frame[0, 1], table.frame[0, 3]
    width, height = table.frame[0, 2] - table.frame[0, 0], high - low
    far = reach(table)
    found = np.empty((2 * n + 16, 3))
    used = 0
    for e in range(n):
        if edge[e, 2] > 0.0 and corner_clear(table, edge[e, 0], edge[e, 1], ux, uy, far, tolerance, 0):
            found[used, 1], found[used, 2] = edge[e, 0], edge[e, 1]
            used += 1
    per = BANDS / height
    first, listed, begin = bands
    k = 1
    while k * abs(ux) <= width and k * abs(uy) <= height:
        sx, sy = k * ux, k * uy
        for e in range(n):
            if edge[e, 2] == 0.0:
                continue
            x0, y0, x1, y1 = edge[e, 0] - sx, edge[e, 1] - sy, edge[e + 1, 0] - sx, edge[e + 1, 1] - sy
            low_x, high_x = min(x0, x1), max(x0, x1)
            low_y, high_y = min(y0, y1), max(y0, y1)
            if high_y < low or low_y > high:
                continue
            lowest = min(max(int((low_y - low) * per), 0), BANDS - 1)
            highest = min(max(int((high_y - low) * per), 0), BANDS - 1)
            for band in range(lowest, highest + 1):
                for q in range(first[band], first[band + 1]):
                    f = listed[q]
                    if (
                        # Where both reach through several bands they meet in the first of them.
                        band != max(lowest, begin[f])
                        or max(edge[f, 0], edge[f + 1, 0]) < low_x
                        or min(edge[f, 0], edge[f + 1, 0]) > high_x
                        or max(edge[f, 1], edge[f + 1, 1]) < low_y
                        or min(edge[f, 1], edge[f + 1, 1]) > high_y
                    ):
                        continue
                    along = edge[e + 1, 0] - edge[e, 0], edge[e + 1, 1] - edge[e, 1]
                    crossing, x, y = _crossing(x0, y0, along[0], along[1], edge, f)
                    if crossing and corner_clear(table, x, y, ux, uy, far, tolerance, k):
                        if used == len(found):
                            bigger = np.empty((2 * used, 3))
                            bigger[:used] = found
                            found = bigger
                        found[used, 1], found[used, 2] = x, y
                        used += 1
        k += 1
    found = found[:used]
    for i in range(used):
        found[i, 0] = cross(ux, uy, found[i, 1], found[i, 2])
    return found[np.argsort(found[:, 0])]


@uncounted
def _crossing(
    x0: float, y0: float, along_x: float, along_y: float, edge: np.ndarray, f: int
) -> tuple[bool, float, float]:
    """Whether the edge from (x0, y0) along (along_x, along_y) crosses edge f, and where."""
    dx, dy = edge[f + 1, 0] - edge[f, 0], edge[f + 1, 1] - edge[f, 1]
    turn = cross(along_x, along_y, dx, dy)
    if turn == 0.0:
        return False, 0.0, 0.0
    s = cross(edge[f, 0] - x0, edge[f, 1] - y0, dx, dy) / turn
    t = cross(edge[f, 0] - x0, edge[f, 1] - y0, along_x, along_y) / turn
    if s < 0.0 or s > 1.0 or t < 0.0 or t > 1.0:
        return False, 0.0, 0.0
    return True, edge[f, 0] + t * dx, edge[f, 1] + t * dy


@compiled
def best_over_row(
    same: Tables, turned: Tables, bands: tuple[Bands, Bands], double: bool, ux: float, uy: float, least: float,
    tolerance: float, out: np.ndarray,
) -> None:
    """Best clear lattice with the translation u, its free corners taken two at a time.

    Writes (det, u, v, c) to `out`; det is infinite when u itself is not clear, or nothing was found. `least` is a
    determinant that no lattice can beat: the area of the outlines in a cell; `bands` are those of both tables.
    """
    out[0] = np.inf
    out[1], out[2] = ux, uy
    if not multiples_clear(same, ux, uy, reach(same), tolerance):
        return
    least *= 1.0 - 1e-9
    rows = free_corners(same, bands[0], ux, uy, tolerance)
    if not double:
        for i in range(np.searchsorted(rows[:, 0], least), len(rows)):
            if lattice_clear(same, turned, double, ux, uy, rows[i, 1], rows[i, 2], 0.0, 0.0, tolerance):
                out[0], out[3], out[4] = rows[i, 0], rows[i, 1], rows[i, 2]
                return
        return
    spots = free_corners(turned, bands[1], ux, uy, tolerance)
    heights = spots[:, 0]
    # The half-turned outline at c above one row and at m = c - v below the next, both at free corners.
    for i in range(len(spots) - 1, -1, -1):
        cx, cy = spots[i, 1], spots[i, 2]
        j = np.searchsorted(heights, heights[i] - least, side="right") - 1
        while j >= 0 and heights[i] - heights[j] < out[0]:
            vx, vy = cx - spots[j, 1], cy - spots[j, 2]
            if lattice_clear(same, turned, double, ux, uy, vx, vy, cx, cy, tolerance):
                out[0] = heights[i] - heights[j]
                out[3], out[4], out[5], out[6] = vx, vy, cx, cy
            j -= 1
    # v at a free corner and the half-turned outline at one of its own, above or below.
    for i in range(np.searchsorted(rows[:, 0], least), len(rows)):
        if rows[i, 0] >= out[0]:
            break
        vx, vy = rows[i, 1], rows[i, 2]
        for j in range(len(spots)):
            if lattice_clear(same, turned, double, ux, uy, vx, vy, spots[j, 1], spots[j, 2], tolerance):
                out[0] = rows[i, 0]
                out[3], out[4], out[5], out[6] = vx, vy, spots[j, 1], spots[j, 2]
                break


@compiled
def scan_rows(
    same: Tables, turned: Tables, double: bool, first: np.ndarray, least: float, tolerance: float
) -> np.ndarray:
    """`best_over_row` for many translations u (n, 2); returns (n, 7)."""
    out = np.full((len(first), 7), np.inf)
    bands = bands_of(same), bands_of(turned)
    for i in range(len(first)):
        best_over_row(same, turned, bands, double, first[i, 0], first[i, 1], least, tolerance, out[i])
    return out
