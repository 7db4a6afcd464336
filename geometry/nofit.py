"""Where a piece touches another (no-fit polygon) and where it fits inside a container (inner-fit polygon).

Rings as in `geometry.precision`, simple (not checked here). A position is where the origin of the moving ring's
coordinates comes to lie. No-fit and inner-fit polygons are Minkowski sums: the moving ring at position t meets the
fixed ring exactly when t lies in fixed ⊕ (−moving). They are exact to the grid of `geometry.winding`: 1e-6 mm for
two vamps, 4e-6 mm for a hide.

References
----------
J. Bennell, J. Oliveira (2008), The geometry of nesting problems: a tutorial,
doi:10.1016/j.ejor.2006.11.038.
"""

from collections.abc import Iterator, Sequence
from itertools import product
from math import cos, pi
from typing import NamedTuple

import numpy as np
import shapely

from geometry.polygon import bounds, size
from geometry.precision import Region
from geometry.winding import Term, rings_left, union, wound, wound_rings

ARC_SEGMENTS = 8
"""Chords per quarter circle where a gap goes round a corner; they lie outside the circle."""


def minkowski_sum(a: np.ndarray | Region, b: np.ndarray) -> Region:
    """Return all sums of a point of `a` and a point of `b`.

    Holes of the sum are kept. Holes without area (a point or a line where a piece fits in exactly) are closed.

    Parameters
    ----------
    a : (n, 2) ring or shapely polygon(s), with or without holes; mm.
    b : (m, 2) ring, mm.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    ring = np.asarray(b, dtype=np.float64)
    sums = [_sum_of_one(part, ring) for part in _parts(a)]
    return sums[0] if len(sums) == 1 else union(sums)


def no_fit_polygon(fixed: np.ndarray, moving: np.ndarray, gap: float = 0.0) -> Region:
    """Return the positions of `moving` at which it overlaps or touches `fixed`, or comes nearer than `gap` mm.

    On its boundary the two touch, or stand `gap` apart; its holes are the positions inside hollows of
    `fixed`. Where the gap goes round a corner the boundary stands up to 0.5 % of `gap` too far, never too near.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    met = minkowski_sum(fixed, -np.asarray(moving))
    return minkowski_sum(met, _around_disc(gap)) if gap > 0.0 else met


def no_fit_rings(fixed: np.ndarray, moving: np.ndarray) -> list[np.ndarray]:
    """Return the rings of `no_fit_polygon` without gap, holes too, of two rings as `as_ring` makes them; mm.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    return wound_rings([([fixed], -moving)], [])[0]


def inner_fit_polygon(container: np.ndarray | Region, moving: np.ndarray) -> Region:
    """Return the positions of `moving` at which it lies inside `container`, touching allowed.

    Empty if the piece does not fit. Positions without area (a point or a line: the piece fits exactly)
    are not kept.

    Parameters
    ----------
    container : (n, 2) ring or shapely polygon(s), with or without holes; mm.
    moving : (m, 2) ring, mm.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    return joint_fit_polygon([(container, moving)])


def joint_fit_polygon(demands: Sequence[tuple[np.ndarray | Region, np.ndarray]]) -> Region:
    """Return the positions at which several rings that move together lie each inside a container of its own.

    The intersection of the inner-fit polygons, in one go: such as for a rough outline on the whole hide and its net
    outline on good ground. `demands` holds (container, moving) as for `inner_fit_polygon`.
    """
    made = [(walls(container), np.asarray(moving, dtype=np.float64)) for container, moving in demands]
    fits = [part for terms in _terms(made) for part in _parts(wound(terms, [], base=len(terms), free=True))]
    if not fits:
        return shapely.Polygon()
    return fits[0] if len(fits) == 1 else shapely.MultiPolygon(fits)


def joint_fit_rings(demands: Sequence[tuple["Walls", np.ndarray]]) -> list[np.ndarray]:
    """Return the rings of `joint_fit_polygon`, holes too, of containers as `walls` makes them; mm."""
    return [ring for terms in _terms(demands) for ring in wound_rings(terms, [], base=len(terms), free=True)[0]]


class Wall(NamedTuple):
    """What bounds one part of a container: its rings with what is outside to their left, and its width and height."""

    rings: tuple[np.ndarray, ...]
    width: float
    height: float


Walls = tuple[Wall, ...]


def walls(container: np.ndarray | Region) -> Walls:
    """What bounds the parts of a container; for one in which many rings are to lie it is made once."""
    found = []
    for part in _parts(container):
        x0, y0, x1, y1 = part.bounds
        found.append(Wall(tuple(ring[::-1] for ring in rings_left(part)), x1 - x0, y1 - y0))
    return tuple(found)


def _terms(demands: Sequence[tuple[Walls, np.ndarray]]) -> Iterator[list[Term]]:
    """The terms of `geometry.winding` of each choice of parts in which all rings have room.

    A ring lies within one part of its container: each choice has positions of its own. Windings count common parts
    with what is outside of a container only where that is larger along both axes.
    """
    sizes = [size(ring) for _, ring in demands]
    for parts in product(*(container for container, _ in demands)):
        if all(width < part.width and height < part.height
               for part, (width, height) in zip(parts, sizes, strict=True)):
            yield [(part.rings, -ring) for part, (_, ring) in zip(parts, demands, strict=True)]


def inner_fit_strip(width: float, moving: np.ndarray) -> tuple[float, float] | None:
    """Return the least and largest y that keep `moving` in the strip 0 ≤ y ≤ `width`, mm; None if it does not fit."""
    _, low, _, high = bounds(moving)
    return (-low, width - high) if high - low <= width else None


def _parts(shape: np.ndarray | Region) -> list[shapely.Polygon]:
    whole = shape if isinstance(shape, shapely.Geometry) else shapely.Polygon(shape)
    return [part for part in shapely.get_parts(whole) if not part.is_empty]


def _around_disc(radius: float) -> np.ndarray:
    """The regular polygon whose sides touch a disc about the origin from outside."""
    angles = pi / (2 * ARC_SEGMENTS) * np.arange(4 * ARC_SEGMENTS)
    return radius / cos(pi / (4 * ARC_SEGMENTS)) * np.column_stack((np.cos(angles), np.sin(angles)))


def _sum_of_one(shape: shapely.Polygon, ring: np.ndarray) -> Region:
    """Sum of a polygon: the sum of its outer ring, less what lies in a hole together with all of the moving ring."""
    outer, *holes = rings_left(shape)
    kept = [part for hole in holes for part in _parts(inner_fit_polygon(hole, -ring))]
    return wound([([outer], ring)], [loop[::-1] for part in kept for loop in rings_left(part)])
