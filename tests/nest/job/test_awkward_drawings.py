"""Drawings as other programs write them, and as they are damaged on the way: each is read, or refused in one sentence.

All are made here, in the folder of the test. Most hold a closed outline of 200 × 100 mm, in some way or other.
"""

from math import pi

import numpy as np
import pytest
import shapely
from ezdxf.math import Matrix44
from made_drawings import AREA, CORNERS, ON, document, drawn, outline
from outlines_by_layer import read_outlines

from nest.errors import InputProblems
from nest.job.dxf import read_drawing
from nest.job.files import Source
from nest.job.findings import Findings


def lines(space, gap=0.0, skip=(), turn=False):
    """The outline as lines that miss each other by `gap`; every second one drawn backwards if `turn`."""
    for i, (start, end) in enumerate(zip(CORNERS, CORNERS[1:] + CORNERS[:1], strict=True)):
        if i in skip:
            continue
        a, b = (np.array(start), np.array(end))
        b = b - (b - a) / np.hypot(*(b - a)) * gap
        space.add_line(*((tuple(b), tuple(a)) if turn and i % 2 else (tuple(a), tuple(b))), dxfattribs=ON)


def in_blocks(depth):
    """The outline on layer 0 of a block within blocks, inserted on the layer, turned by 90° at the top."""

    def make(path):
        made = document()
        block = made.blocks.new("B0")
        block.add_lwpolyline(CORNERS, close=True, dxfattribs={"layer": "0"})
        for i in range(1, depth):
            outer = made.blocks.new(f"B{i}")
            outer.add_blockref(f"B{i - 1}", (10, 0), dxfattribs={"layer": "0"})
            block = outer
        made.modelspace().add_blockref(f"B{depth - 1}", (5, 5), dxfattribs={"layer": "1", "rotation": 90})
        made.saveas(path)

    return make


def scaled_block(path):
    """A block drawn in inches, inserted 25.4 times as large and mirrored."""
    made = document()
    made.blocks.new("INCHES").add_lwpolyline([(x / 25.4, y / 25.4) for x, y in CORNERS], close=True)
    made.modelspace().add_blockref("INCHES", (0, 0), dxfattribs={"layer": "1", "xscale": -25.4, "yscale": 25.4})
    made.saveas(path)


def missing_block(path):
    """An insert whose block is gone."""
    made = document()
    outline(made.modelspace())
    made.modelspace().add_blockref("GONE", (0, 0), dxfattribs=ON)
    made.saveas(path)


def ring_of_blocks(path):
    """A block that inserts itself."""
    made = document()
    made.blocks.new("A").add_blockref("A", (1, 1))
    made.modelspace().add_blockref("A", (0, 0), dxfattribs=ON)
    made.saveas(path)


def text_changed(make, change, encoding="cp1252"):
    """A drawing whose text was changed afterwards."""

    def spoil(path):
        make(path)
        path.write_bytes(change(path.read_bytes().decode(encoding)).encode(encoding))

    return spoil


def code_page(path):
    """R12 with Cyrillic text in the code page ANSI_1251."""
    made = document("R12")
    made.encoding = "cp1251"
    made.header["$DWGCODEPAGE"] = "ANSI_1251"
    outline(made.modelspace())
    made.modelspace().add_text("союзка", dxfattribs=ON)
    made.saveas(path)


def binary(path):
    """Binary DXF."""
    made = document("R2010")
    outline(made.modelspace())
    made.saveas(path, fmt="bin")


def spline_corners(space):
    """A closed outline of four straight splines."""
    for start, end in zip(CORNERS, CORNERS[1:] + CORNERS[:1], strict=True):
        middle = [tuple((1 - t) * np.array(start) + t * np.array(end)) for t in (1 / 3, 2 / 3)]
        space.add_open_spline([start, *middle, end], degree=3, dxfattribs=ON)


def half_circles(space):
    """Two arcs and two lines: a stadium of 100 × 100 between two half circles of 50 mm."""
    space.add_line((50, 0), (150, 0), dxfattribs=ON)
    space.add_arc((150, 50), 50, -90, 90, dxfattribs=ON)
    space.add_line((150, 100), (50, 100), dxfattribs=ON)
    space.add_arc((50, 50), 50, 90, 270, dxfattribs=ON)


def bulged(space):
    """The stadium as one polyline with two bulges of 1 (half circles, public DXF reference)."""
    corners = [(50, 0, 0), (150, 0, 1), (150, 100, 0), (50, 100, 1)]
    space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs=ON)


