"""Small invented hides drawn at random, and a search of them by brute force that shares nothing with the program's.

The hides are hardly larger than the vamp, so that there is room on some and on others not. The brute force takes places
5 mm and headings 5° apart, and asks plain shapely about each.
"""

from dataclasses import replace

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box
from tiny_plans import Settings, flaw, slant_plan, style, vamp, zone

from geometry.pose import Pose
from geometry.precision import as_ring
from nest.pieces.piece import Foot
from nest.plan import CutLine, HideLayout, Placed
from nest.rules import Rules
from nest.stock.material import Hide

NET = np.array([(-75.0, -35.0), (20.0, -45.0), (75.0, -12.0), (80.0, 15.0), (10.0, 42.0), (-70.0, 38.0)])
STEP_MM, STEP_DEG = 5.0, 5.0


def blob(rng, x, y, across, along, corners=9):
    """A drawn outline about a point."""
    angle = np.sort(rng.uniform(0.0, 2.0 * np.pi, corners))
    far = rng.uniform(0.6, 1.2, corners)
    shape = Polygon(np.column_stack((x + across * far * np.cos(angle), y + along * far * np.sin(angle)))).buffer(0)
    return shape if shape.geom_type == "Polygon" else shape.convex_hull


def drawn(seed):
    """A hide of two zones with up to three flaws, rules, left and right vamp, margin and gap."""
    rng = np.random.default_rng(seed)
    length, width = rng.uniform(250.0, 420.0), rng.uniform(200.0, 330.0)
    outline = blob(rng, length / 2, width / 2, length / 2, width / 2, 14)
    split = rng.uniform(0.3, 0.7) * length
    halves = box(-999, -999, split, 999), box(split, -999, 999, 999)
    zones = [
        zone(name, quality, 90.0 + rng.uniform(-12.0, 12.0), part)
        for name, quality, half in zip("ab", (1, int(rng.integers(1, 3))), halves, strict=True)
        if not (part := outline.intersection(half)).is_empty
    ]
    flaws = []
    for number in range(int(rng.integers(0, 4))):
        shape = blob(rng, rng.uniform(0, length), rng.uniform(0, width), *[rng.uniform(3.0, 14.0)] * 2)
        shape = shape.intersection(outline)
        if shape.geom_type == "Polygon" and not shape.is_empty:
            tears, coverable = bool(rng.random() < 0.3), bool(rng.random() < 0.6)
            flaws.append(flaw(shape, f"F{number}", tears=tears, coverable=coverable))
    rules = Rules(net_quality=int(rng.integers(1, 3)), pairs_same_class=bool(rng.random() < 0.5))
    net = NET * rng.uniform(0.6, 1.25)
    pair = vamp("L38", "slant", foot=Foot.LEFT, net=net), vamp("R38", "slant", foot=Foot.RIGHT, net=net)
    hide = Hide("H1", "calf", "lot 1", 1, 1.3, outline.area, outline, tuple(zones), tuple(flaws))
    return hide, rules, pair, float(rng.choice([0.0, 3.0])), float(rng.choice([0.0, 1.5]))


def places(hide, rules, piece, margin):
    """Every (heading, x, y, class) of the grid at which the piece lies well, by brute force."""
    ground = hide.outline.buffer(-margin) if margin else hide.outline
    bars = [flaw.outline for flaw in hide.flaws if flaw.tears or not flaw.coverable or not rules.flaws_under_trim]
    quality = np.array([zone.quality for zone in hide.zones])
    x0, y0, x1, y1 = hide.outline.bounds
    grid = np.stack(np.meshgrid(np.arange(x0, x1, STEP_MM), np.arange(y0, y1, STEP_MM)), axis=-1).reshape(-1, 2)
    found = []
    for heading in np.arange(0.0, 360.0, STEP_DEG):
        off = np.array([abs((heading - zone.stretch_deg) % 180.0 - 90.0) for zone in hide.zones])
        if (off > rules.tolerance_deg).all():
            continue
        rough, net = (
            shapely.get_coordinates(affinity.rotate(Polygon(ring), heading, origin=(0, 0)))
            for ring in (piece.cut_outline, piece.net_outline)
        )
        here = grid
        shapes = shapely.polygons(rough[None] + here[:, None])
        well = shapely.covers(ground, shapes)
        for bar in bars:
            well &= ~shapely.intersects(bar, shapes)
        here = here[well]
        shapes = shapely.polygons(net[None] + here[:, None]) if len(here) else np.array([])
        well = np.ones(len(here), bool)
        for one in hide.flaws:
            well &= ~shapely.intersects(one.outline, shapes)
        share = np.array([shapely.area(shapely.intersection(zone.outline, shapes)) for zone in hide.zones])
        share = share.reshape(len(quality), -1) / Polygon(net).area
        well &= share[off > rules.tolerance_deg].sum(axis=0) <= 1e-3
        well &= share[quality > rules.net_quality].sum(axis=0) <= 0.0
        well &= share.sum(axis=0) > 1.0 - 1e-9
        classes = np.where(share > 1e-3, quality[:, None], 0).max(axis=0)
        found += [(heading, x, y, c) for (x, y), c in zip(here[well], classes[well], strict=True)]
    return found


def both(hide, rules, pair, margin, gap):
    """Whether the grid holds places for both of a pair that keep the gap."""
    first, second = (places(hide, rules, piece, margin) for piece in pair)
    mine, other = (
        [Polygon(Pose(x, y, heading).apply(piece.cut_outline)) for heading, x, y, _ in spots]
        for piece, spots in zip(pair, (first, second), strict=True)
    )
    classes = np.array([spot[3] for spot in second])
    for shape, spot in zip(mine, first, strict=True):
        clear = shapely.distance(shape, other) >= max(gap, 1e-9)
        if rules.pairs_same_class:
            clear &= classes == spot[3]
        if clear.any():
            return True
    return False


def plan_of(hide, rules, pair, margin, gap, poses):
    """The plan that has these poses on the hide, a pair if there are two; for the judge."""
    placed = tuple(Placed(piece.piece_id, pose, int(len(poses) == 2)) for piece, pose in zip(pair, poses, strict=False))
    return slant_plan(
        hides=(hide,), pieces=pair, styles=(style("slant", roll="", rules=rules),),
        settings=replace(Settings(), edge_margin_mm=margin, hide_gap_mm=gap), order=(CutLine("slant", "38", 1, 1),),
        layouts=(HideLayout("H1", placed),),
    )


def net_ring(*corners):
    """A net outline of these corners."""
    return as_ring(corners)
