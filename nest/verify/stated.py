"""The plan against itself: every piece is what its template, size, foot, allowances and reinforcement inset make it.

What is asked of a vamp, all in the frame of its template (right pieces are mirrored back):

* its net outline is the template, at most a chord error outside it and never inside;
* at every point of the template the cut line is as far off as the allowance of that part, less the press's widening
  at the sides; it is nowhere further out than the largest allowance near by, with what a thinned outline may lie
  beyond it.

A reinforcement is its vamp's cut outline moved inwards by the inset, and its net outline the part of it within the
vamp's. Where a plan states no templates, cut and net outline are held against the least allowance alone.
"""

from collections.abc import Iterator, Mapping

import numpy as np
import shapely

from geometry.precision import CHORD_ERROR_MM
from nest.pieces.piece import Foot, Part, Piece, Role, Template
from nest.plan import Plan, PlannedStyle
from nest.verify.verdict import DISTANCE_TOLERANCE_MM, MIRROR_TOLERANCE_MM, Finding, Rule, in_plan

STEP_MM = 1.5
"""Distances are measured at points no further apart than this."""

SHORT_MM = 0.05
"""An allowance may fall short by this much: it runs linearly between points of the template."""

BEYOND_MM = 0.35
"""A cut line may lie this far beyond its allowance: thinned outlines lie up to a quarter of a millimetre outside."""

INSET_MM = 0.2
"""A reinforcement may lie this far off its inset, on either side."""

SMEAR_MM = 3.0
"""Allowances are worked out at points of the template up to this far apart, so that a change may come this early."""


def stated_findings(plan: Plan, pieces: Mapping[str, Piece]) -> Iterator[Finding | int]:
    """A 1 for each piece held against its template, one finding for each that is not what the plan states.

    `pieces` are those that can be used, by id. Left out are pieces that nothing more is to be cut of: what is cut
    stays what it was, though its style may be another by now.
    """
    styles = {style.name: style for style in plan.styles}
    due = {(line.style, line.size) for line in plan.order if line.pairs_to_cut > 0}
    due |= {
        (piece.style, piece.size) for group in plan.groups_to_cut for one in group.placed
        if (piece := pieces.get(one.piece_id)) is not None
    }
    bad: set[str] = set()
    for style in plan.styles:
        for template in style.templates:
            why = _why_no_template(template, style)
            if why:
                bad.add(style.name)
                yield in_plan(Rule.PIECE, f"style {style.name}: the template of size {template.size} {why}.")
    stating = any(style.templates for style in plan.styles)
    templates = {(style.name, one.size): one for style in plan.styles for one in style.templates}
    kinds: dict[tuple[str, str, Foot, Role], Piece] = {}
    for piece in pieces.values():
        key = (piece.style, piece.size, piece.foot, piece.role)
        style = styles[piece.style]
        if piece.style in bad or (piece.style, piece.size) not in due:
            continue
        if kinds.setdefault(key, piece) is not piece and stating:
            why = f"is a second {piece.role} of size {piece.size} for the same foot as {kinds[key].piece_id}"
            yield in_plan(Rule.PIECE, f"piece {piece.piece_id} {why}.", (piece.piece_id,))
        made_from = templates.get((piece.style, piece.size))
        if stating and made_from is None:
            why, off = f"is of size {piece.size}, of which the style has no template", 1.0
        elif piece.role is Role.VAMP:
            why, off = _why_no_vamp(piece, style, made_from)
        else:
            why, off = _why_no_backing(piece, style, _vamp_of(piece, pieces))
        if why:
            yield in_plan(Rule.PIECE, f"piece {piece.piece_id} {why}.", (piece.piece_id,), off, "mm")
        elif made_from is not None:
            yield 1


def _why_no_template(template: Template, style: PlannedStyle) -> str:
    outline = np.asarray(template.outline)
    if sum(one.size == template.size for one in style.templates) > 1:
        return "is given more than once"
    if len(template.parts) != len(outline):
        return f"names the parts of {len(template.parts)} edges, it has {len(outline)}"
    if not (np.isfinite(outline).all() and len(outline) >= 3 and shapely.polygons(outline).is_valid):
        return "is no simple outline"
    return ""


