"""Whether two pieces, each with a region of positions of its own, can lie so that they keep clear of each other.

The ways from a position of the first to one of the second make up a Minkowski sum. They collide at just those ways
that lie inside the no-fit polygon of the two; so there is room for both exactly if some way lies outside.

Reference: J. Bennell, J. Oliveira (2008), doi:10.1016/j.ejor.2006.11.038 (no-fit polygon).
"""

from collections.abc import Iterator
from itertools import pairwise, product

import numpy as np
import shapely
from shapely.affinity import translate

from geometry.nofit import minkowski_sum
from geometry.polygon import polygon
from geometry.precision import Region
from geometry.winding import rings_left
from nest.room.ground import RELAX_MM, kept_clear, relaxed

MOST_WAYS = 20_000
"""Ways from corner to corner that are tried before the whole sum is made."""

LEAST_MM2 = 1e-9
"""Ways over an area no larger than this are rounding."""


def too_near(first: np.ndarray, second: np.ndarray, gap_mm: float) -> Region:
    """Ways from the first ring's origin to the second's at which the two are nearer than the gap, a little less."""
    clear = kept_clear(polygon(first), gap_mm)
    return relaxed(minkowski_sum(clear, -second), -RELAX_MM)


def may_part(first: Region, second: Region, near: Region) -> bool:
    """Whether some way from `first` to `second` lies outside `near`; never wrongly no."""
    shapely.prepare(near)
    for a, b in _parts(first, second):
        hull = _ways_between(a.convex_hull, b.convex_hull)
        if hull is not None and shapely.covers(near, hull):
            continue
        if _corners_apart(a, b, near) is not None or not _left(a, b, near).is_empty:
            return True
    return False


def parted(first: Region, second: Region, near: Region) -> tuple[tuple[np.ndarray, np.ndarray] | None, bool]:
    """A position within `first` and one within `second` with a way outside `near`, or None; and whether that is sure.

    It is unsure only where the ways outside `near` have an area and rounding hides the positions.
    """
    shapely.prepare(near)
    sure = True
    for a, b in _parts(first, second):
        ends = _corners_apart(a, b, near)
        if ends is not None:
            return ends, True
        for part in shapely.get_parts(_left(a, b, near)):
            way = shapely.get_coordinates(shapely.point_on_surface(part))[0]
            starts = shapely.intersection(a, translate(b, -way[0], -way[1]))
            if not starts.is_empty:
                start = shapely.get_coordinates(shapely.point_on_surface(starts))[0]
                return (start, start + way), True
            sure = False
    return None, sure


def _parts(first: Region, second: Region) -> Iterator[tuple[shapely.Polygon, shapely.Polygon]]:
    return product(without_holes(first), without_holes(second))


def without_holes(region: Region) -> list[shapely.Polygon]:
    """The region in parts without holes: cut across every hole."""
    found = []
    for part in shapely.get_parts(region):
        if part.area > 0.0 and not part.interiors:
            found.append(part)
        elif part.area > 0.0:
            low_x, low_y, high_x, high_y = part.bounds
            cuts = sorted(float(np.mean(shapely.get_coordinates(hole)[:, 0])) for hole in part.interiors)
            for left, right in pairwise((low_x - 1.0, *cuts, high_x + 1.0)):
                slab = shapely.intersection(part, shapely.box(left, low_y - 1.0, right, high_y + 1.0))
                found += [one for one in shapely.get_parts(slab) if one.geom_type == "Polygon" and one.area > 0.0]
    return found


def _corners_apart(a, b, near: Region) -> tuple[np.ndarray, np.ndarray] | None:
    """The corners of the two that lie furthest outside `near`, if any do."""
    mine, others = shapely.get_coordinates(a), shapely.get_coordinates(b)
    share = int(np.sqrt(MOST_WAYS))
    mine, others = _some(mine, share), _some(others, share)
    ways = (others[None] - mine[:, None]).reshape(-1, 2)
    outside = np.flatnonzero(~shapely.intersects_xy(near, *ways.T))
    if not len(outside):
        return None
    # furthest apart: room for certain, whatever rounding does
    best = outside[np.argmax(np.hypot(*ways[outside].T))]
    i, j = divmod(int(best), len(others))
    return mine[i], others[j]


def _some(points: np.ndarray, most: int) -> np.ndarray:
    return points if len(points) <= most else points[np.linspace(0, len(points) - 1, most).astype(int)]


def _ways_between(a, b):
    """All ways from a convex region to another; None where one has no area."""
    if a.geom_type != "Polygon" or b.geom_type != "Polygon":
        return None
    return minkowski_sum(rings_left(b)[0], -rings_left(a)[0])


def _left(a: shapely.Polygon, b: shapely.Polygon, near: Region) -> Region:
    """All ways outside `near` between regions without holes."""
    left = shapely.difference(minkowski_sum(b, -rings_left(a)[0]), near)
    parts = [part for part in shapely.get_parts(left) if part.geom_type == "Polygon" and part.area > LEAST_MM2]
    return shapely.MultiPolygon(parts)
