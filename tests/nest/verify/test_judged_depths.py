"""Depths and widths as the judge measures them, and an independent judge beside it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box
from tiny_plans import (
    HIDE_LENGTH,
    HIDE_WIDTH,
    NET,
    ROUGH,
    box_plan,
    flaw,
    hide,
    in_pairs,
    spots,
    style,
    vamp,
    with_rules,
    zone,
)

from geometry.pose import Pose
from nest.job.job import Settings
from nest.plan import CutLine, HideLayout, Placed
from nest.rules import Rules
from nest.verify import Rule, verify
from nest.verify.depth import depth, depth_of_ground, width


def test_depth_of_known_overlaps():
    """Edges along each other, a corner through an edge, a bar across a bar, one inside the other."""
    square = box(0, 0, 100, 100)
    assert depth(square, box(99.7, -10, 200, 110)) == pytest.approx(0.3, abs=1e-6)
    assert depth(square, Polygon([(99, 50), (150, 40), (150, 60)])) == pytest.approx(1.0, abs=1e-9)
    # No corner of either bar lies in the other: the square they share, 10 wide, must be left by 10 at least.
    assert depth(box(-50, 45, 150, 55), box(45, -50, 55, 150)) == pytest.approx(10.0, rel=1e-3)
    assert depth(square, box(100, 0, 200, 100)) == 0.0
    assert depth(square, box(200, 0, 300, 100)) == 0.0
    assert width(box(0, 0, 300, 1e-3)) == pytest.approx(1e-3, rel=1e-3)


@pytest.mark.parametrize("wide", [1.0e-3, 1.1e-3, 1.3e-3, 1.7e-3, 0.01, 1.0, 23.0, 24.0, 60.0])
def test_a_width_is_good_to_a_thousandth_and_never_too_much(wide):
    """A bar and a wedge of 300 mm: the wedge's inscribed radius is twice its area over its perimeter."""
    assert 0.999 * wide <= width(box(0, 0, 300, wide)) <= wide * (1.0 + 1e-9)
    wedge = Polygon([(0, 0), (300, 0), (300, wide)])
    disc = 4.0 * wedge.area / wedge.length
    assert 0.999 * disc <= width(wedge) <= disc * (1.0 + 1e-9)


@pytest.mark.parametrize("wide", [1.0e-3, 0.01, 0.1])
def test_the_widest_disc_of_an_angle_lies_in_its_corner(wide):
    """The circle in two bars that meet, one nine tenths as wide, touches both outer sides and the inner corner."""
    angle = box(0, 0, 300, wide).union(box(300 - 0.9 * wide, 0, 300, 200))
    assert width(angle) == pytest.approx(wide * (3.8 - np.sqrt(3.8**2 - 4 * 1.81)), rel=1e-3)


@pytest.mark.parametrize("size", [1e-3, 0.1, 100.0])
def test_the_widest_disc_touches_three_sides(size):
    """The disc of a right triangle without its sharp corners is as wide as its legs less its longest side."""
    corners = np.array([(0.0, 0.0), (0.8, 0.0), (0.8, 0.14), (0.2, 0.56), (0.0, 0.56)])
    disc = size * (1.7 - np.hypot(1.0, 0.7))
    assert 0.999 * disc <= width(Polygon(size * corners)) <= disc * (1.0 + 1e-9)


def test_hairlines_do_not_count_as_ground():
    """A long hairline is dropped where ground is judged, a wider strip beside it is not."""
    region = MultiPolygon([box(0, 10, 100, 10.005), box(0, 50, 100, 52)])
    assert depth_of_ground(box(0, 0, 100, 100), region.geoms[0], 0.01) == 0.0
    assert depth_of_ground(box(-1, 0, 101, 100), region, 0.01) == pytest.approx(2.0, rel=1e-3)


@pytest.mark.parametrize("deeper", [10, 50])
def test_of_several_overlaps_the_deepest_counts(deeper):
    """Two strips in a piece, one 2 mm wide and the other 3 mm, whichever comes first."""
    strips = MultiPolygon([box(0, at, 100, at + (3 if at == deeper else 2)) for at in (10, 50)])
    assert depth_of_ground(box(-1, 0, 101, 100), strips, 0.01) == pytest.approx(3.0, rel=1e-3)


