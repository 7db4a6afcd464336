"""Drawings are read as they are drawn: curves within the chord error, units, blocks, repairs."""

from math import cos, pi, sin, sqrt, tau

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.enums import TextEntityAlignment
from ezdxf.math import Matrix44
from outlines_by_layer import read_outlines

from geometry.polygon import area, polygon
from geometry.precision import CHORD_ERROR_MM
from nest.errors import InputProblems
from nest.job.dxf import read_drawing
from nest.job.files import Source
from nest.job.findings import Findings

LAYER = {"layer": "CUT"}


def drawn(tmp_path, draw, units=4, version="R2000"):
    """Path of a drawing that `draw` has made in model space."""
    document = ezdxf.new(version, units=units)
    draw(document.modelspace())
    document.saveas(tmp_path / "drawing.dxf")
    return tmp_path / "drawing.dxf"


def read(path, unit=None):
    """The drawing and what was found."""
    findings = Findings()
    return read_drawing(Source(path, path.name), unit, findings), findings


def outline(path, unit=None):
    """The one outline on the layer CUT."""
    (ring,) = read_outlines(path, unit=unit)["CUT"]
    return ring


def lost_at_most(perimeter):
    """Area that chords within the chord error can lose along a curve."""
    return CHORD_ERROR_MM * perimeter


def test_circle_has_its_area(tmp_path):
    """A circle of radius 75 has the area π r² within the chord error."""
    ring = outline(drawn(tmp_path, lambda space: space.add_circle((10, 20), 75, dxfattribs=LAYER)))
    assert 0.0 <= pi * 75**2 - area(ring) < lost_at_most(tau * 75)
    assert np.hypot(*(ring - (10, 20)).T) == pytest.approx(75.0)


@pytest.mark.parametrize("extrusion", [(0, 0, 1), (0, 0, -1)])
def test_ellipse_has_its_area(tmp_path, extrusion):
    """An ellipse of half axes 90 and 40, turned, seen from above or below, has the area π a b."""
    major = (90 * cos(0.5), 90 * sin(0.5), 0)
    ring = outline(drawn(
        tmp_path,
        lambda space: space.add_ellipse((5, 5), major, 40 / 90, dxfattribs={**LAYER, "extrusion": extrusion}),
    ))
    assert 0.0 <= pi * 90 * 40 - area(ring) < lost_at_most(tau * 90)
    assert np.ptp(ring @ (cos(0.5), sin(0.5))) == pytest.approx(180.0, abs=2 * CHORD_ERROR_MM)


@pytest.mark.parametrize("extrusion", [(0, 0, 1), (0, 0, -1)])
def test_half_ellipse_lies_on_its_side(tmp_path, extrusion):
    """Half an ellipse, closed by a line, lies where ezdxf's own evaluation puts its middle."""
    made = {}

    def draw(space):
        made["curve"] = space.add_ellipse(
            (0, 0), (50, 0, 0), 0.5, 0.0, pi, dxfattribs={**LAYER, "extrusion": extrusion}
        )
        space.add_line((-50, 0), (50, 0), dxfattribs=LAYER)

    path = drawn(tmp_path, draw)
    ring = outline(path)
    middle = next(iter(made["curve"].vertices([pi / 2])))
    assert area(ring) == pytest.approx(pi * 50 * 25 / 2, abs=lost_at_most(130))
    assert shapely.distance(shapely.Point(middle.x, middle.y), polygon(ring).exterior) < CHORD_ERROR_MM


def test_bulges_are_arcs(tmp_path):
    """Bulge 1 is a half circle, bulge tan(π/8) a quarter circle, negative ones turn inwards (DXF reference)."""
    corners = [(0, 0, 1.0), (100, 0, -0.41421356237309503), (100, 60, 0.0), (0, 60, 0.0)]
    ring = outline(drawn(
        tmp_path, lambda space: space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs=LAYER)
    ))
    radius = 60 / sqrt(2)
    quarter = (pi / 4 - 0.5) * radius**2
    exact = 100 * 60 + pi * 50**2 / 2 - quarter
    assert area(ring) == pytest.approx(exact, abs=lost_at_most(pi * 50 + pi * radius / 2))


