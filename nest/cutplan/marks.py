"""Marks on a piece, all within the trim-off band: ticks on the heel-toe axis, nicks that tell the size.

Every mark starts `INSET_MM` inside the cut line and ends at least `CLEARANCE_MM` short of the net
outline; where the band leaves no room for one, it is left out.
"""

import re
from dataclasses import dataclass

import numpy as np
import shapely

from nest.pieces.piece import Foot, Piece

INSET_MM = 0.5
CLEARANCE_MM = 1.0
TICK_MM = 6.0
"""Longest tick on the axis."""
NICK_MM = 3.0
"""Longest nick."""
LEAST_MM = 1.0
"""A mark shorter than this is not made."""

_CLOSE_MM, _APART_MM = 3.0, 8.0
_SIZE = re.compile(r"\s*(\d+)\s*(?:[.,]0*)?([.,]50*|½|\s1/2)?\s*$")


@dataclass(frozen=True, slots=True)
class Marks:
    """Marks of one piece in its own frame: each a (2, 2) array, from near the cut line inwards, mm."""

    ticks: tuple[np.ndarray, ...]
    nicks: tuple[np.ndarray, ...]


@dataclass(frozen=True, slots=True)
class SizeCode:
    """How a size is told by nicks: `fives` close couples, `ones` single nicks, one set apart for a half size."""

    fives: int
    ones: int
    half: bool

    def __str__(self) -> str:
        words = [
            f"{count} {name}{'s' if count > 1 else ''}"
            for count, name in ((self.fives, "couple"), (self.ones, "single"))
            if count
        ]
        return " + ".join(words) + (" + 1 set apart (half size)" if self.half else "")


def size_code(size: str) -> SizeCode | None:
    """The nicks of a size: its last digit, ten for 0; from size 100 on (Mondopoint) that of size ÷ 5.

    A close couple counts five, a single nick one, so 38 is a couple and three singles. Sizes ten steps
    apart share a code; the eye tells those. None for sizes that are not numbers.
    """
    match = _SIZE.match(size)
    if not match:
        return None
    number, half = int(match[1]), bool(match[2])
    if number >= 100:
        number, half = number // 5, False
    fives, ones = divmod(number % 10 or 10, 5)
    return SizeCode(fives, ones, half)


def marks_of(piece: Piece) -> Marks:
    """Ticks at toe and back and size nicks of `piece`; they never touch its net outline."""
    cut, net = shapely.polygons(piece.cut_outline), shapely.polygons(piece.net_outline)
    return Marks(_ticks(cut, net), _nicks(piece, cut, net))


def _ticks(cut, net) -> tuple[np.ndarray, ...]:
    """On y = 0, where the outline begins and where it ends."""
    x_min, _, x_max, _ = shapely.bounds(cut)
    axis = shapely.linestrings(((x_min - 1.0, 0.0), (x_max + 1.0, 0.0)))
    on_axis = shapely.get_coordinates(shapely.intersection(axis, cut))
    if not len(on_axis):
        return ()
    band = shapely.difference(shapely.buffer(cut, -INSET_MM), shapely.buffer(net, CLEARANCE_MM))
    spans = [shapely.bounds(part)[[0, 2]] for part in shapely.get_parts(shapely.intersection(axis, band))]
    toe, back = on_axis[:, 0].max(), on_axis[:, 0].min()
    # The band may be too thin here and wide elsewhere on the axis: a tick belongs at the end.
    at_toe = [(high, low) for low, high in spans if toe - high < 4.0 * INSET_MM]
    at_back = [(low, high) for low, high in spans if low - back < 4.0 * INSET_MM]
    ticks = []
    for outer, inner in at_toe[:1] + at_back[:1]:
        length = min(abs(inner - outer), TICK_MM)
        if length >= LEAST_MM:
            ticks.append(np.array(((outer, 0.0), (outer + np.copysign(length, inner - outer), 0.0))))
    return tuple(ticks)


def _nicks(piece: Piece, cut, net) -> tuple[np.ndarray, ...]:
    """Along one side, from the toe backwards: y > 0, or y < 0 for a right piece, so that pairs match."""
    code = size_code(piece.size)
    if code is None:
        return ()
    ring = np.asarray(piece.cut_outline)
    if piece.foot is Foot.RIGHT:
        ring = ring[::-1]
    ring = np.roll(ring, -int(np.argmax(ring[:, 0])), axis=0)
    line = shapely.linestrings(np.vstack((ring, ring[:1])))
    offsets = _nick_offsets(code)
    half_way = 0.5 * shapely.length(line)
    best: tuple[float, tuple[np.ndarray, ...]] = (0.0, ())
    for start in np.arange(0.2 * half_way, 0.9 * half_way - offsets[-1], 10.0):
        feet = shapely.line_interpolate_point(line, start + offsets)
        room = float(shapely.distance(feet, net).min()) - INSET_MM - CLEARANCE_MM
        if room < LEAST_MM or room <= best[0]:
            continue
        nicks = _inward(feet, net)
        lines = shapely.linestrings(nicks)
        apart = shapely.distance(lines[:-1], lines[1:]).min() >= 1.0 if len(lines) > 1 else True
        if apart and shapely.covers(cut, lines).all():
            best = (room, tuple(nicks))
            if room >= NICK_MM:
                break
    return best[1]


def _nick_offsets(code: SizeCode) -> np.ndarray:
    """Distances of the nicks along the outline from the first."""
    offsets, at = [], 0.0
    for _ in range(code.fives):
        offsets += [at, at + _CLOSE_MM]
        at += _CLOSE_MM + _APART_MM
    for _ in range(code.ones):
        offsets.append(at)
        at += _APART_MM
    if code.half:
        offsets.append(at + _APART_MM)
    return np.array(offsets)


def _inward(feet, net) -> np.ndarray:
    """Nicks (n, 2, 2) from these points of the cut line straight towards the nearest net point.

    On that line the distance to the net area falls by one mm a mm, so a nick that stops short never touches.
    """
    ways = shapely.get_coordinates(shapely.shortest_line(feet, net)).reshape(-1, 2, 2)
    length = np.hypot(*(ways[:, 1] - ways[:, 0]).T)
    towards = (ways[:, 1] - ways[:, 0]) / length[:, None]
    deep = np.minimum(INSET_MM + NICK_MM, length - CLEARANCE_MM)
    return np.stack((ways[:, 0] + INSET_MM * towards, ways[:, 0] + deep[:, None] * towards), axis=1)
