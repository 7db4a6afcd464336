"""The drawing of a hide, of a lay, and of one piece: what is on it and where."""

from collections import Counter

import numpy as np
import shapely

from geometry.pose import Pose, rotate
from nest.cutplan.cautions import CAUTIONS
from nest.cutplan.drawing import Drawing, Label, Outline, cross, line, piece_entities, piece_name, region_outlines
from nest.cutplan.marks import marks_of, size_code
from nest.errors import PlanProblem
from nest.pieces.piece import Piece
from nest.plan import HideLayout, Lay, Placed, Plan
from nest.stock.material import Hide, Roll

_ARROW_MM, _BARB_MM, _CROSS_MM = 60.0, 12.0, 15.0


def hide_drawing(plan: Plan, layout: HideLayout, warning: str = "") -> Drawing:
    """The drawing of one hide, grain side up, in the hide's own coordinates.

    Raises PlanProblem if the plan holds no such hide.
    """
    hide = _find(plan.hides, "hide_id", layout.hide_id)
    reference: list[Outline | Label] = region_outlines("material", hide.outline)
    for zone in hide.zones:
        reference += region_outlines("zones", zone.outline)
        middle = shapely.point_on_surface(zone.outline).coords[0]
        reference += _stretch_arrow(middle, zone.stretch_deg)
        text = f"{zone.zone_id}: class {zone.quality}, stretch {zone.stretch_deg:.0f} deg"
        reference.append(Label("zones", text, (middle[0] + 10.0, middle[1] + 10.0), 8.0))
    for flaw in hide.flaws:
        reference += region_outlines("flaws", flaw.outline)
    points = registration_points(hide)
    heading = [
        f"{plan.name}: hide {hide.hide_id}, {hide.leather}, lot {hide.lot}, class {hide.quality}, "
        f"{hide.thickness_mm:g} mm thick. Grain side up.",
        "Arrows: direction of most stretch. Toes lie across it.",
    ]
    return _whole(plan, layout.placed, reference, points, heading, warning)


def lay_drawing(plan: Plan, lay: Lay, warning: str = "") -> Drawing:
    """The drawing of one lay: x along the roll, y from 0 to the usable width.

    Raises PlanProblem if the plan holds no such roll.
    """
    roll = _find(plan.rolls, "roll_id", lay.roll_id)
    width, length, margin = roll.usable_width_mm, lay.length_mm, roll.selvedge_mm
    reference: list[Outline | Label] = region_outlines("material", shapely.box(0.0, 0.0, length, width))
    if margin > 0.0:
        reference += [line("material", ((0.0, y), (length, y))) for y in (-margin, width + margin)]
    reference += _stretch_arrow((-_ARROW_MM, 0.5 * width), roll.stretch_deg)
    points = np.array(((0.0, 0.0), (length, 0.0), (0.0, width)))
    heading = [
        f"{plan.name}: lay {lay.lay_id}, roll {roll.roll_id}, {lay.plies} plies of {length:.0f} mm "
        f"+ {2.0 * roll.end_loss_mm:.0f} mm end loss, {width:.0f} mm between the selvedges.",
        "Arrow: direction of most stretch." + _face_note(roll),
    ]
    return _whole(plan, lay.placed, reference, points, heading, warning)


def piece_drawing(piece: Piece, warning: str = "") -> Drawing:
    """The drawing of one piece in its own frame: toe towards +x, heel-toe axis on y = 0."""
    alone = Placed(piece.piece_id, Pose(0.0, 0.0, 0.0))
    entities = piece_entities((piece,), (alone,))
    low, high = piece.cut_outline.min(axis=0), piece.cut_outline.max(axis=0)
    lines = [
        f"{piece_name(piece)} {piece.role}: cut outline "
        f"{high[0] - low[0]:.1f} x {high[1] - low[1]:.1f} mm. Toe to the right.",
        *_units_and_sizes((piece,)),
        *CAUTIONS,
    ]
    return Drawing((*_legend(lines, (low[0], low[1] - 10.0), 4.0, warning), *entities))


