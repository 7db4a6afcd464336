"""Drawings as other programs write them, and as they are damaged on the way: each is read, or refused in one sentence.

All are made here, in the folder of the test. Most hold a closed outline of 200 × 100 mm, in some way or other.
"""

from itertools import pairwise
from math import pi, sqrt

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import Matrix44
from outlines_by_layer import read_outlines

from geometry.precision import on_grid
from nest.errors import InputProblems
from nest.job.drawing import Prevailing
from nest.job.dxf import read_drawing
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.schema import ASTM, LayersSection
from nest.job.template import read_template
from nest.pieces.grading import graded
from nest.pieces.style import Grading

CORNERS = [(0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)]
ON = {"layer": "1"}
AREA = 200.0 * 100.0


def document(version="R2000", units=4):
    """A drawing without anything; R12 has no unit."""
    made = ezdxf.document.Drawing.new(version)
    if version != "R12":
        made.units = units
    return made


def drawn(draw, version="R2000", units=4):
    """A way to make a drawing."""

    def make(path):
        made = document(version, units)
        draw(made.modelspace())
        made.saveas(path)

    return make


def outline(space, scale=1.0):
    """The outline as one light polyline (POLYLINE in R12)."""
    points = [(x * scale, y * scale) for x, y in CORNERS]
    if space.doc.dxfversion == "AC1009":
        space.add_polyline2d(points, close=True, dxfattribs=ON)
    else:
        space.add_lwpolyline(points, close=True, dxfattribs=ON)


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


# --- pattern files by ASTM D6673 -----------------------------------------------------------------

VAMP = [(0.0, -60.0), (120.0, -50.0), (160.0, 0.0), (120.0, 50.0), (0.0, 60.0), (20.0, 0.0)]
NOTCHES = [(120.0, -50.0), (120.0, 50.0), (0.0, 60.0), (0.0, -60.0)]
NAMES = [("TOE", (165.0, 0.0)), ("Side", (60.0, 60.0)), ("side", (60.0, -60.0)), ("back", (10.0, 5.0))]


def pattern_file(path, sizes=("38", "39"), back_to_front=False, more=lambda block: None, version="R12", unit="METRIC"):
    """A pattern file: one block a piece; boundary on 1, notches on 4, grain line on 7, annotation on 15."""
    made = document(version, units=0)
    scale = {"METRIC": 1.0, "ENGLISH": 1 / 25.4}[unit]
    made.modelspace().add_text(f"UNITS: {unit}")
    for i, size in enumerate(sizes):
        block = made.blocks.new(f"VAMP-{size}")
        grown = scale * (1.0 + 0.02 * i)
        block.add_polyline2d([(x * grown, y * grown) for x, y in VAMP], close=True, dxfattribs={"layer": "1"})
        ends = [(-10.0 * grown, 0.0), (170.0 * grown, 0.0)]
        block.add_line(*(ends[::-1] if back_to_front else ends), dxfattribs={"layer": "7"})
        for x, y in NOTCHES:
            block.add_point((x * grown, y * grown), dxfattribs={"layer": "4"})
        for x, y in VAMP:
            block.add_point((x * grown, y * grown), dxfattribs={"layer": "2"})
        for text, (x, y) in (*NAMES, ("PIECE NAME: VAMP", (50.0, 0.0)), (f"SIZE: {size}", (50.0, 9.0))):
            block.add_text(text, dxfattribs={"layer": "15"}).set_placement((x * grown, y * grown))
        more(block)
        made.modelspace().add_blockref(block.name, (1000.0 * i * scale, 0.0), dxfattribs={"layer": "1"})
    made.saveas(path)


def read_pattern(path, block="VAMP-38", **layers):
    """The template in a block, and what was found."""
    findings = Findings()
    chosen = LayersSection.model_validate({"template_standard": ASTM, **layers})
    return read_template(Source(path, path.name), chosen, "plain", "38", None, findings, block), findings


