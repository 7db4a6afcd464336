"""A plan with vamp-shaped pieces of several sizes on a hide-shaped hide; all data are invented.

The layout is laid out in rows, not solved: it is good enough to draw, cut and count.
"""

from decimal import Decimal
from functools import cache

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry import MultiPolygon, Point, Polygon

from geometry.pose import Pose, mirror
from geometry.precision import as_ring, on_grid
from nest.job.job import Settings
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.style import Allowances
from nest.plan import Bound, CutLine, HideLayout, Lay, Placed, Plan, PlannedStyle
from nest.rules import Rules
from nest.stock.material import Flaw, Hide, Leather, Roll, RollStretch, Zone

OFF_EDGE_MM = 0.5
"""Kept from the edge of every hide and lay: room for a tool of 0.2 mm radius."""

SIZES = ("36", "37", "38", "39", "40", "41", "42")
_HALF = ((105, 0), (100, 28), (86, 52), (62, 70), (30, 84), (-10, 98), (-55, 108), (-88, 106), (-97, 92),
         (-94, 70), (-80, 52), (-62, 38), (-48, 20), (-44, 0))


def vamp_net(size: str, *, lean: float = 0.0) -> np.ndarray:
    """Net outline of an invented low vamp; `lean` makes it differ from its mirror image."""
    half = np.array(_HALF, dtype=float)
    ring = np.vstack((half, half[-2:0:-1] * (1.0, -1.0)))
    ring[:, 0] += lean * np.clip(ring[:, 1], 0, None) / 100.0
    step = float(size) - 39.0
    return on_grid(ring * (1.0 + 0.025 * step, 1.0 + 0.018 * step))


@cache
def vamp_pieces(style: str = "river", *, lean: float = 0.0, sizes=SIZES) -> tuple[Piece, ...]:
    """Vamps (12 mm allowance) and reinforcements (10 mm smaller) of every size; left and right if they lean."""
    pieces = []
    for size in sizes:
        net = vamp_net(size, lean=lean)
        cut = on_grid(shapely.get_coordinates(Polygon(net).buffer(12.0, quad_segs=6).simplify(0.05)))
        back = Polygon(cut).buffer(-10.0, quad_segs=6).simplify(0.05)
        kept = on_grid(shapely.get_coordinates(back.intersection(Polygon(net))))
        back = on_grid(shapely.get_coordinates(back))
        feet = ((Foot.LEFT, as_ring), (Foot.RIGHT, mirror)) if lean else ((Foot.EITHER, as_ring),)
        for foot, side in feet:
            mark = {Foot.LEFT: "-L", Foot.RIGHT: "-R", Foot.EITHER: ""}[foot]
            pieces.append(Piece(f"{style}-{size}{mark}", style, size, foot, Role.VAMP, side(cut), side(net)))
            pieces.append(
                Piece(f"{style}-{size}{mark}-B", style, size, foot, Role.REINFORCEMENT, side(back), side(kept))
            )
    return tuple(pieces)


def side_hide(hide_id: str = "S-014", *, length: float = 2300.0, width: float = 1150.0) -> Hide:
    """A side with neck, shank and a wavy belly, four zones, six flaws, one of them a hole's rim that tears."""
    x = np.linspace(0.0, 1.0, 60)
    belly = 0.10 - 0.05 * np.sin(2 * np.pi * (x * 1.5 + 0.1)) + 0.35 * np.exp(-((x - 1.02) / 0.10) ** 2)
    belly += 0.25 * np.exp(-((x + 0.02) / 0.07) ** 2)
    spine = 0.97 + 0.015 * np.sin(5 * x) - 0.25 * (1 - x) ** 14 - 0.30 * x**18
    ring = np.vstack((np.column_stack((x, belly)), np.column_stack((x, spine))[::-1])) * (length, width)
    hole = Point(0.62 * length, 0.3 * width).buffer(18.0, quad_segs=4)
    outline = Polygon(on_grid(ring)).difference(hole)
    bands = (
        ("butt", 1, 0.0, Polygon([(0.35, 0.42), (0.95, 0.42), (0.95, 1.2), (0.35, 1.2)])),
        ("shoulder", 2, 8.0, Polygon([(-0.1, 0.42), (0.35, 0.42), (0.35, 1.2), (-0.1, 1.2)])),
        ("belly", 3, 174.0, Polygon([(-0.1, -0.2), (1.1, -0.2), (1.1, 0.42), (-0.1, 0.42)])),
        ("shank", 4, 60.0, Polygon([(0.95, 0.42), (1.1, 0.42), (1.1, 1.2), (0.95, 1.2)])),
    )
    zones = []
    for zone_id, quality, stretch, band in bands:
        part = shapely.transform(band, lambda xy: xy * (length, width)).intersection(outline)
        if isinstance(part, (Polygon, MultiPolygon)) and not part.is_empty:
            zones.append(Zone(zone_id, quality, stretch, part))
    spots = (
        ("scratch", 1, False, True, 0.5, 0.7), ("scratch", 1, False, True, 0.77, 0.55),
        ("tick mark", 1, False, True, 0.2, 0.8), ("brand", 3, False, False, 0.82, 0.82),
        ("cut", 3, True, False, 0.28, 0.5), ("vein", 2, False, True, 0.55, 0.25),
    )
    flaws = tuple(
        Flaw(f"F{i}", kind, severity, tears, cover,
             shapely.affinity.scale(Point(fx * length, fy * width).buffer(9.0 * severity, quad_segs=4), 2.0, 0.7))
        for i, (kind, severity, tears, cover, fx, fy) in enumerate(spots, start=1)
    )
    return Hide(hide_id, "river calf", "0714", 2, 1.4, round(outline.area * 1.01), outline, tuple(zones), flaws,
                Decimal("41.50"))


