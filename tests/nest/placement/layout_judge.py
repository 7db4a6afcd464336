"""Judges layouts by shapely alone: nothing here comes from the search, its tables or its gate."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import affinity

from nest.placement.problem import Item, Kind, Layout

TOUCHING_MM = 1e-3
"""Outlines that reach no deeper into each other, or out of their ground, touch."""


def laid(ring: np.ndarray, item: Item) -> shapely.Polygon:
    """`ring` turned and moved as `item` lies."""
    pose = item.pose
    turned = affinity.rotate(shapely.Polygon(ring), pose.heading_deg, origin=(0.0, 0.0))
    return affinity.translate(turned, pose.x, pose.y)


def outlines(items: Sequence[Item], kinds: Sequence[Kind]) -> list[shapely.Polygon]:
    """Outlines of all items where they lie."""
    return [laid(kinds[item.kind].outline, item) for item in items]


def cores(items: Sequence[Item], kinds: Sequence[Kind]) -> list[shapely.Polygon]:
    """Cores of all items where they lie."""
    return [laid(kinds[item.kind].core, item) for item in items]


def near_pairs(shapes: Sequence[shapely.Polygon], reach: float) -> list[tuple[int, int]]:
    """Index pairs (i < j) of shapes no further than `reach` mm apart."""
    if len(shapes) < 2:
        return []
    found = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=reach).T
    return [(int(i), int(j)) for i, j in found if i < j]


def shared_area(shapes: Sequence[shapely.Polygon]) -> float:
    """Area that shapes have in common, pair by pair, mm²."""
    return sum(shapes[i].intersection(shapes[j]).area for i, j in near_pairs(shapes, 0.0))


def overlapping(shapes: Sequence[shapely.Polygon]) -> list[tuple[int, int]]:
    """Pairs that reach deeper into each other than touching."""
    less = [shape.buffer(-0.5 * TOUCHING_MM, join_style="mitre") for shape in shapes]
    return [(i, j) for i, j in near_pairs(shapes, 0.0) if less[i].intersects(less[j])]


def closest(shapes: Sequence[shapely.Polygon]) -> float:
    """Least distance between two shapes, mm; infinite if there are not two."""
    return min((shapes[i].distance(shapes[j]) for i, j in near_pairs(shapes, 1e3)), default=float("inf"))


def sticks_out(shape: shapely.Geometry, ground: shapely.Geometry) -> bool:
    """Whether `shape` leaves `ground` by more than touching."""
    return not ground.buffer(TOUCHING_MM, join_style="mitre").covers(shape)


def counts(layout: Layout, kinds: Sequence[Kind]) -> list[int]:
    """Number of items of each kind."""
    return [sum(item.kind == k for item in layout.items) for k in range(len(kinds))]


def headings_allowed(layout: Layout, kinds: Sequence[Kind]) -> bool:
    """Whether every item has exactly one of its kind's headings."""
    return all(item.pose.heading_deg in kinds[item.kind].headings_deg for item in layout.items)


def used_length(shapes: Sequence[shapely.Polygon]) -> float:
    """Furthest x of all shapes, mm."""
    return float(shapely.bounds(np.array(shapes))[:, 2].max())