def corners(pose, size):
    """Corners (4, 2) of a rectangle of this size at a pose, from the textbook rotation."""
    half = np.array(((-1, -1), (1, -1), (1, 1), (-1, 1))) * np.array(size) / 2.0
    turn = np.radians(pose.heading_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    return np.column_stack((half[:, 0] * cos - half[:, 1] * sin + pose.x, half[:, 0] * sin + half[:, 1] * cos + pose.y))


def parted(a, b):
    """Signed distance of two convex quadrilaterals by the separating axis theorem: negative is the overlap.

    S. Gottschalk, M. C. Lin, D. Manocha (1996), OBBTree, doi:10.1145/237170.237244. When positive,
    the distance itself is taken from corners to edges.
    """
    best = -np.inf
    for quad in (a, b):
        for i in range(4):
            edge = quad[(i + 1) % 4] - quad[i]
            normal = np.array((edge[1], -edge[0])) / np.hypot(*edge)
            pa, pb = a @ normal, b @ normal
            best = max(best, pb.min() - pa.max(), pa.min() - pb.max())
    if best <= 0.0:
        return best
    return min(*(to_edges(point, b) for point in a), *(to_edges(point, a) for point in b))


def to_edges(point, quad):
    """Distance from a point to the four edges of a quadrilateral."""
    start, along = quad, np.roll(quad, -1, axis=0) - quad
    share = np.clip(((point - start) * along).sum(1) / (along * along).sum(1), 0.0, 1.0)
    return float(np.hypot(*(start + share[:, None] * along - point).T).min())


FLAW = (430.0, 150.0, 470.0, 190.0)
BORDER = 700.0


@settings(max_examples=60, deadline=None)
@example(shifts=[(0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (-122.0, 9.0, 1.0)])  # all but a square, turned
@given(st.lists(st.tuples(st.floats(-160, 160), st.floats(-160, 160), st.floats(-30, 30)), min_size=4, max_size=4))
def test_agrees_with_an_independent_judge(shifts):
    """Random moves of every piece: the same pieces, rules and amounts as rectangles worked out by hand."""
    centres = [(x + 20.0, y + 60.0) for x, y in spots(4)]
    placed = tuple(
        Placed("V38", Pose(x + dx, y + dy, turn), 1 + i // 2)
        for i, ((x, y), (dx, dy, turn)) in enumerate(zip(centres, shifts, strict=True))
    )
    zones = (zone("good", outline=box(0, 0, BORDER, HIDE_WIDTH)),
             zone("low", 2, outline=box(BORDER, 0, HIDE_LENGTH, HIDE_WIDTH)))
    plan = box_plan(layouts=(HideLayout("H1", placed),), hides=(hide(zones=zones, flaws=[flaw(box(*FLAW))]),),
                    settings=Settings(hide_gap_mm=5.0, edge_margin_mm=3.0))
    plan = with_rules(plan, pairs_same_class=False)

    cuts = [corners(p.pose, ROUGH) for p in placed]
    nets = [corners(p.pose, NET) for p in placed]
    expected, margins = {}, []
    for i, (cut, net) in enumerate(zip(cuts, nets, strict=True)):
        inside = min(cut.min(), HIDE_LENGTH - cut[:, 0].max(), HIDE_WIDTH - cut[:, 1].max())
        margins += [inside, inside - 3.0 + 0.01]
        if inside < 0:
            expected[Rule.OUTSIDE, (i,)] = None
        elif inside < 3.0:
            expected[Rule.MARGIN, (i,)] = 3.0 - inside
        turn = abs(placed[i].pose.heading_deg)
        margins.append(turn - 10.0)
        if turn > 10.0:
            expected[Rule.DIRECTION, (i,)] = turn - 10.0
        low, bounds = net[:, 0].max() - BORDER, box(0, 0, HIDE_LENGTH, HIDE_WIDTH)
        margins.append(low)
        if low > 0.0 and Polygon(net).intersection(bounds).bounds[2] > BORDER:
            expected[Rule.NET_CLASS, (i,)] = None
        on_flaw = parted(net, corners(Pose(450.0, 170.0, 0.0), (40.0, 40.0)))
        margins.append(on_flaw)
        if on_flaw < 0.0:
            expected[Rule.NET_FLAW, (i,)] = None
        for j in range(i):
            apart = parted(cuts[j], cut)
            margins += [apart, apart - 5.0 + 0.01]
            if apart < 0.0:
                expected[Rule.OVERLAP, (j, i)] = -apart
            elif apart < 5.0:
                expected[Rule.GAP, (j, i)] = 5.0 - apart
    assume(min(abs(m) for m in margins) > 0.02)

    found = {(f.rule, f.spots): f.amount for f in verify(plan).wrong}
    assert found.keys() == expected.keys()
    for key, amount in expected.items():
        if key[0] is Rule.OVERLAP:
            # The judge's depth is a lower bound of the way out, which for two rectangles is the SAT depth.
            assert 0.0 < found[key] <= amount + 1e-6
        elif amount is not None:
            assert found[key] == pytest.approx(amount, abs=1e-6)


def test_a_full_hide_is_judged_piece_by_piece():
    """Sixty pieces of 120 corners on a hide with eight zones and thirty flaws: each piece and near pair counts."""
    angle = np.linspace(0.0, 2.0 * np.pi, 120, endpoint=False)
    net = np.column_stack((60.0 * np.cos(angle), 40.0 * np.sin(angle) * (1.0 + 0.3 * np.cos(angle))))
    outline = box(0, 0, 2000, 1000)
    zones = tuple(zone(f"z{i}", outline=box(250 * i, 0, 250 * (i + 1), 1000)) for i in range(8))
    flaws = tuple(flaw(Point(65 * i + 20, 995).buffer(3), f"f{i}") for i in range(30))
    pitch = np.ptp(vamp(net=net).cut_outline[:, 0]) + 14.0
    centres = spots(60, columns=12, first=(90.0, 80.0), pitch=(pitch, 170.0))
    plan = box_plan(
        pieces=(vamp(net=net),), order=(CutLine("box", "38", 30, 30),), styles=(style(rules=Rules(), roll=""),),
        hides=(replace(hide(zones=zones, flaws=flaws, measured=2e6), outline=outline),),
        layouts=(HideLayout("H1", in_pairs(["V38"] * 60, centres)),), settings=Settings(hide_gap_mm=14.005), lays=(),
    )
    verdict = verify(plan)
    assert verdict.ok and verdict.checks.grounds == 60 and verdict.checks.neighbours > 50
