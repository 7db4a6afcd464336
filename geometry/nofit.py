"""Where a piece touches another (no-fit polygon) and where it fits inside a container (inner-fit polygon).

Rings as in `geometry.precision`, simple (not checked here). A position is where the origin of the moving ring's
coordinates comes to lie. No-fit and inner-fit polygons are Minkowski sums: the moving ring at position t meets the
fixed ring exactly when t lies in fixed ⊕ (−moving). They are exact to the grid of `geometry.winding`: 1e-6 mm for
two vamps, 4e-6 mm for a hide.

References
----------
J. Bennell, J. Oliveira (2008), The geometry of nesting problems: a tutorial,
doi:10.1016/j.ejor.2006.11.038.
"""

from collections.abc import Sequence
from itertools import product
from math import cos, pi

import numpy as np
import shapely

from geometry.polygon import bounds
from geometry.precision import Region
from geometry.winding import rings_left, union, wound, wound_rings

ARC_SEGMENTS = 8
"""Chords per quarter circle where a gap goes round a corner; they lie outside the circle."""


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
    sums = [_sum_of_one(part, ring) for part in _parts(a)]
    return sums[0] if len(sums) == 1 else union(sums)


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


def no_fit_rings(fixed: np.ndarray, moving: np.ndarray) -> list[np.ndarray]:
    """Return the rings of `no_fit_polygon` without gap, holes too, of two rings as `as_ring` makes them; mm.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    return wound_rings([([fixed], -moving)], [])[0]


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
    return joint_fit_polygon([(container, moving)])


def joint_fit_polygon(demands: Sequence[tuple[np.ndarray | Region, np.ndarray]]) -> Region:
    """Return the positions at which several rings that move together lie each inside a container of its own.

    The intersection of the inner-fit polygons, in one go: such as for a rough outline on the whole hide and its net
    outline on good ground. `demands` holds (container, moving) as for `inner_fit_polygon`.
    """
    rings = [np.asarray(moving, dtype=np.float64) for _, moving in demands]
    fits = []
    # A ring lies within one part of its container: each choice of parts has positions of its own.
    for parts in product(*(_parts(container) for container, _ in demands)):
        if all(_has_room(part, ring) for part, ring in zip(parts, rings, strict=True)):
            outside = [[ring[::-1] for ring in rings_left(part)] for part in parts]
            terms = [(around, -ring) for around, ring in zip(outside, rings, strict=True)]
            fits += _parts(wound(terms, [], base=len(terms), free=True))
    if not fits:
        return shapely.Polygon()
    return fits[0] if len(fits) == 1 else shapely.MultiPolygon(fits)


def inner_fit_strip(width: float, moving: np.ndarray) -> tuple[float, float] | None:
    """Return the least and largest y that keep `moving` in the strip 0 ≤ y ≤ `width`, mm; None if it does not fit."""
    _, low, _, high = bounds(moving)
    return (-low, width - high) if high - low <= width else None


def _parts(shape: np.ndarray | Region) -> list[shapely.Polygon]:
    whole = shape if isinstance(shape, shapely.Geometry) else shapely.Polygon(shape)
    return [part for part in shapely.get_parts(whole) if not part.is_empty]


def _has_room(container: shapely.Polygon, moving: np.ndarray) -> bool:
    """Whether the container is larger along both axes: only then do windings count common parts with its outside."""
    x0, y0, x1, y1 = container.bounds
    low_x, low_y, high_x, high_y = bounds(moving)
    return bool(high_x - low_x < x1 - x0 and high_y - low_y < y1 - y0)


def _around_disc(radius: float) -> np.ndarray:
    """The regular polygon whose sides touch a disc about the origin from outside."""
    angles = pi / (2 * ARC_SEGMENTS) * np.arange(4 * ARC_SEGMENTS)
    return radius / cos(pi / (4 * ARC_SEGMENTS)) * np.column_stack((np.cos(angles), np.sin(angles)))


def _sum_of_one(shape: shapely.Polygon, ring: np.ndarray) -> Region:
    """Sum of a polygon: the sum of its outer ring, less what lies in a hole together with all of the moving ring."""
    outer, *holes = rings_left(shape)
    kept = [part for hole in holes for part in _parts(inner_fit_polygon(hole, -ring))]
    return wound([([outer], ring)], [loop[::-1] for part in kept for loop in rings_left(part)])
