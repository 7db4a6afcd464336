"""What a cutting drawing holds, in entity order, before it is written in any format.

Order: reference first, then labels, marks, and cut outlines last, pieces in cut order: a piece that
is marked before it is cut loose has not shifted.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import shapely

from geometry.pose import rotate
from geometry.precision import COORDINATE_GRID_MM, on_grid
from nest.cutplan.marks import marks_of
from nest.cutplan.order import cut_order
from nest.pieces.piece import Piece
from nest.plan import Placed

DECIMALS = round(-np.log10(COORDINATE_GRID_MM))
"""Digits after the point that the coordinate grid has."""


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A polyline on the layer that `Layers` holds for `use`; points (n, 2) mm on the grid, not repeated."""

    use: str
    points: np.ndarray
    closed: bool = True


@dataclass(frozen=True, slots=True)
class Label:
    """One line of text, its lower left corner at `at`, or its middle if `centred`; height in mm."""

    use: str
    text: str
    at: tuple[float, float]
    height_mm: float
    turn_deg: float = 0.0
    centred: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """Entities in the order in which they are written."""

    entities: tuple[Outline | Label, ...] = field(default=())

    def outlines(self, use: str) -> tuple[Outline, ...]:
        """The polylines of one use, in order."""
        return tuple(e for e in self.entities if isinstance(e, Outline) and e.use == use)

    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, most x, most y over all entities, text taken 0.7 of its height a letter, mm."""
        corners = [np.zeros((0, 2))]
        for entity in self.entities:
            if isinstance(entity, Outline):
                corners.append(entity.points)
            else:
                long, high = 0.7 * entity.height_mm * len(entity.text), entity.height_mm
                box = np.array(((0.0, 0.0), (long, 0.0), (long, high), (0.0, high)))
                box -= (0.5 * long, 0.5 * high) if entity.centred else (0.0, 0.0)
                corners.append(rotate(box, entity.turn_deg) + np.array(entity.at))
        points = _round(np.vstack(corners))
        return (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


def region_outlines(use: str, region) -> list[Outline]:
    """Every ring of a shapely polygon or multipolygon, holes too."""
    rings = shapely.get_rings(region)
    return [Outline(use, _tidy(shapely.get_coordinates(ring))) for ring in rings]


def line(use: str, points) -> Outline:
    """An open line through `points`, mm."""
    return Outline(use, _round(points), closed=False)


def cross(use: str, at, arm_mm: float) -> list[Outline]:
    """Two lines that cross at `at`."""
    x, y = at
    return [line(use, ((x - arm_mm, y), (x + arm_mm, y))), line(use, ((x, y - arm_mm), (x, y + arm_mm)))]


def piece_entities(pieces: Iterable[Piece], placed: Iterable[Placed], start=(0.0, 0.0)) -> list[Outline | Label]:
    """All that is placed of `pieces`, in cut order: net lines, labels, marks, then cut outlines.

    The head sets out from `start`; each outline begins at the vertex nearest to where the last one ended.
    """
    placed = list(placed)
    pieces = {piece.piece_id: piece for piece in pieces}
    marks = {name: marks_of(pieces[name]) for name in {p.piece_id for p in placed}}
    rings = [_tidy(p.pose.apply(pieces[p.piece_id].cut_outline)) for p in placed]
    order = cut_order([shapely.centroid(shapely.polygons(ring)).coords[0] for ring in rings], start) if rings else ()
    references, labels, made, cuts = [], [], [], []
    here = np.asarray(start, dtype=np.float64)
    for index in order:
        where, piece, ring = placed[index], pieces[placed[index].piece_id], rings[index]
        references.append(Outline("net", _tidy(where.pose.apply(piece.net_outline))))
        labels.append(_piece_label(piece, where))
        made += [line("axis", where.pose.apply(tick)) for tick in marks[where.piece_id].ticks]
        made += [line("size", where.pose.apply(nick)) for nick in marks[where.piece_id].nicks]
        first = int(np.argmin(np.hypot(*(ring - here).T)))
        cuts.append(Outline("cut", np.roll(ring, -first, axis=0)))
        here = ring[first]
    return [*references, *labels, *made, *cuts]


def piece_name(piece: Piece, pair: int = 0) -> str:
    """Style, size, foot and pair number in one line."""
    foot = "" if piece.foot == "either" else f" {piece.foot}"
    return f"{piece.style} {piece.size}{foot}" + (f" pair {pair}" if pair else "")


def _piece_label(piece: Piece, where: Placed) -> Label:
    """In the middle of the piece, along its axis, never upside down."""
    text = piece_name(piece, where.pair)
    net = shapely.polygons(piece.net_outline)
    middle = shapely.centroid(net)
    if not shapely.contains_properly(net, middle):
        middle = shapely.point_on_surface(net)
    x, y = where.pose.apply(shapely.get_coordinates(middle))[0]
    turn = (where.pose.heading_deg + 90.0) % 180.0 - 90.0
    length = float(np.ptp(np.asarray(piece.net_outline)[:, 0]))
    height = min(7.0, 0.8 * length / (0.7 * len(text)))
    return Label("labels", text, (float(x), float(y)), round(height, 1), round(turn, 2), centred=True)


def _tidy(ring) -> np.ndarray:
    """On the grid, counter-clockwise, no vertex repeated, written with as few digits as the grid has."""
    return _round(on_grid(ring))


def _round(points) -> np.ndarray:
    return np.round(np.asarray(points, dtype=np.float64), DECIMALS) + 0.0
