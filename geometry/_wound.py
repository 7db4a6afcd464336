"""Compiled: outlines of what curves wind about, from rings to rings; private to `geometry.winding`.

It runs as one loop without the interpreter's lock, so that threads on many cores do not wait for each other.
"""

from math import frexp, ldexp

import numpy as np

from geometry._arrangement import outlines
from geometry._convolution import BITS, convolution
from geometry.compiled import compiled, uncounted

GRIDS = (1.0, 0.75, 0.6)
"""Shares of the finest grid, tried in turn; only the first has ever been needed."""


@compiled
def wound_points(
    shape: np.ndarray, shape_start: np.ndarray, term_start: np.ndarray, moving: np.ndarray, moving_start: np.ndarray,
    loop: np.ndarray, loop_start: np.ndarray, base: int, wanted: bool,
) -> tuple[bool, np.ndarray, np.ndarray, np.ndarray]:
    """Rings of the points about which curves wind more than 0 times, or (not `wanted`) do not.

    Parameters
    ----------
    shape, shape_start : (n, 2) points of the rings of all terms, and (r + 1,) the first of each ring
    term_start : (t + 1,) the first ring of each term
    moving, moving_start : (m, 2) points of the ring of each term, and (t + 1,) the first of each
    loop, loop_start : (l, 2) points of curves by themselves, and the first of each
    base : as in `winding.wound_rings`

    Returns
    -------
    ok, points (k, 2), the first of each ring, and its signed area: slivers of grid width are left out. Not ok where a
    ring of a term encloses nothing.
    """
    terms = len(term_start) - 1
    middle, half = np.empty((terms, 2)), np.empty((terms, 2))
    between = np.empty((terms, 2))
    for t in range(terms):
        first, last = shape_start[term_start[t]], shape_start[term_start[t + 1]]
        for d in range(2):
            low, high = _extent(shape, first, last, d)
            near, far = _extent(moving, moving_start[t], moving_start[t + 1], d)
            between[t, d] = np.rint(0.5 * (near + far))
            middle[t, d] = 0.5 * (low + high) + 0.5 * (near + far)
            half[t, d] = 0.5 * (high - low) + 0.5 * (far - near)
    # On whole mm, so that what is moved by it keeps its bits.
    origin = np.empty(2)
    for d in range(2):
        if terms:
            origin[d] = np.rint(middle[0, d])
        else:
            low, high = _extent(loop, 0, len(loop), d)
            origin[d] = np.rint(0.5 * (low + high))
    reach = 0.0
    for d in range(2):
        for t in range(terms):
            reach = max(reach, half[t, d] + abs(middle[t, d] - origin[d]))
        for i in range(len(loop)):
            reach = max(reach, abs(loop[i, d] - origin[d]))
    for share in GRIDS:
        step = ldexp(1.0, frexp(reach)[1] - BITS) / share
        segments = _loop_segments(loop, loop_start, origin, step)
        for t in range(terms):
            start = shape_start[term_start[t]:term_start[t + 1] + 1] - shape_start[term_start[t]]
            fixed = _whole(shape[shape_start[term_start[t]]:shape_start[term_start[t + 1]]], origin - between[t], step)
            ring = _whole(moving[moving_start[t]:moving_start[t + 1]], between[t], step)
            if not _left(moving, moving_start[t], moving_start[t + 1]):
                ring = ring[::-1].copy()
            found = convolution(fixed, start, ring, np.array((0, len(ring)), np.int64))
            if len(found) == 0:
                return False, np.empty((0, 2)), np.zeros(1, np.int64), np.empty(0)
            segments = np.concatenate((segments, found))
        ok, corners, start = outlines(segments, base, wanted)
        if ok:
            points = np.empty((len(corners), 2))
            for i in range(len(corners)):
                for d in range(2):
                    points[i, d] = corners[i, d] * step + origin[d]
            kept, kept_start, area = _without_slivers(points, start, step)
            return True, kept, kept_start, area
    return False, np.empty((0, 2)), np.zeros(1, np.int64), np.empty(0)


@uncounted
def _extent(points: np.ndarray, first: int, last: int, axis: int) -> tuple[float, float]:
    low = high = points[first, axis]
    for i in range(first + 1, last):
        low, high = min(low, points[i, axis]), max(high, points[i, axis])
    return low, high


@uncounted
def _left(points: np.ndarray, first: int, last: int) -> bool:
    """Whether a ring has its inside to its left."""
    doubled = 0.0
    for i in range(first + 1, last - 1):
        doubled += (points[i, 0] - points[first, 0]) * (points[i + 1, 1] - points[first, 1])
        doubled -= (points[i, 1] - points[first, 1]) * (points[i + 1, 0] - points[first, 0])
    return doubled > 0.0


@compiled
def _whole(points: np.ndarray, origin: np.ndarray, step: float) -> np.ndarray:
    found = np.empty((len(points), 2), np.int64)
    for i in range(len(points)):
        for d in range(2):
            found[i, d] = np.int64(np.rint((points[i, d] - origin[d]) / step))
    return found


@compiled
def _loop_segments(loop: np.ndarray, loop_start: np.ndarray, origin: np.ndarray, step: float) -> np.ndarray:
    """Segments of curves by themselves that are longer than nothing."""
    corners = _whole(loop, origin, step)
    found = np.empty((len(loop), 4), np.int64)
    used = 0
    for r in range(len(loop_start) - 1):
        for i in range(loop_start[r], loop_start[r + 1]):
            after = loop_start[r] if i + 1 == loop_start[r + 1] else i + 1
            if corners[i, 0] != corners[after, 0] or corners[i, 1] != corners[after, 1]:
                found[used, 0], found[used, 1] = corners[i, 0], corners[i, 1]
                found[used, 2], found[used, 3] = corners[after, 0], corners[after, 1]
                used += 1
    return found[:used]


@compiled
def _without_slivers(points: np.ndarray, start: np.ndarray, step: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Simple rings, the first point of each, and their areas, without those of grid width."""
    kept, kept_start, areas = np.empty_like(points), np.zeros_like(start), np.empty(len(start))
    rings = 0
    for r in range(len(start) - 1):
        first, last = start[r], start[r + 1]
        doubled = length = 0.0
        for i in range(first, last):
            after = first if i + 1 == last else i + 1
            x, y = points[i, 0] - points[first, 0], points[i, 1] - points[first, 1]
            dx, dy = points[after, 0] - points[i, 0], points[after, 1] - points[i, 1]
            doubled += x * dy - y * dx
            length += np.sqrt(dx * dx + dy * dy)
        if 0.5 * abs(doubled) <= step * length:
            continue
        areas[rings] = 0.5 * doubled
        kept_start[rings + 1] = kept_start[rings] + last - first
        kept[kept_start[rings]:kept_start[rings + 1]] = points[first:last]
        rings += 1
    return kept[:kept_start[rings]], kept_start[:rings + 1], areas[:rings]
