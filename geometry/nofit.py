"""Where a piece touches another (no-fit polygon) and where it fits inside a container (inner-fit polygon).

Rings as in `geometry.precision`. A position is where the origin of the moving ring's coordinates comes to
lie. No-fit and inner-fit polygons are Minkowski sums: the moving ring at position t meets the fixed ring
exactly when t lies in fixed ⊕ (−moving). Sums are taken over convex parts and united once.

References
----------
P. K. Agarwal, E. Flato, D. Halperin (2002), Polygon decomposition for efficient construction of Minkowski
sums, doi:10.1016/S0925-7721(01)00041-4.
J. Bennell, J. Oliveira (2008), The geometry of nesting problems: a tutorial,
doi:10.1016/j.ejor.2006.11.038.
"""

from math import cos, pi

import numpy as np
import shapely

from geometry.convex_parts import Parts, convex_parts, opposite, parts_of, sum_parts, sums
from geometry.polygon import bounds

__all__ = ["convex_parts", "inner_fit_polygon", "inner_fit_strip", "minkowski_sum", "no_fit_polygon"]

ARC_SEGMENTS = 8
"""Chords per quarter circle where a gap goes round a corner; they lie outside the circle."""


def minkowski_sum(a: np.ndarray, b: np.ndarray) -> shapely.Polygon | shapely.MultiPolygon:
    """Return all sums of a point of `a` and a point of `b`; rings (n, 2) and (m, 2), mm.

    Holes of the sum are kept. Holes without area (a point or a line where a piece fits in exactly) are closed.

    Raises
    ------
    GeometryError
        If an outline crosses itself.
    """
    return shapely.union_all(sums(parts_of(shapely.Polygon(a)), parts_of(shapely.Polygon(b))))


def no_fit_polygon(
    fixed: np.ndarray, moving: np.ndarray, gap: float = 0.0
) -> shapely.Polygon | shapely.MultiPolygon:
    """Return the positions of `moving` at which it overlaps or touches `fixed`, or comes nearer than `gap` mm.

    On its boundary the two touch, or stand `gap` apart; its holes are the positions inside hollows of
    `fixed`. Where the gap goes round a corner the boundary stands up to 0.5 % of `gap` too far, never too near.

    Raises
    ------
    GeometryError
        If an outline crosses itself.
    """
    turned = opposite(parts_of(shapely.Polygon(moving)))
    if gap > 0.0:
        # A buffer of the sum would do, but shapely's may fall short of its distance by some 1e-4 of it.
        turned = sum_parts(turned, parts_of(shapely.Polygon(_around_disc(gap))))
    return shapely.union_all(sums(parts_of(shapely.Polygon(fixed)), turned))


def inner_fit_polygon(
    container: np.ndarray | shapely.Polygon | shapely.MultiPolygon, moving: np.ndarray
) -> shapely.Polygon | shapely.MultiPolygon:
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
        If an outline crosses itself.
    """
    shape = container if isinstance(container, shapely.Geometry) else shapely.Polygon(container)
    turned = opposite(parts_of(shapely.Polygon(moving)))
    fits = [_fit_in_one(part, moving, turned) for part in shapely.get_parts(shape) if not part.is_empty]
    return fits[0] if len(fits) == 1 else shapely.union_all(fits)


def inner_fit_strip(width: float, moving: np.ndarray) -> tuple[float, float] | None:
    """Return the least and largest y that keep `moving` in the strip 0 ≤ y ≤ `width`, mm; None if it does not fit."""
    _, low, _, high = bounds(moving)
    return (-low, width - high) if high - low <= width else None


def _around_disc(radius: float) -> np.ndarray:
    """The regular polygon whose sides touch a disc about the origin from outside."""
    angles = pi / (2 * ARC_SEGMENTS) * np.arange(4 * ARC_SEGMENTS)
    return radius / cos(pi / (4 * ARC_SEGMENTS)) * np.column_stack((np.cos(angles), np.sin(angles)))


def _fit_in_one(container: shapely.Polygon, moving: np.ndarray, turned: Parts) -> shapely.Geometry:
    """Fit inside one polygon: positions in the bounding box, less those that meet what is not container."""
    x0, y0, x1, y1 = container.bounds
    low_x, low_y, high_x, high_y = bounds(moving)
    if high_x - low_x >= x1 - x0 or high_y - low_y >= y1 - y0:
        return shapely.Polygon()
    room = shapely.box(x0 - low_x, y0 - low_y, x1 - high_x, y1 - high_y)
    margin = max(high_x - low_x, high_y - low_y)
    frame = shapely.box(x0 - margin, y0 - margin, x1 + margin, y1 + margin)
    rings = shapely.get_rings(container)
    outside = shapely.Polygon(frame.exterior, rings[:1])
    forbidden = [sums(parts_of(part), turned) for part in (outside, *shapely.polygons(rings[1:]))]
    # What the box itself keeps out need not be united.
    forbidden = np.concatenate(forbidden)
    near = shapely.bounds(forbidden)
    left, below, right, above = room.bounds
    reaches = (near[:, 0] < right) & (near[:, 1] < above) & (near[:, 2] > left) & (near[:, 3] > below)
    return shapely.difference(room, shapely.union_all(forbidden[reaches]))
