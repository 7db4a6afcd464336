"""Headings and grounds: exact on small cases, and never more than the judge of plans allows."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from box_jobs import flaw, hide, zone
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box
from tiny_plans import SLANT, box_plan, slant_plan, style, vamp

from geometry.pose import Pose
from nest.pieces.piece import Foot
from nest.plan import HideLayout, Placed
from nest.planning.grounds import (
    SAFETY_MM,
    class_under,
    core_grounds,
    grid_parts,
    headings,
    hide_headings,
    outline_ground,
    roll_headings,
)
from nest.planning.hides import _shared_parts
from nest.planning.wants import Want
from nest.rules import Heading, Rules, judge_heading
from nest.stock.ground import fit_ground
from nest.stock.material import Roll, RollStretch
from nest.verify import Rule, verify
from nest.verify.ground import ground_under
from nest.verify.sheet import lay_out

GROUND_RULES = {
    Rule.OUTSIDE, Rule.HOLE, Rule.MARGIN, Rule.DIRECTION, Rule.ONE_WAY, Rule.NET_CLASS, Rule.NET_UNZONED,
    Rule.NET_FLAW, Rule.TRIM_CLASS, Rule.TRIM_FLAW,
}
degrees = st.floats(0.0, 359.0).map(lambda value: round(value, 1))


def test_headings_are_across_with_both_edges_of_the_tolerance():
    """Stretch at 90° with ±10°: toes along ±x, in steps of 5°, edges and centre among them."""
    assert headings([90.0], Rules(tolerance_deg=10.0)) == (
        0.0, 5.0, 10.0, 170.0, 175.0, 180.0, 185.0, 190.0, 350.0, 355.0
    )


def test_one_way_goods_have_no_half_turns():
    """Toes point to stretch + 90° only."""
    assert headings([90.0], Rules(tolerance_deg=5.0), one_way=True) == (175.0, 180.0, 185.0)


def test_no_tolerance_leaves_exactly_across():
    """With ±0° there are two headings."""
    assert headings([30.0], Rules(tolerance_deg=0.0)) == (120.0, 300.0)


def test_bias_only_with_leave():
    """45° to the stretch appears with leave, and along the stretch never does."""
    without = headings([0.0], Rules(tolerance_deg=2.0))
    leave = headings([0.0], Rules(tolerance_deg=2.0, bias_leave=True))
    assert 45.0 not in without and 135.0 not in without
    assert {45.0, 135.0, 225.0, 315.0} <= set(leave)
    assert not {0.0, 180.0} & set(leave)


@given(
    stretches=st.lists(degrees, min_size=1, max_size=4), tolerance=st.floats(0.0, 20.0), bias=st.booleans(),
    one_way=st.booleans(), step=st.sampled_from([1.0, 2.5, 5.0]),
)
def test_every_heading_is_allowed_and_every_zone_has_one(stretches, tolerance, bias, one_way, step):
    """Each heading is right on some zone by the direction rule, each zone has a heading."""
    rules = Rules(tolerance_deg=round(tolerance, 1), bias_leave=bias)
    found = headings(stretches, rules, one_way=one_way, step_deg=step)
    for heading in found:
        assert any(judge_heading(heading, s, rules, one_way) is not Heading.WRONG for s in stretches)
    for stretch in stretches:
        assert any(judge_heading(heading, stretch, rules, one_way) is Heading.ACROSS for heading in found)
        assert not bias or any(
            judge_heading(h, stretch, Rules(tolerance_deg=0.0), one_way) is Heading.WRONG
            and judge_heading(h, stretch, rules, one_way) is not Heading.WRONG for h in found
        )


@given(
    stretches=st.lists(st.integers(60, 120), min_size=1, max_size=5),
    tolerance_and_step=st.sampled_from([(4.0, 4.0), (7.0, 3.5), (10.0, 5.0)]),
)
def test_headings_of_a_hide_differ_by_whole_steps(stretches, tolerance_and_step):
    """On one grid the differences of headings are few: what the solver must prepare does not explode."""
    tolerance, step = tolerance_and_step
    zones = [zone(f"z{i}", box(100 * i, 0, 100 * i + 100, 500), 1, float(s)) for i, s in enumerate(stretches)]
    (found,) = hide_headings(hide(zones=zones), [Rules(tolerance_deg=tolerance)])
    steps = np.array([((a - b + 90.0) % 180.0 - 90.0) / step for a in found for b in found])
    assert np.allclose(steps, np.round(steps), atol=1e-5)


@given(
    stretches=st.lists(st.integers(60, 120), min_size=1, max_size=5), tolerance=st.sampled_from([0.0, 4.0, 7.0, 10.0]),
    one_way=st.booleans(),
)
def test_fine_headings_hold_the_others(stretches, tolerance, one_way):
    """Each is allowed by some zone, every coarse one is among them; there are more, unless many were too many."""
    zones = [zone(f"z{i}", box(100 * i, 0, 100 * i + 100, 500), 1, float(s)) for i, s in enumerate(stretches)]
    side, rules = hide(zones=zones), Rules(tolerance_deg=tolerance)
    (coarse,), (fine,) = (hide_headings(side, [rules], one_way=one_way, fine=which) for which in (False, True))
    assert all(min(abs(f - c) for f in fine) < 1e-6 for c in coarse)
    for heading in fine:
        assert any(judge_heading(heading, s, rules, one_way) is not Heading.WRONG for s in stretches)
    if tolerance and max(stretches) - min(stretches) <= 10:
        assert len(fine) > 2 * len(coarse)


def test_turning_the_stretch_of_a_roll_turns_the_headings():
    """Stretch along the roll instead of over its width turns every heading by 90°."""
    knit = Roll("knit", 500.0, 10.0, 1e4, RollStretch.WIDTH, 90.0, 3)
    (over,) = roll_headings(knit, [Rules()])
    (along,) = roll_headings(replace(knit, stretch=RollStretch.LENGTH), [Rules()])
    assert 0.0 in over and 90.0 in along
    assert sorted((h + 90.0) % 360.0 for h in over) == pytest.approx(sorted(along))


def test_core_ground_follows_class_direction_and_flaws():
    """The core is kept off lower zones, off zones that stretch the other way, and off every flaw."""
    zones = (
        zone("good", box(0, 0, 400, 500)), zone("turned", box(400, 0, 700, 500), 1, 0.0),
        zone("poor", box(700, 0, 1000, 500), 3),
    )
    spot = flaw(Point(200, 250).buffer(20), coverable=True)
    (along_x,) = core_grounds(hide(zones=zones, flaws=[spot]), Rules(), [0.0])
    (along_y,) = core_grounds(hide(zones=zones, flaws=[spot]), Rules(), [90.0])
    assert along_x.area == pytest.approx(400 * 500 - spot.outline.area, rel=2e-3)
    assert along_y.area == pytest.approx(300 * 500, rel=2e-3)
    assert outline_ground(hide(zones=zones, flaws=[spot]), Rules()).area == pytest.approx(500_000, rel=2e-3)
    ground = outline_ground(hide(zones=zones, flaws=[spot]), Rules(flaws_under_trim=False, trim_quality=1))
    assert ground.area == pytest.approx(700 * 500 - spot.outline.area, rel=2e-3)


def test_what_is_offered_keeps_off_every_flaw():
    """Of four hundred ragged flaws none is covered, however the ground is thinned where its rings start."""
    rng = np.random.default_rng(1)
    for _ in range(8):
        flaws = []
        for q in range(50):
            turn = np.sort(rng.random(26)) * 2.0 * np.pi
            ragged = (6.0 + rng.normal(0.0, 0.1, 26))[:, None] * np.column_stack((np.cos(turn), np.sin(turn)))
            place = np.array((100.0 + 80.0 * (q % 10), 90.0 + 80.0 * (q // 10)))
            flaws.append(flaw(shapely.Polygon(np.round(ragged + place, 1)).buffer(0.0), f"F{q}"))
        offered = outline_ground(hide(flaws=flaws), Rules(flaws_under_trim=False))
        barred = shapely.union_all([one.outline for one in flaws])
        assert shapely.distance(offered, barred) >= 0.5 * SAFETY_MM
        assert offered.area == pytest.approx(500_000 - barred.area, rel=5e-3)


def test_hairline_between_zones_is_no_gap():
    """Two good zones 0.008 mm apart are one ground; 0.2 mm apart they are two."""
    def parts(gap):
        zones = (zone("a", box(0, 0, 400, 500)), zone("b", box(400 + gap, 0, 1000, 500)))
        return len(shapely.get_parts(core_grounds(hide(zones=zones), Rules(), [0.0])[0]))

    assert (parts(0.008), parts(0.2)) == (1, 2)


@st.composite
def hides_with_zones(draw):
    """A hide of up to five upright zones (one strip may be without a zone), flaws, holes."""
    cuts = sorted(draw(st.lists(st.integers(1, 9), max_size=4, unique=True)))
    edges = [0, *cuts, 10]
    zones = [
        zone(f"z{i}", box(100 * a, 0, 100 * b, 500), draw(st.integers(1, 3)), float(draw(st.integers(70, 110))))
        for i, (a, b) in enumerate(pairwise(edges))
    ]
    if len(zones) > 2 and draw(st.booleans()):
        del zones[draw(st.integers(0, len(zones) - 1))]
    flaws = [
        flaw(
            Point(draw(st.floats(0, 1000)), draw(st.floats(0, 500))).buffer(draw(st.floats(1.0, 30.0)), quad_segs=4),
            f"F{i}", tears=draw(st.booleans()), coverable=draw(st.booleans()),
        )
        for i in range(draw(st.integers(0, 5)))
    ]
    holes = [shapely.get_coordinates(box(450, 200, 480, 230))] if draw(st.booleans()) else ()
    return hide(zones=zones, flaws=flaws, holes=holes)


rules_of_any_kind = st.builds(
    Rules, tolerance_deg=st.sampled_from([0.0, 4.0, 10.0]), bias_leave=st.booleans(), net_quality=st.integers(1, 3),
    trim_quality=st.sampled_from([None, 1, 2, 3]), flaws_under_trim=st.booleans(),
)


def _scattered(seed, heading, count=40):
    rng = np.random.default_rng(seed)
    return [Pose(round(float(x), 4), round(float(y), 4), heading) for x, y in rng.uniform(0, (1000, 500), (count, 2))]


def _plan_of(side, rules, one_way, poses, margin):
    plan = slant_plan(hides=(side,), layouts=(HideLayout("H1", tuple(Placed("L38", pose) for pose in poses)),))
    leather = replace(plan.leathers[0], one_way=one_way)
    return replace(
        plan, leathers=(leather,), settings=replace(plan.settings, edge_margin_mm=margin),
        styles=(replace(plan.styles[0], rules=rules),),
    )


@settings(deadline=None, max_examples=60)
@given(
    side=hides_with_zones(), rules=rules_of_any_kind, one_way=st.booleans(), margin=st.sampled_from([0.0, 3.0]),
    seed=st.integers(0, 1000), fine=st.booleans(), data=st.data(),
)
def test_a_pose_the_grounds_allow_is_never_refused(side, rules, one_way, margin, seed, fine, data):
    """Whatever lies on the offered ground passes the judge's ground and direction rules (no shared code)."""
    (found,) = hide_headings(side, [rules], one_way=one_way, fine=fine)
    if not found:
        return
    index = data.draw(st.integers(0, len(found) - 1))
    outline = outline_ground(side, rules, margin)
    core = core_grounds(side, rules, found, one_way=one_way, margin_mm=margin)[index]
    piece = vamp("L38", "slant", foot=Foot.LEFT, net=SLANT)
    poses = [
        pose for pose in _scattered(seed, found[index])
        if outline.covers(shapely.Polygon(pose.apply(piece.cut_outline)))
        and core.covers(shapely.Polygon(pose.apply(piece.net_outline)))
    ]
    verdict = verify(_plan_of(side, rules, one_way, poses, margin))
    refused = [finding.sentence for finding in verdict.findings if finding.rule in GROUND_RULES]
    assert not refused


