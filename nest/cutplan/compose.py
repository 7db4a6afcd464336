"""The drawing of a hide, of a lay, and of one piece: what is on it and where, in the table's coordinates."""

from types import MappingProxyType

import numpy as np
import shapely

from geometry.pose import Pose, rotate
from nest.cutplan.drawing import Drawing, Label, Outline, cross, line, piece_name, region_outlines, work_entities
from nest.cutplan.frame import Frame
from nest.cutplan.grid import exact
from nest.cutplan.legend import (
    POINT_NAMES,
    counts,
    hide_facts,
    lay_facts,
    legend,
    registration_text,
    table_words,
    units_and_nicks,
)
from nest.cutplan.legendplace import legend_beside
from nest.cutplan.nickcode import StyleNumbers, style_numbers
from nest.cutplan.path import kept_by, promised
from nest.cutplan.stamp import Stamp, stamp_of
from nest.cutplan.work import Work, found, hide_work, lay_work, work_of
from nest.job.cutting_table import PLAIN_TABLE, CuttingTable
from nest.pieces.piece import Piece
from nest.plan import HideLayout, Lay, Placed, Plan
from nest.stock.material import UNKNOWN, Flaw, Hide, Roll

_ARROW_MM, _BARB_MM, _CROSS_MM = 60.0, 12.0, 15.0
_ASIDE = 0.1
"""The fourth registration point lies at least this share of the first two's distance off their line."""


def hide_drawing(
    plan: Plan, layout: HideLayout, warning: str = "", work: Work | None = None, stamp: Stamp | None = None
) -> Drawing:
    """The drawing of one hide; `work` saves finding the cut order again, `stamp` is by default of now.

    Raises PlanProblem as `nest.cutplan.work.hide_work`.
    """
    hide = found(plan.hides, "hide_id", layout.hide_id)
    work = work or hide_work(plan, layout)
    frame = work.frame
    material = frame.region(hide.outline)
    reference: list[Outline | Label] = [*region_outlines("material", material)]
    for zone in hide.zones:
        outline = frame.region(zone.outline)
        reference += region_outlines("zones", outline)
        middle = shapely.point_on_surface(outline).coords[0]
        stretch = None if zone.stretch_deg is None else frame.direction_deg(zone.stretch_deg) % 180.0
        said = UNKNOWN if stretch is None else f"{exact(round(stretch, 6))} deg"
        text = f"{zone.zone_id}: class {zone.quality}, stretch {said}"
        reference.append(Label("zones", text, (middle[0] + 10.0, middle[1] + 10.0), 8.0))
        reference += [] if stretch is None else _stretch_arrow(middle, stretch)
    for flaw in hide.flaws:
        reference += _flaw(flaw, frame)
    heading = [
        f"{plan.name}: cutting drawing. Arrows: direction of most stretch. Toes lie across it.",
        (stamp or stamp_of(plan)).told(),
        *hide_facts(
            plan, hide,
            *_promised(work, material, plan.settings.hide_gap_mm, plan.settings.edge_margin_mm + hide.margin_mm),
        ),
    ]
    return _whole(plan, work, reference, frame.apply(registration_points(hide)), heading, frame.mirrored, warning)


def lay_drawing(
    plan: Plan, lay: Lay, warning: str = "", work: Work | None = None, stamp: Stamp | None = None
) -> Drawing:
    """The drawing of one lay; on the roll x runs along it, y from 0 to the usable width. Raises as `hide_drawing`."""
    roll = found(plan.rolls, "roll_id", lay.roll_id)
    work = work or lay_work(plan, lay)
    frame = work.frame
    width, length, margin = roll.usable_width_mm, lay.length_mm, roll.selvedge_mm
    material = frame.region(shapely.box(0.0, 0.0, length, width))
    reference: list[Outline | Label] = [*region_outlines("material", material)]
    if margin > 0.0:
        edges = (((0.0, y), (length, y)) for y in (-margin, width + margin))
        reference += [line("material", frame.apply(edge)) for edge in edges]
    at = frame.apply(((0.5 * length, 0.5 * width),))[0]
    reference += _stretch_arrow(at, frame.direction_deg(roll.stretch_deg))
    points = frame.apply(((0.0, 0.0), (length, 0.0), (0.0, width), (length, width)))
    heading = [
        f"{plan.name}: cutting drawing. {2.0 * roll.end_loss_mm:.0f} mm end loss a ply. "
        "Arrow: direction of most stretch." + _face_note(roll),
        (stamp or stamp_of(plan)).told(),
        *lay_facts(plan, lay, roll, _promised(work, material, plan.settings.roll_gap_mm, 0.0)[0]),
    ]
    return _whole(plan, work, reference, points, heading, False, warning)