def registration_points(hide: Hide) -> np.ndarray:
    """Three tips of a hide to lay it by, (3, 2) mm: the two furthest apart, and the one furthest from their line.

    The first is the one with least x (then y), so the same hide always gives the same points.
    """
    tips = shapely.get_coordinates(shapely.convex_hull(hide.outline))[:-1]
    apart = np.hypot(*(tips[:, None] - tips[None]).transpose(2, 0, 1))
    first, second = sorted(np.unravel_index(int(np.argmax(apart)), apart.shape), key=lambda i: tuple(tips[i]))
    along = tips[second] - tips[first]
    aside = np.abs(along[0] * (tips[:, 1] - tips[first, 1]) - along[1] * (tips[:, 0] - tips[first, 0]))
    return tips[[first, second, int(np.argmax(aside))]]


def _whole(plan, placed, reference, points, heading, warning) -> Drawing:
    """Reference, registration crosses and legend, then the pieces in cut order."""
    for name, point in zip("ABC", points, strict=True):
        reference += cross("points", point, _CROSS_MM)
        reference.append(Label("points", name, (float(point[0]) + 4.0, float(point[1]) + 4.0), 10.0))
    unknown = {p.piece_id for p in placed} - {piece.piece_id for piece in plan.pieces}
    if unknown:
        raise PlanProblem(f"the plan places pieces that it does not hold: {', '.join(sorted(unknown))}; plan again")
    pieces = [plan.piece(p.piece_id) for p in placed]
    lines = [*heading, *_units_and_sizes(pieces), _registration_text(points), *_counts(pieces), *CAUTIONS]
    low = Drawing(tuple(reference)).bounds()
    height = min(20.0, max(5.0, 0.008 * (low[2] - low[0])))
    legend = _legend(lines, (low[0], low[1] - 3.0 * height), height, warning)
    return Drawing((*reference, *legend, *piece_entities(plan.pieces, placed)))


def _units_and_sizes(pieces) -> list[str]:
    """Units, what the layers are for, and the size codes of those pieces that have room for nicks."""
    nicked = {piece.size for piece in dict.fromkeys(pieces) if marks_of(piece).nicks}
    told = "; ".join(f"{size} = {size_code(size)}" for size in sorted(nicked))
    return [
        "All coordinates in millimetres (mm), full size.",
        "Cut the cut layer only. Mark layers: ticks on the heel-toe axis, size nicks; within the trim-off band. "
        "Reference layers are never cut nor drawn on the material.",
        f"Size nicks, a close couple counts five: {told}." if told else "No size nicks.",
    ]


def _registration_text(points) -> str:
    a, b, c = (np.asarray(point) for point in points)
    places = ", ".join(f"{n} ({p[0]:.1f}, {p[1]:.1f})" for n, p in zip("ABC", (a, b, c), strict=True))
    return (
        f"Registration points {places}; check A-B {np.hypot(*(b - a)):.1f}, "
        f"B-C {np.hypot(*(c - b)):.1f}, C-A {np.hypot(*(a - c)):.1f} mm."
    )


def _counts(pieces) -> list[str]:
    counts = Counter(piece_name(piece) for piece in pieces)
    told = [f"{name}: {count}" for name, count in sorted(counts.items())]
    rows = ["; ".join(told[i : i + 6]) for i in range(0, len(told), 6)]
    return [f"{len(pieces)} pieces.", *rows]


def _legend(lines, top_left, height, warning) -> list[Label]:
    """Lines of text from here downwards; a warning stands first, twice as high."""
    x, y = (float(value) for value in top_left)
    labels = []
    if warning:
        y -= 2.0 * height
        labels.append(Label("legend", warning, (x, y), 2.0 * height))
        y -= height
    for text in lines:
        y -= 1.7 * height
        labels.append(Label("legend", text, (x, y), round(height, 1)))
    return labels


def _stretch_arrow(middle, stretch_deg: float) -> list[Outline]:
    """A line with a barb at each end along the direction of most stretch."""
    half, barb = 0.5 * _ARROW_MM, _BARB_MM
    shapes = [((-half, 0.0), (half, 0.0))]
    shapes += [((s * (half - barb), 0.4 * barb), (s * half, 0.0), (s * (half - barb), -0.4 * barb)) for s in (-1, 1)]
    return [line("zones", rotate(np.array(shape), stretch_deg) + np.asarray(middle)) for shape in shapes]


def _face_note(roll: Roll) -> str:
    return " Adhesive side the same way up in every ply; no piece is turned over." if roll.adhesive_one_side else ""


def _find(stock, key: str, wanted: str):
    for item in stock:
        if getattr(item, key) == wanted:
            return item
    raise PlanProblem(f"the plan holds no {key.removesuffix('_id')} named {wanted}; plan again")