@pytest.mark.parametrize("unit", ["METRIC", "ENGLISH"])
@pytest.mark.parametrize("back_to_front", [False, True])
def test_a_pattern_file_gives_its_templates(tmp_path, back_to_front, unit):
    """Block by block, toe towards +x whichever way the grain line points; annotation is passed over."""
    pattern_file(tmp_path / "a.dxf", back_to_front=back_to_front, unit=unit)
    small, findings = read_pattern(tmp_path / "a.dxf")
    large, _ = read_pattern(tmp_path / "a.dxf", "vamp-39")
    assert not findings.problems and not findings.warnings
    assert bool(findings.notes) == back_to_front
    assert shapely.Polygon(large.outline).area == pytest.approx(1.02**2 * shapely.Polygon(small.outline).area, rel=1e-5)
    toe = small.outline[np.array([part == "toe" for part in small.parts])]
    assert toe[:, 0].min() > 100.0
    assert np.ptp(small.outline, axis=0) == pytest.approx((160.0, 120.0), abs=1e-3)


def test_vertices_that_nearly_repeat_are_one(tmp_path):
    """Graded to any size the outline keeps a part for each of its edges, on the plan's own grid too."""
    near = [(x + i * 1e-4, y) for x, y in VAMP for i in range(3)]

    def more(block):
        (old,) = block.query('POLYLINE[layer=="1"]')
        block.delete_entity(old)
        block.add_polyline2d(near, close=True, dxfattribs={"layer": "1"})

    pattern_file(tmp_path / "a.dxf", more=more)
    template, findings = read_pattern(tmp_path / "a.dxf")
    assert not findings.problems and len(template.outline) == len(template.parts) <= len(VAMP) + len(NOTCHES)
    small = graded(template, "15", Grading("paris", "38", 4.0, 3.0))
    assert len(on_grid(small.outline)) == len(small.parts)


def turned_grain(degrees):
    """A change of a block: its grain line turned about the middle of the piece."""

    def change(block):
        turn = np.radians(degrees)
        (line,) = block.query('LINE[layer=="7"]')
        line.translate(-80.0, 0.0, 0.0).rotate_z(turn).translate(80.0, 0.0, 0.0)

    return change


@pytest.mark.parametrize(
    ("degrees", "outcome"),
    [(0, "taken"), (-14, "taken"), (16, "doubted"), (-44, "doubted"), (46, "refused"), (-90, "refused"),
     (90, "refused"), (134, "refused"), (-136, "doubted"), (164, "doubted"), (166, "taken"), (180, "taken")],
)
def test_a_grain_line_across_the_vamp_is_no_axis(tmp_path, degrees, outcome):
    """A grain line need not run from heel to toe (ASTM D6673 gives it no such meaning): 45° off is the most.

    The toe is symmetrical about y = 0 here, so the direction from the back to the toe is known; either sense counts.
    """
    pattern_file(tmp_path / "a.dxf", more=turned_grain(degrees))
    template, findings = read_pattern(tmp_path / "a.dxf")
    assert (template is None) == (outcome == "refused")
    off = min(abs(degrees), 180 - abs(degrees))
    said = [*findings.warnings, *map(str, findings.problems)]
    assert len(said) == (outcome != "taken")
    for sentence in said:
        assert "grain line" in sentence and f" {off}° off the direction from the back to the toe" in sentence
        assert "a.dxf, entity " in sentence and "on layer 7" in sentence
    if outcome == "refused":
        assert "template_axis in [layers]" in said[0]


def test_an_axis_of_its_own_takes_the_place_of_a_grain_line(tmp_path):
    """The remedy works: the axis on another layer, named in [layers], though the grain line lies across."""

    def more(block):
        turned_grain(90)(block)
        block.add_line((-10, 0), (170, 0), dxfattribs={"layer": "8"})

    pattern_file(tmp_path / "a.dxf", more=more)
    template, findings = read_pattern(tmp_path / "a.dxf", template_axis="8")
    assert not findings.problems and not findings.warnings
    assert np.ptp(template.outline, axis=0) == pytest.approx((160.0, 120.0), abs=1e-3)


def test_what_a_vamp_has_no_use_for_is_said(tmp_path):
    """Internal lines (8) and cutouts (11) are named as not used; half a piece with its mirror line (6) is refused."""

    def more(block):
        block.add_line((30, 0), (90, 0), dxfattribs={"layer": "8"})
        block.add_circle((100, 20), 4, dxfattribs={"layer": "11"})

    pattern_file(tmp_path / "a.dxf", more=more)
    template, findings = read_pattern(tmp_path / "a.dxf")
    assert template is not None and [w.split(": ")[1] for w in findings.warnings] == [
        "1 internal line not used; a vamp is cut whole.", "1 internal cutout not used; a vamp is cut whole."]
    pattern_file(tmp_path / "b.dxf", more=lambda block: block.add_line((0, 0), (160, 0), dxfattribs={"layer": "6"}))
    template, findings = read_pattern(tmp_path / "b.dxf")
    assert template is None and "mirror line" in str(findings.problems[0])


