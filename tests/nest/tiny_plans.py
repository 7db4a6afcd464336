"""Tiny plans for tests: a rectangular vamp on rectangular hides, its reinforcement on a strip.

Every figure can be worked out by hand. The net vamp is 200 × 100 mm, its allowance 12 mm all round
(rough 224 × 124), the reinforcement 10 mm smaller than the rough vamp (204 × 104). A hide is
1000 × 500 mm, stretch across at 90°, so that toes lie along x. All data are invented.
"""

from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from geometry.pose import Pose
from geometry.precision import as_ring
from nest.job.job import Settings
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.style import Allowances
from nest.plan import CutLine, HideLayout, Lay, Placed, Plan, PlannedStyle
from nest.rules import Rules
from nest.stock.material import Flaw, Hide, Leather, Roll, RollStretch, Zone

HIDE_LENGTH, HIDE_WIDTH = 1000.0, 500.0
NET = (200.0, 100.0)
ALLOWANCE, LEAST, INSET = 12.0, 8.0, 10.0
ROUGH = (NET[0] + 2 * ALLOWANCE, NET[1] + 2 * ALLOWANCE)
BACKING = (ROUGH[0] - 2 * INSET, ROUGH[1] - 2 * INSET)
SLANT = ((-100.0, -50.0), (100.0, -20.0), (100.0, 50.0), (-100.0, 50.0))
"""A net outline that is not its own mirror image, for styles with left and right pieces."""


def rectangle(length: float, width: float) -> np.ndarray:
    """A ring of this length along x and width along y, centred on the origin."""
    return as_ring(shapely.get_coordinates(box(-length / 2, -width / 2, length / 2, width / 2)))


def grown(ring, distance: float) -> np.ndarray:
    """The ring with every edge moved outwards by `distance`, corners kept sharp (test shapes only)."""
    return as_ring(shapely.get_coordinates(Polygon(ring).buffer(distance, join_style="mitre")))


def mirrored(ring) -> np.ndarray:
    """The ring mirrored about y = 0."""
    return as_ring(np.asarray(ring) * (1.0, -1.0))


def vamp(piece_id="V38", style="box", size="38", foot=Foot.EITHER, net=None) -> Piece:
    """A rough vamp around `net` (default: the rectangle), stored mirrored if right."""
    net = rectangle(*NET) if net is None else as_ring(net)
    if foot is Foot.RIGHT:
        net = mirrored(net)
    return Piece(piece_id, style, size, foot, Role.VAMP, grown(net, ALLOWANCE), net)


def backing(piece_id="B38", style="box", size="38") -> Piece:
    """The reinforcement of the rectangular vamp."""
    return Piece(piece_id, style, size, Foot.EITHER, Role.REINFORCEMENT, rectangle(*BACKING), rectangle(*NET))


def zone(zone_id="butt", quality=1, stretch_deg=90.0, outline=None) -> Zone:
    """A zone, by default the whole hide, first class, stretch at 90°."""
    return Zone(zone_id, quality, stretch_deg, box(0, 0, HIDE_LENGTH, HIDE_WIDTH) if outline is None else outline)


def flaw(outline, flaw_id="F1", *, tears=False, coverable=True) -> Flaw:
    """A flaw of this outline, by default harmless under the trim-off band."""
    return Flaw(flaw_id, "scratch", 1, tears, coverable, outline)


def hide(hide_id="H1", *, zones=None, flaws=(), holes=(), quality=1, price=None, measured=None) -> Hide:
    """A rectangular hide with one zone unless others are given."""
    outline = Polygon(shapely.get_coordinates(box(0, 0, HIDE_LENGTH, HIDE_WIDTH)), holes)
    zones = (zone(),) if zones is None else tuple(zones)
    return Hide(hide_id, "calf", "lot 1", quality, 1.3, measured or outline.area, outline, zones, tuple(flaws), price)


def roll(**changes) -> Roll:
    """A roll 340 mm wide between edges, 320 mm usable, stretch over its width."""
    return replace(Roll("knit", 340.0, 10.0, 20_000.0, RollStretch.WIDTH, 90.0, Decimal("3.20")), **changes)


def style(name="box", **changes) -> PlannedStyle:
    """The rectangular style: 10° tolerance, no bias, first class net ground, any trim ground."""
    allowances = Allowances(ALLOWANCE, ALLOWANCE, ALLOWANCE, LEAST, LEAST, LEAST)
    planned = PlannedStyle(name, "calf", "knit", Rules(), allowances, 0.0, 0.0, INSET, ())
    return replace(planned, **changes)


