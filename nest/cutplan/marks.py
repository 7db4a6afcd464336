"""Marks on a piece, all within the trim-off band: ticks on the heel-toe axis, nicks that tell size and style.

What the nicks say is `nest.cutplan.nickcode`. With the toe ahead and the piece face up, those of the size stand to the
left of the axis and those of the style to the right; on a right piece the other way round, so that pairs match. They
begin beside the toe tick and are read backwards along the edge.

Every mark starts inside the cut line and ends short of the net outline, by the distances of its role; where the band
leaves no room, it is left out, and `nest.cutplan.nicksaid` says so.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from nest.cutplan.nickcode import NickCode, Word
from nest.pieces.piece import Foot, Piece, Role

CLEARANCE_MM = 1.0
"""Marks on a vamp end this far from its net outline, and lead-ins do."""
TICK_MM = 6.0
"""Longest tick on the axis."""
NICK_MM = 3.0
"""Longest nick."""
LEAST_MM = 1.0
"""A mark shorter than this is not made."""
LEAST_BETWEEN_MM = 1.0
"""Inner ends of nicks that lean towards each other stay this far apart."""

NEAR_MM, WIDE_MM = 3, 8
"""Along the edge from nick to nick, within a group and from group to group; whole mm, as places are looked at."""

_FIRST_MM, _STEP_MM = 6, 2
"""Nicks begin this far from the axis, or by such steps further back."""
_LONGER_MM = 0.25
"""Nicks go further back only to be longer by more than this."""
_TO_BACK = 0.9
"""They end within this share of the way to the back."""


@dataclass(frozen=True, slots=True)
class MarkRoom:
    """How far a mark keeps inside the cut line, and off the net outline, mm."""

    inset_mm: float
    clearance_mm: float

    @property
    def band_mm(self) -> float:
        """Width of the band that the shortest mark needs."""
        return self.inset_mm + LEAST_MM + self.clearance_mm


ROOM = {Role.VAMP: MarkRoom(0.5, CLEARANCE_MM), Role.REINFORCEMENT: MarkRoom(0.25, 0.5)}
"""A reinforcement is covered by its vamp, and its band is narrow: there marks may come nearer to both lines."""


@dataclass(frozen=True, slots=True)
class Marks:
    """Marks of one piece in its own frame: each a (2, 2) array, from near the cut line inwards, mm.

    size, style : nicks from the toe backwards; empty where there is nothing to say or no room.
    """

    ticks: tuple[np.ndarray, ...]
    size: tuple[np.ndarray, ...] = ()
    style: tuple[np.ndarray, ...] = ()

    @property
    def nicks(self) -> tuple[np.ndarray, ...]:
        """All nicks."""
        return (*self.size, *self.style)

    @property
    def runs(self) -> tuple[tuple[str, tuple[np.ndarray, ...]], ...]:
        """What is made in one go, with the use of its layer: a tick, the nicks of a word in their row."""
        ticks = tuple(("axis", (tick,)) for tick in self.ticks)
        return ticks + tuple(("size", word) for word in (self.size, self.style) if word)


@lru_cache(maxsize=1024)
def marks_of(piece: Piece, code: NickCode) -> Marks:
    """Ticks at toe and back, and nicks, of `piece`; they never touch its net outline.

    Asked for by every drawing and sheet that the piece is on, so they are kept while it is.
    """
    side = -1.0 if piece.foot is Foot.RIGHT else 1.0
    return Marks(_ticks(piece), _nicks(piece, code.size, side), _nicks(piece, code.style, -side))


def widest_band_mm(piece: Piece) -> float:
    """Greatest width of the trim-off band over all of the outline, mm: what decides whether nicks have room."""
    ring = shapely.segmentize(shapely.linearrings(piece.cut_outline), _STEP_MM)
    points = shapely.points(shapely.get_coordinates(ring))
    return float(shapely.distance(points, shapely.polygons(piece.net_outline)).max())


def _ticks(piece: Piece) -> tuple[np.ndarray, ...]:
    """On y = 0, where the outline begins and where it ends."""
    cut, net, room = shapely.polygons(piece.cut_outline), shapely.polygons(piece.net_outline), ROOM[piece.role]
    x_min, _, x_max, _ = shapely.bounds(cut)
    axis = shapely.linestrings(((x_min - 1.0, 0.0), (x_max + 1.0, 0.0)))
    on_axis = shapely.get_coordinates(shapely.intersection(axis, cut))
    if not len(on_axis):
        return ()
    band = shapely.difference(shapely.buffer(cut, -room.inset_mm), shapely.buffer(net, room.clearance_mm))
    spans = [shapely.bounds(part)[[0, 2]] for part in shapely.get_parts(shapely.intersection(axis, band))]
    toe, back = on_axis[:, 0].max(), on_axis[:, 0].min()
    # The band may be too thin here and wide elsewhere on the axis: a tick belongs at the end.
    at_toe = [(high, low) for low, high in spans if toe - high < 4.0 * room.inset_mm]
    at_back = [(low, high) for low, high in spans if low - back < 4.0 * room.inset_mm]
    ticks = []
    for outer, inner in at_toe[:1] + at_back[:1]:
        length = min(abs(inner - outer), TICK_MM)
        if length >= LEAST_MM:
            ticks.append(np.array(((outer, 0.0), (outer + np.copysign(length, inner - outer), 0.0))))
    return tuple(ticks)


def _nicks(piece: Piece, word: Word, side: float) -> tuple[np.ndarray, ...]:
    """The nicks of a word on the side where y has this sign: as near the toe as they are longest; () without room."""
    if not word:
        return ()
    cut, net, room = shapely.polygons(piece.cut_outline), shapely.polygons(piece.net_outline), ROOM[piece.role]
    line, offsets = _edge(piece, side), _offsets(word)
    feet = shapely.line_interpolate_point(line, np.arange(int(_TO_BACK * 0.5 * shapely.length(line))))
    starts = np.arange(_FIRST_MM, len(feet) - offsets[-1], _STEP_MM, dtype=np.int64)
    if not len(starts):
        return ()
    deep = shapely.distance(feet, net) - room.inset_mm - room.clearance_mm
    long = np.minimum(NICK_MM, deep[starts[:, None] + offsets].min(axis=1))
    shorter = long.max() - long
    for at in np.argsort(np.where(shorter <= _LONGER_MM, 0.0, shorter), kind="stable"):
        if long[at] < LEAST_MM:
            break
        nicks = _inward(feet[starts[at] + offsets], net, room)
        lines = shapely.linestrings(nicks)
        apart = len(lines) < 2 or shapely.distance(lines[:-1], lines[1:]).min() >= LEAST_BETWEEN_MM
        if apart and shapely.covers(cut, lines).all():
            return tuple(nicks)
    return ()


def _edge(piece: Piece, side: float):
    """The outline as a line once round from where the axis leaves it at the toe, y of this sign first."""
    ring = np.asarray(piece.cut_outline)[:: int(side)]
    ends = np.vstack((ring, ring[:1]))
    line = shapely.linestrings(ends)
    x_min, _, x_max, _ = shapely.bounds(line)
    axis = shapely.linestrings(((x_min - 1.0, 0.0), (x_max + 1.0, 0.0)))
    on_axis = shapely.get_coordinates(shapely.intersection(axis, line))
    toe = max(on_axis if len(on_axis) else ring, key=lambda point: point[0])
    run = np.concatenate(((0.0,), np.cumsum(np.hypot(*np.diff(ends, axis=0).T))))
    beyond = int(np.searchsorted(run, shapely.line_locate_point(line, shapely.points(toe)), side="right"))
    return shapely.linestrings(np.vstack((toe, ring[beyond:], ring[:beyond], toe)))


def _offsets(word: Word) -> np.ndarray:
    """Distances of the nicks along the edge from the first, whole mm."""
    steps = [step for group in word for step in (WIDE_MM, *[NEAR_MM] * (group - 1))]
    return np.cumsum((0, *steps[1:]))


def _inward(feet, net, room: MarkRoom) -> np.ndarray:
    """Nicks (n, 2, 2) from these points of the cut line straight towards the nearest net point.

    On that line the distance to the net area falls by one mm a mm, so a nick that stops short never touches.
    """
    ways = shapely.get_coordinates(shapely.shortest_line(feet, net)).reshape(-1, 2, 2)
    length = np.hypot(*(ways[:, 1] - ways[:, 0]).T)
    towards = (ways[:, 1] - ways[:, 0]) / length[:, None]
    deep = np.minimum(room.inset_mm + NICK_MM, length - room.clearance_mm)
    return np.stack((ways[:, 0] + room.inset_mm * towards, ways[:, 0] + deep[:, None] * towards), axis=1)
