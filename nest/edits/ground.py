"""Changes to the drawing of a hide: flaws, zones and edge as a hand marks them."""

import math
from collections.abc import Iterable
from dataclasses import replace
from itertools import chain, count

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.ops import split

from geometry.polygon import snapped
from geometry.precision import COORDINATE_GRID_MM
from nest.edits.commands import (
    DropFlaw,
    EditProblem,
    MarkFlaw,
    MarkZone,
    Points,
    SetZone,
    SplitZone,
    StretchUnknown,
    TrimEdge,
)
from nest.limits import LARGEST_COORDINATE, MOST_OUTLINE_VERTICES
from nest.stock.material import Flaw, Hide, Zone
from nest.text import hidden_in

LARGEST_CLASS, LARGEST_WIDTH_MM = 99, 1000.0
"""As the drawing of a hide may have them."""

_SLIVER_MM2 = 1.0
"""Scraps of ground that rounding leaves are no zones."""


def with_flaw(hide: Hide, command: MarkFlaw) -> Hide:
    """The hide with one flaw more, under the next free id."""
    if not 0 <= command.severity <= LARGEST_CLASS:
        raise EditProblem(f"a flaw has a severity from 0 to {LARGEST_CLASS}, not {command.severity}; correct it.")
    _check_name(command.kind, "a kind")
    if command.loop:
        shape = _loop(command.points, "a loop around a flaw")
    else:
        if not 0.0 < command.width_mm <= LARGEST_WIDTH_MM:
            raise EditProblem(
                f"a flaw drawn as a point or a stroke has a width up to {LARGEST_WIDTH_MM:g} mm, not "
                f"{command.width_mm:g}; give its width."
            )
        points = _checked(command.points, 1, "a flaw")
        line = LineString(points) if len(points) > 1 else shapely.Point(points[0])
        shape = snapped(line.buffer(0.5 * command.width_mm, quad_segs=8), COORDINATE_GRID_MM)
    if not shape.intersects(hide.outline):
        raise EditProblem(f"the flaw lies outside hide {hide.hide_id}; draw it on the hide.")
    taken = {flaw.flaw_id for flaw in hide.flaws}
    name = next(name for name in (f"F{number:02d}" for number in count(1)) if name not in taken)
    flaw = Flaw(name, command.kind.strip(), command.severity, command.tears, command.coverable, shape)
    return replace(hide, flaws=(*hide.flaws, flaw))


def without_flaw(hide: Hide, command: DropFlaw) -> Hide:
    """The hide without a flaw."""
    if all(flaw.flaw_id != command.flaw for flaw in hide.flaws):
        raise EditProblem(f"hide {hide.hide_id} has no flaw {command.flaw!r}; see its sheet.")
    return replace(hide, flaws=tuple(flaw for flaw in hide.flaws if flaw.flaw_id != command.flaw))


def with_zone(hide: Hide, command: MarkZone) -> Hide:
    """The hide with ground taken out of its zones and made one of its own."""
    loop = _within(hide, _loop(command.points, "a zone"))
    zones = [
        replace(zone, outline=rest)
        for zone in hide.zones if (rest := _ground(zone.outline.difference(loop))) is not None
    ]
    _check_class(command.quality)
    new = Zone(_free_name("zone", zones), command.quality, _stretch(command.stretch_deg), loop)
    return replace(hide, zones=(*zones, new))


def with_split_zone(hide: Hide, command: SplitZone) -> Hide:
    """The hide with a zone cut in two along a line, which is drawn on beyond its ends."""
    zone = _zone(hide, command.zone)
    _check_class(command.quality)
    stretch = _stretch(command.stretch_deg)
    line = _drawn_on(_checked(command.points, 2, "a line"), hide.outline.length)
    parts = [part for shape in _polygons(zone.outline) for part in split(shape, line).geoms]
    if len(parts) < 2:
        raise EditProblem(f"the line does not cross zone {zone.zone_id!r}; draw it from edge to edge.")
    left = _ground(shapely.union_all([part for part in parts if _left_of(line, part)]))
    right = _ground(shapely.union_all([part for part in parts if not _left_of(line, part)]))
    if left is None or right is None:
        raise EditProblem(f"the line cuts nothing off zone {zone.zone_id!r}; draw it through the zone.")
    new = Zone(_free_name(zone.zone_id, hide.zones), command.quality, stretch, left)
    zones = [replace(one, outline=right) if one.zone_id == zone.zone_id else one for one in hide.zones]
    return replace(hide, zones=(*zones, new))


def with_set_zone(hide: Hide, command: SetZone) -> Hide:
    """The hide with another class or stretch for a zone."""
    zone = _zone(hide, command.zone)
    _check_class(command.quality)
    new = replace(zone, quality=command.quality, stretch_deg=_stretch(command.stretch_deg))
    return replace(hide, zones=tuple(new if one.zone_id == zone.zone_id else one for one in hide.zones))