def test_a_block_that_is_not_there_is_said_with_those_that_are(tmp_path):
    """The likeliest name is the remedy; without a block the pieces of model space are too many."""
    pattern_file(tmp_path / "a.dxf")
    template, findings = read_pattern(tmp_path / "a.dxf", "VAMP-3B")
    assert template is None and "VAMP-38" in str(findings.problems[0])
    template, findings = read_pattern(tmp_path / "a.dxf", None)
    assert template is None and any("one closed outline" in str(problem) for problem in findings.problems)


def test_layers_of_the_standard_may_be_named_otherwise(tmp_path):
    """A key of its own in [layers] prevails over the standard's."""
    pattern_file(tmp_path / "a.dxf", more=lambda b: [setattr(e.dxf, "layer", "80") for e in b.query('*[layer=="1"]')])
    template, _ = read_pattern(tmp_path / "a.dxf")
    assert template is None
    template, _ = read_pattern(tmp_path / "a.dxf", template_outline="80")
    assert template is not None and sqrt(shapely.Polygon(template.outline).area) > 50.0


# --- readers say what they see --------------------------------------------------------------------


def test_a_layer_without_anything_is_answered_with_those_there_are(tmp_path):
    """Whoever names a layer wrongly reads which layers there are, and what stands on each."""
    pattern_file(tmp_path / "a.dxf")
    _, findings = read_pattern(tmp_path / "a.dxf", template_outline="TEMPLATE")
    said = "\n".join(map(str, findings.problems))
    assert "it has the layers 1 (1 POLYLINE), 7 (1 LINE), 4 (4 POINT)" in said


def test_two_outlines_are_said_with_their_places(tmp_path):
    """Size and middle of each, so that the one too many is found."""
    def more(block):
        block.add_polyline2d([(300, 0), (340, 0), (340, 30)], close=True, dxfattribs={"layer": "1"})

    pattern_file(tmp_path / "a.dxf", more=more)
    _, findings = read_pattern(tmp_path / "a.dxf")
    assert "2: 160 × 120 mm at (80, 0) and 40 × 30 mm at (320, 15)" in str(findings.problems[0])


def test_hatches_and_paper_space_are_said(tmp_path):
    """A hatch is no outline, and what stands in paper space is not read: both in a sentence."""
    made = document()
    outline(made.modelspace())
    made.modelspace().add_hatch(dxfattribs=ON).paths.add_polyline_path([(0, 0), (9, 0), (9, 9)])
    made.layout("Layout1").add_line((0, 0), (1, 1))
    made.saveas(tmp_path / "a.dxf")
    findings = Findings()
    assert read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), None, findings)
    said = "\n".join(findings.warnings)
    assert "1 HATCH not read; a hatch is no outline" in said and "1 entity in paper space (Layout1) not read" in said


@pytest.mark.parametrize("height, read", [(0.009, True), (0.02, False)])
def test_noise_in_height_is_flattened(tmp_path, height, read):
    """Up to 0.01 mm z is noise of the program that wrote it; more is a drawing in space."""
    made = document()
    corners = [(0, 0, 0), (200, 0, height), (200, 100, 0), (0, 100, height), (0, 0, 0)]
    for start, end in pairwise(corners):
        made.modelspace().add_line(start, end, dxfattribs=ON)
    made.saveas(tmp_path / "a.dxf")
    findings = Findings()
    drawing = read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), None, findings)
    assert (drawing is not None) is read and bool(findings.problems) is not read


def test_a_line_drawn_twice_a_twentieth_of_a_mm_apart_is_one(tmp_path):
    """Doubled lines 0.05 mm apart are dropped, and said."""
    made = document()
    outline(made.modelspace())
    outline(made.modelspace())
    for entity in list(made.modelspace())[len(made.modelspace()) // 2:]:
        entity.translate(0.05, 0.0, 0.0)
    made.saveas(tmp_path / "a.dxf")
    findings = Findings()
    drawing = read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), None, findings)
    assert len(drawing.paths) == 1 and "doubled" in findings.warnings[0]


