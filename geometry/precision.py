"""Tolerances, the coordinate grid and the ring convention, all in one place.

A *ring* is an ``(n, 2)`` float64 array of at least three points in mm,
counter-clockwise, not closed (the first point is not repeated), simple.
"""

from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import ArrayLike

COORDINATE_GRID_MM = 1e-4
"""Outlines and poses that leave a stage are rounded to this grid."""

CHORD_ERROR_MM = 0.05
"""Largest distance between a curve and the chords that replace it."""

JOIN_GAP_MM = 0.2
"""Open ends nearer than this are joined when a drawing is read."""

OVERLAP_DEPTH_MM = 1e-3
"""Two outlines overlap when one reaches deeper than this into the other."""


Region: TypeAlias = shapely.Polygon | shapely.MultiPolygon
"""What one or more outer rings enclose, less holes; empty too."""


class GeometryError(ValueError):
    """An outline that no operation here can use; the message says why."""


def as_ring(points: ArrayLike) -> np.ndarray:
    """Return `points` as a ring: float64, open, counter-clockwise, no repeated points.

    Parameters
    ----------
    points : (n, 2) array-like
        Outline in mm, open or closed, either sense.

    Raises
    ------
    GeometryError
        If fewer than three distinct points remain, a coordinate is not finite,
        or the enclosed area is zero.
    """
    ring = np.array(points, dtype=np.float64)
    if ring.ndim != 2 or ring.shape[1] != 2:
        raise GeometryError(f"expected an (n, 2) array of points, found shape {ring.shape}")
    if not np.isfinite(ring).all():
        raise GeometryError("expected finite coordinates, found NaN or infinity")
    keep = np.any(ring != np.roll(ring, 1, axis=0), axis=1)
    ring = ring[keep]
    if len(ring) < 3:
        raise GeometryError(f"expected at least 3 distinct points, found {len(ring)}")
    x, y = ring[:, 0], ring[:, 1]
    doubled = float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y))
    if doubled == 0.0:
        raise GeometryError("expected an outline that encloses area, found zero area")
    ring = np.ascontiguousarray(ring[::-1] if doubled < 0 else ring)
    ring.setflags(write=False)
    return ring


def on_grid(ring: np.ndarray) -> np.ndarray:
    """Round `ring` to the coordinate grid and drop points that fall together."""
    return as_ring(np.round(np.asarray(ring) / COORDINATE_GRID_MM) * COORDINATE_GRID_MM)
