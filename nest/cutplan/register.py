"""Ticks by which a vamp and its reinforcement are bonded in register: in the same place on both, on either side.

Both pieces share one frame. Where a line across the axis leaves both outlines, each has a tick on that line, within its
trim-off band: bonded right, they lie in one line, as the ticks on the axis do.
"""

from collections.abc import Iterable

import numpy as np
import shapely

from nest.cutplan.marks import LEAST_MM, ROOM, TICK_MM, Marks
from nest.pieces.piece import Piece

_STEP_MM = 1.0
_OFF_NICKS_MM = 15.0
"""Far enough from nicks not to be counted among them: their groups stand 8 mm apart."""


def register_ticks(piece: Piece, partner: Piece, marks: Iterable[Marks]) -> tuple[np.ndarray, ...]:
    """The ticks of `piece`, (2, 2) each from near the cut line inwards, mm of its own frame; () where one lacks room.

    partner
        The reinforcement of a vamp, or the vamp of a reinforcement.
    marks
        All other marks of both, which ticks keep away from.
    """
    nicks = [shapely.LineString(nick) for one in marks for nick in one.nicks]
    others = shapely.union_all(nicks) if nicks else None
    found = []
    for side in (1.0, -1.0):
        low = max(float(np.min(np.asarray(one.cut_outline)[:, 0])) for one in (piece, partner))
        high = min(float(np.max(np.asarray(one.cut_outline)[:, 0])) for one in (piece, partner))
        places = np.arange(np.ceil(low), np.floor(high) + 0.5, _STEP_MM)
        mine, theirs = (_across(one, places, side) for one in (piece, partner))
        long = np.minimum(_lengths(mine), _lengths(theirs))
        if others is not None:
            for ways in (mine, theirs):
                away = shapely.distance(shapely.linestrings(np.nan_to_num(ways)), others)
                long[away < _OFF_NICKS_MM] = 0.0
        if not len(long) or long.max() < LEAST_MM:
            continue
        # Of the places where both ticks are as long as can be, the one nearest to the middle.
        best = np.flatnonzero(long >= long.max() - 0.25)
        found.append(mine[best[np.argmin(np.abs(places[best] - 0.5 * (low + high)))]])
    return tuple(found)


def _across(piece: Piece, places: np.ndarray, side: float) -> np.ndarray:
    """Ticks (n, 2, 2) across the axis at these x on the side where y has this sign; nan where there is no room."""
    cut, net, room = shapely.polygons(piece.cut_outline), shapely.polygons(piece.net_outline), ROOM[piece.role]
    band = shapely.difference(shapely.buffer(cut, -room.inset_mm), shapely.buffer(net, room.clearance_mm))
    far = float(np.abs(np.asarray(piece.cut_outline)[:, 1]).max()) + 1.0
    ends = np.stack((np.column_stack((places, np.zeros(len(places)))),
                     np.column_stack((places, np.full(len(places), side * far)))), axis=1)
    ways = np.full((len(places), 2, 2), np.nan)
    lines = shapely.linestrings(ends)
    rims = shapely.intersection(lines, shapely.boundary(cut))
    parts, own = shapely.get_parts(shapely.intersection(lines, band), return_index=True)
    spans = shapely.get_num_coordinates(parts) == 2
    own, parts = own[spans], parts[spans]
    y = np.sort(side * shapely.get_coordinates(parts)[:, 1].reshape(-1, 2), axis=1)
    rim, at = shapely.get_coordinates(rims, return_index=True)
    outermost, high = (np.full(len(places), -np.inf) for _ in range(2))
    np.maximum.at(outermost, at, side * rim[:, 1])
    np.maximum.at(high, own, y[:, 1])
    # The band's outermost stretch must begin at the outline's outermost crossing.
    for i, (low, top) in zip(own, y, strict=True):
        if top == high[i] and outermost[i] - top < 4.0 * room.inset_mm:
            ways[i] = ((places[i], side * top), (places[i], side * max(low, top - TICK_MM)))
    return ways


def _lengths(ways: np.ndarray) -> np.ndarray:
    return np.nan_to_num(np.hypot(*(ways[:, 1] - ways[:, 0]).T))
