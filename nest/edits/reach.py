"""Where one piece may lie at a heading, beside all that lies on its hide: worked out once, for a hand to feel."""

import numpy as np
import shapely

from nest.edits.state import State
from nest.planning.leftover import Leftover
from nest.rules import Heading, judge_heading


def positions(state: State, hide_id: str, number: int, heading_deg: float) -> list[list[list[float]]]:
    """Rings, outer ones and holes alike, of the points that a piece's origin may have at a heading; mm.

    Empty where it may lie nowhere so. All rules hold there but that of its partner's class: hide, margin, gap, classes,
    flaws, direction. The even-odd rule tells inside from outside.
    """
    spot = state.spot(hide_id, number)
    one = state.layout(hide_id).placed[spot]
    piece = state.plan.piece(one.piece_id)
    rules = next(style.rules for style in state.plan.styles if style.name == piece.style)
    rest = [part for part in (*state.parts(hide_id)[0], *state.parts(hide_id)[1]) if part[1] != number]
    room = Leftover(state.with_pieces(hide_id, rest).plan).room(hide_id)
    seeker = room.seeker(piece, rules, None)
    rings = []
    seeker = room.seeker(piece, rules, None)
    for turned, fit in seeker.at(heading_deg):
        origin = seeker.shape.pose((0.0, 0.0), turned)
        for part in shapely.get_parts(fit.sure):
            if part.geom_type == "Polygon" and not part.is_empty:
                for ring in (part.exterior, *part.interiors):
                    corners = np.add(shapely.get_coordinates(ring)[:-1], (origin.x, origin.y))
                    rings.append(np.round(corners, 3).tolist())
    return rings


def allowed_headings(state: State, hide_id: str, number: int) -> list[float]:
    """Whole degrees at which the zones under a piece let it lie."""
    one = state.layout(hide_id).placed[state.spot(hide_id, number)]
    piece = state.plan.piece(one.piece_id)
    hide = state.hide(hide_id)
    rules = next(style.rules for style in state.plan.styles if style.name == piece.style)
    one_way = any(leather.one_way for leather in state.plan.leathers if leather.name == hide.leather)
    net = shapely.polygons(one.pose.apply(piece.net_outline))
    under = [zone.stretch_deg for zone in hide.zones if shapely.intersects(zone.outline, net)]
    return [
        float(turn) for turn in range(360)
        if all(judge_heading(float(turn), stretch, rules, one_way) is not Heading.WRONG for stretch in under)
    ]
