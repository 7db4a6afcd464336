"""The picture on a cut sheet: the hide as it lies on the table, with everything named that the sheet lists."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from geometry.pose import rotate
from nest.cutplan.compose import POINT_NAMES, registration_points
from nest.cutplan.sizes import sizes_in_order
from nest.cutplan.work import Work
from nest.pieces.piece import Foot, Piece
from nest.plan import CUT_BY_PLAN, HideLayout, Placed, Plan
from nest.report import palette
from nest.report.photograph import unpacked
from nest.sheets.page import ALARM, INK, LEAST_SIZE, QUIET, Box, Page, width
from nest.sheets.spots import Spots
from nest.sheets.view import View, arrow, dart, draw_piece, fills, fitted, number_stacks, write_in
from nest.stock.material import Flaw, Hide
from nest.units import MM_PER_LENGTH_UNIT

AROUND = 22.0
"""Left around the hide for what is written beside it, points."""

STRETCH = "#17406d"
"""Arrows of the direction of most stretch: not the colour of flaws."""

MOST_OUTSIDE = 40
"""No more numbers than this stand beside pieces that are too small for them."""

_DART_CLEAR = 0.6
"""Numbers keep this far from the dart to a toe, points."""

_ENDS = ("neck", "butt")
_SMALL = 7.0
"""A flaw smaller than this on the page has a ring around it, points."""

_DECIMALS = {"mm": 0, "cm": 1, "in": 2}


@dataclass(frozen=True, slots=True)
class Named:
    """Letters of the styles, and numbers of the zones, that picture and lists share."""

    styles: dict[str, str]
    zones: dict[str, str]


def named(plan: Plan, layout: HideLayout, hide: Hide) -> Named:
    """A letter for each style where several lie on the hide, and a number for each zone."""
    styles = list(dict.fromkeys(plan.piece(one.piece_id).style for one in layout.placed))
    letters = {style: _letters(i) if len(styles) > 1 else "" for i, style in enumerate(styles)}
    return Named(letters, {zone.zone_id: f"Z{i}" for i, zone in enumerate(hide.zones, start=1)})


def piece_words(piece: Piece, names: Named) -> str:
    """Style, size and foot of a piece, short."""
    foot = {Foot.LEFT: " L", Foot.RIGHT: " R"}.get(piece.foot, "")
    return f"{names.styles[piece.style]} {piece.size}{foot}".strip()


def table_place(point, unit: str) -> str:
    """A point of the table in words, in the table's unit."""
    x, y = np.asarray(point) / MM_PER_LENGTH_UNIT[unit] + 0.0
    digits = _DECIMALS[unit]
    return f"({x:z.{digits}f}, {y:z.{digits}f})"


def aspect(work: Work, hide: Hide, wide: float) -> float:
    """Height by width of a picture this wide of the hide as it lies on the table, with what is written around it."""
    x0, y0, x1, y1 = shapely.bounds(work.frame.region(hide.outline))
    return float((y1 - y0) / (x1 - x0) * (wide - 2.0 * AROUND) + 2.0 * AROUND) / wide


def draw_hide_picture(
    page: Page, frame: Box, plan: Plan, layout: HideLayout, hide: Hide, work: Work, names: Named
) -> View:
    """Draw the hide within the frame, as the operator sees it; returns the view, for its scale."""
    outline = work.frame.region(hide.outline)
    inner = Box(frame.x0 + AROUND, frame.y0 + AROUND, frame.x1 - AROUND, frame.y1 - AROUND)
    view, spots = fitted(shapely.bounds(outline), inner), Spots(frame)
    _table_axes(page, spots, frame, view)
    zones = [(zone, work.frame.region(zone.outline)) for zone in hide.zones]
    for zone, region in zones:
        page.rings(view.rings(region), fill=palette.zone_tint(zone.quality), colour="#8a7a58", thick=0.4)
    _photograph(page, view, hide, work, outline)
    page.rings(view.rings(outline), thick=1.4)
    for ring in view.rings(shapely.segmentize(outline, 3.0 / view.scale)):
        spots.avoid(ring)
    shapes = _pieces(page, spots, view, plan, layout, work)
    _flaw_shapes(page, spots, view, hide, work)
    taken = shapely.union_all([shapely.polygons(path.wanted) for path in work.paths])
    for zone, region in zones:
        if zone.stretch_deg is not None:
            _stretch(page, spots, view, shapely.difference(region, taken), work.frame.direction_deg(zone.stretch_deg))
    points = work.frame.apply(registration_points(hide))
    _crosses(page, spots, view, points)
    _origin(page, spots, frame, view)
    # Numbers stand on all that is drawn, and have no other place than their piece: they come before other names.
    marked = shapely.union_all([view.region(work.frame.region(flaw.outline)) for flaw in hide.flaws])
    darts = [dart(view, toe_dart(plan.piece(one.piece_id), one, work)) for one in layout.placed]
    numbers = Page()
    _numbers(numbers, spots, plan, layout, names, shapely.difference(shapes, marked), darts)
    _point_names(page, spots, view, points, work)
    _flaw_names(page, spots, view, hide, work)
    for zone, region in zones:
        _zone_name(page, spots, view, names.zones[zone.zone_id], zone.zone_id, region, taken)
    _ends(page, spots, view, zones, outline)
    page.add(numbers)  # above the lines that lead to other names
    return view


