"""Left and right: whether an outline is its own mirror image, and pieces for the other foot."""

from dataclasses import replace

import numpy as np
import shapely

from geometry.polygon import bounds, edge_lengths, mirror_distance, polygon, ring_of
from geometry.pose import mirror
from nest.pieces.piece import Foot, Piece

OWN_MIRROR_MM = 0.2
"""An outline nowhere further than this from its mirror image serves both feet."""


def is_own_mirror(ring: np.ndarray, allowances: np.ndarray | None = None, tolerance_mm: float = OWN_MIRROR_MM) -> bool:
    """Whether `ring` and its mirror image about the axis are nowhere more than `tolerance_mm` apart.

    With the allowance at each vertex, (n,) array, mm, the same is asked of `ring` moved out by its allowances: as
    that is no further from its mirror image than `ring` is, plus the difference between the allowances of
    points that mirror each other.
    """
    apart = mirror_distance(ring)
    if allowances is not None and apart <= tolerance_mm:
        lengths = edge_lengths(ring)
        mirrored = shapely.points(ring * (1.0, -1.0))
        at = shapely.line_locate_point(shapely.LinearRing(ring), mirrored)
        start = np.concatenate(((0.0,), np.cumsum(lengths[:-1])))
        other = np.interp(at, start, allowances, period=lengths.sum())
        apart += float(np.abs(allowances - other).max())
    return apart <= tolerance_mm


def symmetrical(ring: np.ndarray) -> np.ndarray:
    """Return the half of `ring` on the side y > 0 together with its mirror image.

    For an outline that is its own mirror image but for its thinning.

    Raises
    ------
    GeometryError
        If the axis does not run through the outline.
    """
    low_x, _, high_x, high_y = bounds(ring)
    half = shapely.intersection(polygon(ring), shapely.box(low_x - 1.0, 0.0, high_x + 1.0, high_y + 1.0))
    mirrored = shapely.transform(half, lambda points: points * (1.0, -1.0))
    return ring_of(shapely.union(half, mirrored))


def for_other_foot(piece: Piece, piece_id: str) -> Piece:
    """Return the mirrored piece, for the other foot, under its own id."""
    other = {Foot.LEFT: Foot.RIGHT, Foot.RIGHT: Foot.LEFT, Foot.EITHER: Foot.EITHER}[piece.foot]
    cut, net = mirror(piece.cut_outline), mirror(piece.net_outline)
    return replace(piece, piece_id=piece_id, foot=other, cut_outline=cut, net_outline=net)