def spots(count: int, *, columns: int = 4, first=(120.0, 70.0), pitch=(230.0, 130.0)) -> list[tuple[float, float]]:
    """Centres of `count` pieces in rows of `columns`, well clear of each other and of the hide's edge."""
    return [(first[0] + pitch[0] * (i % columns), first[1] + pitch[1] * (i // columns)) for i in range(count)]


def in_pairs(piece_ids, centres, heading_deg: float = 0.0, first_pair: int = 1) -> tuple[Placed, ...]:
    """Pieces at these centres; each two in a row are a pair."""
    return tuple(
        Placed(piece_id, Pose(x, y, heading_deg), first_pair + i // 2)
        for i, (piece_id, (x, y)) in enumerate(zip(piece_ids, centres, strict=True))
    )


def box_plan(**changes) -> Plan:
    """Two pairs of the rectangular vamp on one hide, their four reinforcements on one lay of two plies.

    Nothing is wrong with it; `changes` replace fields of the plan.
    """
    backs = tuple(Placed("B38", Pose(102.0 + 205.0 * i, 52.0, 0.0)) for i in range(2))
    plan = Plan(
        name="box",
        styles=(style(),),
        order=(CutLine("box", "38", 2, 2),),
        pieces=(vamp(), backing()),
        leathers=(Leather("calf", Decimal("30.00"), "m2"),),
        hides=(hide(),),
        rolls=(roll(),),
        settings=Settings(),
        layouts=(HideLayout("H1", in_pairs(["V38"] * 4, spots(4))),),
        lays=(Lay("L1", "knit", 409.0, 2, backs),),
    )
    return replace(plan, **changes)


def slant_plan(**changes) -> Plan:
    """Two pairs of a left and a mirrored right vamp on one hide, not backed; nothing is wrong with it."""
    plan = box_plan(
        styles=(style("slant", roll=""),), order=(CutLine("slant", "38", 2, 2),),
        pieces=(vamp("L38", "slant", foot=Foot.LEFT, net=SLANT), vamp("R38", "slant", foot=Foot.RIGHT, net=SLANT)),
        layouts=(HideLayout("H1", in_pairs(["L38", "R38", "L38", "R38"], spots(4))),), lays=(), rolls=(),
    )
    return replace(plan, **changes)


def moved(plan: Plan, index: int, dx: float = 0.0, dy: float = 0.0, turn_deg: float = 0.0, layout: int = 0) -> Plan:
    """The plan with one piece of one hide moved by (`dx`, `dy`) mm and turned."""
    target = plan.layouts[layout]
    old = target.placed[index]
    pose = Pose(old.pose.x + dx, old.pose.y + dy, old.pose.heading_deg + turn_deg)
    return with_placed(plan, index, replace(old, pose=pose), layout)


def with_placed(plan: Plan, index: int, placed: Placed, layout: int = 0) -> Plan:
    """The plan with one placement of one hide exchanged."""
    target = plan.layouts[layout]
    all_placed = (*target.placed[:index], placed, *target.placed[index + 1 :])
    layouts = (*plan.layouts[:layout], replace(target, placed=all_placed), *plan.layouts[layout + 1 :])
    return replace(plan, layouts=layouts)


def with_hide(plan: Plan, **changes) -> Plan:
    """The plan with fields of its first hide replaced."""
    return replace(plan, hides=(replace(plan.hides[0], **changes), *plan.hides[1:]))


def with_rules(plan: Plan, **changes) -> Plan:
    """The plan with rules of its first style replaced."""
    first = plan.styles[0]
    return replace(plan, styles=(replace(first, rules=replace(first.rules, **changes)), *plan.styles[1:]))


def two_sizes():
    """One pair of the rectangle and one of a rectangle twice as long in its rough outline, on one hide."""
    large = vamp("V44", size="44", net=rectangle(2 * 224.0 - 24.0, 100.0))
    placed = (*in_pairs(["V38"] * 2, spots(2)), *in_pairs(["V44"] * 2, [(240.0, 220.0), (240.0, 360.0)], first_pair=2))
    return box_plan(
        pieces=(vamp(), large), order=(CutLine("box", "38", 1, 1), CutLine("box", "44", 1, 1)),
        layouts=(HideLayout("H1", placed),), lays=(), styles=(style(roll=""),),
    )


@dataclass(frozen=True)
class Lattice:
    """A stand-in for the lattice of a rectangle."""

    density: float


def rectangle_lattice(ring, gap=0.0):
    """Rectangles with a gap tile as rectangles grown by the gap: density = area ÷ grown area (elementary)."""
    length, width = np.ptp(ring, axis=0)
    return Lattice(length * width / ((length + gap) * (width + gap)))


def lopsided(off: float) -> Plan:
    """A vamp for either foot, one corner of its cut outline moved out by this much."""
    plan = box_plan()
    cut = np.array(plan.pieces[0].cut_outline)
    cut[np.lexsort(cut.T)[-1]] += (0.0, off)
    return replace(plan, pieces=(replace(plan.pieces[0], cut_outline=as_ring(cut)), plan.pieces[1]))
