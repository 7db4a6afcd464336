"""Template drawings: outline, heel-toe axis and parts, moved so that the axis lies on y = 0, toe towards +x.

A drawing holds, on layers that the job file may name otherwise:

* TEMPLATE: one closed outline, in one piece or in several that follow each other.
* AXIS: one straight line from the heel to the toe.
* PARTS: where one part of the outline passes into the next, a POINT on it or a short line across
  it; and beside every stretch between two of these a text that names it: toe, side or back.

The axis starts at the origin of the template's frame.

A pattern file by ASTM D6673 has one block a piece and layers that are numbers (see `LayersSection`); its grain line is
taken for the axis, whichever way it points, and annotation that names no part is passed over.

Every heading counts from the axis, and a grain line need not run from heel to toe. So it is held against the direction
from the middle of the back to that of the toe, as the parts tell it.
"""

from dataclasses import replace

import numpy as np
import shapely

from geometry.polygon import edge_lengths, polygon, size, why_not_simple
from geometry.precision import CHORD_ERROR_MM, GeometryError, as_ring, on_grid
from geometry.thinning import thin
from nest.job.drawing import Drawing, Path
from nest.job.dxf import read_drawing, refuse_open
from nest.job.files import Source
from nest.job.findings import Findings, listed
from nest.job.schema import ASTM, LayersSection
from nest.job.template_parts import Frame, divided_outline, refuse_missing_parts
from nest.limits import MOST_TEMPLATE_VERTICES
from nest.pieces.piece import Part, Template

STRAIGHT_MM = 0.5
"""An axis drawn with several points leaves a straight line by no more than this."""

BELIEVABLE_MM = (30.0, 800.0)
"""Length and width of a template lie between these; anything else is a wrong unit."""

REPEATED_MM = 0.01
"""Vertices nearer than this are one: graded to a small size they would fall together on the grid."""

DOUBTFUL_AXIS_DEG = 15.0
"""An axis this far off the direction from back to toe gets a warning: no vamp is that lopsided."""

MOST_AXIS_DEG = 45.0
"""An axis further off than this lies across the vamp, and is refused."""

MOST_OUTLINES_SAID = 4
"""Of more outlines than this only some are named in a message."""

_MIRROR_LINE, _INTERNAL_LINES, _CUTOUTS = _ASTM_OTHERS = "6", "8", "11"
_CURVE_POINTS = "3"
"""Layers of ASTM D6673 that a template must not have, or that are not used; curve points."""


def read_template(
    source: Source, layers: LayersSection, style: str, size_name: str, unit: str | None, findings: Findings,
    block: str | None = None,
) -> Template | None:
    """Read one template, from a block of the drawing if one is named; None, and every problem, if it cannot be used."""
    names = layers.template_part_names or layers.template_parts
    wanted = [layers.template_outline, layers.template_axis, layers.template_parts, names]
    by_standard = layers.template_standard == ASTM
    drawing = read_drawing(source, unit, findings, [*wanted, *_ASTM_OTHERS] if by_standard else wanted, block)
    if drawing is None or (by_standard and not _whole_piece(drawing, layers.template_axis, findings)):
        return None
    _say_base_size(drawing, size_name, findings)
    drawing = _with_names(drawing, names, layers.template_parts, by_standard)
    ring = _outline(drawing, layers.template_outline, findings)
    frame = _axis(drawing, layers.template_axis, ring, findings)
    if ring is None or frame is None:
        # Parts can be looked for without a frame, so that a missing layer is reported along with the rest.
        if not drawing.labels_on(layers.template_parts):
            refuse_missing_parts(drawing, layers.template_parts, "none", findings)
        return None
    divided = divided_outline(drawing, layers, on_grid(frame.local(ring)), frame, findings)
    if divided is None:
        return None
    off = _off_toe_deg(*divided)
    if by_standard and abs(off) > 90.0:
        frame = frame.reversed()
        divided = divided_outline(drawing, layers, on_grid(frame.local(ring)), frame, findings)
        off = off - 180.0 if off > 0.0 else off + 180.0
        findings.note(drawing.layer(layers.template_axis), "the grain line points to the back and was turned round")
    if divided is None or not _runs_to_the_toe(frame, off, by_standard, findings):
        return None
    return Template(style, size_name, *divided)


