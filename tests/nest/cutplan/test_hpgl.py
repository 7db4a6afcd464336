"""HP-GL read back by a small reader after the published reference: the same lines, to half a plotter unit."""

import re

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from table_jobs import TABLES, on_table
from tiny_plans import box_plan
from vamp_plans import vamp_plan

from nest.cutplan.cuttime import CutTime
from nest.cutplan.frame import Frame
from nest.cutplan.hpgl import CUT_PEN, MARK_PEN, UNITS_PER_MM, hpgl_text, write_work_hpgl
from nest.cutplan.path import CutPath
from nest.cutplan.work import Work, hide_work
from nest.errors import PlanProblem
from nest.job.cutting_table import CuttingTable

MOST_MM = 0.5 / 40 + 1e-9
"""40 units a mm (published reference): a point moves by at most 0.0125 mm an axis."""


def plotted(text):
    """Every line drawn, with its pen, in mm: IN, SP, PU and PD with absolute coordinates."""
    pen, here, lines, current = 0, (0, 0), [], None
    for command in text.split(";"):
        name, rest = command.strip()[:2], command.strip()[2:]
        numbers = [int(number) for number in re.findall(r"-?\d+", rest)]
        points = list(zip(numbers[::2], numbers[1::2], strict=True)) if name in ("PU", "PD") else []
        if name == "SP":
            pen = numbers[0]
        elif name == "PU":
            current = None
            here = points[-1] if points else here
        elif name == "PD":
            if current is None:
                current = [here]
                lines.append((pen, current))
            current += points
            here = current[-1]
        else:
            assert name in ("IN", "")
    return [(pen, np.array(line) / 40.0) for pen, line in lines]


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_the_same_lines_in_the_same_order(table):
    """Marks by the mark pen, then cuts by the cut pen in the order of the work, begun and ended alike."""
    plan = on_table(vamp_plan(1), table)
    work = hide_work(plan, plan.layouts[0])
    found = plotted(hpgl_text(work))
    wanted = [(MARK_PEN, mark.line) for mark in work.marks]
    wanted += [(CUT_PEN, path.whole(table.overcut_mm)) for path in work.paths]
    assert len(found) == len(wanted) and UNITS_PER_MM == 40
    for (pen, line), (other_pen, other) in zip(found, wanted, strict=True):
        assert pen == other_pen
        assert np.abs(line[[0, -1]] - other[[0, -1]]).max() <= MOST_MM
        assert shapely.hausdorff_distance(shapely.LineString(line), shapely.LineString(other)) <= 1.5 * MOST_MM


def test_closed_outlines_end_where_they_began():
    """Without overcut the pen comes back to the very unit it set out from, and no point is drawn twice in a row."""
    plan = box_plan()
    for pen, line in plotted(hpgl_text(hide_work(plan, plan.layouts[0]))):
        assert np.hypot(*np.diff(line, axis=0).T).min() > 0.0
        assert pen == MARK_PEN or (line[0] == line[-1]).all()


def work_with(ring):
    """A work of one cut, as it stands."""
    path = CutPath(0, ring, ring)
    return Work(Frame(), CuttingTable(), (), (path,), (), CutTime(0.0, 0.0, 0.0, 1, 0.0))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(-3000, 3000), st.floats(-3000, 3000)), min_size=3, max_size=80))
def test_rounding_moves_a_point_by_at_most_half_a_unit(points):
    """Random polygons: each vertex is drawn within 0.0125 mm an axis, in its order."""
    ring = np.array(points)
    lines = plotted(hpgl_text(work_with(ring)))
    drawn = np.vstack([line for _, line in lines]) if lines else np.zeros((0, 2))
    for point in ring if len(drawn) else ():
        assert np.abs(drawn - point).max(axis=1).min() <= MOST_MM


def test_the_file_is_plain_and_in_place_or_absent(tmp_path):
    """ASCII, commands ended by semicolons, pen put away at the end; a folder that does not exist is said."""
    plan = box_plan()
    work = hide_work(plan, plan.layouts[0])
    write_work_hpgl(work, tmp_path / "a.hpgl")
    text = (tmp_path / "a.hpgl").read_bytes().decode("ascii")
    assert text.startswith("IN;") and text.endswith("SP0;\n") and max(map(len, text.split("\n"))) < 600
    with pytest.raises(PlanProblem, match="does not exist"):
        write_work_hpgl(work, tmp_path / "none/a.hpgl")
