"""One piece again: a badly cut piece placed anew in what is left of its hide.

No search is needed for one piece: the inner-fit region of what is left holds every place it can have at a heading.
Of all of them it takes the one with most room around it, for a hide that comes back to the table never lies
exactly as it did.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geometry.nofit import inner_fit_polygon
from geometry.polygon import polygon
from geometry.pose import Pose, rotate
from geometry.thinning import thin_outwards
from nest.errors import PlanProblem
from nest.pieces.piece import Piece
from nest.plan import HideLayout, Placed, Plan
from nest.planning.grounds import class_under, core_grounds, hide_headings, outline_ground
from nest.planning.wants import on_coordinate_grid
from nest.stock.material import Flaw, Hide

THIN_MM = 0.1
"""Outlines are placed with fewer corners, up to this much too large."""

ALREADY_CUT = "already cut"
"""Kind of the flaws that stand for the pieces cut before, their gap included."""

_CENTRE_MM = 0.2


@dataclass(frozen=True, slots=True)
class _Spot:
    """A place, and how far it may be moved in any direction, mm."""

    pose: Pose
    room_mm: float


def again(plan: Plan, hide_id: str, number: int) -> Plan:
    """A plan of one hide with piece `number` of it (from 1, as on its drawing) placed anew, and nothing else.

    What was cut before is ground that tears. The new piece has the old one's rules; where pairs must share a class,
    it lies on the class the old one lay on. The order is left out: a piece cut again is none of it.

    Raises
    ------
    PlanProblem
        If there is no such hide or piece, or the piece fits nowhere in what is left.
    """
    layout = next((one for one in plan.layouts if one.hide_id == hide_id), None)
    hide = next((one for one in plan.hides if one.hide_id == hide_id), None)
    if layout is None or hide is None or not layout.placed:
        raise PlanProblem(f"the plan cuts nothing from a hide named {hide_id}; see the hides in its report")
    if not 1 <= number <= len(layout.placed):
        raise PlanProblem(
            f"hide {hide_id} holds the pieces no. 1 to {len(layout.placed)}, not {number}; see its drawing"
        )
    old = layout.placed[number - 1]
    piece = plan.piece(old.piece_id)
    left = replace(hide, flaws=(*hide.flaws, *_already_cut(plan, layout)))
    style = next(style for style in plan.styles if style.name == piece.style)
    wanted_class = None
    if style.rules.pairs_same_class and old.pair:
        wanted_class = class_under(hide)(old.pose.apply(piece.net_outline))
    spots = [spot for spot in _spots(plan, left, piece, wanted_class) if spot is not None]
    if not spots:
        raise PlanProblem(
            f"piece no. {number} of hide {hide_id} ({piece.style} {piece.size}) fits nowhere in what is left of it; "
            "cut it from another hide"
        )
    best = max(spots, key=lambda spot: spot.room_mm)
    return replace(
        plan,
        name=f"{plan.name}: hide {hide_id}, piece no. {number} again",
        styles=(replace(style, roll=""),), order=(), pieces=(piece,), hides=(left,), rolls=(), lays=(), bounds=(),
        leathers=tuple(leather for leather in plan.leathers if leather.name == hide.leather),
        layouts=(HideLayout(hide_id, (Placed(piece.piece_id, best.pose),)),),
        warnings=(f"Piece no. {number} again; it may be moved by {best.room_mm:.1f} mm to any side.",),
    )


def _already_cut(plan: Plan, layout: HideLayout) -> Iterator[Flaw]:
    outlines = {piece.piece_id: piece.cut_outline for piece in plan.pieces}
    gap = plan.settings.hide_apart_mm
    for number, one in enumerate(layout.placed, start=1):
        shape = shapely.Polygon(one.pose.apply(outlines[one.piece_id]))
        shape = shape.buffer(gap, quad_segs=8) if gap > 0.0 else shape
        yield Flaw(f"no. {number}", ALREADY_CUT, 0, True, False, shape)


def _spots(plan: Plan, hide: Hide, piece: Piece, wanted_class: int | None) -> Iterator[_Spot | None]:
    """The roomiest place at every heading; those of a wanted class only, if there is one."""
    rules = next(style.rules for style in plan.styles if style.name == piece.style)
    if wanted_class:
        rules = replace(rules, net_quality=min(rules.net_quality, wanted_class))
    margin = plan.settings.edge_room_mm
    one_way = any(leather.one_way for leather in plan.leathers if leather.name == hide.leather)
    (headings,) = hide_headings(hide, [rules], one_way=one_way)
    outline = outline_ground(hide, rules, margin)
    cores = core_grounds(hide, rules, headings, one_way=one_way, margin_mm=margin)
    rough, net = thin_outwards(piece.cut_outline, THIN_MM), thin_outwards(piece.net_outline, THIN_MM)
    rough = rough if polygon(rough).covers(polygon(piece.cut_outline)) else piece.cut_outline
    class_at = class_under(hide) if wanted_class else None
    for heading, core in zip(headings, cores, strict=True):
        free = _fit(outline, rotate(rough, heading))
        if not free.is_empty:
            free = shapely.intersection(free, _fit(core, rotate(net, heading)))
        for part in sorted(shapely.get_parts(free), key=shapely.area, reverse=True):
            if part.geom_type != "Polygon" or part.area <= 0.0:
                continue
            spoke = shapely.maximum_inscribed_circle(part, tolerance=_CENTRE_MM)
            x, y = shapely.get_coordinates(spoke)[0]
            pose = on_coordinate_grid(Pose(float(x), float(y), heading))
            if class_at is None or class_at(pose.apply(piece.net_outline)) == wanted_class:
                yield _Spot(pose, float(spoke.length))
                break


def _fit(ground, ring: np.ndarray):
    """Positions of a ring's own origin that keep it within the ground."""
    parts = [part for part in shapely.get_parts(ground) if part.area > 0.0]
    return shapely.union_all([inner_fit_polygon(part, ring) for part in parts]) if parts else shapely.Polygon()