@pytest.mark.parametrize("version", ["R12", "R2000"])
def test_old_polyline_is_as_a_light_one(tmp_path, version):
    """POLYLINE with VERTEX entities and LWPOLYLINE of the same corners and bulges give the same outline."""
    corners = [(0, 0, 0.3), (100, 0, 0.0), (80, 60, -0.2), (0, 60, 0.0)]

    document = ezdxf.document.Drawing.new(version)
    if version != "R12":
        document.units = 4
    document.modelspace().add_polyline2d(corners, format="xyb", close=True, dxfattribs=LAYER)
    document.saveas(tmp_path / "old.dxf")
    old = outline(tmp_path / "old.dxf", unit="mm")  # R12 has no $INSUNITS
    new = outline(drawn(
        tmp_path, lambda space: space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs=LAYER)
    ))
    assert np.allclose(old, new)


def test_polyline_seen_from_below(tmp_path):
    """An outline in a mirrored coordinate system (extrusion 0, 0, -1) is mirrored about the y axis (DXF reference)."""
    corners = [(0, 0, 0.5), (100, 0, 0.0), (80, 60, 0.0)]

    def draw(space):
        space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={**LAYER, "extrusion": (0, 0, -1)})

    low_x, _, high_x, _ = shapely.bounds(polygon(outline(drawn(tmp_path, draw))))
    assert (low_x, high_x) == pytest.approx((-100, 0), abs=1e-9)


def test_spline_stays_within_the_chord_error(tmp_path):
    """A closed outline of one cubic B-spline: every point of a dense evaluation lies within the chord error of it."""
    control = [(0, 0), (60, -40), (140, 0), (160, 60), (90, 120), (20, 100), (-30, 60), (0, 0)]
    made = {}

    def draw(space):
        made["spline"] = space.add_open_spline(control, degree=3, dxfattribs=LAYER)

    ring = outline(drawn(tmp_path, draw))
    curve = made["spline"].construction_tool()
    dense = np.array([tuple(p)[:2] for p in curve.points(np.linspace(0, curve.max_t, 4001))])
    chords = shapely.LinearRing(ring)
    assert shapely.distance(shapely.points(dense), chords).max() < CHORD_ERROR_MM
    assert area(ring) == pytest.approx(shapely.Polygon(dense).area, abs=lost_at_most(chords.length))


def test_rational_spline_is_a_circle(tmp_path):
    """A quadratic rational spline with weights 1, √½ is a circle (any text on NURBS): its radius holds."""
    corners = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    weights = [1, sqrt(0.5)] * 4 + [1]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]

    def draw(space):
        space.add_rational_spline(
            [(80 * x, 80 * y) for x, y in corners], weights, degree=2, knots=knots, dxfattribs=LAYER
        )

    ring = outline(drawn(tmp_path, draw))
    middles = 0.5 * (ring + np.roll(ring, -1, axis=0))
    assert np.hypot(*ring.T) == pytest.approx(80.0)
    assert (80.0 - np.hypot(*middles.T)).max() < CHORD_ERROR_MM


def test_spline_through_fit_points(tmp_path):
    """A spline that is given by the points it passes through passes through them."""
    through = [(0, 0), (50, 30), (100, 0), (130, 50)]

    def draw(space):
        space.add_spline(through, dxfattribs=LAYER)

    drawing, findings = read(drawn(tmp_path, draw))
    line = shapely.LineString(drawing.paths[0].points)
    assert not findings.problems and not drawing.paths[0].closed
    assert shapely.distance(shapely.points(through), line).max() < CHORD_ERROR_MM


@pytest.mark.parametrize(("code", "mm"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (14, 100.0)])
def test_units_of_the_header(tmp_path, code, mm):
    """$INSUNITS 1 inch, 2 feet, 4 mm, 5 cm, 6 m, 14 dm (public DXF reference): the same square in each."""
    side = 120.0 / mm
    square = [(0, 0), (side, 0), (side, side), (0, side)]
    path = drawn(tmp_path, lambda space: space.add_lwpolyline(square, close=True, dxfattribs=LAYER), units=code)
    assert area(outline(path)) == pytest.approx(120.0**2)
    assert area(outline(path, unit="ft")) == pytest.approx(120.0**2)  # the header before the job's word


def test_chord_error_is_in_mm_whatever_the_unit(tmp_path):
    """A circle drawn in metres has chords as fine as one in mm."""
    ring = outline(drawn(tmp_path, lambda space: space.add_circle((0, 0), 0.08, dxfattribs=LAYER), units=6))
    middles = 0.5 * (ring + np.roll(ring, -1, axis=0))
    assert 0.2 * CHORD_ERROR_MM < (80.0 - np.hypot(*middles.T)).max() < CHORD_ERROR_MM