@settings(deadline=None, max_examples=40)
@given(side=hides_with_zones(), rules=rules_of_any_kind, seed=st.integers(0, 1000), data=st.data())
def test_the_grounds_hold_back_little(side, rules, seed, data):
    """A pose that is legal by a quarter of a millimetre all round, for every zone it touches, is on offer."""
    (found,) = hide_headings(side, [rules])
    if not found:
        return
    heading = data.draw(st.sampled_from(found))
    piece = vamp("L38", "slant", foot=Foot.LEFT, net=SLANT)
    outline = outline_ground(side, rules)
    (core,) = core_grounds(side, rules, [heading])
    good = [
        one for one in side.zones
        if one.quality <= rules.net_quality and judge_heading(heading, one.stretch_deg, rules) is not Heading.WRONG
    ]
    for pose in _scattered(seed, heading, 25):
        net = shapely.Polygon(pose.apply(piece.net_outline)).buffer(0.25)
        cut = shapely.Polygon(pose.apply(piece.cut_outline)).buffer(0.25)
        fit = shapely.union_all([one.outline for one in good]).intersection(side.outline)
        on_net = fit.covers(net) and not any(one.outline.intersects(net) for one in side.flaws)
        if on_net:
            assert core.covers(shapely.Polygon(pose.apply(piece.net_outline)))
        bars = [one for one in side.flaws if one.tears or not one.coverable or not rules.flaws_under_trim]
        limit = 9 if rules.trim_quality is None else max(rules.trim_quality, rules.net_quality)
        fair = [one.outline for one in side.zones if one.quality <= limit]
        room = side.outline if rules.trim_quality is None else shapely.union_all(fair).intersection(side.outline)
        if room.covers(cut) and not any(one.outline.intersects(cut) for one in bars):
            assert outline.covers(shapely.Polygon(pose.apply(piece.cut_outline)))