def _vamp_of(backing: Piece, pieces: Mapping[str, Piece]) -> Piece | None:
    key = (backing.style, backing.size, backing.foot)
    return next(
        (one for one in pieces.values() if one.role is Role.VAMP and (one.style, one.size, one.foot) == key), None
    )


def _why_no_vamp(piece: Piece, style: PlannedStyle, template: Template | None) -> tuple[str, float]:
    """What is wrong with a vamp, and by how many mm."""
    side = (1.0, -1.0) if piece.foot is Foot.RIGHT else (1.0, 1.0)
    cut, net = np.asarray(piece.cut_outline) * side, np.asarray(piece.net_outline) * side
    allowances = style.allowances.for_size(piece.size)
    slack = SHORT_MM + (MIRROR_TOLERANCE_MM if piece.foot is Foot.EITHER else 0.0)
    if template is None:
        taken = max(0.0, allowances.side_mm - max(0.0, allowances.least_side_mm))
        least = min(allowances.toe_mm, allowances.back_mm, allowances.side_mm - taken)
        room = float(shapely.distance(shapely.points(net), shapely.LinearRing(cut)).min())
        if least - room <= slack + CHORD_ERROR_MM:
            return "", 0.0
        text = f"has a cut line {room:.2f} mm from its net outline, the plan allows for at least {least:g} mm"
        return text, least - room
    off = _off_template(net, template)
    if off > 0.0:
        named = f"size {piece.size}, {piece.foot} foot" if piece.foot is not Foot.EITHER else f"size {piece.size}"
        return f"has a net outline {off:.2f} mm off the template of {named}", off
    points, low, high = _allowed(template, style)
    room = shapely.distance(shapely.points(points), shapely.LinearRing(cut))
    worst = int(np.argmax(low - room))
    if low[worst] - room[worst] > slack:
        return (f"has a trim allowance of {room[worst]:.2f} mm where the plan allows for {low[worst]:.2f} mm "
                f"(at x {points[worst][0]:.0f}, y {points[worst][1]:.0f} mm)"), float(low[worst] - room[worst])
    outer = _along(cut)
    beyond = _beyond(outer, points, high)
    worst = int(np.argmax(beyond))
    if beyond[worst] > BEYOND_MM + slack:
        at = outer[worst]
        return (f"has a cut line {beyond[worst]:.2f} mm beyond the largest allowance of the plan "
                f"(at x {at[0]:.0f}, y {at[1]:.0f} mm)"), float(beyond[worst])
    return "", 0.0


def _off_template(net: np.ndarray, template: Template) -> float:
    """How far a net outline is off its template beyond what is let pass, mm; 0 where it is not."""
    ring, wanted = shapely.LinearRing(net), shapely.LinearRing(template.outline)
    off = float(shapely.hausdorff_distance(ring, wanted))
    if off > CHORD_ERROR_MM + DISTANCE_TOLERANCE_MM:
        return off
    bare = shapely.difference(shapely.Polygon(template.outline), shapely.Polygon(net))
    return 0.0 if bare.is_empty or bare.buffer(-0.5 * DISTANCE_TOLERANCE_MM).is_empty else off


def _along(ring: np.ndarray) -> np.ndarray:
    """The corners of a ring, with points between no further apart than SMEAR_MM."""
    return np.asarray(shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(ring), SMEAR_MM))[:-1])


