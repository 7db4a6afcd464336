"""What a cutting drawing holds, in entity order, before it is written in any format.

Order: reference first, then labels, then marks and cuts as the table makes them: a piece that is marked before it is
cut loose has not shifted.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import shapely

from geometry.pose import rotate
from nest.cutplan.frame import Frame
from nest.cutplan.grid import rounded, tidy
from nest.cutplan.knife import needs_way
from nest.cutplan.path import Mark
from nest.cutplan.work import Work
from nest.pieces.piece import Piece
from nest.plan import Placed

_BARB_MM = 8.0
"""Length of the arrowhead of an axis."""
_OFF_AXIS_MM = 1.0
"""Labels keep this far off the axis."""


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A polyline on the layer that `Layers` holds for `use`; points (n, 2) mm on the grid, not repeated.

    arcs : the same outline as arcs (`geometry.arcs`), (m, 3), where it is written so; `points` are their chords.
    """

    use: str
    points: np.ndarray
    closed: bool = True
    arcs: np.ndarray | None = None


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
        points = rounded(np.vstack(corners))
        return (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


def region_outlines(use: str, region) -> list[Outline]:
    """Every ring of a shapely polygon or multipolygon, holes too."""
    rings = shapely.get_rings(region)
    return [Outline(use, tidy(shapely.get_coordinates(ring))) for ring in rings]


def line(use: str, points) -> Outline:
    """An open line through `points`, mm."""
    return Outline(use, rounded(points), closed=False)


def cross(use: str, at, arm_mm: float) -> list[Outline]:
    """Two lines that cross at `at`."""
    x, y = at
    return [line(use, ((x - arm_mm, y), (x + arm_mm, y))), line(use, ((x, y - arm_mm), (x, y + arm_mm)))]


def work_entities(work: Work, pieces: Iterable[Piece]) -> list[Outline | Label]:
    """All of the work, in cut order: net lines, headings, labels, wanted outlines, then what the table does.

    Outlines wanted are drawn apart only where the tool's way differs from them.
    """
    by_id = {piece.piece_id: piece for piece in pieces}
    nets, headings, labels, wanted = [], [], [], []
    differs = work.table.moves_outlines
    for path in work.paths:
        where = work.placed[path.index]
        piece = by_id[where.piece_id]
        nets.append(Outline("net", tidy(work.frame.apply(where.pose.apply(piece.net_outline)))))
        toe = max(1.0, float(np.max(np.asarray(piece.net_outline)[:, 0])))
        headings.append(line("heading", work.frame.apply(where.pose.apply(axis_arrow(toe)))))
        labels.append(_piece_label(piece, where, work.frame, work.numbers[path.index]))
        if differs:
            wanted.append(Outline("rough", path.wanted))
    return [*nets, *headings, *labels, *wanted, *step_entities(work)]


def step_entities(work: Work) -> list[Outline]:
    """Marks, lead-ins and cuts as the table makes them, one after another."""
    made = []
    for step in work.steps:
        if isinstance(step, Mark):
            made.append(line(step.use, step.line))
            continue
        if step.lead is not None:
            made.append(line("lead", step.lead))
        made.append(Outline("cut", step.ring, arcs=step.arcs if work.table.arcs else None))
    return made


def driven_entities(work: Work) -> list[Outline]:
    """The same for a table that follows them blindly: where a knife has a way of its own, that way, in open lines."""
    if not needs_way(work.table):
        return step_entities(work)
    return [
        line(step.use if isinstance(step, Mark) else "cut", way)
        for step in work.steps for way in step.strokes(work.table.overcut_mm)
    ]


def axis_arrow(toe_mm: float) -> np.ndarray:
    """The axis from the back to the toe with an arrowhead: one line of five points, mm; the first two are the axis."""
    barb = min(_BARB_MM, 0.25 * toe_mm)
    tip, back = (toe_mm, 0.0), toe_mm - barb
    return np.array(((0.0, 0.0), tip, (back, 0.4 * barb), tip, (back, -0.4 * barb)))


def piece_name(piece: Piece, pair: int = 0, number: int = 0) -> str:
    """Style, size, foot, pair and number on its material in one line."""
    foot = "" if piece.foot == "either" else f" {piece.foot}"
    of_pair = f" pair {pair}" if pair else ""
    return f"{piece.style} {piece.size}{foot}{of_pair}" + (f" no. {number}" if number else "")


def _piece_label(piece: Piece, where: Placed, frame: Frame, number: int) -> Label:
    """Near the middle of the piece, along its axis and beside it, never upside down."""
    text = piece_name(piece, where.pair, number)
    net = shapely.polygons(piece.net_outline)
    middle = shapely.centroid(net)
    if not shapely.contains_properly(net, middle):
        middle = shapely.point_on_surface(net)
    turn = (frame.direction_deg(where.pose.heading_deg) + 90.0) % 180.0 - 90.0
    length = float(np.ptp(np.asarray(piece.net_outline)[:, 0]))
    height = min(7.0, 0.8 * length / (0.7 * len(text)))
    x, y = frame.apply(where.pose.apply(_off_axis(net, shapely.get_coordinates(middle)[0], text, height)))[0]
    return Label("labels", text, (float(x), float(y)), round(height, 1), round(turn, 2), centred=True)


def _off_axis(net, middle: np.ndarray, text: str, height: float) -> np.ndarray:
    """A place for the middle of a label (1, 2) in the piece's frame, so that the axis does not strike it through.

    On the side where more of the text lies in the net area; its middle always does.
    """
    half = np.array((0.35 * height * len(text), 0.5 * height))
    clear = half[1] + _OFF_AXIS_MM
    places = [np.array((middle[0], y)) for y in (middle[1], clear, -clear) if abs(y) >= clear]
    places = [place for place in places if shapely.contains_properly(net, shapely.Point(place))]
    if not places:
        return middle[None]
    boxes = [shapely.box(*(place - half), *(place + half)) for place in places]
    covered = [round(shapely.intersection(net, box).area, 6) for box in boxes]
    return places[int(np.argmax(covered))][None]
