"""The judge's limits to a fiftieth of themselves: a tolerance that grew unseen would let wrong plans pass."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from judged import only, tight_plan
from shapely.geometry import box
from tiny_plans import (
    HIDE_LENGTH,
    HIDE_WIDTH,
    NET,
    box_plan,
    flaw,
    grown,
    lopsided,
    mirrored,
    moved,
    rectangle,
    roll,
    slant_plan,
    style,
    with_hide,
    zone,
)

from geometry.precision import as_ring
from nest.job.job import Settings
from nest.pieces.piece import Foot, Part, Template
from nest.pieces.style import Allowances
from nest.verify import Rule, verify
from nest.verify.stated import _allowed, _beyond, _off_template

MARGIN = 8.0
"""The first vamps of the plan lie this far from the edges."""

RING = as_ring([(-100.0, -50.0), (100.0, -50.0), (100.0, 50.0), (-100.0, 50.0)])
TEMPLATE = Template("box", "38", RING, (Part.SIDE, Part.TOE, Part.SIDE, Part.BACK))


def poor(width: float, length: float = 20.0):
    """The plan with a strip of third class across the net area of the first vamp, this wide."""
    strip = box(60.0, 60.0, 60.0 + length, 60.0 + width)
    rest = box(0, 0, HIDE_LENGTH, HIDE_WIDTH).difference(strip)
    return with_hide(box_plan(), zones=(zone("rest", outline=rest), zone("poor", 3, outline=strip)))


def astray(share: float):
    """The plan with this share of the first net area on ground that stretches the other way."""
    other = box(60.0, 60.0, 80.0, 60.0 + share * NET[0] * NET[1] / 20.0)
    rest = box(0, 0, HIDE_LENGTH, HIDE_WIDTH).difference(other)
    return with_hide(box_plan(), zones=(zone("rest", outline=rest), zone("astray", 1, 0.0, other)))


def unlike(off: float):
    """Left and right that are this far from each other's mirror image."""
    plan = slant_plan()
    cut = np.array(plan.pieces[1].cut_outline)
    cut[0] += (0.0, off)
    return replace(plan, pieces=(plan.pieces[0], replace(plan.pieces[1], cut_outline=as_ring(cut))))


def sparing(room: float, foot: Foot):
    """Styles without templates, of which the press needs 8 mm at least: the cut this far from the net outline."""
    bare = box_plan(styles=(style(roll=""),), pieces=box_plan().pieces[:1], lays=(), rolls=())
    plan = slant_plan() if foot is Foot.LEFT else bare
    return replace(plan, pieces=tuple(replace(one, cut_outline=grown(one.net_outline, room)) for one in plan.pieces))


def backed_short(off: float):
    """The net outline of the reinforcement ends this far before that of its vamp."""
    vamp, backing = box_plan().pieces
    net = as_ring([(-100.0, -50.0), (100.0 - off, -50.0), (100.0 - off, 50.0), (-100.0, 50.0)])
    return box_plan(pieces=(vamp, replace(backing, net_outline=net)))


def backed_far(off: float):
    """The reinforcement reaches this far beyond its inset at the toe."""
    vamp, backing = box_plan().pieces
    cut = as_ring([(-102.0, -52.0), (102.0 + off, -52.0), (102.0 + off, 52.0), (-102.0, 52.0)])
    return box_plan(pieces=(vamp, replace(backing, cut_outline=cut)))


def roomy(off: float):
    """The cut line this far beyond the 12 mm that the plan allows all round its template."""
    vamp = box_plan().pieces[0]
    cut = shapely.buffer(shapely.Polygon(RING), 12.0 + off, quad_segs=64)
    pieces = (replace(vamp, cut_outline=as_ring(shapely.get_coordinates(cut))),)
    return box_plan(pieces=pieces, styles=(style(roll="", templates=(TEMPLATE,)),), lays=(), rolls=())


LIMITS = {
    "inset": (Rule.PIECE, backed_far, 0.196, 0.204),
    # 0.35 mm for thinned outlines, 0.05 and 0.2 as for the least allowance.
    "largest allowance of either foot": (Rule.PIECE, roomy, 0.594, 0.606),
    "net of a reinforcement": (Rule.PIECE, backed_short, 0.0098, 0.0102),
    # 0.05 mm for what runs between points of a template, 0.05 for thinned outlines, 0.2 more for either foot.
    "least allowance": (Rule.PIECE, lambda off: sparing(8.0 - off, Foot.LEFT), 0.098, 0.102),
    "least allowance of either foot": (Rule.PIECE, lambda off: sparing(8.0 - off, Foot.EITHER), 0.298, 0.302),
    "gap": (Rule.GAP, lambda off: moved(tight_plan(), 3, dx=-off), 0.0098, 0.0102),
    "margin": (Rule.MARGIN, lambda off: box_plan(settings=Settings(edge_margin_mm=MARGIN + off)), 0.0098, 0.0102),
    "edge": (Rule.OUTSIDE, lambda off: moved(box_plan(), 0, dx=-MARGIN - off), 0.00098, 0.00102),
    "overlap": (
        Rule.OVERLAP, lambda off: moved(tight_plan(settings=Settings(hide_gap_mm=0.0)), 3, dx=-1.0 - off),
        0.00098, 0.00102,
    ),
    "flaw": (
        Rule.NET_FLAW, lambda off: with_hide(box_plan(), flaws=(flaw(box(60, 120 - off, 70, 130)),)), 0.00098, 0.00102
    ),
    "width of ground": (Rule.NET_CLASS, poor, 0.0098, 0.0102),
    "share of stretch": (Rule.DIRECTION, astray, 0.00098, 0.00102),
    "roll": (Rule.ROLL_LENGTH, lambda off: box_plan(rolls=(roll(length_mm=898.0 - off),)), 0.0098, 0.0102),
    "either foot": (Rule.MIRROR, lopsided, 0.208, 0.212),
    "left and right": (Rule.MIRROR, unlike, 0.0098, 0.0102),
    "net beyond the cut": (
        Rule.SHAPE, lambda off: replace(box_plan(), pieces=(
            replace(box_plan().pieces[0], cut_outline=rectangle(NET[0] - 2 * off, 124.0)), box_plan().pieces[1])),
        0.0098, 0.0102,
    ),
    "heading": (Rule.DIRECTION, lambda off: moved(box_plan(), 3, -30.0, 220.0, 10.0 + off), 0.98e-6, 1.02e-6),
}