def _allowed(template: Template, style: PlannedStyle) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points along a template, the least that the cut line must be off at each, and the most it may be."""
    allowances = style.allowances.for_size(template.size)
    start, end = template.outline, np.roll(template.outline, -1, axis=0)
    sides = np.hypot(*(end - start).T)
    counts = np.maximum(1, np.ceil(sides / STEP_MM).astype(int))
    edge = np.repeat(np.arange(len(start)), counts)
    share = np.concatenate([np.arange(n) / n for n in counts])
    points = start[edge] + share[:, None] * (end - start)[edge]
    at = np.concatenate(((0.0,), np.cumsum(sides)))[edge] + share * sides[edge]
    outward = -(end - start)[:, 0] / sides
    given = np.array([allowances.of(part) for part in template.parts])
    on_side = np.array([part is Part.SIDE for part in template.parts])
    most = max(0.0, allowances.side_mm - max(0.0, allowances.least_side_mm))

    def own(edges: np.ndarray) -> np.ndarray:
        gain = np.abs(points[:, 1]) * np.clip(outward[edges] * np.sign(points[:, 1]), 0.0, None)
        widened = np.minimum(style.widening_percent / 100.0 * gain, most)
        return np.asarray(given[edges] - np.where(on_side[edges], widened, 0.0))

    # A corner belongs to both its edges, and has the larger of their allowances.
    low = np.maximum(own(edge), np.where(share == 0.0, own((edge - 1) % len(start)), -np.inf))
    apart = np.abs(at[:, None] - at[None, :])
    apart = np.minimum(apart, sides.sum() - apart)
    high = np.where(apart <= SMEAR_MM, low[None, :], -np.inf).max(axis=1)
    parts = np.array(template.parts, dtype=object)
    for first in np.flatnonzero((share == 0.0) & (parts[edge] != parts[(edge - 1) % len(start)])):
        # Beyond its part the larger allowance falls to the smaller one by half a cosine wave.
        along = np.clip((apart[first] - SMEAR_MM) / max(allowances.blend_mm, 1e-9), 0.0, 1.0)
        high = np.maximum(high, high + np.maximum(high[first] - high, 0.0) * (0.5 + 0.5 * np.cos(np.pi * along)))
    return points, low, high


def _beyond(cut: np.ndarray, points: np.ndarray, high: np.ndarray) -> np.ndarray:
    """How far each point of a cut line lies beyond the allowance of the nearest point of the template, mm."""
    start, along = points, np.roll(points, -1, axis=0) - points
    widths = np.maximum(high, np.roll(high, -1))
    from_start = cut[:, None, :] - start[None, :, :]
    share = np.einsum("ijk,jk->ij", from_start, along) / np.einsum("jk,jk->j", along, along)
    away = from_start - np.clip(share, 0.0, 1.0)[:, :, None] * along[None, :, :]
    return np.asarray((np.hypot(away[..., 0], away[..., 1]) - widths[None, :]).min(axis=1))


def _why_no_backing(piece: Piece, style: PlannedStyle, vamp: Piece | None) -> tuple[str, float]:
    """What is wrong with a reinforcement, and by how many mm; nothing can be said without its vamp."""
    if vamp is None:
        return "", 0.0
    inner = shapely.Polygon(vamp.cut_outline).buffer(-style.reinforcement_inset_mm, quad_segs=32)
    wanted = max(shapely.get_parts(inner), key=shapely.area, default=inner)
    if wanted.is_empty:
        return f"has no place {style.reinforcement_inset_mm:g} mm within its vamp", style.reinforcement_inset_mm
    off = float(shapely.hausdorff_distance(shapely.LinearRing(piece.cut_outline), wanted.exterior))
    if off > INSET_MM:
        inset = f"{style.reinforcement_inset_mm:g} mm"
        return f"is {off:.2f} mm off the cut outline of its vamp moved inwards by {inset}", off
    stays = shapely.intersection(shapely.Polygon(vamp.net_outline), shapely.Polygon(piece.cut_outline))
    stays = max(shapely.get_parts(stays), key=shapely.area, default=stays)
    apart = shapely.symmetric_difference(stays, shapely.Polygon(piece.net_outline))
    if not apart.buffer(-0.5 * DISTANCE_TOLERANCE_MM).is_empty:
        off = float(shapely.hausdorff_distance(stays, shapely.Polygon(piece.net_outline)))
        return f"has a net outline {off:.2f} mm off what of it lies within its vamp's", off
    return "", 0.0