def _pieces(page: Page, spots: Spots, view: View, plan: Plan, layout: HideLayout, work: Work) -> np.ndarray:
    """Draw every piece; returns their outlines on the page, (n,) polygons."""
    colours = fills(sizes_in_order(plan))
    shapes = []
    for where in layout.placed:
        piece = plan.piece(where.piece_id)
        cut, net = (work.frame.apply(where.pose.apply(ring)) for ring in (piece.cut_outline, piece.net_outline))
        draw_piece(page, view, cut, net, colours[piece.size])
        shape = shapely.polygons(view.of(cut))
        spots.avoid(shapely.get_coordinates(shapely.segmentize(shape, 3.0)))
        shapes.append(shape)
    return np.array(shapes, dtype=object)


def _numbers(page: Page, spots: Spots, plan: Plan, layout: HideLayout, names: Named, shapes, darts) -> None:
    """The number of every piece within its shape, or beside it where there is no room; and the dart to its toe.

    A piece that has room for one of them alone has its number.
    """
    outside = []
    for index, (where, shape, ring) in enumerate(zip(layout.placed, shapes, darts, strict=True)):
        what = piece_words(plan.piece(where.piece_id), names)
        number, pair = str(layout.number(index)), f"pair {where.pair}" if where.pair else ""
        stacks, toe = number_stacks(number, what, pair), shapely.polygons(ring)
        beside_dart = write_in(page, spots, shapely.difference(shape, shapely.buffer(toe, _DART_CLEAR)), stacks)
        if not beside_dart and write_in(page, spots, shape, stacks):
            continue
        if not beside_dart:
            outside.append((shape, number))
        page.rings([ring], fill=INK, colour=None)
        spots.take(Box(*shapely.bounds(toe)))
    # Where many are too small for a number, lines to all would hide the picture; labels of the drawing say them.
    if len(outside) > MOST_OUTSIDE:
        said = f"{len(outside)} pieces are too small for their number here: it stands on their label in the drawing."
        if (box := spots.around(spots.foot, width(said, LEAST_SIZE, True), LEAST_SIZE)) is not None:
            spots.take(page.text(box.x0, box.y0, said, LEAST_SIZE, bold=True, halo=True))
        return
    for shape, number in outside:
        _beside(page, spots, shapely.get_coordinates(shapely.centroid(shape))[0], number, LEAST_SIZE, True, INK)


def toe_dart(piece: Piece, where: Placed, work: Work) -> np.ndarray:
    """From within a piece to its toe along the axis, (2, 2) on the table."""
    toe = float(np.max(np.asarray(piece.net_outline)[:, 0]))
    return work.frame.apply(where.pose.apply(np.array(((toe - 20.0, 0.0), (toe, 0.0)))))


def _beside(page: Page, spots: Spots, at, text: str, size: float, bold: bool, colour: str, **place) -> bool:
    """Write a text at the free place nearest to a spot, with a line to it where it is not at hand."""
    box = spots.around(at, width(text, size, bold), size, **place)
    if box is None:
        return False
    spots.take(box)
    near = np.clip(at, (box.x0, box.y0), (box.x1, box.y1))
    if np.hypot(*(near - at)) > 4.0:
        page.line((at, near), colour="#ffffff", thick=1.6)
        page.line((at, near), colour=colour, thick=0.5)
        spots.take_line(at, near)
    page.text(box.x0, box.y0, text, size, bold=bold, colour=colour, halo=True)
    return True


