"""Cut lines, as the table gets them, stay on the material and keep the distances that the drawing promises."""

import itertools
import re
from dataclasses import replace
from decimal import Decimal

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from table_jobs import on_table
from vamp_plans import vamp_pieces, vamp_plan

from geometry.pose import Pose
from nest.cutplan.dxf import write_hide_dxf, write_lay_dxf
from nest.cutplan.hpgl import UNITS_PER_MM, write_work_hpgl
from nest.cutplan.path import promised
from nest.cutplan.work import hide_work, lay_work
from nest.errors import PlanProblem
from nest.job.cutting_table import Corner, CuttingTable
from nest.job.job import Settings
from nest.pieces.piece import Role
from nest.plan import HideLayout, Lay, Placed
from nest.stock.material import Hide, Roll, RollStretch, Zone
from nest.verify import verify

MM = {"mm": 1.0, "cm": 10.0, "in": 25.4}
ALLOWED_MM = 0.01
"""Gaps and margins may be this much less than asked for (README, Promises)."""
PLOTTER_MM = 0.5 / UNITS_PER_MM * np.sqrt(2.0)
"""HP-GL holds whole units of 0.025 mm: a point moves by half of one an axis at most."""

TABLES = st.builds(
    CuttingTable,
    origin=st.sampled_from(Corner), turn_deg=st.sampled_from((0.0, 90.0, 33.3)), grain_down=st.booleans(),
    unit=st.sampled_from(tuple(MM)), tool_radius_mm=st.sampled_from((0.0, 0.15, 0.4, 3.0)),
    overcut_mm=st.sampled_from((0.0, 5.0)), lead_in_mm=st.sampled_from((0.0, 4.0)),
    thin_mm=st.sampled_from((0.0, 0.05, 0.28, 1.0)),
)


def packed(role: Role, apart: float, room: float):
    """Two rows of two pieces that stand as near as the settings allow, and the length and width that they need."""
    pieces = [piece for piece in vamp_pieces(sizes=("38",)) if piece.role is role][:2]
    wide, high = np.max([np.ptp(piece.cut_outline, axis=0) for piece in pieces], axis=0)
    placed = []
    for number, (i, j) in enumerate(itertools.product(range(2), repeat=2)):
        piece = pieces[number % len(pieces)]
        low = piece.cut_outline.min(axis=0)
        at = room + i * (wide + apart) - low[0], room + j * (high + apart) - low[1]
        placed.append(Placed(piece.piece_id, Pose(*map(float, at), 0.0)))
    return pieces, tuple(placed), 2.0 * wide + apart + 2.0 * room, 2.0 * high + apart + 2.0 * room


def packed_plan(table: CuttingTable, gap: float, margin: float):
    """A hide and a lay on which pieces stand as near to each other and to the edge as the settings allow."""
    asked = Settings(hide_gap_mm=gap, roll_gap_mm=gap, edge_margin_mm=margin, table=table)
    plan = vamp_plan(1)
    vamps, on_hide, long, wide = packed(Role.VAMP, asked.hide_apart_mm, asked.edge_room_mm)
    outline = shapely.box(0.0, 0.0, long, wide)
    hide = Hide("H1", plan.leathers[0].name, "L", 1, 1.5, outline.area, outline, (Zone("Z", 1, 90.0, outline),), ())
    backs, on_roll, length, width = packed(Role.REINFORCEMENT, asked.roll_apart_mm, asked.strip_room_mm)
    name = plan.styles[0].roll or "R"
    roll = Roll(name, width, 0.0, 2.0 * length, RollStretch.WIDTH, 100.0, Decimal(1), False, False, 0.0)
    return replace(
        plan, settings=asked, pieces=(*vamps, *backs), hides=(hide,), rolls=(roll,), order=(),
        styles=tuple(replace(style, roll=name) for style in plan.styles), bounds=(),
        layouts=(HideLayout("H1", on_hide),), lays=(Lay("lay 1", name, length, 1, on_roll),),
    )


def read_back(path, unit):
    """Cut outlines, material and promised distances of a drawing, read without our reader; mm."""
    space = ezdxf.readfile(path).modelspace()
    rings = {
        layer: [shapely.Polygon(np.array(one.get_points("xy")) * MM[unit]) for one in space.query("LWPOLYLINE")
                if one.dxf.layer == layer and one.closed]
        for layer in ("CUT", "REF_MATERIAL")
    }
    said = " ".join(text.dxf.text for text in space.query("TEXT"))
    gap, margin = map(float, re.search(r"at least (\S+) mm apart and (\S+) mm from the edge", said).groups())
    return rings["CUT"], rings["REF_MATERIAL"][0], gap, margin