STADIUM = 100.0 * 100.0 + pi * 50.0**2


def doubled_lines(space):
    """Each line twice, the second time 0.01 mm beside the first and backwards."""
    lines(space)
    for start, end in zip(CORNERS, CORNERS[1:] + CORNERS[:1], strict=True):
        space.add_line(np.add(end, 0.01), np.add(start, 0.01), dxfattribs=ON)


def doubled_outline(space):
    """The outline, the same again 0.01 mm off from another corner and in the other sense, and one side again."""
    outline(space)
    space.add_lwpolyline(np.add(CORNERS, 0.01)[[2, 1, 0, 3]], close=True, dxfattribs=ON)
    space.add_line(CORNERS[1], (200, 60), dxfattribs=ON)


def closed_by_point(space):
    """An open polyline that ends where it began, with every point twice."""
    points = [point for point in [*CORNERS, CORNERS[0]] for _ in (0, 1)]
    space.add_lwpolyline(points, close=False, dxfattribs=ON)


def tilted(space):
    """The outline standing upright in space."""
    outline(space)
    space[0].transform(Matrix44.x_rotate(pi / 2))


READ = {
    **{f"version {v}": (drawn(outline, v), AREA) for v in ("R2000", "R2004", "R2007", "R2010", "R2013", "R2018")},
    "R12 without a unit": (drawn(outline, "R12"), AREA),
    "binary": (binary, AREA),
    "code page": (code_page, AREA),
    "centimetres": (drawn(lambda s: outline(s, 0.1), units=5), AREA),
    "inches": (drawn(lambda s: outline(s, 1 / 25.4), units=1), AREA),
    "no unit in R2000": (drawn(outline, units=0), AREA),
    "pattern unit english": (
        drawn(lambda s: (outline(s, 1 / 25.4), s.add_text("UNITS: ENGLISH")), units=0), AREA),
    "pattern unit metric": (drawn(lambda s: (outline(s), s.add_text("Units: Metric")), units=0), AREA),
    "lines": (drawn(lines), AREA),
    "lines backwards": (drawn(lambda s: lines(s, turn=True)), AREA),
    "tiny gaps": (drawn(lambda s: lines(s, gap=0.15)), AREA),
    "doubled lines": (drawn(doubled_lines), AREA),
    "doubled outline": (drawn(doubled_outline), AREA),
    "points twice": (drawn(closed_by_point), AREA),
    "splines": (drawn(spline_corners), AREA),
    "arcs": (drawn(half_circles), STADIUM),
    "bulges": (drawn(bulged), STADIUM),
    "blocks in blocks": (in_blocks(4), AREA),
    "block in inches": (scaled_block, AREA),
    "ellipse": (drawn(lambda s: s.add_ellipse((0, 0), (100, 0), 0.5, dxfattribs=ON)), pi * 100 * 50),
    "circle in two halves": (
        drawn(lambda s: [s.add_arc((0, 0), 70, a, a + 180, dxfattribs=ON) for a in (0, 180)]), pi * 70**2),
    "hatch and dimension beside": (
        drawn(lambda s: (outline(s), s.add_hatch(dxfattribs=ON), s.add_mtext("note", dxfattribs=ON))), AREA),
    "end cut off": (text_changed(drawn(outline), lambda t: t[: t.index("OBJECTS") + 100]), AREA),
    "blank lines at the end": (text_changed(drawn(outline), lambda t: t + "\r\n\r\n"), AREA),
    "line ends of another system": (text_changed(drawn(outline), lambda t: t.replace("\n", "\r\n")), AREA),
    "heights all alike": (
        drawn(lambda s: s.add_polyline3d([(*p, 12.0) for p in CORNERS], close=True, dxfattribs=ON)), AREA),
}


@pytest.mark.parametrize(("make", "area"), READ.values(), ids=READ)
def test_it_is_read(tmp_path, make, area):
    """One closed outline with the area drawn, whatever it was drawn with; curves lose a chord's error at most."""
    make(tmp_path / "a.dxf")
    (ring,) = read_outlines(tmp_path / "a.dxf", layers=["1"], unit="mm")["1"]
    shape = shapely.Polygon(ring)
    assert shape.is_valid
    assert shape.area == pytest.approx(area, abs=0.05 * shape.length if area != AREA else 0.2 * shape.length)