@pytest.mark.parametrize(("off", "found"), [(0.0098, False), (0.0102, True), (-0.0598, False), (-0.0602, True)])
def test_a_net_outline_is_never_inside_its_template(off, found):
    """Short of it by a hundredth, beyond it by 0.05 mm more, a chord error; a fiftieth beyond either is found."""
    net = as_ring([(-100.0, -50.0), (100.0 - off, -50.0), (100.0 - off, 50.0), (-100.0, 50.0)])
    assert _off_template(net, TEMPLATE) == (pytest.approx(abs(off)) if found else 0.0)


def test_what_a_plan_allows_along_a_template_by_hand():
    """Toe 14, back 10, sides 12 mm less a widening of 6 % at 50 mm from the axis; each passes into its neighbour.

    Within 3 mm of a part its allowance may hold whole; beyond that it falls by half a cosine wave over 20 mm.
    """
    given = Allowances(14.0, 12.0, 10.0, 5.0, 5.0, 5.0, 20.0)
    points, low, high = _allowed(TEMPLATE, style(allowances=given, widening_percent=6.0))
    assert shapely.distance(shapely.points(points), shapely.LinearRing(RING)).max() == pytest.approx(0.0, abs=1e-9)
    assert len(points) == 2 * 134 + 2 * 67 and len(np.unique(np.round(points, 6), axis=0)) == len(points)
    x, y = points.T
    toe, back, side = np.isclose(x, 100.0), np.isclose(x, -100.0), np.isclose(abs(y), 50.0)
    assert low[toe] == pytest.approx(14.0) and low[back] == pytest.approx(10.0)
    assert low[side & ~toe & ~back] == pytest.approx(9.0)
    from_toe, from_back = 100.0 - x, 100.0 + x

    def falling(away):
        return 0.5 + 0.5 * np.cos(np.pi * np.clip((away - 3.0) / 20.0, 0.0, 1.0))

    inside = side & ~toe & ~back & (abs(x) < 90.0)
    expected = np.maximum(9.0 + 5.0 * falling(from_toe), 9.0 + 1.0 * falling(from_back))
    assert high[inside] == pytest.approx(expected[inside])
    assert high[toe] == pytest.approx(14.0) and np.all(high >= low)
    # No more is taken off than leaves the press its 5 mm; a template without a side to widen has its own.
    much = _allowed(TEMPLATE, style(allowances=given, widening_percent=50.0))[1]
    assert much[side & ~toe & ~back] == pytest.approx(5.0)


@pytest.mark.parametrize(("rule", "plan_at", "passes", "found"), LIMITS.values(), ids=LIMITS)
def test_a_limit_is_where_it_is_stated(rule, plan_at, passes, found):
    """Two per cent short of the tolerance there is no such finding, two per cent beyond it there is."""
    assert rule not in {one.rule for one in verify(plan_at(passes)).findings}
    assert rule in {one.rule for one in verify(plan_at(found)).findings}


def test_a_finding_names_the_piece_by_its_number_on_the_hide():
    """The third piece is no. 3, and its spot counts from 0."""
    finding = only(moved(box_plan(), 2, dy=-MARGIN - 1.0), Rule.OUTSIDE)
    assert finding.spots == (2,) and finding.pieces == ("V38",)
    assert finding.sentence == "H1: V38 (no. 3) reaches 1.000 mm beyond the edge."
    both = only(moved(tight_plan(), 3, dx=-0.5), Rule.GAP)
    assert both.sentence == "H1: V38 (no. 3) and V38 (no. 4) are 0.500 mm apart, the gap is 1 mm."


def test_the_mirror_image_is_about_the_axis():
    """A right outline that is the left one turned, not mirrored, is found."""
    plan = slant_plan()
    left = plan.pieces[0]
    turned = replace(plan.pieces[1], cut_outline=as_ring(-left.cut_outline), net_outline=as_ring(-left.net_outline))
    assert Rule.MIRROR in {one.rule for one in verify(replace(plan, pieces=(left, turned))).findings}
    assert np.allclose(mirrored(left.net_outline)[:, 1].sum(), plan.pieces[1].net_outline[:, 1].sum())


def test_beyond_an_edge_the_wider_of_its_two_ends_counts():
    """A square whose corners have allowances of 1, 2, 3 and 4 mm: 5 mm off its edges is beyond 2, 3, 4 and 4 mm."""
    square = np.array(((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)))
    off = np.array(((50.0, -5.0), (105.0, 50.0), (50.0, 105.0), (-5.0, 50.0)))
    assert _beyond(off, square, np.array((1.0, 2.0, 3.0, 4.0))).tolist() == [3.0, 2.0, 1.0, 1.0]
