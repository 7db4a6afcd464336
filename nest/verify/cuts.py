"""Cut lines against the edge of the material and against each other."""

import math
from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry import Polygon

from geometry.precision import OVERLAP_DEPTH_MM, Region
from nest.verify.depth import depth
from nest.verify.sheet import Sheet
from nest.verify.verdict import DISTANCE_TOLERANCE_MM, Finding, Rule


def edge_findings(sheet: Sheet, outline: Polygon, margin: float) -> Iterator[Finding]:
    """Pieces that leave `outline`, lie over its holes, or come nearer than `margin` mm to either."""
    shapely.prepare(outline)
    edge = shapely.boundary(outline)
    inside = shapely.covers(outline, sheet.cut)
    distances = shapely.distance(edge, sheet.cut)
    full = Polygon(outline.exterior)
    beyond = _beyond(full, sheet)
    holes = [Polygon(ring) for ring in outline.interiors]
    for spot, cut in enumerate(sheet.cut):
        out = 0.0 if inside[spot] else depth(cut, beyond)
        over = 0.0 if inside[spot] else max((depth(cut, hole) for hole in holes), default=0.0)
        if out > OVERLAP_DEPTH_MM:
            yield sheet.finding(Rule.OUTSIDE, (spot,), out, "mm", f"reaches {out:.3f} mm beyond the edge")
        if over > OVERLAP_DEPTH_MM:
            yield sheet.finding(Rule.HOLE, (spot,), over, "mm", f"reaches {over:.3f} mm over a hole")
        near = distances[spot] if inside[spot] else 0.0
        if max(out, over) <= OVERLAP_DEPTH_MM and near < margin - DISTANCE_TOLERANCE_MM:
            text = f"lies {near:.3f} mm from the edge, the margin is {margin:g} mm"
            yield sheet.finding(Rule.MARGIN, (spot,), margin - near, "mm", text)


def _beyond(full: Polygon, sheet: Sheet) -> Region:
    """All ground outside `full`, so far out that its far side never counts."""
    low_x, low_y, high_x, high_y = shapely.total_bounds([full, *sheet.cut])
    reach = (high_x - low_x) + (high_y - low_y)
    return shapely.difference(shapely.box(low_x - reach, low_y - reach, high_x + reach, high_y + reach), full)


def neighbours(sheet: Sheet, gap: float) -> np.ndarray:
    """Index pairs (k, 2), first below second, of pieces that overlap or are nearer than `gap` mm."""
    tree = shapely.STRtree(sheet.cut)
    pairs = tree.query(sheet.cut, predicate="dwithin", distance=gap).T
    return np.asarray(pairs[pairs[:, 0] < pairs[:, 1]])


def between_findings(sheet: Sheet, gap: float, pairs: np.ndarray) -> Iterator[Finding]:
    """Pieces that overlap, lie twice in one place, or are nearer than `gap` mm; `pairs` from `neighbours`."""
    distances = shapely.distance(sheet.cut[pairs[:, 0]], sheet.cut[pairs[:, 1]])
    for (first, second), apart in zip(pairs.tolist(), distances.tolist(), strict=True):
        spots = (first, second)
        if sheet.placed[first].piece_id == sheet.placed[second].piece_id and _same_place(sheet, first, second):
            yield sheet.finding(Rule.DUPLICATE, spots, 1, "pieces", "lie in the same place")
            continue
        deep = depth(sheet.cut[first], sheet.cut[second]) if apart == 0.0 else 0.0
        if deep > OVERLAP_DEPTH_MM:
            yield sheet.finding(Rule.OVERLAP, spots, deep, "mm", f"overlap by {deep:.3f} mm")
        elif apart < gap - DISTANCE_TOLERANCE_MM:
            text = f"are {apart:.3f} mm apart, the gap is {gap:g} mm"
            yield sheet.finding(Rule.GAP, spots, gap - apart, "mm", text)


def _same_place(sheet: Sheet, first: int, second: int) -> bool:
    a, b = sheet.placed[first].pose, sheet.placed[second].pose
    turn = abs(math.remainder(a.heading_deg % 360.0 - b.heading_deg % 360.0, 360.0))
    return max(abs(a.x - b.x), abs(a.y - b.y)) <= DISTANCE_TOLERANCE_MM and turn < 1e-3
