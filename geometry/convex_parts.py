"""A polygon cut into convex parts, and the Minkowski sums of such parts.

A second way to `geometry.nofit.minkowski_sum`, which tests compare with the first.
"""

from typing import NamedTuple

import numpy as np
import shapely

from geometry._kernels import merge_triangles, sum_pairs
from geometry.precision import GeometryError


class Parts(NamedTuple):
    """Convex rings in flat arrays: part k is `points[start[k]:start[k + 1]]`, counter-clockwise, not closed."""

    points: np.ndarray
    """(n, 2) float64."""
    start: np.ndarray
    """(parts + 1,) int64."""


def convex_parts(ring: np.ndarray) -> list[np.ndarray]:
    """Cut a simple ring (n, 2) into convex rings (k, 2) that use its vertices and cover it without overlap.

    Raises
    ------
    GeometryError
        If the outline crosses itself.

    References
    ----------
    S. Hertel, K. Mehlhorn (1983), Fast triangulation of simple polygons, doi:10.1007/3-540-12689-9_105:
    diagonals of a triangulation are dropped where both ends stay convex; at most four times as many parts
    as the least possible.
    """
    parts = parts_of(shapely.Polygon(ring))
    return np.split(parts.points, parts.start[1:-1])


def parts_of(shape: shapely.Geometry) -> Parts:
    """Cut a polygon, with or without holes, or a set of disjoint polygons into convex parts, as `convex_parts` does.

    Raises
    ------
    GeometryError
        If a ring crosses itself, or rings cross each other.
    """
    rings = shapely.get_rings(shape)
    if len(rings) == 1:
        ring = shapely.get_coordinates(rings)[:-1]
        ring = ring if shapely.is_ccw(rings[0]) else ring[::-1]
        if _is_convex(ring):
            return Parts(np.ascontiguousarray(ring), np.array((0, len(ring)), np.int64))
    try:
        triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shape))
        corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    except (shapely.errors.GEOSException, ValueError) as error:
        raise GeometryError(f"expected an outline that does not cross itself, found {error}") from error
    points, index = np.unique(np.ascontiguousarray(corners).view(np.complex128).ravel(), return_inverse=True)
    points = points.view(np.float64).reshape(-1, 2)
    order, start = merge_triangles(points, index.reshape(-1, 3))
    return Parts(points[order], start)


def sums(a: Parts, b: Parts) -> np.ndarray:
    """Minkowski sum of every part of `a` with every part of `b`, as an array of shapely polygons."""
    points, start = sum_pairs(a.points, a.start, b.points, b.start)
    return shapely.from_ragged_array(
        shapely.GeometryType.POLYGON, points, (start, np.arange(len(start), dtype=np.int64))
    )


def _is_convex(ring: np.ndarray) -> bool:
    """Whether a simple counter-clockwise ring turns left, or not at all, everywhere."""
    along = np.roll(ring, -1, axis=0) - ring
    after = np.roll(along, -1, axis=0)
    return bool((along[:, 0] * after[:, 1] >= along[:, 1] * after[:, 0]).all())
