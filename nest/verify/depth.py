"""How deep two regions reach into each other, measured with shapely alone.

Both measures are proved lower bounds of the shortest move that parts the two regions A and B:

reach : a corner of one region inside the other lies this far from the other's outline, and must at
    least be carried there.
width : a disc of radius r inside both must be carried off itself, by 2 r.

The larger is exact where edges lie along each other or a single corner pokes through an edge.
"""

import numpy as np
import shapely

from geometry.precision import Region

_STEPS = 20
_PLUMP = 0.13
"""A part is plump if the square of equal area has a side of more than this share of the part's outline: 0.25 for a
square, 0.13 for a rectangle 13 times as long as wide."""


def depth(a: Region, b: Region) -> float:
    """Least move in mm that parts regions `a` and `b`, at least this much; 0 when they do not overlap."""
    shared = _areas(shapely.intersection(a, b))
    return 0.0 if shared.is_empty else _part_depth(shared, a, b)


def depth_of_ground(a: Region, ground: Region, hairline: float) -> float:
    """As `depth`, but parts of the overlap no wider than `hairline` mm do not count."""
    parts = shapely.get_parts(_areas(shapely.intersection(a, ground)))
    return max((_part_depth(part, a, ground) for part in parts if _wider(part, hairline)), default=0.0)


def width(region: Region) -> float:
    """Diameter of the largest disc inside `region`, mm, good to 0.1 %."""
    return max(map(_width_of, shapely.get_parts(region)), default=0.0)


def _width_of(part: shapely.Polygon) -> float:
    """For a slim part found by moving its outline inwards; for a plump one by a disc inside it, so never too large.

    Moved inwards until all its sides have passed each other, a plump part may come out of GEOS's `buffer` as a ring.
    """
    side = float(np.sqrt(part.area))
    if side > _PLUMP * part.length:
        return 2.0 * float(shapely.maximum_inscribed_circle(part, tolerance=1e-4 * side).length)
    low, high = 0.0, 2.0 * side / float(np.sqrt(np.pi))
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _wider(part, middle) else (low, middle)
    return low


def _wider(region: Region, diameter: float) -> bool:
    return not region.buffer(-0.5 * diameter).is_empty


def _part_depth(part: Region, a: Region, b: Region) -> float:
    corners = shapely.points(shapely.get_coordinates(part))
    reach = max(float(shapely.distance(corners, shapely.boundary(side)).max()) for side in (a, b))
    return max(reach, width(part)) if _wider(part, reach) else reach


def _areas(region: Region) -> Region:
    """The polygons of a region; lines and points along which two regions touch are dropped."""
    parts = shapely.get_parts(region)
    return shapely.multipolygons(parts[shapely.get_dimensions(parts) == 2])