def with_unknown_stretch(hide: Hide, command: StretchUnknown) -> Hide:
    """The hide with the stretch of a zone, or of all of them, unknown."""
    named = {_zone(hide, command.zone).zone_id} if command.zone else {zone.zone_id for zone in hide.zones}
    zones = (replace(one, stretch_deg=None) if one.zone_id in named else one for one in hide.zones)
    return replace(hide, zones=tuple(zones))


def trimmed(hide: Hide, command: TrimEdge) -> Hide:
    """The hide without what lies in a loop; zones and flaws end where it ends."""
    rest = hide.outline.difference(_loop(command.points, "what is trimmed off"))
    whole = max(_polygons(snapped(rest, COORDINATE_GRID_MM)), key=lambda part: part.area, default=None)
    if whole is None or whole.area < _SLIVER_MM2:
        raise EditProblem(f"nothing would be left of hide {hide.hide_id}; ban it instead.")
    if whole.equals(hide.outline):
        raise EditProblem(f"the loop takes nothing off hide {hide.hide_id}; draw it over the edge.")
    zones = tuple(
        replace(zone, outline=kept) for zone in hide.zones
        if (kept := _ground(zone.outline.intersection(whole))) is not None
    )
    flaws = tuple(flaw for flaw in hide.flaws if flaw.outline.intersects(whole))
    return replace(hide, outline=whole, zones=zones, flaws=flaws)


def _zone(hide: Hide, name: str) -> Zone:
    for zone in hide.zones:
        if zone.zone_id == name:
            return zone
    names = ", ".join(zone.zone_id for zone in hide.zones) or "none"
    raise EditProblem(f"hide {hide.hide_id} has no zone {name!r}; its zones: {names}.")


def _check_class(quality: int) -> None:
    if not 1 <= quality <= LARGEST_CLASS:
        raise EditProblem(f"a zone has a class from 1 to {LARGEST_CLASS}, not {quality}; correct it.")


def _stretch(stretch_deg: float | None) -> float | None:
    """A direction of stretch, modulo 180°; None where it is unknown."""
    if stretch_deg is None:
        return None
    if not abs(stretch_deg) <= 360.0:
        raise EditProblem(f"a direction of stretch lies within 360°, not at {stretch_deg:g}°; correct it.")
    return stretch_deg % 180.0


def _check_name(text: str, what: str) -> None:
    if not text.strip() or len(text) > 100 or hidden_in(text) or any(mark in text for mark in "\t\n\r"):
        raise EditProblem(f"{what} is a line of text, not {text[:40]!r}; write it again.")


def _free_name(base: str, zones: Iterable[Zone]) -> str:
    taken = {zone.zone_id for zone in zones}
    return next(name for name in chain((base,), (f"{base} {number}" for number in count(2))) if name not in taken)


def _checked(points: Points, least: int, what: str) -> np.ndarray:
    found = np.array(points, dtype=np.float64).reshape(-1, 2)
    if not least <= len(found) <= MOST_OUTLINE_VERTICES or not (np.abs(found) <= LARGEST_COORDINATE).all():
        most = MOST_OUTLINE_VERTICES
        raise EditProblem(f"{what} needs {least} to {most} points in mm, not {len(found)}; draw it again.")
    return found


def _loop(points: Points, what: str) -> Polygon:
    """The ground within a closed loop of points, on the coordinate grid."""
    drawn = Polygon(_checked(points, 3, what))
    shape = snapped(drawn, COORDINATE_GRID_MM) if drawn.is_valid else None
    if not isinstance(shape, Polygon) or shape.area < _SLIVER_MM2:
        raise EditProblem(f"{what} must be a loop that encloses ground and does not cross itself; draw it again.")
    return shape


def _within(hide: Hide, loop: Polygon) -> Polygon | MultiPolygon:
    ground = _ground(loop.intersection(hide.outline))
    if ground is None:
        raise EditProblem(f"the zone lies outside hide {hide.hide_id}; draw it on the hide.")
    return ground


def _ground(shape) -> Polygon | MultiPolygon | None:
    """What of a shape is ground, on the coordinate grid; None for slivers."""
    parts = [part for part in _polygons(snapped(shape, COORDINATE_GRID_MM)) if part.area >= _SLIVER_MM2]
    return None if not parts else parts[0] if len(parts) == 1 else MultiPolygon(parts)


def _polygons(shape) -> list[Polygon]:
    return [part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty]


def _drawn_on(points: np.ndarray, by_mm: float) -> LineString:
    """The line with both ends drawn on straight."""
    ends = []
    for end, before in ((points[0], points[1]), (points[-1], points[-2])):
        way = end - before
        length = math.hypot(*way)
        if length == 0.0:
            raise EditProblem("a line has two ends that differ; draw it again.")
        ends.append(end + by_mm / length * way)
    return LineString([ends[0], *points, ends[1]])


def _left_of(line: LineString, part: Polygon) -> bool:
    """Whether a part lies to the left of a line, going along it."""
    inside = part.representative_point()
    near = line.project(inside)
    before, after = line.interpolate(max(near - 1.0, 0.0)), line.interpolate(min(near + 1.0, line.length))
    way = (after.x - before.x, after.y - before.y)
    return way[0] * (inside.y - before.y) - way[1] * (inside.x - before.x) > 0.0
