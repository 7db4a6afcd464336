"""Regions bounded by closed curves, by how often the curves wind about them: sums and unions of polygons.

All is worked out in whole numbers (`geometry._convolution`, `geometry._arrangement`): coordinates are first rounded to
a grid of a 2³⁰th to a 2²⁹th of the extent, 1e-6 mm for two vamps, 4e-6 mm for a hide. Within that the results are
exact, and edges that coincide or touch, the rule between pieces, do no harm. (Where edges nearly coincide, shapely's
unions lost whole parts or failed, in about one of a thousand contrived cases.) Regions no wider than the grid are
dropped.
"""

from collections.abc import Sequence
from math import frexp

import numpy as np
import shapely

from geometry._arrangement import outlines
from geometry._convolution import BITS, convolution
from geometry.precision import GeometryError, Region

GRIDS = (1.0, 0.75, 0.6)
"""Shares of the finest grid, tried in turn; only the first has ever been needed."""

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
    boxes = [(_box(np.concatenate(rings)), _box(ring)) for rings, ring in terms]
    middles = [np.rint(a[0] + b[0]) for a, b in boxes] + ([np.rint(_box(np.concatenate(loops))[0])] if loops else [])
    # On whole mm, so that what is moved by it keeps its bits.
    origin = middles[0]
    reach = [float((a[1] + b[1] + np.abs(a[0] + b[0] - origin)).max()) for a, b in boxes]
    reach += [float(np.abs(loop - origin).max()) for loop in loops]
    for share in GRIDS:
        step = 2.0 ** (frexp(max(reach))[1] - BITS) / share
        curves = [_sum_segments(rings, ring, origin, step) for rings, ring in terms]
        curves += [_loop_segments(loop, origin, step) for loop in loops]
        if any(len(curve) == 0 for curve in curves[: len(terms)]):
            break
        ok, found, start = outlines(np.concatenate(curves), base, not free)
        if ok:
            return _rings(found * step + origin, start, step)
    raise GeometryError("expected outlines that enclose area, found one that does not")


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


def _box(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Middle and half size of the bounding box."""
    low, high = points.min(axis=0), points.max(axis=0)
    return 0.5 * (low + high), 0.5 * (high - low)


def _whole(points: np.ndarray, origin: np.ndarray, step: float) -> np.ndarray:
    return np.asarray(np.rint((points - origin) / step).astype(np.int64))


def _sum_segments(rings: Sequence[np.ndarray], ring: np.ndarray, origin: np.ndarray, step: float) -> np.ndarray:
    start = np.cumsum([0, *map(len, rings)])
    middle = np.rint(_box(ring)[0])
    a = _whole(np.concatenate(rings), origin - middle, step)
    b = _whole(ring if shapely.is_ccw(shapely.LinearRing(ring)) else ring[::-1], middle, step)
    return convolution(a, start, b, np.array((0, len(b))))


def _loop_segments(loop: np.ndarray, origin: np.ndarray, step: float) -> np.ndarray:
    corners = _whole(loop, origin, step)
    segments = np.hstack((corners, np.roll(corners, -1, axis=0)))
    return np.asarray(segments[(segments[:, :2] != segments[:, 2:]).any(axis=1)])


def _rings(points: np.ndarray, start: np.ndarray, step: float) -> tuple[list[np.ndarray], np.ndarray]:
    """Simple loops and their areas, without slivers of grid width."""
    if len(start) == 1:
        return [], np.empty(0)
    after = np.arange(1, len(points) + 1)
    after[start[1:] - 1] = start[:-1]
    along = points[after] - points
    local = points - np.repeat(points[start[:-1]], np.diff(start), axis=0)
    area = 0.5 * np.add.reduceat(local[:, 0] * along[:, 1] - local[:, 1] * along[:, 0], start[:-1])
    sliver = np.abs(area) <= step * np.add.reduceat(np.hypot(along[:, 0], along[:, 1]), start[:-1])
    return [points[start[k] : start[k + 1]] for k in np.flatnonzero(~sliver)], area[~sliver]


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
