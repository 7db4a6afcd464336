"""Outlines with fewer vertices, within a stated tolerance.

`thin` keeps the outline within the tolerance on both sides; `thin_outwards` never loses ground: what it
returns contains what it was given.
"""

import numpy as np
import shapely

from geometry._thinning import thinned as thinned_vertices
from geometry.polygon import is_simple, polygon, ring_of
from geometry.precision import as_ring


def thin(ring: np.ndarray, tolerance: float) -> np.ndarray:
    """Return `ring` with fewer vertices: neither outline leaves the other by more than `tolerance` mm.

    Every vertex that stays is a vertex of `ring`; the result is simple if `ring` is.

    References
    ----------
    D. Douglas, T. Peucker (1973), Algorithms for the reduction of the number of points required to
    represent a digitized line or its caricature, doi:10.3138/FM57-6770-U75U-7727.
    """
    if tolerance <= 0.0:
        return as_ring(ring)
    # The point a ring starts from is dropped last, and only its own distance is asked then: those dropped before it may
    # come to lie further off. So let it be one that counts, the furthest out; if it goes all the same, ask for less.
    first = int(np.argmax(np.hypot(*(np.asarray(ring) - np.mean(ring, axis=0)).T)))
    whole = polygon(np.roll(ring, -first, axis=0))
    thinned = whole.simplify(tolerance)
    asked = tolerance
    while shapely.hausdorff_distance(thinned.exterior, whole.exterior) > tolerance * (1.0 + 1e-9):
        asked *= 0.5
        thinned = whole.simplify(asked)
    return ring_of(thinned)


def thin_outwards(ring: np.ndarray, tolerance: float) -> np.ndarray:
    """Return a ring with fewer vertices that contains `ring` and reaches out of it by at most `tolerance` mm.

    Two steps only ever add ground: to drop a hollow vertex, and to drop an edge between two other vertices
    while its neighbours are drawn out until they meet. The step that reaches out least is taken first, and
    only when its new edges stay within `tolerance` of `ring`. O(n log n) steps.
    A slit narrower than twice `tolerance` may be filled.
    """
    original = as_ring(ring)
    if tolerance <= 0.0:
        return original
    # Round joins cut short, never long: what lies within the band lies within the tolerance.
    band = shapely.orient_polygons(polygon(original).buffer(tolerance, quad_segs=8))
    edges = [np.column_stack((ring[:-1], ring[1:])) for ring in map(shapely.get_coordinates, shapely.get_rings(band))]
    x, y = (np.ascontiguousarray(column) for column in original.T)
    kept = thinned_vertices(x, y, np.concatenate(edges), np.array(band.bounds))
    thinned = as_ring(np.column_stack((x[kept], y[kept])))
    # A step looks at its own edges only: across a slit narrower than the tolerance two sides may meet.
    return thinned if is_simple(thinned) else original
