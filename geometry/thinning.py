"""Outlines with fewer vertices, within a stated tolerance.

`thin` keeps the outline within the tolerance on both sides; `thin_outwards` never loses ground: what it
returns contains what it was given.
"""

import heapq
from math import hypot

import numpy as np
import shapely

from geometry.polygon import is_simple, polygon, ring_of
from geometry.precision import as_ring


def thin(ring: np.ndarray, tolerance: float) -> np.ndarray:
    """Return `ring` with fewer vertices: neither outline leaves the other by more than `tolerance` mm.

    Every vertex that stays is a vertex of `ring`; the result is simple if `ring` is.

    References
    ----------
    D. Douglas, T. Peucker (1973), Algorithms for the reduction of the number of points required to
    represent a digitized line or its caricature, doi:10.3138/FM57-6770-U75U-7727.
    """
    if tolerance <= 0.0:
        return as_ring(ring)
    # The point a ring starts from is dropped last, and only its own distance is asked then: those dropped before it may
    # come to lie further off. So let it be one that counts, the furthest out; if it goes all the same, ask for less.
    first = int(np.argmax(np.hypot(*(np.asarray(ring) - np.mean(ring, axis=0)).T)))
    whole = polygon(np.roll(ring, -first, axis=0))
    thinned = whole.simplify(tolerance)
    asked = tolerance
    while shapely.hausdorff_distance(thinned.exterior, whole.exterior) > tolerance * (1.0 + 1e-9):
        asked *= 0.5
        thinned = whole.simplify(asked)
    return ring_of(thinned)


def thin_outwards(ring: np.ndarray, tolerance: float) -> np.ndarray:
    """Return a ring with fewer vertices that contains `ring` and reaches out of it by at most `tolerance` mm.

    Two steps only ever add ground: to drop a hollow vertex, and to drop an edge between two other vertices
    while its neighbours are drawn out until they meet. The step that reaches out least is taken first, and
    only when its new edges stay within `tolerance` of `ring`. O(n log n) steps.
    A slit narrower than twice `tolerance` may be filled.
    """
    original = as_ring(ring)
    if tolerance <= 0.0:
        return original
    # Round joins cut short, never long: what lies within the band lies within the tolerance.
    band = polygon(original).buffer(tolerance, quad_segs=8)
    shapely.prepare(band)
    x, y = original.T.tolist()
    n = len(x)
    before, after = [(i - 1) % n for i in range(n)], [(i + 1) % n for i in range(n)]
    version, left = [0] * n, n

    def offer(i: int):
        """How far out the step at vertex i (or at the edge that leaves it) reaches, and where it puts vertex i."""
        h, j = before[i], after[i]
        turn = _doubled_area(x[h], y[h], x[i], y[i], x[j], y[j])
        if turn <= 0.0:
            return -turn / (hypot(x[j] - x[h], y[j] - y[h]) or 1.0), None
        k = after[j]
        if _doubled_area(x[i], y[i], x[j], y[j], x[k], y[k]) <= 0.0:
            return None
        ax, ay, bx, by = x[i] - x[h], y[i] - y[h], x[k] - x[j], y[k] - y[j]
        cross = ax * by - ay * bx
        if cross <= 0.0:
            return None
        t = ((x[j] - x[i]) * by - (y[j] - y[i]) * bx) / cross
        meet = (x[i] + t * ax, y[i] + t * ay)
        return abs(_doubled_area(x[i], y[i], *meet, x[j], y[j])) / (hypot(x[j] - x[i], y[j] - y[i]) or 1.0), meet

    queue = [(found[0], i, 0) for i in range(n) if (found := offer(i))]
    heapq.heapify(queue)
    while queue and left > 4:
        _, i, made = heapq.heappop(queue)
        if made != version[i]:
            continue
        h, j = before[i], after[i]
        _, meet = offer(i)
        path = ((x[h], y[h]), (x[j], y[j])) if meet is None else ((x[i], y[i]), meet, (x[j], y[j]))
        if not band.covers(shapely.linestrings(path)):
            continue
        if meet is None:
            after[h], before[j] = j, h
            version[i] = -1
            changed = (before[h], h, j)
        else:
            x[i], y[i] = meet
            k = after[j]
            after[i], before[k] = k, i
            version[j] = -1
            changed = (before[h], h, i, k)
        left -= 1
        for v in changed:
            version[v] += 1
            if found := offer(v):
                heapq.heappush(queue, (found[0], v, version[v]))
    first = next(i for i in range(n) if version[i] >= 0)
    kept, i = [first], after[first]
    while i != first:
        kept.append(i)
        i = after[i]
    thinned = as_ring([(x[i], y[i]) for i in kept])
    # A step looks at its own edges only: across a slit narrower than the tolerance two sides may meet.
    return thinned if is_simple(thinned) else original


def _doubled_area(ax: float, ay: float, bx: float, by: float, cx: float, cy: float) -> float:
    """Twice the signed area of a triangle."""
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