def piece_drawing(
    piece: Piece, warning: str = "", table: CuttingTable = PLAIN_TABLE, numbers: StyleNumbers = MappingProxyType({})
) -> Drawing:
    """The drawing of one piece in its own frame: toe towards +x, heel-toe axis on y = 0."""
    alone = (Placed(piece.piece_id, Pose(0.0, 0.0, 0.0)),)
    plain = CuttingTable(unit=table.unit, layers=table.layers, layer_numbers=table.layer_numbers)
    entities = work_entities(work_of((piece,), alone, Frame(), plain, styles=numbers), (piece,))
    low, high = piece.cut_outline.min(axis=0), piece.cut_outline.max(axis=0)
    lines = [
        f"{piece_name(piece)} {piece.role}: cut outline "
        f"{high[0] - low[0]:.1f} x {high[1] - low[1]:.1f} mm. Toe to the right.",
        *units_and_nicks((piece,), table, numbers),
    ]
    return Drawing((*legend(lines, (low[0], low[1] - 10.0), 4.0, warning), *entities))


def registration_points(hide: Hide) -> np.ndarray:
    """Three or four tips of a hide to lay it by, (n, 2) mm of its own coordinates.

    The two furthest apart, the one furthest from their line, and the one furthest on the line's other side if that
    reaches far enough; the first is the one with least x (then y), so the same hide always gives the same points.
    """
    tips = shapely.get_coordinates(shapely.convex_hull(hide.outline))[:-1]
    apart = np.hypot(*(tips[:, None] - tips[None]).transpose(2, 0, 1))
    first, second = sorted(np.unravel_index(int(np.argmax(apart)), apart.shape), key=lambda i: tuple(tips[i]))
    along = tips[second] - tips[first]
    length = float(np.hypot(*along))
    aside = (along[0] * (tips[:, 1] - tips[first, 1]) - along[1] * (tips[:, 0] - tips[first, 0])) / length
    third = int(np.argmax(np.abs(aside)))
    other = -np.sign(aside[third]) * aside
    fourth = [int(np.argmax(other))] if other.max() >= _ASIDE * length else []
    return tips[[first, second, third, *fourth]]


def _whole(plan: Plan, work: Work, reference, points, heading, turned_over: bool, warning: str) -> Drawing:
    """Reference, registration crosses and legend, then the pieces in cut order."""
    used = Drawing(tuple(one for one in reference if one.use == "material")).bounds()
    for name, point in zip(POINT_NAMES, points, strict=False):
        reference += cross("points", point, _CROSS_MM)
        reference.append(Label("points", name, (float(point[0]) + 4.0, float(point[1]) + 4.0), 10.0))
    pieces = [plan.piece(one.piece_id) for one in work.placed]
    lines = [
        *heading, *table_words(work, pieces, turned_over),
        *units_and_nicks(pieces, work.table, style_numbers(plan.styles)), registration_text(points), *counts(pieces),
    ]
    drawn = work_entities(work, plan.pieces)
    beside = legend_beside(lines, warning, Drawing((*reference, *drawn)).bounds(), used, work.table, len(pieces))
    return Drawing((*reference, *beside, *drawn))


def _promised(work: Work, material, gap_mm: float, margin_mm: float) -> tuple[float, float]:
    """Gap and margin as far as the tool's ways keep them: a plan made for another table may not leave them room."""
    if work.table.reach_mm == 0.0:
        return gap_mm, margin_mm
    kept = kept_by([path.ring for path in work.paths], gap_mm, material)
    return promised(gap_mm, kept.apart_mm), promised(margin_mm, kept.off_mm)


def _flaw(flaw: Flaw, frame: Frame) -> list[Outline | Label]:
    """The outline of a flaw, then what it is."""
    outline = frame.region(flaw.outline)
    words = [word for word, holds in (("tears", flaw.tears), ("coverable", flaw.coverable)) if holds]
    text = f"{flaw.flaw_id}: {flaw.kind}, severity {flaw.severity}" + "".join(f", {word}" for word in words)
    x_max, y_max = outline.bounds[2:]
    return [*region_outlines("flaws", outline), Label("flaws", text, (x_max + 2.0, y_max + 2.0), 5.0)]


def _stretch_arrow(middle, stretch_deg: float) -> list[Outline]:
    """A line with a barb at each end along the direction of most stretch."""
    half, barb = 0.5 * _ARROW_MM, _BARB_MM
    shapes: list[tuple[tuple[float, float], ...]] = [((-half, 0.0), (half, 0.0))]
    shapes += [((s * (half - barb), 0.4 * barb), (s * half, 0.0), (s * (half - barb), -0.4 * barb)) for s in (-1, 1)]
    return [line("zones", rotate(np.array(shape), stretch_deg) + np.asarray(middle)) for shape in shapes]


def _face_note(roll: Roll) -> str:
    return " Adhesive side the same way up in every ply; no piece is turned over." if roll.adhesive_one_side else ""
