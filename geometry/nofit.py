"""Where a piece touches another (no-fit polygon) and where it fits inside a container (inner-fit polygon).

Rings as in `geometry.precision`. A position is where the origin of the moving ring's coordinates comes to
lie. No-fit and inner-fit polygons are Minkowski sums: the moving ring at position t meets the fixed ring
exactly when t lies in fixed ⊕ (−moving).

Sums are reckoned in whole numbers (`geometry._arrangement`): coordinates are first rounded to a grid of a
2³⁰th to a 2²⁹th of the extent of both outlines together, 1e-6 mm for vamps, 5e-6 mm for a hide. Within that the
results are exact, and edges that coincide or touch, the rule between pieces, do no harm. (Where edges nearly
coincide, unions by shapely of the sums of convex parts lost whole parts or failed, in about one of a thousand
contrived cases.)

References
----------
J. Bennell, J. Oliveira (2008), The geometry of nesting problems: a tutorial,
doi:10.1016/j.ejor.2006.11.038.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import cos, frexp, pi

import numpy as np
import shapely

from geometry._arrangement import BITS, outlines
from geometry.convex_parts import convex_parts
from geometry.polygon import bounds
from geometry.precision import GeometryError

__all__ = ["convex_parts", "inner_fit_polygon", "inner_fit_strip", "minkowski_sum", "no_fit_polygon"]

ARC_SEGMENTS = 8
"""Chords per quarter circle where a gap goes round a corner; they lie outside the circle."""

GRIDS = (1.0, 0.75, 0.6)
"""Shares of the finest grid, tried in turn; only the first has ever been needed."""

Region = shapely.Polygon | shapely.MultiPolygon


def minkowski_sum(a: np.ndarray | Region, b: np.ndarray) -> Region:
    """Return all sums of a point of `a` and a point of `b`.

    Holes of the sum are kept. Holes without area (a point or a line where a piece fits in exactly) are closed.

    Parameters
    ----------
    a : (n, 2) ring or shapely polygon(s), with or without holes; mm.
    b : (m, 2) ring, mm.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    ring = np.asarray(b, dtype=np.float64)
    parts = [_sum_with_one(part, ring) for part in shapely.get_parts(_shape(a)) if not part.is_empty]
    return parts[0] if len(parts) == 1 else shapely.union_all(parts)


def no_fit_polygon(fixed: np.ndarray, moving: np.ndarray, gap: float = 0.0) -> Region:
    """Return the positions of `moving` at which it overlaps or touches `fixed`, or comes nearer than `gap` mm.

    On its boundary the two touch, or stand `gap` apart; its holes are the positions inside hollows of
    `fixed`. Where the gap goes round a corner the boundary stands up to 0.5 % of `gap` too far, never too near.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    met = minkowski_sum(fixed, -np.asarray(moving))
    return minkowski_sum(met, _around_disc(gap)) if gap > 0.0 else met


def inner_fit_polygon(container: np.ndarray | Region, moving: np.ndarray) -> Region:
    """Return the positions of `moving` at which it lies inside `container`, touching allowed.

    Empty if the piece does not fit. Positions without area (a point or a line: the piece fits exactly)
    are not kept.

    Parameters
    ----------
    container : (n, 2) ring or shapely polygon(s), with or without holes; mm.
    moving : (m, 2) ring, mm.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    ring = np.asarray(moving, dtype=np.float64)
    found = [_fit_in_one(part, ring) for part in shapely.get_parts(_shape(container)) if not part.is_empty]
    parts = [part for fit in found for part in shapely.get_parts(fit) if not part.is_empty]
    # A piece lies within one part of the container, so that fits in different parts do not overlap.
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def inner_fit_strip(width: float, moving: np.ndarray) -> tuple[float, float] | None:
    """Return the least and largest y that keep `moving` in the strip 0 ≤ y ≤ `width`, mm; None if it does not fit."""
    _, low, _, high = bounds(moving)
    return (-low, width - high) if high - low <= width else None


def _shape(of: np.ndarray | Region) -> Region:
    return of if isinstance(of, shapely.Geometry) else shapely.Polygon(of)


def _around_disc(radius: float) -> np.ndarray:
    """The regular polygon whose sides touch a disc about the origin from outside."""
    angles = pi / (2 * ARC_SEGMENTS) * np.arange(4 * ARC_SEGMENTS)
    return radius / cos(pi / (4 * ARC_SEGMENTS)) * np.column_stack((np.cos(angles), np.sin(angles)))