def assert_kept(ways, material, gap, margin, rounding):
    """Every way lies on the material, off its edge by the margin, and they lie the gap apart."""
    grown = material.buffer(rounding + ALLOWED_MM, join_style="mitre")
    assert all(grown.covers(way) for way in ways)
    assert min(shapely.distance(way, material.boundary) for way in ways) >= margin - ALLOWED_MM - rounding
    for one, other in itertools.combinations(ways, 2):
        assert one.distance(other) >= gap - ALLOWED_MM - 2.0 * rounding


def hpgl_ways(path):
    """Every stroke of the cutting pen as a line, mm."""
    text = path.read_text().partition("SP1;")[2]
    for stroke in re.findall(r"PU(-?\d+,-?\d+);\n((?:PD[-\d,]+;\n)+)", text):
        numbers = [int(number) for number in re.findall(r"-?\d+", " ".join(stroke))]
        yield shapely.LineString(np.reshape(numbers, (-1, 2)) / UNITS_PER_MM)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(TABLES, st.sampled_from((0.0, 1.0, 2.5)), st.sampled_from((0.0, 4.0)))
def test_every_way_of_the_tool_keeps_what_the_drawing_promises(tmp_path, table, gap, margin):
    """Random tables, pieces as near as may be: measured by shapely from the DXF and HP-GL files alone."""
    plan = packed_plan(table, gap, margin)
    verdict = verify(plan)
    assert not [f for f in verdict.findings if f.rule in ("gap", "margin", "outside", "overlap")]
    for work, write, part in (
        (hide_work(plan, plan.layouts[0]), write_hide_dxf, plan.layouts[0]),
        (lay_work(plan, plan.lays[0]), write_lay_dxf, plan.lays[0]),
    ):
        write(plan, part, tmp_path / "a.dxf", work=work)
        ways, material, told_gap, told_margin = read_back(tmp_path / "a.dxf", table.unit)
        assert told_gap == gap and told_margin == (margin if part is plan.layouts[0] else 0.0)
        assert_kept(ways, material, told_gap, told_margin, 1e-3)
        write_work_hpgl(work, tmp_path / "a.hpgl")
        lines = list(hpgl_ways(tmp_path / "a.hpgl"))
        assert len(lines) == len(ways)
        assert_kept(lines, material, told_gap, told_margin, PLOTTER_MM)


def test_a_plan_for_another_table_promises_what_is_left():
    """Outlines 1 mm apart with thinning of 0.45 mm: the drawing promises 0.1 mm or more, and keeps it."""
    plan = packed_plan(CuttingTable(), 1.0, 3.0)
    changed = on_table(plan, CuttingTable(thin_mm=0.45))
    work = hide_work(changed, changed.layouts[0])
    from nest.cutplan.compose import hide_drawing

    drawing = hide_drawing(changed, changed.layouts[0], work=work)
    said = " ".join(label.text for label in drawing.entities if hasattr(label, "text"))
    gap, margin = map(float, re.search(r"at least (\S+) mm apart and (\S+) mm from the edge", said).groups())
    assert 0.1 <= gap < 1.0 and 2.55 <= margin < 3.0
    ways = [shapely.Polygon(path.ring) for path in work.paths]
    assert_kept(ways, plan.hides[0].outline, gap, margin, 0.0)


def test_a_way_that_leaves_the_material_is_refused():
    """A lay that was placed without room for the tool is not drawn for it; the sentence says how to go on."""
    plan = packed_plan(CuttingTable(), 4.0, 3.0)
    changed = on_table(plan, CuttingTable(tool_radius_mm=0.3))
    with pytest.raises(PlanProblem, match=r"needs 0.31 mm to the edge of the material, found .* plan again"):
        lay_work(changed, changed.lays[0])


@pytest.mark.parametrize(("asked", "kept", "said"), [
    (1.0, 1.0, 1.0), (1.0, 2.0, 1.0), (1.004, 1.004, 1.004), (1.004, 0.995, 1.004), (1.004, 0.993, 0.99),
    (1.0, 0.4567, 0.45), (1.0, -0.2, 0.0), (0.0, 0.0, 0.0),
])
def test_what_is_promised_is_kept_to_a_hundredth(asked, kept, said):
    """What was asked for where no more than 0.01 mm is missing, else what is kept, in whole hundredths below it."""
    assert promised(asked, kept) == pytest.approx(said, abs=1e-12)
