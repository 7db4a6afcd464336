"""Where the number of a piece is written on the material: in its trim-off band, or in its net area beside the axis.

In the band a number stands along the edge and is read with that edge towards the reader; inside, along the axis, never
upside down on the table. It keeps off ticks and nicks, off the axis, and in the band off the net area.
"""

from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np
import shapely

from nest.cutplan.grid import rounded
from nest.cutplan.marks import ROOM
from nest.cutplan.strokefont import number_lines, number_wide
from nest.job.cutting_table import CuttingTable, NumberPlace, NumberTool
from nest.pieces.piece import Piece

_OFF_MARKS_MM = 2.0
_OFF_AXIS_MM = 1.5
_STEP_MM, _DEEPER_MM = 2.0, 0.5
_STRAIGHT = 0.99
"""A number stands where the edge is nearly straight: where its chord is this share of it, it turns by 28 degrees."""
_SMALLER = (1.0, 0.85, 0.7, 0.6)
_LEAST_MM = 3.0
"""Digits are never lower than this (common practice, no source)."""

Placed = tuple[np.ndarray, np.ndarray, float]
"""Middle of a number and the way it is read, (2,) each in the frame of its piece, and how high it is, mm."""


def written(
    number: int, piece: Piece, marks: Sequence[np.ndarray], table: CuttingTable,
    apply: Callable[[np.ndarray], np.ndarray],
) -> tuple[list[np.ndarray], object]:
    """The lines of a number where its piece lies, (n, 2) mm on the table each, and the box they fill; [] without room.

    marks : ticks and nicks of the piece, (2, 2) each in its own frame. apply : from that frame to the table.
    """
    spot = _spot(piece, tuple(map(_frozen, marks)), len(str(number)), table.number, table.number_place, table.number_mm)
    if spot is None:
        return [], None
    middle, reading, high = spot
    left = np.array((-reading[1], reading[0]))
    middle, ahead, across = apply(np.array((middle, middle + reading, middle + left)))
    right, up = ahead - middle, across - middle
    if right[0] * up[1] < right[1] * up[0]:  # mirrored: the edge stays below, and the number is read the other way
        right = -right
    if table.number_place is NumberPlace.INSIDE and (right[0], right[1]) < (0.0, 0.0):
        right, up = -right, -up
    lines = number_lines(number, high, table.number)
    wide = max(float(line[:, 0].max()) for line in lines)
    lines = [rounded((line - (0.5 * wide, 0.5 * high)) @ np.array((right, up)) + middle) for line in lines]
    half = np.array(((-wide, -high), (wide, -high), (wide, high), (-wide, high))) * 0.5
    return lines, shapely.polygons(half @ np.array((right, up)) + middle)


@lru_cache(maxsize=1024)
def _spot(
    piece: Piece, marks: tuple, digits: int, tool: NumberTool, place: NumberPlace, most_mm: float
) -> Placed | None:
    """Where there is room for a number with this many digits, as high as there is room for up to `most_mm`."""
    look = _in_band if place is NumberPlace.BAND else _inside
    for high in dict.fromkeys(max(share * most_mm, min(_LEAST_MM, most_mm)) for share in _SMALLER):
        found = look(piece, marks, number_wide(digits, high, tool), high)
        if found is not None:
            return *found, high
    return None


def _in_band(piece: Piece, marks: tuple, wide: float, high: float):
    """The place nearest to the edge, and of those the one furthest back, where a number keeps to the band."""
    cut, net, room = shapely.polygons(piece.cut_outline), shapely.polygons(piece.net_outline), ROOM[piece.role]
    band = shapely.difference(shapely.buffer(cut, -room.inset_mm), shapely.buffer(net, room.clearance_mm))
    if marks:
        band = shapely.difference(band, shapely.buffer(shapely.multilinestrings([np.array(m) for m in marks]),
                                                       _OFF_MARKS_MM))
    shapely.prepare(band)
    edge = shapely.linearrings(piece.cut_outline)
    run = shapely.length(edge)
    starts = np.arange(0.0, run, _STEP_MM)
    first = shapely.get_coordinates(shapely.line_interpolate_point(edge, starts))
    last = shapely.get_coordinates(shapely.line_interpolate_point(edge, (starts + wide) % run))
    chord = np.hypot(*(last - first).T)
    straight = chord >= _STRAIGHT * wide
    first, last, chord = first[straight], last[straight], chord[straight]
    if not len(chord):
        return None
    along = (last - first) / chord[:, None]
    up = np.column_stack((-along[:, 1], along[:, 0]))  # inwards, for outlines run counter-clockwise
    widest = float(shapely.distance(shapely.points(first), net).max())
    for deep in np.arange(room.inset_mm, widest - high, _DEEPER_MM):
        middle = 0.5 * (first + last) + (deep + 0.5 * high) * up
        corners = [middle + 0.5 * (i * wide * along + j * high * up) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        fits = np.flatnonzero(shapely.covers(band, shapely.polygons(np.stack(corners, axis=1))))
        if len(fits):
            best = fits[np.argmin(middle[fits, 0])]
            return middle[best], along[best]
    return None


def _inside(piece: Piece, marks: tuple, wide: float, high: float):
    """Beside the axis, as near to the middle of the net area as there is room."""
    net = shapely.polygons(piece.net_outline)
    inner = shapely.buffer(net, -1.0)
    shapely.prepare(inner)
    middle = shapely.get_coordinates(shapely.centroid(net))[0]
    x_min, _, x_max, _ = shapely.bounds(net)
    places = np.arange(x_min, x_max, _STEP_MM)
    places = places[np.argsort(np.abs(places - middle[0]), kind="stable")]
    off = 0.5 * high + _OFF_AXIS_MM
    spots = np.array([(x, y) for x in places for y in (off, -off)]).reshape(-1, 2)
    half = 0.5 * np.array((wide, high))
    fits = np.flatnonzero(shapely.covers(inner, shapely.box(*(spots - half).T, *(spots + half).T)))
    return (spots[fits[0]], np.array((1.0, 0.0))) if len(fits) else None


def _frozen(mark: np.ndarray) -> tuple:
    return tuple(map(tuple, np.asarray(mark).tolist()))
