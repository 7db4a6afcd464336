"""Items of a layout, with poses in degrees and mm, and the trial layouts that searches change."""

from collections.abc import Sequence

import numpy as np

from geometry.pose import Pose
from geometry.precision import COORDINATE_GRID_MM
from nest.placement.problem import Item, Kind
from nest.placement.state import Snapshot


def items_of(kept: Snapshot, angles_deg: np.ndarray, kinds: Sequence[Kind]) -> tuple[Item, ...]:
    """The items of a trial layout, positions on the coordinate grid, headings from the kinds' own lists."""
    return on_grid_items([
        Item(int(k), Pose(float(x), float(y), _own_heading(kinds[k], angles_deg[a])))
        for k, a, x, y in zip(kept.kind, kept.angle, kept.x, kept.y, strict=True)
    ])


def on_grid_items(items: Sequence[Item]) -> tuple[Item, ...]:
    """The items with positions on the coordinate grid."""
    grid = COORDINATE_GRID_MM
    return tuple(
        Item(i.kind, Pose(round(i.pose.x / grid) * grid, round(i.pose.y / grid) * grid, i.pose.heading_deg))
        for i in items
    )


def snapshot_of(items: Sequence[Item], angles_deg: np.ndarray) -> Snapshot:
    """A trial layout from items whose headings are in the angle list."""
    return Snapshot(
        np.array([item.kind for item in items], np.int64),
        np.array([nearest_angle(item.pose.heading_deg, angles_deg) for item in items], np.int64),
        np.array([item.pose.x for item in items], float),
        np.array([item.pose.y for item in items], float),
    )


def nearest_angle(heading_deg: float, angles_deg: np.ndarray) -> int:
    """Index of the angle that is nearest to a heading."""
    return int(np.argmin([_between(heading_deg, angle) for angle in angles_deg]))


def _own_heading(kind: Kind, angle_deg: float) -> float:
    return min(kind.headings_deg, key=lambda heading: _between(heading, angle_deg))


def _between(one_deg: float, other_deg: float) -> float:
    return abs((one_deg - other_deg + 180.0) % 360.0 - 180.0)