def test_drawing_without_unit_takes_the_jobs(tmp_path):
    """A drawing that states no unit has the one given; without one it is refused."""
    path = drawn(tmp_path, lambda space: space.add_circle((0, 0), 3, dxfattribs=LAYER), units=0)
    assert area(outline(path, unit="in")) == pytest.approx(pi * (3 * 25.4) ** 2, rel=2e-3)
    with pytest.raises(InputProblems, match="states none"):
        read_outlines(path)


def test_blocks_are_read_where_they_are_inserted(tmp_path):
    """A block, turned, mirrored and stretched, and a block within a block, have the areas of their scales."""

    def draw(space):
        inner = space.doc.blocks.new("inner")
        inner.add_circle((0, 0), 10, dxfattribs={"layer": "0"})
        inner.add_lwpolyline([(20, 0), (40, 0, 0.5), (30, 20)], format="xyb", close=True, dxfattribs=LAYER)
        outer = space.doc.blocks.new("outer")
        outer.add_blockref("inner", (100, 0), dxfattribs={"xscale": 2, "yscale": 2, "layer": "0"})
        space.add_blockref("outer", (0, 0), dxfattribs={"xscale": -1, "rotation": 30, **LAYER})
        space.add_blockref("inner", (0, 300), dxfattribs={"xscale": 3, "yscale": 0.5, "layer": "OTHER"})

    found = read_outlines(drawn(tmp_path, draw))
    shape = [(20, 0, 0.0), (40, 0, 0.5), (30, 20, 0.0)]
    alone = outline(drawn(
        tmp_path, lambda space: space.add_lwpolyline(shape, format="xyb", close=True, dxfattribs=LAYER)
    ))
    areas = sorted(area(ring) for ring in found["CUT"])
    # The circle on layer 0 takes the layer of the insert: twice inwards CUT, once OTHER.
    assert areas == pytest.approx(sorted([4 * pi * 100, 4 * area(alone), 1.5 * area(alone)]), rel=0.01)
    assert area(found["OTHER"][0]) == pytest.approx(1.5 * pi * 100, rel=0.01)


def test_grid_of_inserts(tmp_path):
    """One insert in two rows and three columns gives six outlines."""

    def draw(space):
        space.doc.blocks.new("one").add_circle((0, 0), 5, dxfattribs=LAYER)
        space.add_blockref("one", (0, 0)).grid(size=(2, 3), spacing=(50, 50))

    centres = sorted(tuple(np.round(ring.mean(axis=0)).astype(int)) for ring in read_outlines(
        drawn(tmp_path, draw))["CUT"])
    assert centres == [(x, y) for x in (0, 50, 100) for y in (0, 50)]


def test_layers_are_told_apart_in_any_case(tmp_path):
    """Only the layers asked for are read, whatever the case of their letters."""

    def draw(space):
        space.add_circle((0, 0), 5, dxfattribs=LAYER)
        space.add_circle((0, 0), 9, dxfattribs={"layer": "NOTES"})

    assert list(read_outlines(drawn(tmp_path, draw), layers=["cut"])) == ["CUT"]


def test_small_gaps_are_closed_and_said(tmp_path):
    """Lines with gaps of 0.1 mm make one outline, and it is said; gaps of 1 mm are refused with their place."""

    def square(gap):
        corners = np.array([(0, 0), (80, 0), (80, 80), (0, 80)], dtype=float)

        def draw(space):
            for i in range(4):
                a, b = corners[i], corners[(i + 1) % 4]
                space.add_line(a, b - (b - a) / 80 * gap, dxfattribs=LAYER)

        return draw

    path = drawn(tmp_path, square(0.1))
    drawing, findings = read(path)
    assert [p.closed for p in drawing.paths] == [True]
    assert area(drawing.paths[0].points) == pytest.approx(80 * 80, rel=2e-3)
    assert findings.warnings == ["drawing.dxf, layer CUT: 4 gaps of up to 0.10 mm closed."]
    with pytest.raises(InputProblems, match=r"a gap of 1\.00 mm from \(79\.0, 0\.0\) to \(80\.0, 0\.0\)") as caught:
        read_outlines(drawn(tmp_path, square(1.0)))
    assert len(caught.value.problems) == 4