def _sum_with_one(shape: shapely.Polygon, ring: np.ndarray) -> Region:
    """Sum of a polygon: the sum of its outer ring, less what lies in a hole together with all of the moving ring."""
    outer, *holes = _open_rings(shape)
    whole = _united([outer], ring, 0)
    kept = [part for hole in holes for part in shapely.get_parts(_fit_in_one(shapely.Polygon(hole), -ring))]
    kept = [part for part in kept if not part.is_empty]
    return shapely.difference(whole, shapely.MultiPolygon(kept)) if kept else whole


def _fit_in_one(container: shapely.Polygon, moving: np.ndarray) -> Region:
    """Fit inside one polygon: where the moving ring does not meet what is not container."""
    x0, y0, x1, y1 = container.bounds
    low_x, low_y, high_x, high_y = bounds(moving)
    # With a container that could lie within the piece, windings would not count common parts (see `outlines`).
    if high_x - low_x >= x1 - x0 or high_y - low_y >= y1 - y0:
        return shapely.Polygon()
    return _united([ring[::-1] for ring in _open_rings(container)], -moving, 1)


def _open_rings(shape: shapely.Polygon) -> list[np.ndarray]:
    """Outer ring, counter-clockwise, and then holes, clockwise, without the closing point."""
    rings = shapely.get_rings(shape)
    ccw = shapely.is_ccw(rings)
    return [
        shapely.get_coordinates(ring)[:-1][:: 1 if left == (k == 0) else -1]
        for k, (ring, left) in enumerate(zip(rings, ccw, strict=True))
    ]


def _united(rings: Sequence[np.ndarray], ring: np.ndarray, base: int) -> Region:
    """Sum of what lies left of `rings` with `ring`; with base 1, for rings about the outside, all other points."""
    start = np.cumsum([0, *map(len, rings)])
    points = np.concatenate(rings)
    middle_a, reach_a = _box_middle(points)
    middle_b, reach_b = _box_middle(ring)
    ring = ring if shapely.is_ccw(shapely.LinearRing(ring)) else ring[::-1]
    for share in GRIDS:
        # Powers of two keep all but the rounding itself exact, the middles added back included.
        step = 2.0 ** (frexp(reach_a + reach_b)[1] - BITS) / share
        a, b = np.rint((points - middle_a) / step), np.rint((ring - middle_b) / step)
        ok, found, loop_start = outlines(
            a.astype(np.int64), start, b.astype(np.int64), np.array((0, len(b))), base, base == 0
        )
        if ok:
            return _polygons(found * step + (middle_a + middle_b), loop_start, step)
    raise GeometryError("expected outlines that enclose area, found one that does not")


def _box_middle(points: np.ndarray) -> tuple[np.ndarray, float]:
    """Middle of the bounding box, on whole mm for exact sums, and the furthest a coordinate lies from it."""
    middle = np.rint(0.5 * (points.min(axis=0) + points.max(axis=0)))
    return middle, float(np.abs(points - middle).max())


def _polygons(points: np.ndarray, start: np.ndarray, step: float) -> Region:
    """Polygons of simple loops, outer rings counter-clockwise and holes clockwise; slivers of grid width dropped."""
    if len(start) == 1:
        return shapely.Polygon()
    after = np.arange(1, len(points) + 1)
    after[start[1:] - 1] = start[:-1]
    along = points[after] - points
    local = points - np.repeat(points[start[:-1]], np.diff(start), axis=0)
    area = 0.5 * np.add.reduceat(local[:, 0] * along[:, 1] - local[:, 1] * along[:, 0], start[:-1])
    sliver = np.abs(area) <= step * np.add.reduceat(np.hypot(along[:, 0], along[:, 1]), start[:-1])
    loops = [points[i:j] for i, j in pairwise(start)]
    shells = [k for k in np.argsort(area) if area[k] > 0.0 and not sliver[k]]
    holes: dict[int, list[np.ndarray]] = {k: [] for k in shells}
    for k in np.flatnonzero((area < 0.0) & ~sliver):
        owner = shells[0] if len(shells) == 1 else _around(loops, shells, loops[k])
        holes[owner].append(loops[k])
    parts = [shapely.Polygon(loops[k], holes[k]) for k in shells]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def _around(loops: Sequence[np.ndarray], shells: Sequence[int], hole: np.ndarray) -> int:
    """The first of `shells`, smallest first, that holds the hole; asked for a middle, as rings may meet in corners."""
    middle = shapely.Point(0.5 * (hole[0] + hole[1]))
    return next(k for k in shells if shapely.contains(shapely.Polygon(loops[k]), middle))
