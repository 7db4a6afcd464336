"""Which plan a drawing is of, and when it was written: the one thing that two writes differ in."""

import re
from dataclasses import replace

import pytest
from table_jobs import TABLES, on_table
from tiny_plans import box_plan, moved

from nest.cutplan.drawing import Label
from nest.cutplan.dxf import write_hide_dxf, write_lay_dxf, write_lean_dxf
from nest.cutplan.dxfread import read_dxf
from nest.cutplan.layers import MACHINE_USES, layers_of
from nest.cutplan.readback import read_cut_dxf
from nest.cutplan.stamp import EPOCH, plan_id, stamp_of, stated_time, time_now
from nest.cutplan.work import hide_work
from nest.errors import InputProblems, PlanProblem
from nest.planfile import plan_from_text, plan_text

PLAN = plan_from_text(plan_text(box_plan()))
TIME, LATER = "2026-03-02T05:50:00Z", "2031-12-24T23:59:59Z"


@pytest.mark.parametrize("version", ["R2000", "R12"])
def test_only_the_time_differs_between_two_writes(tmp_path, version):
    """Byte for byte the same at one time; at another the bytes differ in the digits of the time alone."""
    for name, time in (("a", TIME), ("b", TIME), ("c", LATER)):
        write_hide_dxf(PLAN, PLAN.layouts[0], tmp_path / f"{name}.dxf", version, stamp=stamp_of(PLAN, time))
        write_lay_dxf(PLAN, PLAN.lays[0], tmp_path / f"{name}-lay.dxf", version, stamp=stamp_of(PLAN, time))
    for end in (".dxf", "-lay.dxf"):
        a, b, c = ((tmp_path / f"{name}{end}").read_bytes() for name in "abc")
        assert a == b and a != c
        assert a.replace(TIME.encode(), b"") == c.replace(LATER.encode(), b"") and a.count(TIME.encode()) == 1


def test_the_environment_states_the_time(tmp_path, monkeypatch):
    """SOURCE_DATE_EPOCH (reproducible-builds.org): 1772430600 is 2 March 2026, 05:50 UTC; what is no number is said."""
    monkeypatch.setenv(EPOCH, "1772430600")
    write_hide_dxf(PLAN, PLAN.layouts[0], tmp_path / "a.dxf")
    write_hide_dxf(PLAN, PLAN.layouts[0], tmp_path / "b.dxf", stamp=stamp_of(PLAN, TIME))
    assert (tmp_path / "a.dxf").read_bytes() == (tmp_path / "b.dxf").read_bytes()
    for bad in ("yesterday", "1.5", "9" * 30):
        monkeypatch.setenv(EPOCH, bad)
        with pytest.raises(PlanProblem, match=r"SOURCE_DATE_EPOCH is .*whole seconds since 1970"):
            time_now()


def test_times_are_read_as_iso_8601_has_them():
    """UTC without a zone, other zones turned to it; anything else is said."""
    assert stated_time("2026-03-02T05:50") == TIME == stated_time("2026-03-02T07:50:00+02:00") == stated_time(TIME)
    for bad in ("tomorrow", "", "2026-13-01", "0001-01-01T00:00:00+14:00"):
        with pytest.raises(PlanProblem, match="cannot be read; write it like"):
            stated_time(bad)


def test_one_id_for_all_tables_another_for_another_plan():
    """Tables and DXF versions leave it, a piece moved by a millimetre does not; it is that of the saved plan."""
    ids = {plan_id(on_table(PLAN, table)) for table in TABLES.values()}
    r12 = replace(PLAN, settings=replace(PLAN.settings, dxf_version="R12"))
    assert ids == {plan_id(PLAN)} == {plan_id(r12)} == {plan_id(plan_from_text(plan_text(r12)))}
    assert plan_id(moved(PLAN, 0, dx=1.0)) not in ids and re.fullmatch("[0-9a-f]{8}", plan_id(PLAN))


def test_a_drawing_of_another_plan_is_told_by_its_id(tmp_path):
    """Held against a plan in another currency, which draws alike, the sentence on the plan differs."""
    write_hide_dxf(PLAN, PLAN.layouts[0], tmp_path / "a.dxf")
    assert read_cut_dxf(tmp_path / "a.dxf", PLAN).layouts[0].placed
    other = replace(PLAN, settings=replace(PLAN.settings, currency="USD"))
    told = f"expected the text 'Plan {plan_id(other)}, written .*found 'Plan {plan_id(PLAN)}"
    with pytest.raises(InputProblems, match=told):
        read_cut_dxf(tmp_path / "a.dxf", other)


def test_an_id_that_was_changed_is_found(tmp_path):
    """The time is left out of the check sums, the id is not, nor is a time that is none."""
    write_hide_dxf(PLAN, PLAN.layouts[0], tmp_path / "a.dxf", stamp=stamp_of(PLAN, TIME))
    text = (tmp_path / "a.dxf").read_text()
    for old, new in ((plan_id(PLAN), "00000000"), (f"written {TIME}", "written long ago")):
        (tmp_path / "b.dxf").write_text(text.replace(old, new))
        with pytest.raises(InputProblems):
            read_cut_dxf(tmp_path / "b.dxf")
    (tmp_path / "b.dxf").write_text(text.replace(TIME, LATER))
    assert read_cut_dxf(tmp_path / "b.dxf").layouts


@pytest.mark.parametrize("version", ["R2000", "R12"])
@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_a_lean_drawing_holds_cuts_and_marks_and_nothing_else(tmp_path, table, version):
    """The same machine entities in the same order as the full one, no text, no layer but theirs; verify refers on."""
    table = replace(table, tool_radius_mm=0.0, thin_mm=0.0)
    plan = on_table(PLAN, table)
    work = hide_work(plan, plan.layouts[0])
    write_lean_dxf(work, tmp_path / "lean.dxf", version)
    write_hide_dxf(plan, plan.layouts[0], tmp_path / "full.dxf", version, work=work)
    machine = {getattr(layers_of(table), use).name for use in MACHINE_USES}
    lean, full = (read_dxf(tmp_path / name).drawing.entities for name in ("lean.dxf", "full.dxf"))
    wanted = [one for one in full if one.use in machine]
    assert not any(isinstance(one, Label) for one in lean) and len(lean) == len(wanted)
    for one, other in zip(lean, wanted, strict=True):
        assert one.use == other.use and one.closed == other.closed and (one.points == other.points).all()
    import ezdxf  # a plain look at what else the file names

    document = ezdxf.readfile(tmp_path / "lean.dxf")
    assert {layer.dxf.name for layer in document.layers} - {"0", "Defpoints", "DEFPOINTS"} <= machine
    with pytest.raises(PlanProblem, match="cuts and marks alone is not checked: give the drawing of the same name"):
        read_cut_dxf(tmp_path / "lean.dxf")