def test_doubled_and_empty_lines_are_dropped_and_said(tmp_path):
    """An outline drawn twice, once the other way round, and a line of no length: one outline, two warnings."""

    def draw(space):
        corners = [(0, 0), (80, 0), (40, 60)]
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            space.add_line(a, b, dxfattribs=LAYER)
            space.add_line(b, a, dxfattribs=LAYER)
        space.add_line((5, 5), (5, 5), dxfattribs=LAYER)

    drawing, findings = read(drawn(tmp_path, draw))
    assert [path.closed for path in drawing.paths] == [True]
    assert area(drawing.paths[0].points) == pytest.approx(2400.0)
    assert findings.warnings == [
        "drawing.dxf, layer CUT: 3 doubled lines dropped.", "drawing.dxf, layer CUT: 1 line of no length dropped.",
    ]


def test_what_is_not_read_is_said(tmp_path):
    """A hatch on a layer that is read is passed over, and said."""

    def draw(space):
        space.add_circle((0, 0), 5, dxfattribs=LAYER)
        space.add_hatch(dxfattribs=LAYER).paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])

    drawing, findings = read(drawn(tmp_path, draw))
    assert len(drawing.paths) == 1
    (said,) = findings.warnings
    assert said.startswith("drawing.dxf, layer CUT: 1 HATCH not read; a hatch is no outline")


def test_damaged_drawing_is_recovered_and_said(tmp_path):
    """A drawing cut off in the middle of its last section is recovered: its outline is there, and a warning."""
    path = drawn(tmp_path, lambda space: space.add_circle((0, 0), 40, dxfattribs=LAYER))
    text = path.read_text()
    path.write_text(text[: text.index("OBJECTS") + 200])
    drawing, findings = read(path)
    assert area(drawing.paths[0].points) == pytest.approx(pi * 40**2, rel=0.01)
    assert len(findings.warnings) == 1 and "recovered" in findings.warnings[0]


@pytest.mark.parametrize(
    "draw",
    [
        lambda space: space.add_circle((0, 0), 1e12, dxfattribs=LAYER),
        lambda space: space.add_lwpolyline([(0, 0, 1e-9), (100, 0), (50, 5)], format="xyb", dxfattribs=LAYER),
        lambda space: space.add_line((0, 0), (1e300, 0), dxfattribs=LAYER),
        lambda space: space.add_open_spline([(0, 0), (1e250, 0), (0, 1), (1, 1)], dxfattribs=LAYER),
    ],
    ids=["circle", "arc", "line", "spline"],
)
def test_monstrous_curves_are_refused(tmp_path, draw):
    """Radii and coordinates beyond a kilometre are a problem of that entity, not a flood of chords."""
    with pytest.raises(InputProblems, match=r"drawing\.dxf, entity \w+ on layer CUT: expected .*within"):
        read_outlines(drawn(tmp_path, draw))


def test_nothing_is_printed(tmp_path, capfd):
    """Reading a damaged drawing writes nothing to the terminal."""
    path = tmp_path / "drawing.dxf"
    path.write_text("  0\nSECTION\n  2\nENTITIES\n  0\nCIRCLE\n  8\nCUT\n 10\nx\n  0\nENDSEC\n")
    with pytest.raises(InputProblems):
        read_outlines(path)
    assert capfd.readouterr() == ("", "")


def test_texts_and_points(tmp_path):
    """TEXT by its placement, MTEXT on one line without its codes, POINT: where they stand, in mm."""

    def draw(space):
        space.add_text("toe", dxfattribs=LAYER).set_placement((1, 2), align=TextEntityAlignment.MIDDLE_CENTER)
        space.add_mtext("butt\\Pclass 1 {\\C1;stretch} 88", dxfattribs=LAYER).set_location((3, 4))
        space.add_point((5, 6), dxfattribs=LAYER)
        for entity in space:
            entity.transform(Matrix44.translate(10, 0, 0))

    drawing, _ = read(drawn(tmp_path, draw, units=5))
    assert [(label.text, tuple(label.at)) for label in drawing.labels] == [
        ("toe", (110.0, 20.0)), ("butt class 1 stretch 88", (130.0, 40.0)),
    ]
    assert tuple(drawing.marks_on("cut")[0].at) == (150.0, 60.0)