REFUSED = {
    "gap of a millimetre": (drawn(lambda s: lines(s, gap=1.0)), "a gap of 1.00 mm"),
    "a side missing": (drawn(lambda s: lines(s, skip=(2,))), "a gap of 200.00 mm"),
    "no file": (lambda path: None, "no such file"),
    "a folder": (lambda path: path.mkdir(), "a folder"),
    "nothing in it": (lambda path: path.write_bytes(b""), "a DXF drawing"),
    "a picture": (lambda path: path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256))), "a DXF drawing"),
    "prose": (lambda path: path.write_text("Dear pattern room, see attached."), "a DXF drawing"),
    "yards": (drawn(outline, units=10), "$INSUNITS"),
    "standing upright": (drawn(tilted), "a flat drawing"),
    "block gone": (missing_block, "no such block"),
    "block within itself": (ring_of_blocks, "blocks within each other"),
    "far away": (drawn(lambda s: s.add_line((0, 0), (1e9, 0), dxfattribs=ON)), "coordinates within"),
    "not a number": (text_changed(drawn(outline), lambda t: t.replace("200.0\n", "nan\n")), "finite"),
    "radius of nothing": (drawn(lambda s: s.add_circle((0, 0), 0, dxfattribs=ON)), "a radius above 0"),
    "mesh": (drawn(lambda s: s.add_polymesh((3, 3), dxfattribs=ON)), "a mesh"),
    "too many entities": (
        drawn(lambda s: [s.add_blockref("X", (0, 0), dxfattribs={"row_count": 400, "column_count": 400,
                                                                "row_spacing": 1, "column_spacing": 1})
                         for _ in [s.doc.blocks.new("X")]]), "entities"),
}


@pytest.mark.parametrize(("make", "words"), REFUSED.values(), ids=REFUSED)
def test_it_is_refused_in_a_sentence(tmp_path, make, words):
    """Each problem is one sentence that says where, what was expected and found, and what to do."""
    make(tmp_path / "a.dxf")
    with pytest.raises(InputProblems) as said:
        read_outlines(tmp_path / "a.dxf", layers=["1"], unit="mm")
    sentences = [str(problem) for problem in said.value.problems]
    assert any(words in sentence for sentence in sentences)
    for sentence in sentences:
        assert sentence.startswith("a.dxf") and "expected" in sentence and sentence.endswith(".")
        assert "\n" not in sentence and "Traceback" not in sentence


def test_without_any_unit_it_is_refused(tmp_path):
    """A drawing that states no unit in a job that states none is refused, with the key to add."""
    drawn(outline, "R12")(tmp_path / "a.dxf")
    with pytest.raises(InputProblems, match='add unit = "mm"'):
        read_outlines(tmp_path / "a.dxf")


def test_repairs_are_told_apart_from_refusals_and_from_flattening(tmp_path):
    """Joined and dropped lines are warnings, curves made into chords a note, and none of them a problem."""

    def draw(space):
        half_circles(space)
        space.add_line((50.0, 0.0), (150.0, 0.005), dxfattribs=ON)
        space.add_line((7, 7), (7, 7), dxfattribs=ON)

    drawn(draw)(tmp_path / "a.dxf")
    findings = Findings()
    drawing = read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), None, findings)
    assert drawing is not None and len(drawing.paths) == 1 and not findings.problems
    assert findings.warnings == [
        "a.dxf, layer 1: 1 doubled line dropped.", "a.dxf, layer 1: 1 line of no length dropped.",
    ]
    assert findings.notes == ["a.dxf: 2 ARC made into chords within 0.05 mm."]


def test_text_is_read_by_its_code_page(tmp_path):
    """Cyrillic text in ANSI_1251 of an R12 file comes back as it was."""
    code_page(tmp_path / "a.dxf")
    drawing = read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), "mm", Findings())
    assert [label.text for label in drawing.labels] == ["союзка"]


def test_thin_rims_and_narrow_pairs_are_not_doubles(tmp_path):
    """Outlines 0.1 mm inside each other, and lines side by side at 0.05 mm, stay what they are."""

    def draw(space):
        outline(space)
        space.add_lwpolyline([(0.1, 0.1), (199.9, 0.1), (199.9, 99.9), (0.1, 99.9)], close=True, dxfattribs=ON)
        space.add_line((300, 0), (300, 50), dxfattribs=ON)
        space.add_line((300.05, 80), (300.05, 130), dxfattribs=ON)

    drawn(draw)(tmp_path / "a.dxf")
    findings = Findings()
    drawing = read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), None, findings)
    assert len(drawing.paths) == 4 and not findings.warnings
