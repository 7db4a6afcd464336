"""What is strange about one entity of a drawing, in words, and how far a lead-in keeps off; by hand."""

import ezdxf
import numpy as np
import pytest
import shapely

from nest.cutplan.dxfread import _read, read_dxf
from nest.cutplan.marks import CLEARANCE_MM
from nest.cutplan.path import leads
from nest.job.cutting_table import CuttingTable

SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (0.0, 5.0)]


def light(space, **attributes):
    """A closed LWPOLYLINE."""
    return space.add_lwpolyline(SQUARE, close=True, dxfattribs={"layer": "CUT"} | attributes)


def old(space, **attributes):
    """A closed POLYLINE, as R12 has it."""
    return space.add_polyline2d(SQUARE, close=True, dxfattribs={"layer": "CUT"} | attributes)


def line(space, **attributes):
    """A line."""
    return space.add_line((0.0, 0.0), (10.0, 0.0), dxfattribs={"layer": "CUT"} | attributes)


def with_vertex(at: int, name: str, value):
    """A POLYLINE with something at one of its vertices."""
    def made(space):
        setattr(old(space).vertices[at].dxf, name, value)
    return made


def with_point(at: int, point):
    """A LWPOLYLINE one of whose points is x, y, width at its start and end, bulge."""
    def made(space):
        one = light(space)
        points = one.get_points()
        points[at] = point
        one.set_points(points)
    return made


@pytest.mark.parametrize(("made", "what"), [
    (light, None), (old, None), (line, None),
    (lambda s: light(s, const_width=0.5), "a LWPOLYLINE with a width"),
    (with_point(1, (10.0, 0.0, 0.5, 0.0, 0.0)), "a LWPOLYLINE with a width"),
    (with_point(1, (10.0, 0.0, 0.0, 0.5, 0.0)), "a LWPOLYLINE with a width"),
    (lambda s: light(s, elevation=2.0), "a LWPOLYLINE 2 off the plane of the drawing (z)"),
    (lambda s: light(s, extrusion=(0.0, 0.0, -1.0)), "a LWPOLYLINE on a plane of its own (extrusion 0, 0, -1)"),
    (lambda s: light(s, thickness=-2.0), "a LWPOLYLINE with a thickness of -2"),
    (lambda s: light(s, invisible=1), "a LWPOLYLINE that is hidden"),
    (lambda s: light(s, linetype="DASHED"), "a LWPOLYLINE of the line type DASHED"),
    (lambda s: light(s, linetype="Continuous"), None),
    (lambda s: old(s, default_start_width=0.5), "a POLYLINE with a width"),
    (lambda s: old(s, default_end_width=0.5), "a POLYLINE with a width"),
    (with_vertex(1, "start_width", 0.5), "a POLYLINE with a width"),
    (with_vertex(3, "end_width", 0.5), "a POLYLINE with a width"),
    (with_vertex(2, "flags", 8), "a POLYLINE with points of a curve"),
    (with_vertex(2, "location", (10.0, 5.0, -3.0)), "a POLYLINE 3 off the plane of the drawing (z)"),
    (lambda s: old(s, elevation=(0.0, 0.0, 4.0)), "a POLYLINE 4 off the plane of the drawing (z)"),
    (lambda s: s.add_line((0, 0, 0), (1, 0, 7), {"layer": "CUT"}), "a LINE 7 off the plane of the drawing (z)"),
    (lambda s: s.add_polyline3d(SQUARE, dxfattribs={"layer": "CUT"}), "a POLYLINE in space, or a curve"),
    (lambda s: s.add_circle((0, 0), 3.0, dxfattribs={"layer": "CUT"}), "a CIRCLE"),
    (lambda s: s.add_arc((0, 0), 3.0, 0.0, 90.0, dxfattribs={"layer": "CUT"}), "an ARC"),
    (lambda s: s.add_lwpolyline([(4.0, 2.0)], dxfattribs={"layer": "CUT"}), "a LWPOLYLINE of 1 points"),
])
def test_one_strange_entity_is_said_in_words(tmp_path, made, what):
    """What a table would make something else of, and only that; where it stands and on which layer."""
    document = ezdxf.new("R2000", setup=["linetypes"], units=4)
    made(document.modelspace())
    document.saveas(tmp_path / "one.dxf")
    strays = read_dxf(tmp_path / "one.dxf").strays
    assert [(one.layer, one.what) for one in strays] == ([] if what is None else [("CUT", what)])


def test_arcs_belong_to_closed_outlines():
    """An open line with a bulge is no cut line of ours; a closed one keeps its arcs for the legend to allow them."""
    document = ezdxf.new("R2000")
    space = document.modelspace()
    points = [(0.0, 0.0, 0.0, 0.0, 0.5), *((x, y, 0.0, 0.0, 0.0) for x, y in SQUARE[1:])]
    for closed in (True, False):
        space.add_lwpolyline(points, close=closed, dxfattribs={"layer": "CUT"})
    (first, none), (_, stray) = (_read(one) for one in space)
    assert first.arcs is not None and none is None and stray.what == "a LWPOLYLINE with arcs in it (bulge)"


@pytest.mark.parametrize(("trail", "radius", "asked", "long"), [
    (0.0, 0.0, 4.0, 4.0), (0.0, 0.0, 20.0, 9.0), (0.0, 2.0, 20.0, 7.0), (0.5, 0.0, 20.0, 8.0), (0.3, 1.0, 20.0, 7.4),
    (0.0, 1.5, 4.0, 5.5),
])
def test_a_lead_in_keeps_off_the_net_by_what_tool_and_blade_reach(trail, radius, asked, long):
    """A band of 10 mm: 1 mm clear of the net, the tool's radius and twice the blade's trail; else as long as asked."""
    x = np.array([(-50.0, -50.0), (0.0, -50.0), (50.0, -50.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0), (-50.0, 50.0),
                  (-50.0, 0.0)])
    table = CuttingTable(lead_in_mm=asked, tool_radius_mm=radius, knife_offset_mm=trail)
    found = leads(x, x * 0.8, table)
    middles = [found[i] for i in (1, 3, 5, 7)]
    assert all(np.hypot(*(one[1] - one[0])) == pytest.approx(long, abs=1e-3) for one in middles)
    net = shapely.Polygon(x * 0.8)
    assert min(shapely.LineString(one).distance(net) for one in middles) >= CLEARANCE_MM + radius + 2.0 * trail - 1e-3
    assert not any(one is not None for one in leads(x, x * 0.98, table))  # a band of 1 mm