def fits(hide: Hide, cut: Polygon, net: Polygon) -> bool:
    """Whether a piece may lie here: inside, off the shank, its net clear of flaws, its band of those that matter."""
    shank = next(zone.outline for zone in hide.zones if zone.zone_id == "shank")
    bad = [flaw.outline for flaw in hide.flaws if not flaw.coverable]
    return (
        hide.outline.contains(cut)
        and hide.outline.boundary.distance(cut) >= OFF_EDGE_MM
        and not net.intersects(shank)
        and not any(cut.intersects(outline) for outline in bad)
        and not any(net.intersects(flaw.outline) for flaw in hide.flaws)
    )


def rows(hide: Hide, pieces, *, heading_deg: float = 90.0, gap: float = 4.0) -> tuple[Placed, ...]:
    """Pieces in rows wherever they lie on the hide; each two in turn are a pair."""
    placed, number = [], 0
    x_min, y_min, x_max, y_max = hide.outline.bounds
    y = y_min
    while y < y_max:
        x, tallest = x_min, 0.0
        while x < x_max:
            piece = pieces[(number // 2) % len(pieces)]
            flip = 180.0 if number % 2 else 0.0
            ring = Pose(0.0, 0.0, heading_deg + flip).apply(piece.cut_outline)
            low, high = ring.min(axis=0), ring.max(axis=0)
            net = Polygon(Pose(*(np.array((x, y)) - low), heading_deg + flip).apply(piece.net_outline))
            if fits(hide, Polygon(ring - low + (x, y)), net):
                at = np.round(np.array((x, y)) - low, 4)
                pose = Pose(float(at[0]), float(at[1]), heading_deg + flip)
                placed.append(Placed(piece.piece_id, pose, number // 2 + 1))
                number += 1
                x += high[0] - low[0] + gap
                tallest = max(tallest, high[1] - low[1])
            else:
                x += 10.0
        y += tallest + gap if tallest else 15.0
    return tuple(placed)


@cache
def _on_side(length: float, turns: int) -> tuple[Placed, ...]:
    """What lies in rows on a side of this length, the sizes taken from another one on; whole pairs."""
    vamps = [piece for piece in vamp_pieces() if piece.role is Role.VAMP]
    placed = rows(side_hide(length=length), vamps[turns:] + vamps[:turns])
    return placed[: len(placed) // 2 * 2]


def vamp_plan(hides: int = 2, *, hide_ids=None, name: str = "river boot, week 12") -> Plan:
    """Several sides with vamps in rows, and their reinforcements in rows on one lay of a roll."""
    pieces = vamp_pieces()
    backs = [piece for piece in pieces if piece.role is Role.REINFORCEMENT]
    ids = hide_ids or [f"S-{14 + i:03d}" for i in range(hides)]
    lengths = [2300.0 - 60.0 * i for i in range(len(ids))]
    stock = tuple(side_hide(hide_id, length=length) for hide_id, length in zip(ids, lengths, strict=True))
    layouts, first = [], 0
    for i, (hide, length) in enumerate(zip(stock, lengths, strict=True)):
        placed = tuple(Placed(p.piece_id, p.pose, p.pair + first) for p in _on_side(length, i))
        first += len(placed) // 2
        layouts.append(HideLayout(hide.hide_id, placed))
    spare = side_hide("S-099", length=2200.0)
    roll = Roll("knit 90", 1400.0, 20.0, 50_000.0, RollStretch.WIDTH, 90.0, Decimal("3.20"))
    count = {size: 0 for size in SIZES}
    for layout in layouts:
        for placed in layout.placed:
            count[placed.piece_id.split("-")[1]] += 1
    lay_placed, x, y = [], OFF_EDGE_MM, OFF_EDGE_MM
    longest = 0.0
    for piece in [back for back in backs for _ in range(max(1, count[back.size] // 2))]:
        ring = np.asarray(piece.cut_outline)
        size = np.ptp(ring, axis=0)
        if y + size[1] > roll.usable_width_mm - OFF_EDGE_MM:
            x, y, longest = x + longest + 2.0, OFF_EDGE_MM, 0.0
        at = np.round(np.array((x, y)) - ring.min(axis=0), 4)
        lay_placed.append(Placed(piece.piece_id, Pose(float(at[0]), float(at[1]), 0.0)))
        y += size[1] + 2.0
        longest = max(longest, size[0])
    lay = Lay("L1", roll.roll_id, round(float(x + longest + OFF_EDGE_MM) + 0.01, 2), 2, tuple(lay_placed))
    rules = Rules(tolerance_deg=10.0, net_quality=3, pairs_same_class=False)
    allowances = Allowances(12.0, 12.0, 12.0, 8.0, 8.0, 8.0)
    style = PlannedStyle("river", "river calf", roll.roll_id, rules, allowances, 2.0, 1.5, 10.0,
                         ("Damp the vamp on the flesh side before crimping.", "Check the nap by hand."))
    order = tuple(CutLine("river", size, max(1, count[size] // 2 - 1), max(1, count[size] // 2)) for size in SIZES)
    return Plan(
        name=name, styles=(style,), order=order, pieces=pieces,
        leathers=(Leather("river calf", Decimal("38.00"), "m2"),), hides=(*stock, spare), rolls=(roll,),
        settings=Settings(), layouts=tuple(layouts), lays=(lay,),
        bounds=tuple(Bound(layout.hide_id, 0.83, 0.74) for layout in layouts),
        warnings=("The reinforcement does not reach the template line at the throat of size 42 (1.5 mm short).",),
    )