@settings(deadline=None, max_examples=30)
@given(side=hides_with_zones(), seed=st.integers(0, 1000))
def test_class_under_a_piece_is_the_judges(side, seed):
    """The class by which pairs are matched is the class the judge finds, 0 where it finds none."""
    piece = vamp("L38", "slant", foot=Foot.LEFT, net=SLANT)
    poses = _scattered(seed, 0.0, 15)
    placed = tuple(Placed("L38", pose) for pose in poses)
    under = ground_under(lay_out("H1", placed, tuple(range(15)), {"L38": piece}), side)
    ours = [class_under(side)(pose.apply(piece.net_outline)) for pose in poses]
    assert ours == [quality or 0 for quality in under.classes]


def test_fit_ground_is_where_some_heading_may_lie():
    """Ground for net area at any heading: good zones less flaws."""
    side = hide(zones=(zone("a", box(0, 0, 600, 500)), zone("b", box(600, 0, 1000, 500), 2)),
                flaws=[flaw(box(100, 100, 200, 200))])
    assert fit_ground(side, Rules(net_quality=1)).area == pytest.approx(600 * 500 - 100 * 100, rel=1e-6)


def test_a_plan_on_bare_ground_is_refused_so_the_judge_is_awake():
    """The judge that the other tests rely on does refuse a piece that lies on a lower class."""
    plan = box_plan(hides=(hide(zones=(zone("poor", box(0, 0, 1000, 500), 3),)),), styles=(style(roll=""),), lays=())
    assert Rule.NET_CLASS in {finding.rule for finding in verify(plan).findings}


def test_hides_of_one_order_share_the_step_that_most_have():
    """A hide with few stretches has headings closer together alone; beside two with many all are as far apart.

    Tables of pieces beside pieces are made for differences of headings, so each step of its own costs as many again.
    """
    strips = [shapely.box(100.0 * i, 0, 100.0 * (i + 1), 500) for i in range(10)]
    turned = [zone(f"z{i}", strip, stretch_deg=70.0 + 4.0 * i) for i, strip in enumerate(strips)]
    plain, many = hide("P"), [hide(f"M{i}", zones=turned) for i in range(2)]
    rules = Rules(tolerance_deg=12.0)
    assert grid_parts(plain, [rules]) == 3 and grid_parts(many[0], [rules]) == 2
    want = Want("box", "38", (), 100, rules, 20000.0)
    assert _shared_parts([plain, *many], [want], False) == 2
    assert _shared_parts([plain, *many], [replace(want, count=10_000)], False) == 2
    assert _shared_parts([plain, *many], [replace(want, count=1)], False) is None
    (alone,), (shared,) = (hide_headings(plain, [rules], most_parts=most) for most in (None, 2))
    assert min(np.diff(alone)) == pytest.approx(4.0) and min(np.diff(shared)) == pytest.approx(6.0)
