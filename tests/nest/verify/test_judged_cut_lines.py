"""The judge of cut lines: overlaps, gaps, edges, holes, margins; every fault is found and nothing else is claimed."""

from dataclasses import replace

import pytest
from judged import only, tight_plan
from shapely.geometry import Point, box
from tiny_plans import (
    HIDE_LENGTH,
    HIDE_WIDTH,
    box_plan,
    hide,
    in_pairs,
    moved,
    spots,
    style,
    with_hide,
    with_placed,
    zone,
)

from geometry.pose import Pose
from nest.job.job import Settings
from nest.plan import CutLine, HideLayout, Placed
from nest.verify import Rule, verify


@pytest.mark.parametrize("into", [0.1, 0.3, 5.0])
def test_overlap_is_found_and_measured(into):
    """A piece moved into its neighbour is an overlap of that depth, and no gap is claimed beside it."""
    plan = with_hide(tight_plan(), outline=box(-50, -50, HIDE_LENGTH, HIDE_WIDTH),
                     zones=(zone(outline=box(-50, -50, HIDE_LENGTH, HIDE_WIDTH)),))
    placed = plan.layouts[0].placed[:2]
    plan = replace(plan, layouts=(HideLayout("H1", placed),), order=(CutLine("box", "38", 1, 1),), lays=(),
                   styles=(style(roll=""),))
    finding = only(moved(plan, 0, dx=1.0 + into), Rule.OVERLAP)
    assert finding.spots == (0, 1) and finding.where == "H1" and finding.unit == "mm"
    assert finding.amount == pytest.approx(into, abs=1e-4)


@pytest.mark.parametrize("short_by", [0.1, 0.3, 0.9])
def test_gap_too_small_is_found(short_by):
    """Two cut lines nearer than the gap are found, with the missing distance."""
    finding = only(moved(tight_plan(), 3, dx=-short_by), Rule.GAP)
    assert finding.spots == (2, 3) and finding.amount == pytest.approx(short_by, abs=1e-9)


def test_gap_allows_rounding_only():
    """A gap may be 0.01 mm short, for the grid and for offsets made of chords, and no more."""
    assert verify(moved(tight_plan(), 3, dx=-0.009)).ok
    assert not verify(moved(tight_plan(), 3, dx=-0.011)).ok


@pytest.mark.parametrize("gap", [0.0])
def test_touching_is_no_overlap(gap):
    """Without a gap, outlines may touch, and overlap by the tolerance of 0.001 mm at most."""
    plan = tight_plan(settings=Settings(hide_gap_mm=gap))
    assert verify(moved(plan, 3, dx=-1.0)).ok
    assert verify(moved(plan, 3, dx=-1.0009)).ok
    assert only(moved(plan, 3, dx=-1.0011), Rule.OVERLAP).amount == pytest.approx(1.1e-3, abs=1e-6)


def test_duplicate_is_its_own_finding():
    """The same piece twice in one place is one finding, not an overlap as well."""
    plan = box_plan()
    twin = replace(plan.layouts[0].placed[0], pair=2)
    assert only(with_placed(plan, 3, twin), Rule.DUPLICATE).spots == (0, 3)


@pytest.mark.parametrize("out", [0.1, 0.3, 30.0, 150.0])
def test_beyond_the_edge(out):
    """A cut line beyond the hide is found with the way back, whether or not a corner pokes out."""
    # Over 12 mm the net area leaves the hide too: no ground is claimed there, the edge says it.
    finding = only(moved(tight_plan(), 0, dx=-out), Rule.OUTSIDE)
    assert finding.spots == (0,) and finding.amount == pytest.approx(out, abs=1e-4)


@pytest.mark.parametrize("out", [0.5, 30.0, 600.0])
@pytest.mark.parametrize(("x", "y"), [(0, 1), (0, -1), (1, 0), (-1, 0)])
def test_beyond_any_side(x, y, out):
    """To the right and left of a hide of 1000 × 500 mm, above and below it; further out than it is wide or long too."""
    pose = Pose(500.0 + x * (388.0 + out), 250.0 + y * (188.0 + out), 0.0)
    plan = box_plan(layouts=(HideLayout("H1", (Placed("V38", pose),)),))
    (finding,) = (one for one in verify(plan).findings if one.rule is Rule.OUTSIDE)
    assert finding.amount == pytest.approx(out, abs=1e-4)


def test_over_a_hole():
    """A hole under a piece is found even when it lies wholly under it, and it is not called the outside."""
    hole = list(Point(120.0, 25.0).buffer(3.0).exterior.coords)
    wide = box_plan(hides=(hide(holes=[hole], zones=[zone()]),))
    finding = only(wide, Rule.HOLE)
    # The centre of the hole lies 17 mm inside the lower cut line (y = 8), its rim up to 20 mm.
    assert finding.spots == (0,) and finding.amount == pytest.approx(20.0, abs=0.1)


@pytest.mark.parametrize(("margin", "short_by"), [(5.0, 5.0), (0.1, 0.1)])
def test_edge_margin(margin, short_by):
    """Pieces at the very edge of a hide with a margin miss it by the whole margin."""
    plan = tight_plan(settings=Settings(edge_margin_mm=margin))
    findings = verify(plan).findings
    assert {f.rule for f in findings} == {Rule.MARGIN} and [f.spots for f in findings] == [(0,), (1,), (2,)]
    assert all(f.amount == pytest.approx(short_by) for f in findings)
    shifted = [replace(p, pose=Pose(p.pose.x + margin, p.pose.y + margin, 0.0)) for p in plan.layouts[0].placed]
    assert verify(replace(plan, layouts=(HideLayout("H1", tuple(shifted)),))).ok


def test_margin_holds_along_holes_too():
    """The edge margin is kept to the rim of a hole as well."""
    hole = list(box(110, 136, 130, 160).exterior.coords)
    plan = box_plan(hides=(hide(holes=[hole]),), settings=Settings(edge_margin_mm=5.0),
                    layouts=(HideLayout("H1", in_pairs(["V38"] * 4, spots(4))),))
    # The piece ends at y = 132, 4 mm below the hole.
    assert only(plan, Rule.MARGIN).amount == pytest.approx(1.0)
