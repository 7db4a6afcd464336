"""Compiled convolution of outlines on a grid of whole numbers; private to `geometry.winding`.

The *convolution* of two outlines is a set of closed curves made of the edges of each, moved by corners of the
other; about any point it winds as often as the first outline's shape and the second one, turned half round and
moved to the point, have common parts (less holes in these). So the sum is where it winds more than 0 times.

Reference: L. Guibas, L. Ramshaw, J. Stolfi (1983), A kinetic framework for computational geometry,
doi:10.1109/SFCS.1983.1.
"""

import numpy as np

from geometry.compiled import compiled, lean

BITS = 29
"""Coordinates stay below 2**BITS, so that a cross product of differences, doubled, fits 64 bits."""


@lean
def cross(ax, ay, bx, by):
    """Determinant of two vectors; positive when b is to the left of a."""
    return ax * by - ay * bx


@compiled
def _cleaned(points, start):
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


@compiled
def _convolve(a, a_start, b, b_start):
    """Directed segments (m, 4) of the convolution of two sets of rings; int64 grid points.

    Edges of b at a corner of a: those whose direction the corner sweeps, reversed where it turns right; edges of a
    at a corner of b likewise. Of parallel edges those of b count as the later ones, as if turned left a little.
    """
    found = np.empty((4 * (len(a) + len(b)) + 16, 4), np.int64)
    used = 0
    for turn_about in range(2):
        corner, corner_start, edge, edge_start, later = a, a_start, b, b_start, 1
        if turn_about == 1:
            corner, corner_start, edge, edge_start, later = b, b_start, a, a_start, 0
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
                for s in range(len(edge_start) - 1):
                    m = edge_start[s + 1] - edge_start[s]
                    k = edge_start[s] + m - 1
                    for j in range(edge_start[s], edge_start[s] + m):
                        dx, dy = edge[j, 0] - edge[k, 0], edge[j, 1] - edge[k, 1]
                        if cross(inx, iny, dx, dy) >= 1 - later and cross(dx, dy, outx, outy) >= later:
                            if used == len(found):
                                bigger = np.empty((2 * used, 4), np.int64)
                                bigger[:used] = found
                                found = bigger
                            first, last = (k, j) if turn > 0 else (j, k)
                            found[used, 0], found[used, 1] = x + edge[first, 0], y + edge[first, 1]
                            found[used, 2], found[used, 3] = x + edge[last, 0], y + edge[last, 1]
                            used += 1
                        k = j
    return found[:used]


@compiled
def convolution(a, a_start, b, b_start):
    """Directed segments (m, 4) of the convolution of two sets of rings; empty if either encloses nothing.

    Rings are int64 grid points (n, 2) below 2**BITS with what they enclose to their left. No common part has a hole
    where both shapes are without holes, or a is the outside of a container that is larger than b.
    """
    a, a_start = _cleaned(a, a_start)
    b, b_start = _cleaned(b, b_start)
    if len(a) == 0 or len(b) == 0:
        return np.empty((0, 4), np.int64)
    return _convolve(a, a_start, b, b_start)
