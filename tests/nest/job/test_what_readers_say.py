"""Readers of drawings say what they see: layers, hatches, paper space, doubles, units, sizes, and where it is."""

from itertools import pairwise

import numpy as np
import pytest
from made_drawings import ON, document, outline, pattern_file, read_pattern

from nest.job.drawing import Prevailing
from nest.job.dxf import read_drawing
from nest.job.files import Source
from nest.job.findings import Findings


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


@pytest.mark.parametrize("height, read", [(0.009, True), (0.019, True), (0.021, False)])
def test_noise_in_height_is_flattened(tmp_path, height, read):
    """Up to 0.01 mm to either side z is noise of the program that wrote it; more is a drawing in space."""
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
