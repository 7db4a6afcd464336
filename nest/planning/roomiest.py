"""Room for one piece in what is left of a hide: the roomiest place at every heading, or why there is none.

No search is needed for one piece: the joint inner-fit region of its rough outline in what is left and its net outline
on good ground holds every place it can have at a heading. Headings are those of a search; where they bring nothing,
those a fifth as far apart are looked at too.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import shapely

from geometry.nofit import joint_fit_polygon
from geometry.polygon import polygon
from geometry.pose import Pose, rotate
from geometry.thinning import thin_outwards
from nest.pieces.piece import Piece
from nest.plan import CUT_BY_PLAN, HideLayout, Plan
from nest.planning.grounds import class_under, core_grounds, hide_headings, outline_ground
from nest.planning.wants import on_coordinate_grid
from nest.rules import Rules
from nest.stock.material import Flaw, Hide

THIN_MM = 0.1
"""Outlines are placed with fewer corners, up to this much too large."""

_CENTRE_MM = 0.2
_ANY_CLASS, _ANY_HEADING_DEG = 1_000_000, 90.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A place, and how far it may be moved in any direction, mm."""

    pose: Pose
    room_mm: float


@dataclass(frozen=True, slots=True)
class Demand:
    """What one piece asks of a hide.

    quality : class of ground it must lie on, its partner's; 0 for any that the rules allow.
    """

    piece: Piece
    rules: Rules
    margin_mm: float
    one_way: bool
    quality: int = 0


def left_of(plan: Plan, hide: Hide) -> Hide:
    """The hide with everything that the plan cuts from it as ground that tears, the gap around it included."""
    layout = next((one for one in plan.layouts if one.hide_id == hide.hide_id), None)
    return hide if layout is None else replace(hide, flaws=(*hide.flaws, *_cut_by_plan(plan, hide, layout)))


def _cut_by_plan(plan: Plan, hide: Hide, layout: HideLayout) -> Iterator[Flaw]:
    outlines = {piece.piece_id: piece.cut_outline for piece in plan.pieces}
    gap, taken = plan.settings.hide_apart_mm, {flaw.flaw_id for flaw in hide.flaws}
    for index, one in enumerate(layout.placed):
        shape = shapely.Polygon(one.pose.apply(outlines[one.piece_id]))
        shape = shape.buffer(gap, quad_segs=8) if gap > 0.0 else shape
        name = f"no. {layout.number(index)}"
        while name in taken:
            name += " again"
        taken.add(name)
        yield Flaw(name, CUT_BY_PLAN, 0, True, False, shape)


def roomiest(hide: Hide, asked: Demand) -> Spot | None:
    """The place on the hide, as it is left, with most room around it; None if there is none at all."""
    for fine in (False, True):
        best = max(_spots(hide, asked, fine=fine), key=lambda spot: spot.room_mm, default=None)
        if best is not None:
            return best
    return None


def why_no_room(hide: Hide, asked: Demand) -> str:
    """Why `roomiest` finds nothing: which of what is asked must be given up so that there is room."""
    eased, rules = replace(asked, quality=0), asked.rules
    if asked.quality and _has_room(hide, eased):
        return f"there is room only on ground of another class than its partner's, class {asked.quality}"
    any_ground, any_way = replace(rules, net_quality=_ANY_CLASS), {"tolerance_deg": _ANY_HEADING_DEG}
    poor = f"is poorer than class {rules.net_quality}, the poorest that its style takes"
    turned = "stretches the wrong way for it"
    for changed, words in (
        (any_ground, poor), (replace(rules, **any_way), turned),
        (replace(any_ground, **any_way), f"{poor} and {turned}"),
    ):
        one_way = asked.one_way and changed.tolerance_deg < _ANY_HEADING_DEG
        if _has_room(hide, replace(eased, rules=changed, one_way=one_way)):
            return f"the only free ground that is large enough {words}"
    return "no ground that is free and clear of flaws is large enough for it"


def _has_room(hide: Hide, asked: Demand) -> bool:
    return any(True for _ in _spots(hide, asked))


def _spots(hide: Hide, asked: Demand, *, fine: bool = False) -> Iterator[Spot]:
    """The roomiest place at every heading that has one."""
    rules, piece = asked.rules, asked.piece
    if asked.quality:
        rules = replace(rules, net_quality=min(rules.net_quality, asked.quality))
    (headings,) = hide_headings(hide, [rules], one_way=asked.one_way, fine=fine)
    outline = outline_ground(hide, rules, asked.margin_mm)
    cores = core_grounds(hide, rules, headings, one_way=asked.one_way, margin_mm=asked.margin_mm)
    better = [shapely.Polygon()] * len(headings)
    if asked.quality > 1:
        finer = replace(rules, net_quality=asked.quality - 1)
        better = core_grounds(hide, finer, headings, one_way=asked.one_way, margin_mm=asked.margin_mm)
    rough, net = thin_outwards(piece.cut_outline, THIN_MM), thin_outwards(piece.net_outline, THIN_MM)
    rough = rough if polygon(rough).covers(polygon(piece.cut_outline)) else piece.cut_outline
    class_at = class_under(hide)
    for heading, core, above in zip(headings, cores, better, strict=True):
        turned, core_ring = rotate(rough, heading), rotate(net, heading)
        free = joint_fit_polygon([(outline, turned), (core, core_ring)])
        if asked.quality > 1 and not free.is_empty:
            # Wholly on better ground it would be of a better class than its partner.
            free = shapely.difference(free, joint_fit_polygon([(above, rotate(piece.net_outline, heading))]))
        found = []
        for part in shapely.get_parts(free):
            if part.geom_type != "Polygon" or part.area <= 0.0:
                continue
            spoke = shapely.maximum_inscribed_circle(part, tolerance=_CENTRE_MM)
            x, y = shapely.get_coordinates(spoke)[0]
            pose = on_coordinate_grid(Pose(float(x), float(y), heading))
            if not asked.quality or class_at(pose.apply(piece.net_outline)) == asked.quality:
                found.append(Spot(pose, float(spoke.length)))
        if found:
            yield max(found, key=lambda spot: spot.room_mm)
