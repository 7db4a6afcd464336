"""A hide registered where it lies: every coordinate of the new drawing is the motion of the first."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from table_jobs import TABLES, on_table
from tiny_plans import box_plan
from vamp_plans import vamp_plan

from nest.cutplan.drawing import Outline
from nest.cutplan.dxf import write_hide_dxf
from nest.cutplan.dxfread import read_dxf
from nest.cutplan.readback import read_cut_dxf
from nest.cutplan.sheet import cut_sheet
from nest.cutplan.work import hide_work, lay_work
from nest.errors import InputProblems, PlanProblem
from nest.job.cutting_table import Corner, CuttingTable
from nest.planfile import plan_from_text, plan_text
from nest.registration import read_measured, registered
from nest.registration.apply import drawn_points
from nest.sheets.cutwords import cut_blocks
from nest.sheets.hidepicture import named
from nest.units import MM_PER_LENGTH_UNIT

PLAN = plan_from_text(plan_text(box_plan()))


def motion(turn_deg, x, y):
    """A rigid motion of the plane, by complex numbers."""
    def move(points):
        z = np.asarray(points, dtype=float) @ (1.0, 1.0j) * np.exp(1j * np.radians(turn_deg)) + complex(x, y)
        return np.column_stack((z.real, z.imag))

    return move


def measured_by(plan, move, names=None, hide_id="H1"):
    """The points of the drawing as the motion puts them."""
    drawn = drawn_points(plan, hide_id)
    return {name: tuple(move([drawn[name]])[0]) for name in names or drawn}


def outlines_in(path):
    """Closed outlines in a DXF file in mm, by layer, as sets of points."""
    file = read_dxf(path)
    mm = MM_PER_LENGTH_UNIT[file.unit]
    return [(one.use, mm * one.points) for one in file.drawing.entities if isinstance(one, Outline) and one.closed]


def gap_between(one, other):
    """The largest distance from a point of one to the nearest of the other."""
    apart = np.hypot(*(one[:, None] - other[None]).transpose(2, 0, 1))
    return max(apart.min(axis=0).max(), apart.min(axis=1).max())


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(sorted(TABLES)), st.floats(-180, 180), st.integers(-4000, 4000), st.integers(-4000, 4000),
       st.sampled_from(["AB", "ABC", "ABCD"]))
def test_every_coordinate_is_the_motion_of_the_first(tmp_path_factory, name, turn, x, y, names):
    """Measured from the DXF files, on tables of all kinds: to 0.005 mm; and the new drawing reads back by its plan."""
    folder, move = tmp_path_factory.mktemp("registered"), motion(turn, x, y)
    table = TABLES[name] if name != "with a tool" else replace(TABLES[name], tool_radius_mm=0.0, thin_mm=0.0)
    plan = on_table(PLAN, table)
    made = registered(plan, "H1", measured_by(plan, move, names))
    assert [one.residual_mm for one in made.registration.points] == pytest.approx([0.0] * len(names), abs=1e-6)
    again = plan_from_text(plan_text(made.plan))
    assert again == made.plan or again.settings == made.plan.settings
    write_hide_dxf(plan, plan.layouts[0], folder / "first.dxf")
    write_hide_dxf(again, again.layouts[0], folder / "second.dxf")
    first, second = outlines_in(folder / "first.dxf"), outlines_in(folder / "second.dxf")
    assert len(first) == len(second) > 4
    left = list(second)
    for use, points in first:
        wanted = move(points)
        gaps = [gap_between(wanted, other) if use == own else np.inf for own, other in left]
        assert min(gaps) < 0.005
        del left[int(np.argmin(gaps))]
    read = read_cut_dxf(folder / "second.dxf", again)
    assert len(read.layouts[0].placed) == len(plan.layouts[0].placed)


def test_the_drawing_says_so(tmp_path):
    """The legend names what was measured, turn, move, scale and residuals; another plan's drawing it is not."""
    made = registered(PLAN, "H1", measured_by(PLAN, motion(11.0, 300, 40)))
    write_hide_dxf(made.plan, made.layout, tmp_path / "a.dxf")
    texts = [one.text for one in read_dxf(tmp_path / "a.dxf").drawing.entities if not isinstance(one, Outline)]
    assert any(text.startswith("Registered on the table by points measured there: A (") for text in texts)
    (said,) = [text for text in texts if text.startswith("Turned by ")]
    assert "11.000 deg about the table's origin, then moved by (300.0, 40.0) mm; scale 1.00000, not applied" in said
    with pytest.raises(InputProblems, match="turned by 11 deg"):
        read_cut_dxf(tmp_path / "a.dxf", PLAN)


def test_a_plan_registered_for_one_hide_cuts_nothing_else():
    """Its lays, and other hides, would lie wrong: refused by name."""
    plan = vamp_plan(2)
    one, other = (layout.hide_id for layout in plan.layouts)
    made = registered(plan, one, measured_by(plan, motion(3.0, 1, 2), hide_id=one))
    assert hide_work(made.plan, made.layout).paths
    with pytest.raises(PlanProblem, match=f"laid out for hide {one} alone"):
        hide_work(made.plan, plan.layouts[1])
    with pytest.raises(PlanProblem, match=f"register hide {other} from the plan itself"):
        registered(made.plan, other, {})
    with pytest.raises(PlanProblem, match="laid out for hide H1 alone"):
        lay_work(registered(PLAN, "H1", measured_by(PLAN, motion(3.0, 1, 2))).plan, PLAN.lays[0])


