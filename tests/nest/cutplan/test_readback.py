"""A cutting drawing read back is the plan it was written from, and can be judged from itself alone."""

from contextlib import nullcontext
from dataclasses import replace
from decimal import Decimal

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from table_jobs import TABLES, on_table
from tiny_plans import HIDE_LENGTH, HIDE_WIDTH, box_plan, flaw, hide, moved, slant_plan, zone
from vamp_plans import vamp_plan

from geometry.pose import Pose
from geometry.precision import as_ring
from nest.cutplan.dxf import VERSIONS, write_hide_dxf, write_lay_dxf, write_piece_dxf
from nest.cutplan.readback import read_cut_dxf
from nest.errors import InputProblems, PlanProblem
from nest.pieces.piece import Foot, Piece, Role
from nest.plan import HideLayout, Leather, Placed
from nest.rules import Rules
from nest.verify import Rule, verify

PLAN = vamp_plan(1)


def outlines(plan, layout, name="cut_outline"):
    """Outlines where they lie on their hide."""
    return [shapely.Polygon(one.pose.apply(getattr(plan.piece(one.piece_id), name))) for one in layout.placed]


def assert_same(read, written):
    """Same pieces in the same sequence: areas to 1e-6, every point within 0.01 mm; pairs and feet as they were.

    A net outline much smaller than a vamp's may change by what rounding to the grid of 1e-4 mm can do along it.
    """
    mine, theirs = read.layouts[0], written.layouts[0]
    assert [one.pair for one in mine.placed] == [one.pair for one in theirs.placed]
    for name in ("cut_outline", "net_outline"):
        for a, b in zip(outlines(read, mine, name), outlines(written, theirs, name), strict=True):
            grid = 0.0 if name == "cut_outline" else 1e-4 * b.length
            assert a.area == pytest.approx(b.area, rel=1e-6, abs=grid)
            assert shapely.hausdorff_distance(a.boundary, b.boundary) < 0.01
    for one, other in zip(mine.placed, theirs.placed, strict=True):
        a, b = read.piece(one.piece_id), written.piece(other.piece_id)
        assert (a.style, a.size, a.foot, a.role) == (b.style, b.size, b.foot, b.role)
        turned = (one.pose.heading_deg - other.pose.heading_deg + 180.0) % 360.0 - 180.0
        assert abs(one.pose.x - other.pose.x) + abs(one.pose.y - other.pose.y) < 1e-3 and abs(turned) < 1e-3


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_written_and_read_is_the_same_and_is_judged_the_same(tmp_path, table, version):
    """On tables of every kind: pieces, hide, zones, flaws and rules come back, and the judge finds nothing wrong."""
    for plan in (on_table(PLAN, table), on_table(slant_plan(), table)):
        write_hide_dxf(plan, plan.layouts[0], tmp_path / "a.dxf", version)
        read = read_cut_dxf(tmp_path / "a.dxf")
        assert_same(read, plan)
        mine, theirs = read.hides[0], plan.hides[0]
        assert (mine.hide_id, mine.lot, mine.quality, mine.thickness_mm, mine.measured_area_mm2) == (
            theirs.hide_id, theirs.lot, theirs.quality, theirs.thickness_mm, theirs.measured_area_mm2)
        assert mine.outline.symmetric_difference(theirs.outline).area < 1.0
        for a, b in zip(mine.zones, theirs.zones, strict=True):
            assert (a.zone_id, a.quality) == (b.zone_id, b.quality)
            assert a.stretch_deg == pytest.approx(b.stretch_deg, abs=1e-5)
            assert a.outline.symmetric_difference(b.outline).area < 1.0
        for a, b in zip(mine.flaws, theirs.flaws, strict=True):
            assert (a.flaw_id, a.kind, a.severity, a.tears, a.coverable) == (
                b.flaw_id, b.kind, b.severity, b.tears, b.coverable)
        assert read.styles[0].rules == plan.styles[0].rules
        assert verify(read).ok and verify(plan).ok


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_lays_come_back_too(tmp_path, table, version):
    """Roll, plies, length and the pieces of a lay; the judge finds nothing wrong."""
    plan = on_table(box_plan(), table)
    (lay,) = plan.lays
    inwards = tuple(replace(p, pose=replace(p.pose, x=p.pose.x + 0.5, y=p.pose.y + 0.5)) for p in lay.placed)
    plan = replace(plan, lays=(replace(lay, length_mm=lay.length_mm + 1.0, placed=inwards),))
    write_lay_dxf(plan, plan.lays[0], tmp_path / "a.dxf", version)
    read = read_cut_dxf(tmp_path / "a.dxf")
    (mine,), (theirs,) = read.lays, plan.lays
    assert (mine.lay_id, mine.roll_id, mine.length_mm, mine.plies) == ("L1", "knit", theirs.length_mm, theirs.plies)
    assert len(mine.placed) == 2 and verify(read).ok


