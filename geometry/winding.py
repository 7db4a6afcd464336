"""Regions bounded by closed curves, by how often the curves wind about them: sums and unions of polygons.

All is worked out in whole numbers (`geometry._convolution`, `geometry._arrangement`): coordinates are first rounded to
a grid of a 2³⁰th to a 2²⁹th of the extent, 1e-6 mm for two vamps, 4e-6 mm for a hide. Within that the results are
exact, and edges that coincide or touch, the rule between pieces, do no harm. (Where edges nearly coincide, shapely's
unions lost whole parts or failed, in about one of a thousand contrived cases.) Regions no wider than the grid are
dropped.
"""

from collections.abc import Sequence
from itertools import accumulate

import numpy as np
import shapely

from geometry._wound import wound_points
from geometry.precision import GeometryError, Region

Term = tuple[Sequence[np.ndarray], np.ndarray]
"""Rings, with the shape they bound to their left, and one ring to be added to that shape."""


def wound(terms: Sequence[Term], loops: Sequence[np.ndarray], base: int = 0, *, free: bool = False) -> Region:
    """Return the points about which curves wind more than 0 times; with `free`, the points about which they do not.

    Parameters and errors as `wound_rings`.
    """
    rings, areas = wound_rings(terms, loops, base, free=free)
    return _polygons(rings, areas)


def wound_rings(
    terms: Sequence[Term], loops: Sequence[np.ndarray], base: int = 0, *, free: bool = False
) -> tuple[list[np.ndarray], np.ndarray]:
    """Rings of what `wound` returns, outer ones counter-clockwise and holes clockwise, and their signed areas, mm².

    Parameters
    ----------
    terms : sequence of (rings, ring)
        Each stands for the sum of a shape and a ring's inside: about each point it winds as often as the shape and the
        ring's inside, turned half round and moved to the point, have common parts (less holes in these).
    loops : sequence of (n, 2) rings
        Curves by themselves: they wind once about what is to their left.
    base : int
        How often all curves wind about points far away: one for each term whose shape is unbounded.

    Raises
    ------
    GeometryError
        If a ring of a term encloses nothing.
    """
    shape, shape_start = laid_end_to_end([ring for rings, _ in terms for ring in rings])
    moving, moving_start = laid_end_to_end([ring for _, ring in terms])
    loop, loop_start = laid_end_to_end(loops)
    term_start = np.cumsum([0, *(len(rings) for rings, _ in terms)])
    ok, points, start, areas = wound_points(
        shape, shape_start, term_start, moving, moving_start, loop, loop_start, base, not free)
    if not ok:
        raise GeometryError("expected outlines that enclose area, found one that does not")
    return [points[start[k]:start[k + 1]] for k in range(len(areas))], areas


def laid_end_to_end(rings: Sequence[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Points of all rings in one array, and the first of each and their end."""
    start = np.array([0, *accumulate(map(len, rings))], np.int64)
    return np.concatenate(rings) if len(rings) else np.empty((0, 2)), start


def union(regions: Sequence[Region]) -> Region:
    """Return the union of polygons, with or without holes."""
    loops = [ring for region in regions for part in shapely.get_parts(region) for ring in rings_left(part)]
    return wound([], loops) if loops else shapely.Polygon()


def rings_left(shape: shapely.Polygon) -> list[np.ndarray]:
    """Rings of one polygon with its inside to their left: outer ring first, then holes; not closed."""
    rings = shapely.get_rings(shape)
    ccw = shapely.is_ccw(rings)
    return [
        shapely.get_coordinates(ring)[:-1][:: 1 if left == (k == 0) else -1]
        for k, (ring, left) in enumerate(zip(rings, ccw, strict=True))
    ]


def _polygons(rings: Sequence[np.ndarray], area: np.ndarray) -> Region:
    """Polygons of simple rings: outer ones of positive area, holes of negative."""
    shells = [k for k in np.argsort(area).tolist() if area[k] > 0.0]
    if not shells:
        return shapely.Polygon()
    holes: dict[int, list[np.ndarray]] = {k: [] for k in shells}
    for k in np.flatnonzero(area < 0.0).tolist():
        owner = shells[0] if len(shells) == 1 else _around(rings, shells, rings[k])
        holes[owner].append(rings[k])
    parts = [shapely.Polygon(rings[k], holes[k]) for k in shells]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def _around(loops: Sequence[np.ndarray], shells: Sequence[int], hole: np.ndarray) -> int:
    """The first of `shells`, smallest first, that holds the hole; asked for a middle, as rings may meet in corners."""
    middle = shapely.Point(0.5 * (hole[0] + hole[1]))
    return next(k for k in shells if shapely.contains(shapely.Polygon(loops[k]), middle))
