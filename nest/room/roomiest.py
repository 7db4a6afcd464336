"""The roomiest place of one piece on a hide as it is left, or which rule stands in the way of any.

A hide that comes back to the table never lies exactly as it did, so a piece that is cut again takes the place that may
be off by most: the middle of the largest circle among its positions, at headings HEADING_STEP_DEG apart. Where there is
none with any play the exact search has the last word.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

import shapely

from geometry.pose import Pose
from nest.pieces.piece import Piece
from nest.room.ground import DISTANCE_MM
from nest.room.hide import HideLeft, Wanted
from nest.room.scraps import class_under
from nest.room.seek import Node, Seeker
from nest.rules import Rules

HEADING_STEP_DEG = 2.5

LEAST_PLAY_MM = 0.05
"""A place with less play than this is left to the exact search."""

_CENTRE_MM = 0.2
_ANY_CLASS, _ANY_HEADING_DEG = 1_000_000, 90.0


@dataclass(frozen=True, slots=True)
class Roomy:
    """A place, and how far it may be moved in any direction, mm."""

    pose: Pose
    room_mm: float


def roomiest(room: HideLeft, piece: Piece, rules: Rules, quality: int | None = None) -> Roomy | None:
    """The place with most room around it; None if there is none at all.

    quality : class of ground that must count under it, where that is asked for.
    """
    seeker = room.seeker(piece, rules, quality)
    for bias in (False, True):
        best = max(_places(seeker, bias), key=lambda one: one.room_mm, default=None)
        if best is not None:
            return best
    answer = room.room_for(Wanted((piece,), rules, quality))
    return Roomy(answer.poses[0], 0.0) if answer.found else None


def why_no_room(room: HideLeft, piece: Piece, rules: Rules, quality: int | None = None) -> str:
    """Why `roomiest` finds nothing: which of what is asked must be given up so that there is room."""
    if quality is not None and fits(room, piece, rules):
        return f"there is room only on ground of another class than its partner's, class {quality}"
    any_ground, any_way = replace(rules, net_quality=_ANY_CLASS), replace(rules, tolerance_deg=_ANY_HEADING_DEG)
    poor = f"is poorer than class {rules.net_quality}, the poorest that its style takes"
    turned = "stretches the wrong way for it"
    for eased, words in (
        (any_ground, poor), (any_way, turned),
        (replace(any_way, net_quality=_ANY_CLASS), f"{poor} and {turned}"),
    ):
        one_way = room.one_way and eased.tolerance_deg < _ANY_HEADING_DEG
        if fits(HideLeft(room.hide, one_way, room.margin_mm, room.gap_mm, room.cut, room.shapes), piece, eased):
            return f"the only free ground that is large enough {words}"
    return "no ground that is free and clear of flaws is large enough for it"


def fits(room: HideLeft, piece: Piece, rules: Rules, quality: int | None = None) -> bool:
    """Whether there is any place for the piece."""
    return room.room_for(Wanted((piece,), rules, quality)).found


def _places(seeker: Seeker, bias: bool) -> Iterator[Roomy]:
    """The roomiest place at every heading that has one with some play."""
    if not seeker.ground.classes:
        return
    shape = seeker.shape
    for node in (node for nodes in seeker.roots(bias=bias) for node in nodes):
        steps = ceil(2.0 * node.half / HEADING_STEP_DEG - 1e-9)
        for at in range(steps + 1):
            heading = node.span.low + (2.0 * node.half * at / steps if steps else 0.0)
            single = Node(replace(node.span, low=heading, high=heading), node.hard, node.held)
            spokes = [
                shapely.maximum_inscribed_circle(part, tolerance=_CENTRE_MM)
                for part in shapely.get_parts(seeker.exact(single).sure)
                if part.geom_type == "Polygon" and part.area > 0.0
            ]
            spoke = max(spokes, key=shapely.length, default=None)
            if spoke is None or spoke.length < LEAST_PLAY_MM:
                continue
            pose = shape.pose(shapely.get_coordinates(spoke)[0], heading)
            net = pose.apply(shape.piece.net_outline)
            if seeker.quality is None or class_under(seeker.ground.hide, net) == seeker.quality:
                yield Roomy(pose, float(spoke.length) - DISTANCE_MM)
