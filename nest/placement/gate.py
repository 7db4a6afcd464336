"""The shapely gate every layout passes before it leaves the solver."""

from collections.abc import Sequence

import numpy as np
import shapely

from geometry.precision import OVERLAP_DEPTH_MM
from nest.placement.problem import Ground, Item, Kind


def polygons_of(items: Sequence[Item], kinds: Sequence[Kind]) -> np.ndarray:
    """Outlines of the items where they lie, as shapely polygons."""
    return np.array([shapely.polygons(item.pose.apply(kinds[item.kind].outline)) for item in items], dtype=object)


def on_ground(item: Item, kinds: Sequence[Kind], grounds: Sequence[Ground], tolerance: float) -> bool:
    """Whether the item's outline and core lie on their ground, but for `tolerance` mm."""
    kind, ground = kinds[item.kind], grounds[item.kind]
    heading = min(
        range(len(kind.headings_deg)),
        key=lambda h: abs((kind.headings_deg[h] - item.pose.heading_deg + 180.0) % 360.0 - 180.0),
    )
    for ring, allowed in ((kind.outline, ground.outline), (kind.core, ground.core[heading])):
        shape = shapely.polygons(item.pose.apply(ring))
        if not allowed.covers(shape) and shape.buffer(-tolerance).difference(allowed).area > 0.0:
            return False
    return True


def faults(
    items: Sequence[Item], kinds: Sequence[Kind], gap_mm: float, grounds: Sequence[Ground] | None, tolerance: float
) -> list[int]:
    """Indices of items that overlap an earlier one, come nearer than the gap, or leave their ground.

    tolerance : depth in mm that counts as touching.
    """
    if not items:
        return []
    shapes = polygons_of(items, kinds)
    shrunk = shapely.buffer(shapes, -0.5 * tolerance, join_style="mitre")
    tree = shapely.STRtree(shapes)
    bad = set()
    near = tree.query(shapes, predicate="dwithin", distance=max(gap_mm - tolerance, 0.0)) if gap_mm > tolerance else (
        tree.query(shrunk, predicate="intersects"))
    for i, j in near.T[np.lexsort(near)]:
        if i < j:
            close = gap_mm > tolerance or shapely.area(shapely.intersection(shrunk[i], shrunk[j])) > 0.0
            if close and i not in bad:
                bad.add(int(j))
    if grounds is not None:
        bad.update(index for index, item in enumerate(items) if not on_ground(item, kinds, grounds, tolerance))
    return sorted(bad)


def sound(items: Sequence[Item], kinds: Sequence[Kind], gap_mm: float, grounds: Sequence[Ground] | None = None,
          tolerance: float = OVERLAP_DEPTH_MM) -> tuple[Item, ...]:
    """The items without those that fail; all of them unless arithmetic has gone wrong."""
    bad = set(faults(items, kinds, gap_mm, grounds, tolerance))
    return tuple(item for index, item in enumerate(items) if index not in bad)