def _flaw_shapes(page: Page, spots: Spots, view: View, hide: Hide, work: Work) -> None:
    for flaw in hide.flaws:
        region = work.frame.region(flaw.outline)
        rings = view.rings(region)
        if flaw.kind == CUT_BY_PLAN:
            page.rings(rings, fill="#c9c9c9", colour=QUIET, thick=0.4)
            continue
        look: dict[str, Any] = {"fill": "#ffffff"}
        if flaw.tears:
            look = {"fill": ALARM}
        elif not flaw.coverable:
            look = {"fill": "#ffffff", "hatch": ALARM}
        page.rings(rings, colour=ALARM, thick=1.0, **look)
        spots.avoid(shapely.get_coordinates(shapely.segmentize(shapely.linearrings(rings[0]), 2.0)))
        low, high = np.vstack(rings).min(axis=0), np.vstack(rings).max(axis=0)
        if (high - low).max() < _SMALL:
            middle, turns = 0.5 * (low + high), np.linspace(0.0, 2.0 * np.pi, 25)[:-1]
            ring = middle + 0.6 * _SMALL * np.column_stack((np.cos(turns), np.sin(turns)))
            page.rings([ring], colour="#ffffff", thick=2.0)
            page.rings([ring], colour=ALARM, thick=0.8)
            spots.take(Box(*ring.min(axis=0), *ring.max(axis=0)))


def _flaw_names(page: Page, spots: Spots, view: View, hide: Hide, work: Work) -> None:
    for flaw in sorted(drawn_flaws(hide), key=lambda flaw: (not flaw.tears, flaw.coverable)):
        at = view.of(shapely.get_coordinates(shapely.point_on_surface(work.frame.region(flaw.outline))))[0]
        _beside(page, spots, at, flaw.flaw_id, 8.0, True, ALARM, clear=0.6 * _SMALL)


def drawn_flaws(hide: Hide) -> list[Flaw]:
    """Flaws of the leather itself."""
    return [flaw for flaw in hide.flaws if flaw.kind != CUT_BY_PLAN]


def _crosses(page: Page, spots: Spots, view: View, points: np.ndarray) -> None:
    """A cross at each registration point, that nothing is written over."""
    for at in view.of(points):
        for arm in (np.array((7.0, 0.0)), np.array((0.0, 7.0))):
            page.line((at - arm, at + arm), colour="#ffffff", thick=2.4)
            page.line((at - arm, at + arm), thick=1.1)
            spots.take(Box(*(at - arm - 0.6), *(at + arm + 0.6)))


def _point_names(page: Page, spots: Spots, view: View, points: np.ndarray, work: Work) -> None:
    middle = points.mean(axis=0)
    for name, point, at in zip(POINT_NAMES, points, view.of(points), strict=False):
        out = (point - middle) * (1.0, -1.0)
        text = f"{name} {table_place(point, work.table.unit)}"
        _beside(page, spots, at, text, 8.0, True, INK, clear=5.0, towards=out / max(np.hypot(*out), 1e-9))


def _table_axes(page: Page, spots: Spots, frame: Box, view: View) -> None:
    """The table's own directions in the lower left corner."""
    corner = np.array((frame.x0 + 4.0, frame.y1 - 4.0))
    arrow(page, corner, (corner[0] + 26.0, corner[1]))
    arrow(page, corner, (corner[0], corner[1] - 26.0))
    boxes = [
        page.text(corner[0] + 28.0, corner[1] - 4.5, "x of the table", LEAST_SIZE),
        page.text(corner[0] - 3.0, corner[1] - 34.5, "y", LEAST_SIZE),
    ]
    spots.take(*boxes, Box(corner[0] - 3.0, corner[1] - 28.0, corner[0] + 28.0, corner[1] + 3.0))


