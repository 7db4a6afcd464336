"""Compiled convolution of outlines on a grid of whole numbers; private to `geometry.winding`.

The *convolution* of two outlines is a set of closed curves made of the edges of each, moved by corners of the
other; about any point it winds as often as the first outline's shape and the second one, turned half round and
moved to the point, have common parts (less holes in these). So the sum is where it winds more than 0 times.

Reference: L. Guibas, L. Ramshaw, J. Stolfi (1983), A kinetic framework for computational geometry,
doi:10.1109/SFCS.1983.1.
"""

import numpy as np

from geometry.compiled import compiled, uncounted

BITS = 29
"""Coordinates stay below 2**BITS, so that a cross product of differences, doubled, fits 64 bits."""


@uncounted
def cross(ax: int, ay: int, bx: int, by: int) -> int:
    """Determinant of two vectors; positive when b is to the left of a."""
    return ax * by - ay * bx


@compiled
def _cleaned(points: np.ndarray, start: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rings without points that repeat or lie in line with their neighbours; a ring of no area comes out empty."""
    out = np.empty_like(points)
    out_start = np.zeros_like(start)
    used = 0
    for r in range(len(start) - 1):
        n = start[r + 1] - start[r]
        ring = points[start[r] : start[r + 1]].copy()
        changed = True
        while changed and n > 0:
            changed = False
            kept = 0
            for i in range(n):
                # The point before has been kept already, or is the last one.
                px, py = (ring[kept - 1, 0], ring[kept - 1, 1]) if kept > 0 else (ring[n - 1, 0], ring[n - 1, 1])
                qx, qy = ring[(i + 1) % n, 0], ring[(i + 1) % n, 1]
                if i == n - 1 and kept > 0:
                    qx, qy = ring[0, 0], ring[0, 1]
                if cross(ring[i, 0] - px, ring[i, 1] - py, qx - ring[i, 0], qy - ring[i, 1]) == 0:
                    changed = True
                else:
                    ring[kept] = ring[i]
                    kept += 1
            n = kept
        out[used : used + n] = ring[:n]
        used += n
        out_start[r + 1] = used
    return out[:used], out_start


@uncounted
def _before(ax: int, ay: int, bx: int, by: int) -> bool:
    """Whether direction a comes before direction b, counter-clockwise from that of x."""
    low_a, low_b = ay < 0 or (ay == 0 and ax < 0), by < 0 or (by == 0 and bx < 0)
    return low_b if low_a != low_b else cross(ax, ay, bx, by) > 0


@compiled
def _by_direction(points: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Edges of rings in the order of their directions: (m, 4) start and end as rows of `points`, and direction."""
    edge = np.empty((len(points), 4), np.int64)
    angle = np.empty(len(points))
    for r in range(len(start) - 1):
        k = start[r + 1] - 1
        for j in range(start[r], start[r + 1]):
            dx, dy = points[j, 0] - points[k, 0], points[j, 1] - points[k, 1]
            edge[j, 0], edge[j, 1], edge[j, 2], edge[j, 3] = k, j, dx, dy
            angle[j] = np.arctan2(float(dy), float(dx)) % (2.0 * np.pi)
            k = j
    edge = edge[np.argsort(angle)]
    # Angles are rounded: what they leave in the wrong order is put right in whole numbers.
    for p in range(1, len(edge)):
        held = edge[p].copy()
        q = p
        while q > 0 and _before(held[2], held[3], edge[q - 1, 2], edge[q - 1, 3]):
            edge[q] = edge[q - 1]
            q -= 1
        edge[q] = held
    return edge


@uncounted
def _first_from(edge: np.ndarray, x: int, y: int, later: int) -> int:
    """The first of the edges in order that does not come before a direction; or (not `later`) that comes after it."""
    low, high = 0, len(edge)
    while low < high:
        middle = (low + high) // 2
        dx, dy = edge[middle, 2], edge[middle, 3]
        if _before(dx, dy, x, y) if later == 1 else not _before(x, y, dx, dy):
            low = middle + 1
        else:
            high = middle
    return low


@compiled
def _convolve(a: np.ndarray, a_start: np.ndarray, b: np.ndarray, b_start: np.ndarray) -> np.ndarray:
    """Directed segments (m, 4) of the convolution of two sets of rings; int64 grid points.

    Edges of b at a corner of a: those whose direction the corner sweeps, reversed where it turns right; edges of a
    at a corner of b likewise. Of parallel edges those of b count as the later ones, as if turned left a little.
    """
    found = np.empty((4 * (len(a) + len(b)) + 16, 4), np.int64)
    used = 0
    for turn_about in range(2):
        corner, corner_start, point, point_start, later = a, a_start, b, b_start, 1
        if turn_about == 1:
            corner, corner_start, point, point_start, later = b, b_start, a, a_start, 0
        edge = _by_direction(point, point_start)
        for r in range(len(corner_start) - 1):
            n = corner_start[r + 1] - corner_start[r]
            for i in range(n):
                p, q = corner_start[r] + (i + n - 1) % n, corner_start[r] + (i + 1) % n
                x, y = corner[corner_start[r] + i, 0], corner[corner_start[r] + i, 1]
                inx, iny = x - corner[p, 0], y - corner[p, 1]
                outx, outy = corner[q, 0] - x, corner[q, 1] - y
                turn = cross(inx, iny, outx, outy)
                if turn == 0:
                    continue
                if turn < 0:
                    inx, iny, outx, outy = outx, outy, inx, iny
                place = _first_from(edge, inx, iny, later)
                for _ in range(len(edge)):
                    place = 0 if place == len(edge) else place
                    dx, dy = edge[place, 2], edge[place, 3]
                    if not (cross(inx, iny, dx, dy) >= 1 - later and cross(dx, dy, outx, outy) >= later):
                        break
                    if used == len(found):
                        bigger = np.empty((2 * used, 4), np.int64)
                        bigger[:used] = found
                        found = bigger
                    first, last = (0, 1) if turn > 0 else (1, 0)
                    first, last = edge[place, first], edge[place, last]
                    found[used, 0], found[used, 1] = x + point[first, 0], y + point[first, 1]
                    found[used, 2], found[used, 3] = x + point[last, 0], y + point[last, 1]
                    used += 1
                    place += 1
    return found[:used]


@compiled
def convolution(a: np.ndarray, a_start: np.ndarray, b: np.ndarray, b_start: np.ndarray) -> np.ndarray:
    """Directed segments (m, 4) of the convolution of two sets of rings; empty if either encloses nothing.

    Rings are int64 grid points (n, 2) below 2**BITS with what they enclose to their left. No common part has a hole
    where both shapes are without holes, or a is the outside of a container that is larger than b.
    """
    a, a_start = _cleaned(a, a_start)
    b, b_start = _cleaned(b, b_start)
    if len(a) == 0 or len(b) == 0:
        return np.empty((0, 4), np.int64)
    return _convolve(a, a_start, b, b_start)
