"""A zone whose stretch nobody knows, from the hide to the table: nothing lies there but, with leave, bias."""

from dataclasses import replace

import pytest
from shapely.geometry import box
from tiny_plans import HIDE_LENGTH, HIDE_WIDTH, box_plan, hide, vamp, zone

from nest.accounts.faults import headings as fault_headings
from nest.cutplan.compose import hide_drawing
from nest.cutplan.dxf import write_hide_dxf
from nest.cutplan.readback import read_cut_dxf
from nest.cutplan.sheet import cut_sheet
from nest.job.cutting_table import CuttingTable
from nest.perpair.reach import heading_groups, reach
from nest.planfile import plan_from_text, plan_text
from nest.planning.grounds import core_grounds, hide_headings
from nest.report.desk import hide_picture
from nest.rules import Rules
from nest.stock.under import heading_on

ALL = box_plan(hides=(hide(zones=(zone(stretch_deg=None),)),))
HALF = hide(zones=(
    zone("known", outline=box(0, 0, 400, HIDE_WIDTH)),
    zone("unknown", stretch_deg=None, outline=box(400, 0, HIDE_LENGTH, HIDE_WIDTH)),
))


def test_a_plan_keeps_it():
    """Written as null, read back as it was."""
    text = plan_text(ALL)
    assert '"stretch_deg": null' in text and plan_text(plan_from_text(text)) == text


@pytest.mark.parametrize("table", [CuttingTable(), CuttingTable(turn_deg=90.0, grain_down=True)])
def test_a_cutting_drawing_says_so(tmp_path, table):
    """In the zone's text, without an arrow; read back it is unknown still."""
    plan = replace(ALL, settings=replace(ALL.settings, table=table))
    zones = [one for one in hide_drawing(plan, plan.layouts[0]).entities if getattr(one, "use", "") == "zones"]
    assert [one.text for one in zones if hasattr(one, "text")] == ["butt: class 1, stretch unknown"]
    assert len(zones) == 2  # its outline and its text
    write_hide_dxf(plan, plan.layouts[0], tmp_path / "a.dxf")
    assert read_cut_dxf(tmp_path / "a.dxf").hides[0].zones[0].stretch_deg is None


def test_nothing_is_planned_there():
    """Headings are those of the zones that are known; unknown ground is offered at none of them without leave."""
    (known,) = hide_headings(hide(), [Rules()])
    assert hide_headings(HALF, [Rules()]) == [known] and hide_headings(ALL.hides[0], [Rules()]) == [()]
    assert all(ground.bounds[2] <= 400.0 for ground in core_grounds(HALF, Rules(), known))
    assert fault_headings(HALF.zones, Rules(), False) == fault_headings(hide().zones, Rules(), False)
    assert heading_groups(HALF, Rules(), one_way=False) == heading_groups(hide(), Rules(), one_way=False)
    assert reach(ALL.hides[0], vamp(), Rules(), 0.0, one_way=False).area_mm2 == 0.0


def test_what_lies_there_is_told():
    """Wrong without leave, at bias with it, and no angle of either."""
    for leave, words in ((False, "on unknown stretch: WRONG"), (True, "on unknown stretch, with leave for bias")):
        styles = (replace(ALL.styles[0], rules=Rules(bias_leave=leave)),)
        assert words in hide_picture(replace(ALL, styles=styles), "H1")
        assert heading_on(ALL.hides[0], [1.0], 33.0, Rules(bias_leave=leave), False) == (0.0, leave)
    assert hide_picture(ALL, "H1").count('class="unknown"') == 1 and 'class="arrow"' not in hide_picture(ALL, "H1")
    assert "Zone butt, class 1\nstretch unknown" in hide_picture(ALL, "H1")
    assert cut_sheet(ALL, ALL.layouts[0], cutting_yield=0.5).directions == ("butt: class 1, stretch unknown",)
