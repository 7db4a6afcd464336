"""All sides in one frame, so that what failed can be laid on one map.

Sides differ in size, and may have been digitised turned over or end for end. Each is scaled to the box of the largest
one; of the four ways it may lie (as it is, turned by a half turn, mirrored either way) that one is taken which brings
zones of one name nearest to each other, or where names tell nothing, which covers the largest side best.
"""

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

from nest.stock.material import Hide

FLIPS = ((1.0, 1.0), (-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0))
LEAST_NAMES = 2
_CLOSE = 0.02
"""Ways that bring zones as near to each other but for this share are held apart by the outline."""

ToFrame = Callable[[np.ndarray | tuple[float, float]], tuple[float, float]]


def frame_of(hides: Sequence[Hide]) -> tuple[Polygon, dict[str, ToFrame]]:
    """The outline of the frame, which is that of the largest hide, and the way of every hide into it, by id."""
    first = max(hides, key=lambda hide: (hide.outline.area, hide.hide_id))
    return first.outline, {hide.hide_id: _way(hide, first) for hide in hides}


def _way(hide: Hide, first: Hide) -> ToFrame:
    box, into = np.array(hide.outline.bounds), np.array(first.outline.bounds)
    middle, target = 0.5 * (box[:2] + box[2:]), 0.5 * (into[:2] + into[2:])
    scale = (into[2:] - into[:2]) / (box[2:] - box[:2])
    marks = _middles(hide)
    others = _middles(first)
    shared = sorted(marks.keys() & others.keys())

    def by(flip) -> ToFrame:
        factor = scale * np.array(flip)
        return lambda point: tuple(target + factor * (np.asarray(point) - middle))

    def apart(flip) -> float:
        """Mean distance of zones of one name, as a share of the frame's diagonal."""
        way = by(flip)
        gaps = [np.hypot(*(np.array(way(marks[name])) - others[name])) for name in shared]
        return float(np.mean(gaps) / np.hypot(*(into[2:] - into[:2])))

    def missed(flip) -> float:
        """Share of the frame's outline that the hide's does not cover, or covers beyond it."""
        a, d = scale * np.array(flip)
        moved = affine_transform(hide.outline, [a, 0.0, 0.0, d, *(target - np.array([a, d]) * middle)])
        return float(shapely.symmetric_difference(moved, first.outline).area / first.outline.area)

    if len(shared) < LEAST_NAMES:
        return by(min(FLIPS, key=missed))
    least = min(map(apart, FLIPS))
    return by(min((flip for flip in FLIPS if apart(flip) <= least + _CLOSE), key=missed))


def _middles(hide: Hide) -> dict[str, np.ndarray]:
    """Middle of all zones of one name."""
    names: dict[str, list] = {}
    for zone in hide.zones:
        names.setdefault(zone.zone_id, []).append(zone.outline)
    return {name: np.array(shapely.union_all(parts).centroid.coords[0]) for name, parts in names.items()}
