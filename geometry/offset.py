"""Outlines moved outwards or inwards: by one distance, or by a distance that varies along the outline."""

from math import ceil, pi

import numpy as np
import shapely

from geometry.curves import chord_step
from geometry.polygon import polygon, ring_of, rings_of
from geometry.precision import CHORD_ERROR_MM, GeometryError, as_ring
from geometry.thinning import thin, thin_outwards

ARC_SHARE = 0.05
"""Share of the allowed error that goes to arcs; the rest is left to thinning, which saves vertices."""

UNION_GRID_MM = 1e-7
"""Grid for unions that fail in full precision: snapping to it cannot fail, and takes five times as long."""

LEAST_WIDTH_MM = 1e-6
"""Distances below this count as none: an arc so small has no shape in floating point."""


def offset_uniform(ring: np.ndarray, distance: float, chord_error: float = CHORD_ERROR_MM) -> tuple[np.ndarray, ...]:
    """Return `ring` moved by `distance` mm: outwards when positive, inwards when negative.

    Outwards the result is one ring, corners rounded, holes closed; it never comes nearer to `ring` than
    `distance`, and lies at most `chord_error` beyond it. Inwards it is within `chord_error` of the true
    offset, and may be several rings (largest first) or none.

    Raises
    ------
    GeometryError
        If `distance` is not finite.
    """
    if not np.isfinite(distance):
        raise GeometryError(f"expected a finite distance, found {distance}")
    if distance == 0.0:
        return (as_ring(ring),)
    # Arcs cut short by `slack` on a circle that is `slack` too wide: no nearer than `distance` anywhere.
    # The library rounds the number of chords in an arc, so that one may span 1.5 times the step asked for.
    slack = ARC_SHARE * chord_error
    reach = abs(distance) + slack
    quarter = ceil(1.5 * 0.5 * pi / chord_step(reach, slack))
    moved = polygon(ring).buffer(np.copysign(reach, distance), quad_segs=quarter)
    if distance > 0.0:
        return (thin_outwards(ring_of(moved), chord_error - slack),)
    return tuple(thin(part, chord_error - slack) for part in rings_of(moved))


def offset_variable(ring: np.ndarray, distances: np.ndarray, chord_error: float = CHORD_ERROR_MM) -> np.ndarray:
    """Return `ring` moved outwards by a distance that varies along it.

    The result bounds the union of `ring` with a disc about every point of its outline, the disc's radius
    being the distance wanted there. Along an edge the distance runs linearly from end to end, and the discs
    of an edge make up exactly the convex hull of the discs at its two ends; so the union is taken
    over one such hull an edge. It cannot cross itself, holes are closed, and every point of the outline has
    at least its distance around it. No point of the result is further from `ring` than the
    largest distance plus `chord_error`.

    Parameters
    ----------
    ring : (n, 2) float array
        Outline, mm.
    distances : (n,) array-like
        Distance at each vertex, mm, not negative.
    chord_error : float
        How far the result may lie beyond the true union, mm; it never falls short of it (1e-6 mm left to rounding).

    Returns
    -------
    (m, 2) float array, a ring.

    Raises
    ------
    GeometryError
        If there is not one finite distance, not below zero, for each vertex.
    """
    widths = np.asarray(distances, dtype=np.float64)
    if widths.shape != (len(ring),):
        raise GeometryError(f"expected {len(ring)} distances, one for each vertex, found shape {widths.shape}")
    if not (np.isfinite(widths) & (widths >= 0.0)).all():
        raise GeometryError("expected finite distances that are not below zero")
    widths = np.where(widths < LEAST_WIDTH_MM, 0.0, widths)
    if not widths.any():
        return as_ring(ring)
    step = chord_step(float(widths.max()), ARC_SHARE * chord_error)
    ends = np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)
    radii = np.stack((widths, np.roll(widths, -1)), axis=1)
    wide = radii.any(axis=1)
    hulls = _hulls_of_discs(ends[wide], radii[wide], step)
    return thin_outwards(ring_of(_union([polygon(ring), *hulls])), (1.0 - ARC_SHARE) * chord_error)


def _union(shapes: list[shapely.Polygon]) -> shapely.Polygon:
    """Union of overlapping polygons; on a fine grid where nearly touching arcs defeat the faster way."""
    try:
        return shapely.union_all(shapes)
    except shapely.GEOSException:
        return shapely.union_all(shapes, grid_size=UNION_GRID_MM)


def _hulls_of_discs(ends: np.ndarray, radii: np.ndarray, step: float) -> np.ndarray:
    """Convex hulls of the discs about two points each; straight sides exact, arcs circumscribed in chords of `step`.

    ends : (n, 2, 2) centres of both discs; radii : (n, 2), one of the two above 0. Returns (n,) polygons.
    """
    along = ends[:, 1] - ends[:, 0]
    length = np.hypot(along[:, 0], along[:, 1])
    axis = np.arctan2(along[:, 1], along[:, 0])
    # The common tangents touch both circles at this angle to the axis; a disc within the other has no arc at all.
    touch = np.arccos(np.clip((radii[:, 0] - radii[:, 1]) / np.maximum(length, np.finfo(float).tiny), -1.0, 1.0))
    start = np.stack((axis + touch, axis - touch), axis=1).ravel()
    span = np.stack((2.0 * (pi - touch), 2.0 * touch), axis=1).ravel()
    radius, centre = radii.ravel(), ends.reshape(-1, 2)
    # Both ends of an arc and, between them, the corners of tangents to it: its chain of chords outside.
    chords = np.ceil(span / step - 1e-9).clip(1).astype(int)
    count = np.where(span > 0.0, np.where(radius > 0.0, chords + 2, 1), 0)
    arc = np.repeat(np.arange(len(count)), count)
    place = np.arange(len(arc)) - np.repeat(np.cumsum(count) - count, count)
    half = 0.5 * span / chords
    corner = (place > 0) & (place <= chords[arc])
    angle = start[arc] + half[arc] * np.where(corner, 2.0 * place - 1.0, np.where(place > 0, 2.0 * chords[arc], 0.0))
    far = np.where(corner, radius[arc] / np.cos(half[arc]), radius[arc])
    points = centre[arc] + far[:, None] * np.column_stack((np.cos(angle), np.sin(angle)))
    return np.asarray(shapely.polygons(shapely.linearrings(points, indices=arc // 2)))
