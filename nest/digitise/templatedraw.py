"""A template's curves, axis and parts as a DXF drawing on the layers that a job reads."""


from dataclasses import dataclass

import numpy as np
import shapely

from nest.digitise.curvefit import Curve, arc_bulge, outline_of
from nest.digitise.write import new_document
from nest.job.schema import LayersSection
from nest.pieces.piece import Part


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A template in its own frame: axis on y = 0, toe towards +x, the heel end of the axis at the origin.

    limits : (4, 2) where parts meet: toe to side above, side to back above, back to side below, side to toe below.
    """

    curves: tuple[Curve, ...]
    length: float
    limits: np.ndarray
    symmetric: bool
    halves_differ_mm: float


def template_document(shape: Shape):
    """The drawing, in millimetres, in the template's own frame."""
    layers = LayersSection()
    document = new_document(layers.template_outline, layers.template_axis, layers.template_parts)
    space = document.modelspace()
    for curve in shape.curves:
        _draw(space, curve, {"layer": layers.template_outline})
    space.add_line((0.0, 0.0), (round(shape.length, 3), 0.0), dxfattribs={"layer": layers.template_axis})
    on_parts = {"layer": layers.template_parts}
    for x, y in shape.limits.tolist():
        space.add_point((x, y), dxfattribs=on_parts)
    for part, at in _names(shape):
        space.add_text(str(part), height=5.0, dxfattribs=on_parts).set_placement((float(at[0]), float(at[1])))
    return document


def _draw(space, curve: Curve, attributes: dict) -> None:
    points = curve.points
    if curve.kind == "line":
        space.add_lwpolyline(points.tolist(), dxfattribs=attributes)
    elif curve.kind == "arc":
        (ax, ay), _, (bx, by) = points.tolist()
        space.add_lwpolyline([(ax, ay, arc_bulge(points)), (bx, by, 0.0)], format="xyb", dxfattribs=attributes)
    else:
        # Bézier cubics end to end are a B-spline whose inner knots count three times (public DXF reference, SPLINE).
        count = (len(points) - 1) // 3
        knots = [0.0] * 4 + [float(i) for i in range(1, count) for _ in range(3)] + [float(count)] * 4
        space.add_open_spline(points.tolist(), degree=3, knots=knots, dxfattribs=attributes)


def _names(shape: Shape):
    """Each part's name and a place on the outline in the middle of its stretch."""
    line = shapely.LinearRing(outline_of(shape.curves))
    at = [shapely.line_locate_point(line, shapely.Point(limit)) for limit in shape.limits]
    for i, part in enumerate((Part.SIDE, Part.BACK, Part.SIDE, Part.TOE)):
        run = (at[(i + 1) % 4] - at[i]) % line.length
        place = shapely.line_interpolate_point(line, (at[i] + 0.5 * run) % line.length)
        yield part, np.array(place.coords[0])
