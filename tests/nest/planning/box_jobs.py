"""Tiny jobs of rectangular vamps on rectangular hides, and a plain engine that lays rectangles in rows.

Everything can be worked out by hand: the template is 200 × 100 mm, its allowance 12 mm all round (rough
224 × 124), the reinforcement 10 mm smaller (204 × 104). All data are invented.
"""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from geometry.pose import Pose
from geometry.precision import as_ring
from nest.job.job import Job, Settings
from nest.pieces.piece import Part, Template
from nest.pieces.style import Allowances, Grading, OrderLine, Style
from nest.placement.problem import Item, Layout
from nest.planning.run import Engine
from nest.rules import Rules
from nest.stock.material import Flaw, Hide, Leather, Roll, RollStretch, Zone

EVEN = Allowances(12.0, 12.0, 12.0, 8.0, 8.0, 8.0)


STRAIGHT = Rules(tolerance_deg=0.0)
"""Toes exactly across: where no turned piece is wanted, so that an exact search has two headings to look at."""


def box_template(size="38", lean=0.0, width=100.0) -> Template:
    """A rectangle about the axis; with `lean` one corner at the toe is cut off, so that left and right differ."""
    half = 0.5 * width
    outline = as_ring([(-100, -half), (100, -half + lean), (100, half), (-100, half)])
    middles = 0.5 * (outline + np.roll(outline, -1, axis=0))
    parts = [Part.TOE if x > 99 else Part.BACK if x < -99 else Part.SIDE for x, _ in middles]
    return Template("box", size, outline, tuple(parts))


def style(name="box", lean=0.0, width=100.0, **changes) -> Style:
    """A style of the rectangle; sizes differ by 10 mm in length and 6 mm across."""
    plain = Style(
        name=name, leather="calf", roll="", templates=(box_template(lean=lean, width=width),),
        grading=Grading("paris", "38", 10.0, 6.0), allowances=EVEN, widening_percent=0.0,
        reinforcement_inset_mm=10.0, reject_percent=0.0, reject_percent_by_quality=(), thickness_mm=1.4, rules=Rules(),
    )
    return replace(plain, **changes)


def zone(zone_id, outline, quality=1, stretch_deg=90.0) -> Zone:
    """A zone; stretch at 90° lets toes lie along x."""
    return Zone(zone_id, quality, stretch_deg, outline)


def hide(hide_id="H1", length=1000.0, width=500.0, *, zones=None, flaws=(), price=None, quality=1, holes=()) -> Hide:
    """A rectangular hide, one zone unless others are given."""
    outline = Polygon(shapely.get_coordinates(box(0, 0, length, width)), holes)
    zones = (zone("all", outline),) if zones is None else tuple(zones)
    return Hide(hide_id, "calf", "lot 1", quality, 1.3, length * width, outline, zones, tuple(flaws), price)


def flaw(outline, flaw_id="F1", *, tears=False, coverable=True) -> Flaw:
    """A flaw of this outline."""
    return Flaw(flaw_id, "scratch", 1, tears, coverable, outline)


def roll(**changes) -> Roll:
    """A roll with 480 mm between its selvedges, stretch over its width."""
    return replace(Roll("knit", 500.0, 10.0, 20_000.0, RollStretch.WIDTH, 90.0, Decimal("3.20")), **changes)


def job(*, styles=None, order=(("box", "38", 4),), hides=None, rolls=(), price="30.00", **changes) -> Job:
    """A job; by default four pairs of one size on one hide."""
    plain = Job(
        name="boxes",
        styles=(style(),) if styles is None else tuple(styles),
        order=tuple(OrderLine(*line) for line in order),
        leathers=(Leather("calf", Decimal(price), "m2"),),
        hides=(hide(),) if hides is None else tuple(hides),
        rolls=tuple(rolls),
        weight_table=(),
        settings=Settings(hide_gap_mm=1.0, roll_gap_mm=1.0),
    )
    return replace(plain, **changes)


def brick(ring, gap):
    """Rectangles with a gap tile as rectangles grown by it; a pair takes two (elementary)."""
    length, width = np.ptp(ring, axis=0)
    return (2.0 * (length + gap) * (width + gap),) * 2