def _origin(page: Page, spots: Spots, frame: Box, view: View) -> None:
    """The table's origin, where the picture shows it."""
    at = view.of((0.0, 0.0))[0]
    if frame.x0 + 3.0 < at[0] < frame.x1 - 3.0 and frame.y0 + 3.0 < at[1] < frame.y1 - 3.0:
        page.rectangle(at[0] - 2.5, at[1] - 2.5, 5.0, 5.0, fill=INK, colour="#ffffff")
        spots.take(Box(at[0] - 2.5, at[1] - 2.5, at[0] + 2.5, at[1] + 2.5))
        _beside(page, spots, at, "origin (0, 0)", LEAST_SIZE, False, INK, clear=3.5)


def _stretch(page: Page, spots: Spots, view: View, free, stretch_deg: float) -> None:
    """A double arrow along the direction of most stretch where the free ground is widest."""
    if free.is_empty:
        return
    spoke = shapely.maximum_inscribed_circle(free, tolerance=5.0)
    middle = shapely.get_coordinates(spoke)[0]
    half = min(max(spoke.length, 40.0), 120.0)
    ends = rotate(np.array(((-half, 0.0), (half, 0.0))), stretch_deg) + middle
    start, end = view.of(ends)
    page.line((start, end), colour="#ffffff", thick=3.0)
    arrow(page, start, end, both=True, colour=STRETCH, thick=1.3)
    spots.take_line(start, end, 2.0)


def _zone_name(page: Page, spots: Spots, view: View, number: str, name: str, region, taken) -> None:
    free = shapely.difference(region, taken)
    free = region if free.is_empty else free
    at = view.of(shapely.get_coordinates(shapely.maximum_inscribed_circle(free, tolerance=5.0))[0])[0]
    for text in (f"{number} {name}", number):
        for part in sorted(shapely.get_parts(view.region(free)), key=shapely.area, reverse=True)[:4]:
            if (box := spots.within(part, width(text, 8.0, True), 8.0)) is not None:
                spots.take(box)
                page.text(box.x0, box.y0, text, 8.0, bold=True, colour=STRETCH)
                return
    _beside(page, spots, at, number, 8.0, True, STRETCH, clear=0.0)


def _ends(page: Page, spots: Spots, view: View, zones, outline) -> None:
    """The words NECK and BUTT outside the hide, at the ends that zones of these names lie at."""
    middle = shapely.get_coordinates(outline.centroid)[0]
    tips = shapely.get_coordinates(outline.convex_hull)
    for word in _ENDS:
        own = [region for zone, region in zones if word in zone.zone_id.casefold()]
        if not own:
            continue
        way = shapely.get_coordinates(shapely.union_all(own).centroid)[0] - middle
        way = way / max(np.hypot(*way), 1e-9)
        tip = view.of(middle + way * float(((tips - middle) @ way).max()))[0]
        _beside_hide(page, spots, view.region(outline), tip, way * (1.0, -1.0), word.upper())


def _beside_hide(page: Page, spots: Spots, outline, tip, way, word: str) -> None:
    wide, high = width(word, 10.0, True), 10.0
    for out in np.arange(3.0, 60.0, 3.0):
        for side in (0.0, 15.0, -15.0, 30.0, -30.0, 60.0, -60.0):
            away = out + 0.5 * (abs(way[0]) * wide + abs(way[1]) * high)
            x, y = tip + away * way + side * np.array((-way[1], way[0]))
            box = Box(x - 0.5 * wide, y - 0.5 * high, x + 0.5 * wide, y + 0.5 * high)
            if not shapely.intersects(outline, shapely.box(box.x0, box.y0, box.x1, box.y1)) and spots.free(box):
                spots.take(box)
                page.text(box.x0, box.y0, word, 10.0, bold=True)
                return
    _beside(page, spots, tip, word, 10.0, True, INK)


def _photograph(page: Page, view: View, hide: Hide, work: Work, outline) -> None:
    """The hide's photograph, pale, under the pieces, if it has one."""
    shown = hide.backdrop
    grey = None if shown is None else unpacked(shown)
    if shown is None or grey is None:
        return
    corners = view.of(work.frame.apply(((shown.x0, shown.y0), (shown.x1, shown.y0), (shown.x0, shown.y1))))
    across, up = corners[1] - corners[0], corners[2] - corners[0]
    page.picture(255 - (255 - grey) // 3, np.column_stack((across, up, corners[0])), view.rings(outline))


def _letters(i: int) -> str:
    """A, B ... Z, AA, AB ..."""
    return (_letters(i // 26 - 1) if i >= 26 else "") + chr(ord("A") + i % 26)