def test_a_drawing_far_from_its_origin_is_said(tmp_path):
    """A million mm off: it is read, with a word that no table reaches there; beyond that the refusal says why."""
    for away, read in ((9e5, True), (2e6, False)):
        made = document()
        outline(made.modelspace())
        for entity in made.modelspace():
            entity.translate(away, 0.0, 0.0)
        made.saveas(tmp_path / "a.dxf")
        findings = Findings()
        drawing = read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), None, findings)
        assert (drawing is not None) is read
        said = [*findings.warnings, *map(str, findings.problems)]
        assert any("from its origin" in sentence for sentence in said)


def test_a_wrong_unit_in_the_header_can_be_overruled(tmp_path):
    """Where the job's unit prevails the header's is not used, and that is said."""
    made = document(units=1)
    outline(made.modelspace())
    made.saveas(tmp_path / "a.dxf")
    inches, mm = Findings(), Findings()
    wide = read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), "mm", inches).paths[0].points
    own = read_drawing(Source(tmp_path / "a.dxf", "a.dxf"), Prevailing("mm"), mm).paths[0].points
    assert np.ptp(wide, axis=0) == pytest.approx(25.4 * np.ptp(own, axis=0))
    assert "says its unit is in; it is read in mm" in mm.warnings[0] and not inches.warnings


def test_the_base_size_that_a_file_names_is_said(tmp_path):
    """The same as the job's is a note, another one a warning."""
    for size, warned in (("38", False), ("40", True)):
        def more(block, size=size):
            block.add_text(f"SAMPLE SIZE: {size}", dxfattribs={"layer": "15"})

        pattern_file(tmp_path / "a.dxf", more=more)
        template, findings = read_pattern(tmp_path / "a.dxf")
        assert template is not None and bool(findings.warnings) is warned
        assert f"drawn in size {size}" in "\n".join((*findings.warnings, *findings.notes))


def test_notches_and_words_of_the_standard_are_read_where_they_stand(tmp_path):
    """Names among the notches (layer 4) count, a notch off the outline does not; curve points are said.

    Layers as in ASTM D6673 (from a secondary copy): 3 curve points, 4 notches.
    """
    def more(block):
        for text in block.query('TEXT[layer=="15"]'):
            text.dxf.layer = "4"
        block.add_point((80.0, 20.0), dxfattribs={"layer": "4"})
        block.add_point((160.0, 0.0), dxfattribs={"layer": "3"})

    pattern_file(tmp_path / "a.dxf", more=more)
    template, findings = read_pattern(tmp_path / "a.dxf")
    assert template is not None, findings.problems
    assert len(findings.warnings) == 1 and "off the outline not used" in findings.warnings[0]
    assert any("curve points on layer 3 (1 POINT) not used" in note for note in findings.notes)


def test_parts_are_found_by_angle_where_none_are_drawn(tmp_path):
    """Toe within the first angle of the axis, back beyond the second, as seen from the middle of the outline."""
    def more(block):
        for entity in [*block.query('POINT[layer=="4"]'), *block.query('TEXT[layer=="15"]')]:
            block.delete_entity(entity)

    pattern_file(tmp_path / "a.dxf", more=more)
    template, findings = read_pattern(tmp_path / "a.dxf", parts_by_angle_deg=[40.0, 140.0])
    assert template is not None, findings.problems
    assert any("by angle" in note for note in findings.notes)
    edges = np.stack((template.outline, np.roll(template.outline, -1, axis=0)), axis=1).mean(axis=1)
    middle = 0.5 * (template.outline.min(axis=0) + template.outline.max(axis=0))
    angle = np.abs(np.degrees(np.arctan2(*(edges - middle).T[::-1])))
    for part, own in zip(template.parts, angle, strict=True):
        assert part == ("toe" if own < 40.0 else "back" if own > 140.0 else "side")
    missing, findings = read_pattern(tmp_path / "a.dxf")
    assert missing is None and "parts_by_angle_deg" in "\n".join(map(str, findings.problems))