@pytest.mark.parametrize(
    ("plan", "rule"),
    [
        (moved(box_plan(), 1, dx=-10.0), Rule.OVERLAP),
        (moved(box_plan(), 0, dx=-9.0), Rule.OUTSIDE),
        (moved(box_plan(), 0, turn_deg=11.0), Rule.DIRECTION),
        (box_plan(hides=(hide(flaws=(flaw(shapely.box(100, 60, 110, 70)),)),)), Rule.NET_FLAW),
        (box_plan(hides=(hide(zones=(zone(quality=2),)),)), Rule.NET_CLASS),
        (box_plan(leathers=(Leather("calf", Decimal(1), "m2", one_way=True),),
                  layouts=(HideLayout("H1", (Placed("V38", Pose(500, 250, 0)),)),),
                  hides=(hide(zones=(zone(stretch_deg=90.0),)),)), Rule.ONE_WAY),
        (box_plan(layouts=(HideLayout("H1", (Placed("V38", Pose(500, 250, 0), 5),)),)), Rule.PAIR),
        (replace(box_plan(), settings=replace(box_plan().settings, hide_gap_mm=7.0)), Rule.GAP),
        (replace(box_plan(), settings=replace(box_plan().settings, edge_margin_mm=9.0)), Rule.MARGIN),
    ],
    ids=lambda value: value if isinstance(value, Rule) else "",
)
def test_what_is_wrong_with_a_plan_is_found_in_its_drawing(tmp_path, plan, rule):
    """Each rule broken in a plan is found from the drawing alone, grain down on a turned table too."""
    for table in TABLES.values():
        plain = replace(table, tool_radius_mm=0.0, thin_mm=0.0)
        made = on_table(plan, plain)
        wrong = {finding.rule for finding in verify(made).wrong}
        assert rule in wrong
        write_hide_dxf(made, made.layouts[0], tmp_path / "a.dxf")
        assert {finding.rule for finding in verify(read_cut_dxf(tmp_path / "a.dxf")).wrong} == wrong


def edited(path, change):
    """The drawing at `path` changed by hand."""
    document = ezdxf.readfile(path)
    change(document.modelspace())
    document.saveas(path)


def test_pieces_moved_by_hand_are_noticed(tmp_path):
    """A cut line moved without its net outline is refused, and so are a label gone and a cut line opened."""
    plan = box_plan()

    def move_cut(space):
        space.query('*[layer=="CUT"]')[0].translate(300, 0, 0)

    write_hide_dxf(plan, plan.layouts[0], tmp_path / "a.dxf")
    edited(tmp_path / "a.dxf", move_cut)
    with pytest.raises(InputProblems, match=r"layer CUT: expected its entities, 4 in all, as they were written"):
        read_cut_dxf(tmp_path / "a.dxf")

    def lose_label(space):
        space.delete_entity(space.query('TEXT[layer=="REF_LABELS"]')[0])

    write_hide_dxf(plan, plan.layouts[0], tmp_path / "b.dxf")
    edited(tmp_path / "b.dxf", lose_label)
    with pytest.raises(InputProblems, match=r"4 cut and 4 net outlines, 4 headings and 3 labels"):
        read_cut_dxf(tmp_path / "b.dxf")

    def open_cut(space):
        space.query('LWPOLYLINE[layer=="CUT"]')[0].close(False)

    write_hide_dxf(plan, plan.layouts[0], tmp_path / "c.dxf")
    edited(tmp_path / "c.dxf", open_cut)
    with pytest.raises(InputProblems, match="closed outlines, found one that is open"):
        read_cut_dxf(tmp_path / "c.dxf")