def _off_toe_deg(outline: np.ndarray, parts: tuple[Part, ...]) -> float:
    """Direction from the middle of the back to the middle of the toe, in degrees from the axis, -180 to 180."""
    middle = 0.5 * (outline + np.roll(outline, -1, axis=0))
    weights = edge_lengths(outline)
    toe, back = (
        np.average(middle[mask], axis=0, weights=weights[mask])
        for part in (Part.TOE, Part.BACK)
        if (mask := np.array([p is part for p in parts])).any()
    )
    return float(np.degrees(np.arctan2(*(toe - back)[::-1])))


def _runs_to_the_toe(frame: Frame, off_deg: float, by_standard: bool, findings: Findings) -> bool:
    """Whether the axis runs from back to toe; refused where it does not, said where it is in doubt."""
    line, one = ("grain line", "a grain line") if by_standard else ("axis", "one")
    if abs(off_deg) > 180.0 - MOST_AXIS_DEG:
        findings.refuse(
            frame.place, "an axis from the heel to the toe", "the toe at its start", "draw the line the other way round"
        )
        return False
    if abs(off_deg) > MOST_AXIS_DEG:
        remedy = "draw a line from heel to toe on a layer of its own and name that layer as template_axis in [layers]" \
            if by_standard else "draw the axis from the heel to the toe, or correct the names of the parts"
        findings.refuse(
            frame.place, "an axis from the heel to the toe",
            f"{one} {abs(off_deg):.0f}° off the direction from the back to the toe", remedy,
        )
        return False
    if abs(off_deg) >= DOUBTFUL_AXIS_DEG:
        findings.warn(
            frame.place, f"the {line} is {abs(off_deg):.0f}° off the direction from the back to the toe, and every "
            "heading counts from it; check both it and where the parts meet",
        )
    return True


def _whole_piece(drawing: Drawing, axis: str, findings: Findings) -> bool:
    """Refuse half a piece with its mirror line; say what of a pattern file is not used."""
    if drawing.paths_on(_MIRROR_LINE):
        findings.refuse(
            drawing.layer(_MIRROR_LINE), "a whole piece", "half of one and its mirror line", "save the piece unfolded"
        )
        return False
    for layer, what in ((_INTERNAL_LINES, "internal line"), (_CUTOUTS, "internal cutout")):
        count = len(drawing.paths_on(layer))
        if count and layer != axis:
            findings.warn(drawing.layer(layer), f"{count} {what}{'s' * (count > 1)} not used; a vamp is cut whole")
    curved = [seen for seen in drawing.seen if seen.split(" ")[0] == _CURVE_POINTS]
    if curved:
        findings.note(drawing.name, f"curve points on layer {curved[0]} not used; the boundary is read as it is drawn")
    return True


def _place_of(path: Path) -> str:
    """Size and middle of an outline, for messages."""
    low, high = path.points.min(axis=0), path.points.max(axis=0)
    (wide, tall), (x, y) = high - low, 0.5 * (low + high)
    return f"{wide:.0f} × {tall:.0f} mm at ({x:.0f}, {y:.0f})"


def _say_base_size(drawing: Drawing, size_name: str, findings: Findings) -> None:
    """The size that the file says it is drawn in, against the size that the job takes it for."""
    if drawing.base_size and drawing.base_size.casefold() != size_name.casefold():
        findings.warn(
            drawing.name, f"it says that it is drawn in size {drawing.base_size}; the job takes it for size {size_name}"
        )
    elif drawing.base_size:
        findings.note(drawing.name, f"it says that it is drawn in size {drawing.base_size}, as the job has it")


