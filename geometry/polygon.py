"""Measures of rings: area, centroid, extent, validity, likeness.

Rings as in `geometry.precision`. A shapely polygon is made here and nowhere else, so that the ring
convention has one way out (`polygon`) and one way back (`ring_of`, `rings_of`).
"""

from collections.abc import Iterable

import numpy as np
import shapely

from geometry.pose import mirror
from geometry.precision import GeometryError, as_ring


def polygon(ring: np.ndarray, holes: Iterable[np.ndarray] = ()) -> shapely.Polygon:
    """Return `ring` (n, 2), mm, less the rings in `holes`, as a shapely polygon."""
    return shapely.Polygon(ring, list(holes) or None)


def ring_of(shape: shapely.Polygon) -> np.ndarray:
    """Return the outer ring of a shapely polygon; its holes are closed.

    Raises
    ------
    GeometryError
        If `shape` is not one polygon, or encloses nothing.
    """
    if shape.geom_type != "Polygon" or shape.is_empty:
        raise GeometryError(f"expected one polygon, found {'nothing' if shape.is_empty else shape.geom_type}")
    return as_ring(shapely.get_coordinates(shape.exterior))


def rings_of(shape: shapely.Geometry) -> tuple[np.ndarray, ...]:
    """Return the outer ring of every polygon within `shape`, largest first; points and lines are dropped."""
    parts = [part for part in shapely.get_parts(shapely.get_parts(shape)) if part.geom_type == "Polygon"]
    rings = [ring_of(part) for part in parts if part.area > 0.0]
    return tuple(sorted(rings, key=area, reverse=True))


def snapped(shape: shapely.Geometry, grid_mm: float) -> shapely.Geometry:
    """The geometry with its corners on a grid, kept valid, as one whose further use is not bound to that grid.

    What GEOS has put on a grid it would round to it in all that is made from it: offsets, differences, unions.
    """
    return shapely.set_precision(shapely.set_precision(shape, grid_mm), 0.0)


def signed_area(ring: np.ndarray) -> float:
    """Area within `ring` (n, 2), mm²; negative when it runs clockwise.

    Summed about the first point, so that a ring far from the origin loses no digits.
    """
    x, y = (np.asarray(ring) - ring[0]).T
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y))


def area(ring: np.ndarray) -> float:
    """Area within `ring` (n, 2), mm²."""
    return abs(signed_area(ring))


def centroid(ring: np.ndarray) -> np.ndarray:
    """Centre of area of `ring` as an array (x, y), mm."""
    local = np.asarray(ring) - ring[0]
    following = np.roll(local, -1, axis=0)
    cross = local[:, 0] * following[:, 1] - following[:, 0] * local[:, 1]
    return np.asarray(ring[0] + (cross[:, None] * (local + following)).sum(axis=0) / (3.0 * cross.sum()))


def edge_lengths(ring: np.ndarray) -> np.ndarray:
    """Length of each edge, from vertex i to vertex i + 1, as an (n,) array, mm."""
    return np.asarray(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T))


def bounds(ring: np.ndarray) -> tuple[float, float, float, float]:
    """Bounding box (least x, least y, largest x, largest y), mm."""
    (low_x, low_y), (high_x, high_y) = np.min(ring, axis=0), np.max(ring, axis=0)
    return float(low_x), float(low_y), float(high_x), float(high_y)


def size(ring: np.ndarray) -> tuple[float, float]:
    """Extent along x and along y, mm."""
    low_x, low_y, high_x, high_y = bounds(ring)
    return high_x - low_x, high_y - low_y


def convex_hull(ring: np.ndarray) -> np.ndarray:
    """Smallest convex ring around `ring`."""
    return ring_of(shapely.convex_hull(polygon(ring)))


def is_simple(ring: np.ndarray) -> bool:
    """Whether the outline neither crosses nor touches itself."""
    return bool(shapely.is_simple(shapely.LinearRing(ring)))


def why_not_simple(ring: np.ndarray) -> str:
    """Where the outline crosses or touches itself, in words; "" when it does not."""
    return "" if is_simple(ring) else shapely.is_valid_reason(polygon(ring))


def contains(outer: np.ndarray, inner: np.ndarray, tolerance: float = 0.0) -> bool:
    """Whether `inner` lies within `outer`, touching allowed, sticking out by no more than `tolerance` mm."""
    shape = polygon(outer)
    return bool(shapely.covers(shape.buffer(tolerance) if tolerance > 0.0 else shape, polygon(inner)))


def hausdorff_distance(ring: np.ndarray, other: np.ndarray, tolerance: float = 1e-4) -> float:
    """Largest distance from a point of either outline to the other outline, mm.

    All points of the edges count, not the vertices alone. The value is never too large, and too
    small by at most `tolerance`.
    """
    return max(_furthest(ring, other, tolerance), _furthest(other, ring, tolerance))


def mirror_distance(ring: np.ndarray) -> float:
    """Hausdorff distance between the outline and its own mirror image about y = 0, mm; exact to 1e-3."""
    return _furthest(ring, mirror(ring), 1e-3)


def _furthest(ring: np.ndarray, other: np.ndarray, tolerance: float) -> float:
    """Directed Hausdorff distance by branch and bound over the edges of `ring`.

    The distance from a point to one segment is a convex function of the point, so along an edge
    it is at most its value at the edge's ends; the least of these over the segments of `other` bounds
    the edge from above, its ends bound it from below, and halving closes the gap.
    """
    starts, ends = np.asarray(ring), np.roll(ring, -1, axis=0)
    from_starts = _to_segments(starts, other)
    from_ends = np.roll(from_starts, -1, axis=0)
    furthest = float(from_starts.min(axis=1).max())
    while True:
        split = np.maximum(from_starts, from_ends).min(axis=1) > furthest + tolerance
        if not split.any():
            return furthest
        starts, ends, from_starts, from_ends = starts[split], ends[split], from_starts[split], from_ends[split]
        middles = 0.5 * (starts + ends)
        from_middles = _to_segments(middles, other)
        furthest = max(furthest, float(from_middles.min(axis=1).max()))
        starts, ends = np.concatenate((starts, middles)), np.concatenate((middles, ends))
        from_starts = np.concatenate((from_starts, from_middles))
        from_ends = np.concatenate((from_middles, from_ends))


def _to_segments(points: np.ndarray, ring: np.ndarray) -> np.ndarray:
    """Distance from each of k points to each of the n edges of `ring`, as a (k, n) array."""
    along_x, along_y = (np.roll(ring, -1, axis=0) - ring).T
    x, y = points[:, 0, None] - ring[None, :, 0], points[:, 1, None] - ring[None, :, 1]
    share = np.clip((x * along_x + y * along_y) / (along_x * along_x + along_y * along_y), 0.0, 1.0)
    x -= share * along_x
    y -= share * along_y
    return np.asarray(np.sqrt(x * x + y * y))
