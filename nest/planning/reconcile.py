"""What a job and an earlier plan must agree on before the rest is planned: pieces that are cut, and the stock."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import shapely

from geometry.polygon import polygon
from nest.begun.part import length_used_mm
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.pieces.piece import Piece
from nest.pieces.quantities import CutLine
from nest.plan import Plan, PlannedStyle
from nest.planning.stages import planned_style
from nest.stock.material import Hide, Leather, Roll

SAME_MM = 0.01
"""Outlines no further apart than this are the same: a plan keeps them on the coordinate grid."""


def agreed_pieces(made: Iterable[Piece], part: Plan) -> tuple[Piece, ...]:
    """Pieces as the job makes them, those that are cut as the plan has them.

    Raises
    ------
    PlanProblem
        If the job makes a size otherwise than it was cut.
    """
    old = {piece.piece_id: piece for piece in part.pieces}
    cut = {one.piece_id for group in part.groups for one in group.placed}
    pieces = {piece.piece_id: piece for piece in made}
    sizes = {(piece.style, piece.size) for piece in pieces.values()}
    changed = [
        piece for piece_id in sorted(cut) if ((piece := old[piece_id]).style, piece.size) in sizes
        and not (piece_id in pieces and same_piece(piece, pieces[piece_id]))
    ]
    if changed:
        names = ", ".join(dict.fromkeys(f"{piece.style} {piece.size}" for piece in changed))
        raise PlanProblem(
            f"the job makes other pieces of {names} than those that are cut (template, grading or allowance was "
            "changed); give the changed style a name of its own, or change it back"
        )
    for piece_id, piece in old.items():
        if piece_id in cut or (piece_id in pieces and same_piece(piece, pieces[piece_id])):
            pieces[piece_id] = piece
    return tuple(pieces.values())


def agreed_styles(job: Job, part: Plan, quantities: Sequence[CutLine]) -> tuple[PlannedStyle, ...]:
    """Styles as the job has them, with templates of sizes that are cut; those it no longer has, if any are cut."""
    pieces = {piece.piece_id: piece for piece in part.pieces}
    cut = {
        (piece.style, piece.size) for group in part.groups
        for piece in (pieces[one.piece_id] for one in group.placed)
    }
    old = {style.name: style for style in part.styles}
    styles = {}
    for style in job.styles:
        now = planned_style(job, style, quantities)
        sizes = {template.size for template in now.templates}
        before = old[style.name].templates if style.name in old else ()
        more = [one for one in before if one.size not in sizes and (style.name, one.size) in cut]
        styles[style.name] = replace(now, templates=(*now.templates, *more))
    gone = [style for style in part.styles if style.name not in styles and any(name == style.name for name, _ in cut)]
    return (*styles.values(), *gone)


def stock_now(job: Job, part: Plan) -> tuple[tuple[Hide, ...], tuple[Leather, ...], tuple[Roll, ...]]:
    """Hides, leathers and rolls of the plan to come: those in stock and those that are cut, withdrawn ones left out."""
    cut = {hide.hide_id: hide for hide in part.hides if hide.hide_id in part.begun.cut_hides}
    now = {hide.hide_id: hide for hide in job.hides if hide.hide_id not in part.begun.withdrawn}
    hides = cut | now | cut  # what is cut stands first, as it was when it was planned
    leathers = {one.name: one for one in job.leathers}
    leathers |= {
        one.name: one for one in part.leathers
        if one.name not in leathers and any(hide.leather == one.name for hide in cut.values())
    }
    rolls = {roll.roll_id: roll for roll in job.rolls}
    rolls |= {
        roll.roll_id: roll for roll in part.rolls
        if roll.roll_id not in rolls and any(lay.roll_id == roll.roll_id for lay in part.lays)
    }
    return tuple(hides.values()), tuple(leathers.values()), tuple(rolls.values())


def rolls_left(job: Job, part: Plan) -> tuple[Roll, ...]:
    """The rolls of the job with what is left of their length; withdrawn ones and used-up ones left out."""
    withdrawn = {one.roll_id for one in part.begun.rolls if one.withdrawn}
    left = []
    for roll in job.rolls:
        length = roll.length_mm - length_used_mm(part, roll)
        if roll.roll_id not in withdrawn and length > 2.0 * roll.end_loss_mm:
            left.append(replace(roll, length_mm=length))
    return tuple(left)


def unchanged_hides(job: Job, before: Plan, hide_ids: Iterable[str]) -> tuple[str, ...]:
    """Those of these hides that the job has as the plan has them: leather, outline, zones and flaws."""
    old = {hide.hide_id: hide for hide in before.hides}
    now = {hide.hide_id: hide for hide in job.hides}
    settings = ("hide_apart_mm", "edge_room_mm")
    if any(getattr(job.settings, name) != getattr(before.settings, name) for name in settings):
        return ()
    one_way = {one.name: one.one_way for one in before.leathers}
    same_leathers = {one.name for one in job.leathers if one_way.get(one.name) == one.one_way}
    return tuple(
        hide_id for hide_id in hide_ids
        if hide_id in old and hide_id in now and now[hide_id].leather in same_leathers
        and _same_hide(old[hide_id], now[hide_id])
    )


def unchanged_styles(styles: Iterable[PlannedStyle], pieces: Iterable[Piece], before: Plan) -> tuple[str, ...]:
    """Styles whose leather, roll, rules and pieces are those of the plan; `pieces` as `agreed_pieces`."""
    old = {style.name: style for style in before.styles}
    held = {piece.piece_id: piece for piece in before.pieces}
    other = {piece.style for piece in pieces if piece.piece_id in held and held[piece.piece_id] is not piece}
    return tuple(
        style.name for style in styles
        if style.name in old and style.name not in other
        and (style.leather, style.roll, style.rules) == (
            old[style.name].leather, old[style.name].roll, old[style.name].rules
        )
    )


def same_piece(a: Piece, b: Piece) -> bool:
    """Whether two pieces are one, but for rounding of their outlines."""
    return (a.style, a.size, a.foot, a.role) == (b.style, b.size, b.foot, b.role) and all(
        _apart(polygon(one), polygon(other)) <= SAME_MM
        for one, other in ((a.cut_outline, b.cut_outline), (a.net_outline, b.net_outline))
    )


def _same_hide(a: Hide, b: Hide) -> bool:
    """Whether two hides are the same ground; a price or a measured area may differ."""
    counts = [(hide.leather, hide.margin_mm, len(hide.zones), len(hide.flaws)) for hide in (a, b)]
    if counts[0] != counts[1]:
        return False
    grounds = [(a.outline, b.outline), *((x.outline, y.outline) for x, y in zip(a.zones, b.zones, strict=True)),
               *((x.outline, y.outline) for x, y in zip(a.flaws, b.flaws, strict=True))]
    return (
        all((x.quality, x.stretch_deg) == (y.quality, y.stretch_deg) for x, y in zip(a.zones, b.zones, strict=True))
        and all((x.tears, x.coverable) == (y.tears, y.coverable) for x, y in zip(a.flaws, b.flaws, strict=True))
        and all(_apart(x, y) <= SAME_MM for x, y in grounds)
    )


def _apart(a, b) -> float:
    """Hausdorff distance of two regions' boundaries."""
    return float(shapely.hausdorff_distance(a.boundary, b.boundary))