def _with_names(drawing: Drawing, names: str, limits: str, parts_only: bool) -> Drawing:
    """The drawing with the names of its parts on the layer of their limits, other annotation left out."""
    if names.casefold() == limits.casefold():
        return drawing
    # By the standard a word may stand with the notches as well as among the annotation.
    written = [*drawing.labels_on(names), *(drawing.labels_on(limits) if parts_only else ())]
    named = [
        replace(label, layer=limits) for label in written
        if not parts_only or label.text.casefold().strip() in list(Part)
    ]
    others = [label for label in drawing.labels if label.layer.casefold() not in (names.casefold(), limits.casefold())]
    return replace(drawing, labels=(*others, *named))


def _outline(drawing: Drawing, layer: str, findings: Findings) -> np.ndarray | None:
    """The one closed, simple outline on the layer."""
    paths = drawing.paths_on(layer)
    where = drawing.layer(layer)
    if not paths:
        remedy = "draw it there, or name its layer in [layers]"
        findings.refuse(where, "one closed outline", drawing.nothing(), remedy)
        return None
    refuse_open(drawing, paths, findings)
    if not all(path.closed for path in paths):
        return None
    if len(paths) > 1:
        found = f"{len(paths)}: {listed(map(_place_of, paths[:MOST_OUTLINES_SAID]), 'and')}"
        findings.refuse(where, "one closed outline", found, "leave only the template on this layer")
        return None
    place = drawing.where(paths[0].entity, layer)
    try:
        ring = as_ring(paths[0].points)
        ring = as_ring(shapely.remove_repeated_points(shapely.LinearRing(ring), REPEATED_MM).coords)
    except GeometryError as error:
        findings.refuse(place, "an outline that encloses an area", str(error).partition("found ")[2], "draw it again")
        return None
    if reason := why_not_simple(ring):
        findings.refuse(place, "an outline that does not cross itself", reason, "mend it there")
        return None
    if not all(BELIEVABLE_MM[0] <= side <= BELIEVABLE_MM[1] for side in size(ring)):
        found = "{:.4g} × {:.4g} mm".format(*size(ring))
        findings.refuse(
            place, f"a template of {BELIEVABLE_MM[0]:g} to {BELIEVABLE_MM[1]:g} mm", found, "check the drawing's unit"
        )
        return None
    return _thinned(ring, place, findings)


def _thinned(ring: np.ndarray, place: str, findings: Findings) -> np.ndarray | None:
    """The outline with no more vertices than can be worked with, within a chord's error; None if it needs more."""
    if len(ring) <= MOST_TEMPLATE_VERTICES:
        return ring
    fewer = thin(ring, CHORD_ERROR_MM)
    if len(fewer) > MOST_TEMPLATE_VERTICES:
        most = f"a template that {MOST_TEMPLATE_VERTICES} vertices draw within {CHORD_ERROR_MM:g} mm"
        findings.refuse(place, most, f"one that needs {len(fewer)}", "smooth its outline")
        return None
    findings.note(place, f"{len(ring)} vertices thinned to {len(fewer)}, within {CHORD_ERROR_MM:g} mm")
    return fewer


def _axis(drawing: Drawing, layer: str, ring: np.ndarray | None, findings: Findings) -> Frame | None:
    """The one straight line on the layer, which meets the outline."""
    paths = drawing.paths_on(layer)
    where = drawing.layer(layer)
    if len(paths) != 1:
        found = str(len(paths)) if paths else drawing.nothing()
        findings.refuse(where, "one line from the heel to the toe", found, "draw the axis there, and nothing else")
        return None
    points = paths[0].points
    place = drawing.where(paths[0].entity, layer)
    line = shapely.LineString((points[0], points[-1]))
    bent = paths[0].closed or shapely.distance(shapely.points(points), line).max() > STRAIGHT_MM
    if bent or line.length < 1.0:
        findings.refuse(
            place, "a straight line from the heel to the toe", "a bent one" if bent else f"{line.length:.2g} mm of it",
            "draw it with two points",
        )
        return None
    if ring is not None and not shapely.intersects(line, polygon(ring)):
        found = f"one {shapely.distance(line, polygon(ring)):.1f} mm beside it"
        findings.refuse(place, "an axis through the template", found, "move one of the two")
        return None
    dx, dy = points[-1] - points[0]
    return Frame(points[0], float(np.degrees(np.arctan2(dy, dx))), points[-1], place)
