"""Where the legend stands, and what is said where a table or its HP-GL does not reach."""

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from table_jobs import on_table
from tiny_plans import box_plan
from vamp_plans import vamp_plan

from nest.cutplan.checksum import sealed
from nest.cutplan.compose import hide_drawing, lay_drawing
from nest.cutplan.drawing import Drawing, Label
from nest.cutplan.legendplace import legend_beside
from nest.cutplan.reach import table_box, table_notes
from nest.cutplan.work import hide_work
from nest.job.cutting_table import Corner, CuttingTable, FileKind

PLAN = box_plan()
"""A hide of 1000 x 500 mm."""


def legend_box(drawing):
    """The box of the legend, check sums too."""
    labels = [one for one in sealed(drawing, True).entities if isinstance(one, Label) and one.use == "legend"]
    return Drawing(tuple(labels)).bounds()


@pytest.mark.parametrize("plan", [PLAN, vamp_plan(1)], ids=["box", "side"])
@pytest.mark.parametrize("size", [None, 400.0])
def test_the_legend_lies_where_the_table_reaches(plan, size):
    """Lower left corner at (30, 40), table as large as the hide and 400 mm more each way, or not known."""
    x_min, y_min, x_max, y_max = plan.hides[0].outline.bounds
    length, width = x_max - x_min + 30, y_max - y_min + 40
    table = CuttingTable(origin=Corner.LOWER_LEFT, origin_x_mm=30.0, origin_y_mm=40.0)
    if size is not None:
        table = replace(table, length_mm=length + size, width_mm=width + size)
    drawing = hide_drawing(on_table(plan, table), plan.layouts[0], "NOT VERIFIED: this is a test.")
    low = legend_box(drawing)
    assert min(low[:2]) >= 0.0
    if size is not None:
        assert low[2] <= length + size and low[3] <= width + size
    others = Drawing(tuple(one for one in drawing.entities if one.use != "legend"))
    assert not shapely.box(*low).intersects(shapely.box(*others.bounds()))


def test_the_legend_of_a_lay_is_above_too():
    """Its lower left corner at the origin: nothing of the legend is below 0."""
    table = CuttingTable(origin=Corner.LOWER_LEFT)
    assert min(legend_box(lay_drawing(on_table(PLAN, table), PLAN.lays[0]))[:2]) >= 0.0


BOX = st.tuples(st.floats(-3000, 3000), st.floats(-3000, 3000), st.floats(300, 3000), st.floats(300, 3000))


@settings(max_examples=60)
@given(BOX, st.one_of(st.none(), st.floats(100, 5000)), st.one_of(st.none(), st.floats(100, 5000)), st.integers(1, 90))
def test_no_letter_ever_lies_out_of_reach(box, length, width, pieces):
    """Material anywhere, table of any size: legend and rows of check sums (180 letters at most) stay in its box."""
    x, y, wide, high = box
    material = (x, y, x + wide, y + high)
    table = CuttingTable(length_mm=length, width_mm=width)
    lines = [f"{i}: " + "a" * 120 for i in range(20)]
    labels = legend_beside(lines, "", material, material, table, pieces)
    rows = 4 + -(-pieces // 12)
    last = labels[-1]
    sums = [replace(last, text="0" * 180, at=(last.at[0], last.at[1] - 1.7 * last.height_mm * (i + 1)))
            for i in range(rows)]
    low, reach = Drawing((*labels, *sums)).bounds(), table_box(table, material)
    assert low[0] >= reach[0] - 0.01 and low[1] >= reach[1] - 0.01
    assert low[2] <= reach[2] + 0.01 and low[3] <= reach[3] + 0.01
    if min(x, y) >= 0.0:
        assert min(reach[:2]) == 0.0


def notes(**keys):
    """What is said of the box plan on a table."""
    return table_notes(on_table(PLAN, CuttingTable(files=(FileKind.HPGL,), **keys)))


def test_hp_gl_beyond_16_bits_is_said():
    """-32768 to 32767 units of 0.025 mm (published reference): said where, and only where, the file has others."""
    from nest.cutplan.hpgl import hpgl_text

    for at in (0.0, 100.0, 200.0, 300.0, 400.0, 500.0):
        plan = on_table(PLAN, CuttingTable(origin_x_mm=at, files=(FileKind.HPGL,)))
        text = hpgl_text(hide_work(plan, plan.layouts[0]))
        numbers = [int(n) for command in re.findall(r"P[UD]([-\d,]+)", text) for n in command.split(",")]
        lays = [note for note in table_notes(plan) if "16 bits" in note and "ide" in note.split(":")[0]]
        assert bool(lays) == (max(numbers) > 32767)
    assert not [note for note in table_notes(PLAN) if "HP-GL" in note]


def test_below_0_is_said_with_the_remedy():
    """A hide moved by -300 mm leaves the positive quadrant; at its lower left corner it does not."""
    assert any("below 0" in note and "lower left" in note for note in notes(origin_x_mm=-300.0))
    assert not any("below 0" in note for note in notes(origin=Corner.LOWER_LEFT))


def test_a_table_that_is_too_small_is_said_on_screen_and_drawing():
    """Pieces lie up to 860 mm along: a table of 700 mm is too small for the hide, one of 1000 mm is not."""
    small = on_table(PLAN, CuttingTable(origin=Corner.LOWER_LEFT, length_mm=700.0, width_mm=500.0))
    (said,) = [note for note in table_notes(small) if note.startswith("Hide H1")]
    assert "cuts leave the table, which reaches 700 mm from its origin along x" in said
    texts = [one.text for one in hide_drawing(small, small.layouts[0]).entities if isinstance(one, Label)]
    assert any(text.startswith("Look out: cuts leave the table") for text in texts)
    large = on_table(PLAN, CuttingTable(origin=Corner.LOWER_LEFT, length_mm=1000.0, width_mm=500.0))
    assert not [note for note in table_notes(large) if note.startswith("Hide")]
    behind = replace(large.settings.table, origin=Corner.UPPER_RIGHT)
    assert not [note for note in table_notes(on_table(PLAN, behind)) if note.startswith("Hide")]
    cuts = np.vstack([path.ring for path in hide_work(large, large.layouts[0]).paths])
    assert cuts[:, 0].max() > 700.0
