"""Pattern files by ASTM D6673: what is taken from them, what is said, what is refused."""

from math import sqrt

import numpy as np
import pytest
import shapely
from made_drawings import NOTCHES, VAMP, pattern_file, read_pattern

from geometry.precision import on_grid
from nest.pieces.grading import graded
from nest.pieces.style import Grading


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
