"""What the page draws and says of every hide, lay and piece, as plain data."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from nest.cutplan.sizes import sizes_in_order
from nest.pieces.piece import Piece, Role, Template
from nest.plan import HideLayout, Lay, Placed, Plan, PlannedStyle
from nest.report import palette
from nest.report.arrows import ground_taken, stretch_arrow, widest_place
from nest.report.outlines import UNITS_PER_MM, box_units, path_of_line, path_of_region, path_of_ring, units
from nest.rules import ZONE_SHARE, Heading, deviation_deg, deviation_from_across_deg, judge_heading
from nest.stock.material import Flaw, Hide

_ROOM_MM = 15.0
_SMALL_FLAW_MM = 35.0


def drawing_data(plan: Plan) -> dict:
    """Sizes with their colours, pieces with their outlines, and a drawing of each hide and lay that is cut.

    Lengths are whole tenths of a millimetre, y downwards; angles degrees, clockwise on the screen.
    """
    sizes = sizes_in_order(plan)
    colours = palette.by_size(sizes)
    number = {piece.piece_id: i for i, piece in enumerate(plan.pieces)}
    hides = {hide.hide_id: hide for hide in plan.hides}
    return {
        "sizes": [{"size": size, "fill": colours[size][0], "ink": colours[size][1]} for size in sizes],
        "pieces": [_piece(piece) for piece in plan.pieces],
        "limits": {style.name: style.rules.tolerance_deg for style in plan.styles},
        "drawings": [
            *(_hide(plan, hides[layout.hide_id], layout, number) for layout in plan.layouts if layout.placed),
            *(_lay(plan, lay, number) for lay in plan.lays if lay.placed),
        ],
    }


def hide_data(plan: Plan, hide_id: str) -> dict:
    """The same of one hide, whether anything lies on it or not."""
    hide = next(hide for hide in plan.hides if hide.hide_id == hide_id)
    layout = next((one for one in plan.layouts if one.hide_id == hide_id), HideLayout(hide_id, ()))
    number = {piece.piece_id: i for i, piece in enumerate(plan.pieces)}
    return drawing_data(replace(plan, layouts=(), lays=())) | {"drawings": [_hide(plan, hide, layout, number)]}


def _piece(piece: Piece) -> dict:
    net = np.asarray(piece.net_outline)
    middle = shapely.centroid(shapely.polygons(net))
    toe = float(np.max(net[:, 0]))
    return {
        "style": piece.style,
        "size": piece.size,
        "foot": str(piece.foot),
        "role": str(piece.role),
        "cut": path_of_ring(piece.cut_outline),
        "net": path_of_ring(net),
        "toe": path_of_line(((toe, 0.0), (toe - 18.0, 0.0))),
        "middle": units((middle.x, middle.y))[0].tolist(),
    }


def _hide(plan: Plan, hide: Hide, layout: HideLayout, number) -> dict:
    one_way = next((leather.one_way for leather in plan.leathers if leather.name == hide.leather), False)
    held = _zones_held(plan, hide, layout.placed)
    pieces, words = ground_taken(plan, layout.placed)
    return {
        "id": hide.hide_id,
        "kind": "hide",
        "box": box_units(hide.outline.bounds, _ROOM_MM),
        "edge": path_of_region(hide.outline),
        "zones": [
            {
                "id": zone.zone_id, "quality": zone.quality,
                "stretch": None if zone.stretch_deg is None else round(zone.stretch_deg, 1),
                "path": path_of_region(zone.outline),
                "arrow": zone.stretch_deg is not None and _arrow(
                    zone.outline, zone.stretch_deg, pieces, words, [flaw.outline for flaw in hide.flaws]),
                "unknown": zone.stretch_deg is None and units(widest_place(zone.outline, pieces))[0].tolist(),
            }
            for zone in hide.zones
        ],
        "flaws": [_flaw(flaw) for flaw in hide.flaws],
        "placed": [
            _placed(plan, one, number, [hide.zones[i].stretch_deg for i in zones], one_way, zones)
            for one, zones in zip(layout.placed, held, strict=True)
        ],
    }


def _lay(plan: Plan, lay: Lay, number) -> dict:
    roll = next(roll for roll in plan.rolls if roll.roll_id == lay.roll_id)
    width, margin = roll.usable_width_mm, roll.selvedge_mm
    strip = shapely.box(0.0, 0.0, lay.length_mm, width)
    whole = shapely.box(0.0, -margin, lay.length_mm, width + margin)
    return {
        "id": lay.lay_id,
        "kind": "lay",
        "box": box_units(whole.bounds, _ROOM_MM),
        "edge": path_of_region(whole),
        "zones": [
            {"id": roll.roll_id, "quality": None, "stretch": round(roll.stretch_deg, 1), "path": path_of_region(strip),
             "arrow": _arrow(strip, roll.stretch_deg, *ground_taken(plan, lay.placed)), "unknown": False}
        ],
        "flaws": [],
        "placed": [_placed(plan, one, number, [roll.stretch_deg], roll.one_way, [0]) for one in lay.placed],
    }


def _placed(
    plan: Plan, one: Placed, number, stretches: Sequence[float | None], one_way: bool, zones: Sequence[int]
) -> list:
    """Piece, x, y, turn, pair, deviation from the rule, how the heading lies, zones that hold some of its net area."""
    piece = plan.pieces[number[one.piece_id]]
    style = next(style for style in plan.styles if style.name == piece.style)
    away, lies = _lie(one.pose.heading_deg, stretches, style, one_way)
    x, y = units((one.pose.x, one.pose.y))[0].tolist()
    turn = round(-one.pose.heading_deg % 360.0, 2)
    return [number[one.piece_id], x, y, turn, one.pair, away, lies, list(zones)]


def _lie(
    heading: float, stretches: Sequence[float | None], style: PlannedStyle, one_way: bool
) -> tuple[float | None, str]:
    """Largest deviation from the direction the rule asks for, over the ground under a piece, and how it lies there.

    Where some of it is of unknown stretch there is no figure.
    """
    known = [stretch for stretch in stretches if stretch is not None]
    if len(known) < len(stretches):
        right = style.rules.bias_leave and (not known or _lie(heading, known, style, one_way)[1] != Heading.WRONG)
        return None, str(Heading.BIAS if right else Heading.WRONG)
    worst, lies = None, Heading.ACROSS
    rank = {Heading.ACROSS: 0, Heading.BIAS: 1, Heading.WRONG: 2}
    for stretch in known:
        found = judge_heading(heading, stretch, style.rules, one_way)
        away = deviation_from_across_deg(heading, stretch, one_way)
        if found is Heading.BIAS:
            away = min(deviation_deg(heading, stretch + turn, one_way) for turn in (45.0, 135.0))
        if worst is None or (rank[found], away) > (rank[lies], worst):
            worst, lies = away, found
    return (None if worst is None else round(worst, 1) + 0.0), str(lies)


def _zones_held(plan: Plan, hide: Hide, placed: Sequence[Placed]) -> list[list[int]]:
    """For each piece the zones that hold more than `ZONE_SHARE` of its net area."""
    nets = {piece.piece_id: piece.net_outline for piece in plan.pieces}
    laid = shapely.make_valid(
        np.array([shapely.polygons(one.pose.apply(nets[one.piece_id])) for one in placed], dtype=object)
    )
    areas = shapely.area(laid)
    held: list[list[int]] = [[] for _ in placed]
    for i, zone in enumerate(hide.zones):
        shapely.prepare(zone.outline)
        near = shapely.intersects(zone.outline, laid)
        for k in np.flatnonzero(near):
            if shapely.area(shapely.intersection(zone.outline, laid[k])) > ZONE_SHARE * areas[k]:
                held[k].append(i)
    return held


def _arrow(outline, stretch_deg: float, pieces: Sequence, words: Sequence, marks: Sequence = ()) -> list[int] | None:
    """Middle and half length of a stretch arrow, where it hides no word."""
    found = stretch_arrow(outline, stretch_deg, pieces, words, marks)
    return found and [*units(found[:2])[0].tolist(), round(UNITS_PER_MM * found[2])]


def _flaw(flaw: Flaw) -> dict:
    x_min, y_min, x_max, y_max = flaw.outline.bounds
    (x, y), *_ = units((0.5 * (x_min + x_max), 0.5 * (y_min + y_max))).tolist()
    return {
        "id": flaw.flaw_id,
        "kind": flaw.kind,
        "severity": flaw.severity,
        "rule": "tears" if flaw.tears else "coverable" if flaw.coverable else "clear",
        "path": path_of_region(flaw.outline),
        "at": [x, y],
        "small": bool(max(x_max - x_min, y_max - y_min) < _SMALL_FLAW_MM),
    }


def piece_pictures(plan: Plan) -> list[dict]:
    """The middle size of every style: rough and net outline, reinforcement, and the parts that carry an allowance."""
    rank = {size: i for i, size in enumerate(sizes_in_order(plan))}
    found = []
    for style in plan.styles:
        own = sorted((p for p in plan.pieces if p.style == style.name), key=lambda piece: rank[piece.size])
        vamps = [piece for piece in own if piece.role is Role.VAMP and piece.foot != "right"]
        if not vamps:
            continue
        vamp = vamps[len(vamps) // 2]
        back = next(
            (p for p in own if p.role is Role.REINFORCEMENT and (p.size, p.foot) == (vamp.size, vamp.foot)), None
        )
        template = next((one for one in style.templates if one.size == vamp.size), None)
        cut = np.asarray(vamp.cut_outline)
        low, high = cut.min(axis=0), cut.max(axis=0)
        found.append({
            "style": style.name,
            "size": vamp.size,
            "length": float(high[0] - low[0]),
            "width": float(high[1] - low[1]),
            "box": " ".join(map(str, box_units((*low, *high), 6.0))),
            "cut": path_of_ring(cut),
            "net": path_of_ring(vamp.net_outline),
            "back": path_of_ring(back.cut_outline) if back else "",
            "parts": _part_paths(template) if template else {},
        })
    return found


def _part_paths(template: Template) -> dict[str, str]:
    """For each part of a template's outline the path along its edges, in one line where they follow each other."""
    outline, parts = np.asarray(template.outline), template.parts
    starts = [i for i in range(len(parts)) if parts[i] != parts[i - 1]] or [0]
    paths: dict[str, str] = {}
    for start, end in zip(starts, [*starts[1:], starts[0] + len(parts)], strict=True):
        along = np.arange(start, end + 1) % len(parts)
        paths[str(parts[start])] = paths.get(str(parts[start]), "") + path_of_line(outline[along])
    return paths
