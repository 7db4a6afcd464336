"""Propose a first layout of a strip: the densest lattice of an outline that covers every kind.

Graded sizes of one piece lie almost as densely as one of them; a lattice of their common outline, the sizes in
order along the strip, is a far better start than a scatter. Settled (`settle.settle_strip`) it closes up to the
sizes themselves. Kinds that have little in common get no proposal.
"""

from collections.abc import Sequence

import numpy as np
import shapely

from geometry.pose import Pose, rotate
from geometry.precision import as_ring
from geometry.strip_lattice import densest_strip_lattice, lay_on_strip
from nest.placement.model import ANGLE_GRID_DEG, angle_key, grown
from nest.placement.problem import Item, Kind

LIKENESS = 0.8
"""Least share of the common outline that the items fill on the mean."""

FEWEST = 8
"""Items below which a lattice is mostly its ragged ends."""


def lattice_start(kinds: Sequence[Kind], gap_mm: float, width_mm: float) -> tuple[Item, ...]:
    """Items of every kind's limit on a lattice along the strip, free of overlap; () if the kinds are not alike.

    Every heading that all kinds have is tried, half-turned items among them where all kinds have that one too; the
    shortest lay is returned, larger kinds first.
    """
    used = [k for k, kind in enumerate(kinds) if kind.limit]
    order = [k for k in sorted(used, key=lambda k: -_area(kinds[k])) for _ in range(kinds[k].limit)]
    if len(order) < FEWEST:
        return ()
    mean = float(np.mean([_area(kinds[k]) for k in order]))
    shared = set.intersection(*({angle_key(h) for h in kinds[k].headings_deg} for k in used))
    best, least = None, np.inf
    for heading in sorted(key * ANGLE_GRID_DEG for key in shared):
        half_turn = angle_key(heading + 180.0) in shared
        if half_turn and heading >= 180.0:
            continue  # the same lattice as half a turn before
        turned = (rotate(grown(kinds[k].outline, gap_mm), heading) for k in used)
        cover = shapely.union_all([shapely.Polygon(ring - _middle(ring)) for ring in turned])
        if cover.geom_type != "Polygon" or mean < LIKENESS * cover.area:
            continue
        ring = as_ring(shapely.get_coordinates(cover.exterior))
        size = np.ptp(ring, axis=0)
        # the edge of the strip asks for no gap: what was grown may stick out by half of it
        lattice = densest_strip_lattice(ring, width_mm + gap_mm, half_turns=half_turn)
        if lattice is None:
            continue
        laid = lay_on_strip(lattice, size[0], size[1], width_mm + gap_mm, len(order))
        if (length := laid[-1, 0] + 0.5 * size[0]) < least:
            least, best = length, (heading, laid)
    if best is None:
        return ()
    heading, laid = best
    items = []
    for k, (x, y, half) in zip(order, laid, strict=True):
        key = angle_key(heading + 180.0 * half)
        angle = next(h for h in kinds[k].headings_deg if angle_key(h) == key)
        at = np.array((x, y)) - _middle(rotate(grown(kinds[k].outline, gap_mm), angle))
        items.append(Item(k, Pose(float(at[0]), float(at[1] - 0.5 * gap_mm), angle)))
    left = min(item.pose.x + rotate(kinds[item.kind].outline, item.pose.heading_deg)[:, 0].min() for item in items)
    return tuple(
        Item(item.kind, Pose(item.pose.x - float(left), item.pose.y, item.pose.heading_deg)) for item in items
    )


def _area(kind: Kind) -> float:
    return float(shapely.Polygon(kind.outline).area)


def _middle(ring: np.ndarray) -> np.ndarray:
    return np.asarray(0.5 * (ring.min(axis=0) + ring.max(axis=0)))
