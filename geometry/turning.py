"""An outline turned about the origin by any angle up to a limit: what all its turns share, and what they sweep.

If what is shared fits nowhere, the outline fits nowhere at any of these angles; where what is swept fits, it fits at
all of them. So one test answers for a whole range of headings, and a search that halves ranges proves what single
headings cannot.
"""

from math import ceil, radians, sin

import numpy as np
import shapely

from geometry.polygon import polygon, ring_of, rings_of
from geometry.pose import rotate

COPY_STEP_DEG = 3.0
"""About how far apart the turned copies are; what lies between two of them is made up for by an offset."""

THIN_SHARE = 0.1
"""Results are thinned by this share of the way that the furthest corner turns."""


def reach_of(ring: np.ndarray) -> float:
    """Distance of the furthest corner from the origin, mm."""
    return float(np.hypot(*np.asarray(ring).T).max())


def shared_by_turns(ring: np.ndarray, half_deg: float) -> np.ndarray | None:
    """Return a ring that lies within `ring` (n, 2) turned by any angle of at most `half_deg`; None if there is none.

    A point moves by 2 r sin(θ/2) when it is turned by θ, r being its distance from the origin: so what some turned
    copies share, moved inwards by the way to the next copy, lies within all turns between them. The result is the
    largest part of that, with fewer corners; `ring` itself for no angle.
    """
    if half_deg <= 0.0:
        return np.asarray(ring)
    copies, between, thin = _copies(ring, half_deg)
    common = shapely.intersection_all(copies)
    left = common.buffer(-between, join_style="mitre")
    thinned = shapely.simplify(common.buffer(-between - thin, join_style="mitre"), thin)
    # about the point a ring starts from it may be thinned by more than was asked for
    rings = rings_of(thinned if shapely.covers(left, thinned) else left)
    return rings[0] if rings else None


def swept_by_turns(ring: np.ndarray, half_deg: float) -> np.ndarray:
    """Return a ring that holds `ring` (n, 2) turned by any angle of at most `half_deg`; holes are closed."""
    if half_deg <= 0.0:
        return np.asarray(ring)
    copies, between, thin = _copies(ring, half_deg)
    # round joins of 4 chords to the quarter fall short by 2 %
    whole = shapely.union_all(copies)
    swept = whole.buffer(1.02 * between, quad_segs=4)
    thinned = shapely.simplify(whole.buffer(1.02 * (between + thin), quad_segs=4), thin)
    return ring_of(thinned if shapely.covers(thinned, swept) else swept)


def _copies(ring: np.ndarray, half_deg: float) -> tuple[list[shapely.Polygon], float, float]:
    """Turned copies; how far a point of one is from its place in the nearest turn; and by how much to thin."""
    steps = 2 * ceil(half_deg / COPY_STEP_DEG)
    reach = reach_of(ring)
    between = 2.0 * reach * sin(radians(half_deg / (2 * steps)))
    thin = THIN_SHARE * 2.0 * reach * sin(radians(0.5 * half_deg))
    return [polygon(rotate(ring, angle)) for angle in np.linspace(-half_deg, half_deg, steps + 1)], between, thin