def test_a_cut_line_within_the_outline_wanted_is_noticed(tmp_path):
    """With a tool's radius the cut line must not come within the outline; one scaled down is refused."""
    plan = on_table(box_plan(), replace(TABLES["with a tool"], lead_in_mm=0.0))
    write_hide_dxf(plan, plan.layouts[0], tmp_path / "a.dxf")

    def shrink(space):
        line = space.query('LWPOLYLINE[layer=="KNIFE"]')[0]
        points = np.array(line.get_points("xy"))
        line.set_points(points.mean(axis=0) + 0.95 * (points - points.mean(axis=0)), format="xy")

    edited(tmp_path / "a.dxf", shrink)
    with pytest.raises(InputProblems, match=r"a cut line 0\.2 mm or more outside the outline wanted, found it nearer"):
        read_cut_dxf(tmp_path / "a.dxf")


def test_other_files_are_refused_in_one_sentence(tmp_path):
    """No file, no DXF, a drawing of something else, and that of a piece, which knows no hide."""
    (tmp_path / "text.dxf").write_text("no drawing")
    ezdxf.new(units=4).saveas(tmp_path / "empty.dxf")
    write_piece_dxf(PLAN.pieces[0], tmp_path / "piece.dxf")
    for name, words in (("none.dxf", "no such file"), ("text.dxf", "no sound DXF"),
                        ("empty.dxf", "no cutting drawing"), ("piece.dxf", "no cutting drawing")):
        with pytest.raises(PlanProblem, match=words) as said:
            read_cut_dxf(tmp_path / name)
        assert "\n" not in str(said.value)


@pytest.mark.parametrize(("old", "new", "words"), [
    ("  0\nLAYER\n", "  0\n\x1b[31mODD\n", ""), ("$ACADVER", "0", "no sound DXF file; write"),
    ("\n 10\n", "\n 1x\n", r"no sound DXF file \(damaged near line \d+\); write"),
])
def test_the_words_of_the_library_stay_within(old, new, words, tmp_path, caplog):
    """Its log would reach the screen raw, with whatever stands in the file; its own sentences help no operator."""
    write_hide_dxf(PLAN, PLAN.layouts[0], tmp_path / "a.dxf")
    text = (tmp_path / "a.dxf").read_text(encoding="utf-8")
    (tmp_path / "a.dxf").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(PlanProblem, match=words) if words else nullcontext():
        read_cut_dxf(tmp_path / "a.dxf")
    assert not caplog.records


@settings(max_examples=20, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.lists(st.floats(100.0, 150.0), min_size=8, max_size=40), st.floats(100, 900), st.floats(100, 400),
            st.floats(-720, 720),
        ),
        min_size=1, max_size=4,
    ),
    st.sampled_from(VERSIONS),
    st.sampled_from(list(TABLES.values())),
)
def test_random_polygons_written_and_read_are_the_same(tmp_path_factory, shapes, version, table):
    """Star-shaped polygons at any pose, each its own style, on any table: the same pieces come back."""
    table = replace(table, tool_radius_mm=0.0, thin_mm=0.0)
    pieces, placed = [], []
    for i, (radii, x, y, turn) in enumerate(shapes):
        angle = 2.0 * np.pi * np.arange(len(radii)) / len(radii)
        cut = as_ring(np.round(np.column_stack((np.cos(angle), np.sin(angle))) * np.array(radii)[:, None], 4))
        net = as_ring(np.round(0.7 * cut, 4))
        pieces.append(Piece(f"p{i}", f"style {i}", "38", (Foot.LEFT, Foot.RIGHT)[i % 2], Role.VAMP, cut, net))
        placed.append(Placed(f"p{i}", Pose(x, y, turn), i))
    base = box_plan()
    styles = tuple(replace(base.styles[0], name=piece.style, rules=Rules(tolerance_deg=90.0)) for piece in pieces)
    plan = on_table(
        box_plan(pieces=tuple(pieces), styles=styles, layouts=(HideLayout("H1", tuple(placed)),)), table
    )
    path = tmp_path_factory.mktemp("random") / "a.dxf"
    write_hide_dxf(plan, plan.layouts[0], path, version)
    assert_same(read_cut_dxf(path), plan)
    assert pytest.approx(read_cut_dxf(path).hides[0].outline.area) == HIDE_LENGTH * HIDE_WIDTH