def test_a_hide_may_be_registered_again():
    """Measured once more after it slipped: the second motion is that of the hide where the first put it."""
    first = registered(PLAN, "H1", measured_by(PLAN, motion(170.0, 500, 40)))
    again = registered(first.plan, "H1", measured_by(first.plan, motion(20.0, -3, 4)))
    both = motion(20.0, -3, 4)(motion(170.0, 500, 40)(PLAN.hides[0].outline.exterior.coords))
    table = again.plan.settings.table
    frame = hide_work(again.plan, again.layout).frame
    assert frame.apply(PLAN.hides[0].outline.exterior.coords) == pytest.approx(both, abs=1e-3)
    assert table.origin is Corner.DIGITISED and -180.0 <= table.turn_deg < 180.0


def changed(move, **places):
    """The points as a motion puts them, some of them elsewhere."""
    return measured_by(PLAN, move) | places


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (lambda: measured_by(PLAN, lambda p: 1.003 * motion(5, 0, 0)(p)), "are 1.0030 times those of the drawing"),
        (lambda: measured_by(PLAN, lambda p: motion(5, 0, 0)(p) / 25.4), "seems to be in in, the table's unit is mm"),
        (lambda: measured_by(PLAN, lambda p: motion(5, 0, 0)(p) * 10.0), "seems to be in mm, the table's unit is cm"),
        (lambda: measured_by(PLAN, lambda p: motion(5, 9, 0)(np.multiply(p, (-1, 1)))), "fit the hide mirrored"),
        (lambda: changed(motion(5, 0, 0), C=(200.0, -200.0)), "where the others put it|times those of"),
        (lambda: {name: (7.0, 8.0) for name in "AB"}, "A and B lie in one place"),
        (lambda: {"A": (0.0, 0.0), "B": (20.0, 0.0)}, "A and B lie 20.0 mm apart"),
    ],
)
def test_what_does_not_fit_is_refused(points, words):
    """Stretched, in another unit, the other side up, misread, in one place, too near: one sentence each."""
    if "unit is cm" in words:
        plan = on_table(PLAN, CuttingTable(unit="cm"))
        with pytest.raises(PlanProblem, match=words):
            registered(plan, "H1", points())
        return
    with pytest.raises(PlanProblem, match=words):
        registered(PLAN, "H1", points())


def test_more_may_be_allowed():
    """0.3 % is taken where 0.5 % is allowed, and the scale is told; it is not applied."""
    points = measured_by(PLAN, lambda p: 1.003 * motion(5, 0, 0)(p), "AB")
    made = registered(PLAN, "H1", points, 0.005)
    assert made.registration.scale == pytest.approx(1.003) and any("Two points" in one for one in made.said)
    frame = hide_work(made.plan, made.layout).frame
    ends = frame.apply([(0.0, 0.0), (1000.0, 0.0)])
    assert np.hypot(*(ends[1] - ends[0])) == pytest.approx(1000.0, abs=1e-6)


LISTS = {
    "point,x,y\nA,1,2\n": "2 to 4 points",
    "point,x,y\nA,1,2\nA,3,4\n": "A again",
    "point,x,y\nA,1,2\nE,3,4\n": "A, B, C or D, as on the drawing",
    "point,x,y\nA,1,2\nB,3,wide\n": "line 3, y",
    "point,x,y\nA,1,2\nB,3,9e9\n": "a coordinate",
    "point,x,y\nA,1,2\nB,3,900000\n": "at most 100000 mm",
    "point,x\nA,1\nB,3\n": "a column 'y'",
    "": "list.csv",
}


@pytest.mark.parametrize("text", LISTS, ids=LISTS.values())
def test_what_is_wrong_with_a_list_is_said(tmp_path, text):
    """File, line, what is wrong."""
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputProblems, match=r"list\.csv") as said:
        read_measured(tmp_path / "list.csv", "mm", "ABCD")
    assert LISTS[text] in str(said.value)


def test_a_list_is_in_the_table_s_unit(tmp_path):
    """Inches become 25.4 mm (exact, by definition since 1959); names in any case."""
    (tmp_path / "list.csv").write_text("point,x,y\na,1,-2\nB,100,0.5\n", encoding="utf-8")
    read = read_measured(tmp_path / "list.csv", "in", "ABC")
    assert read == {"A": pytest.approx((25.4, -50.8)), "B": pytest.approx((2540.0, 12.7))}


def test_a_sheet_says_once_how_its_hide_was_registered():
    """Each sentence stands once on the cut sheet: the motion beside the points, what it is worth among the notes."""
    made = registered(PLAN, "H1", measured_by(PLAN, motion(11.0, 300.0, 150.0)))
    work = hide_work(made.plan, made.layout)
    sheet = cut_sheet(made.plan, made.layout, cutting_yield=0.5, work=work)
    sheet = replace(sheet, notes=tuple(("On the table", one) for one in made.said))
    (hide,) = made.plan.hides
    blocks = cut_blocks(made.plan, made.layout, hide, sheet, work, named(made.plan, made.layout, hide))
    words = " ".join(sentence for block in blocks for sentence in block.sentences)
    assert len(made.said) > 2 and [words.count(one) for one in made.said] == [1] * len(made.said)