def _spots(low, high, edges, extent, gap):
    """Places along one direction: against the start, and just behind everything placed."""
    return sorted({low, *(edge + gap for edge in edges if edge + gap + extent <= high + 1e-9)})


def rows_region(problem, stop, *, seed, workers=2, listener=None):
    """Lay unit after unit at the lowest, then leftmost place; a family's partners together, or not at all."""
    items: list[Item] = []
    placed: list[Polygon] = []
    for unit in _units(problem.kinds):
        if stop.cancelled():
            break
        mine = []
        for kind in unit:
            spot = _lowest(problem, kind, placed)
            if spot is None:
                break
            mine.append(Item(kind, spot))
            placed.append(Polygon(spot.apply(problem.kinds[kind].outline)))
        levels = {0 if problem.level is None else problem.level(item.kind, item.pose) for item in mine}
        if len(mine) == len(unit) and len(levels) == 1:
            items += mine
        else:
            del placed[len(placed) - len(mine):]
    return (Layout(tuple(items)),)


def _units(kinds):
    for k, kind in enumerate(kinds):
        if not kind.family:
            yield from [(k,)] * kind.limit
        elif kind.side == 0:
            yield from [(k, k)] * (kind.limit // 2)
        elif kind.side < 0:
            other = next(c for c, one in enumerate(kinds) if one.family == kind.family and one.side > 0)
            yield from [(k, other)] * min(kind.limit, kinds[other].limit)


def _lowest(problem, k, placed) -> Pose | None:
    kind, ground = problem.kinds[k], problem.grounds[k]
    x0, y0, x1, y1 = ground.outline.bounds
    others = np.array(placed, dtype=object)
    bounds = shapely.bounds(others).reshape(-1, 4)
    for h, heading in enumerate(kind.headings_deg):
        ring = Pose(0.0, 0.0, heading).apply(kind.outline)
        low, size = ring.min(axis=0), np.ptp(ring, axis=0)
        core = Pose(0.0, 0.0, heading).apply(kind.core)
        spots = np.array([
            (x, y) for y in _spots(y0, y1, bounds[:, 3], size[1], problem.gap_mm)
            for x in _spots(x0, x1, bounds[:, 2], size[0], problem.gap_mm)
        ]).reshape(-1, 2)
        at = np.ceil((spots - low) * 1e4) / 1e4
        at = at[np.all((low + at >= (x0, y0)) & (low + at + size <= (x1, y1)), axis=1)]
        shapes = shapely.polygons(ring[None] + at[:, None])
        least, room = low + at, problem.gap_mm + 1e-6
        i, j = np.nonzero(np.all((bounds[None, :, :2] < (least + size + room)[:, None])
                                 & (bounds[None, :, 2:] > (least - room)[:, None]), axis=2))
        free = np.ones(len(at), bool)
        free[i[shapely.distance(shapes[i], others[j]) < problem.gap_mm]] = False
        for place, shape in zip(at[free], shapes[free], strict=True):
            if (
                not np.any(shapely.intersects(shape.buffer(-1e-3), others))
                and ground.outline.covers(shape)
                and ground.core[h].covers(Polygon(core + place))
            ):
                return Pose(float(place[0]), float(place[1]), heading)
    return None


def rows_strip(problem, stop, *, seed, workers=2, listener=None):
    """Lay pieces in columns across the strip, at the first heading."""
    items, x, y, deepest = [], 0.0, 0.0, 0.0
    for k, kind in enumerate(problem.kinds):
        ring = Pose(0.0, 0.0, kind.headings_deg[0]).apply(kind.outline)
        low, size = ring.min(axis=0), np.ptp(ring, axis=0)
        for _ in range(kind.limit):
            if y + size[1] > problem.width_mm:
                x, y, deepest = x + deepest + problem.gap_mm, 0.0, 0.0
            at = np.ceil((np.array((x, y)) - low) * 1e4) / 1e4
            items.append(Item(k, Pose(float(at[0]), float(at[1]), kind.headings_deg[0])))
            y += size[1] + problem.gap_mm
            deepest = max(deepest, size[0])
    return Layout(tuple(items), x + deepest)


ROWS = Engine(rows_region, rows_strip)
