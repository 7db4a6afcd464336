"""Ground lost to flaws and unfit zones, on rectangles in closed form and against an independent inner fit."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
import shapely
from shapely.affinity import translate
from shapely.geometry import LineString, Point, Polygon, box
from tiny_plans import ALLOWANCE, HIDE_LENGTH, HIDE_WIDTH, box_plan, flaw, hide, vamp, with_hide, with_rules, zone

from geometry.precision import as_ring
from nest.accounts.faults import fault_mm2, headings, lost_to_faults
from nest.job.job import Settings
from nest.rules import Rules
from nest.stock.material import Leather


def lost(plan):
    """Area lost to faults on the first hide of a plan, mm²."""
    return lost_to_faults(plan, plan.hides[0]).area


def test_a_sound_hide_loses_nothing():
    """Without flaws and unfit zones the two reaches are one."""
    assert lost(box_plan()) == pytest.approx(0.0, abs=1e-6)


def test_tearing_strip_loses_itself():
    """A tearing strip across a hide with room on both sides costs its own area."""
    plan = with_hide(box_plan(), flaws=(flaw(box(480, 0, 520, HIDE_WIDTH), tears=True),))
    assert lost(plan) == pytest.approx(40.0 * 500.0)


def test_strip_near_the_end_loses_the_end_too():
    """Left of the strip there are 100 mm, no rough vamp of 224 mm fits: that ground is lost as well."""
    plan = with_hide(box_plan(), flaws=(flaw(box(100, 0, 120, HIDE_WIDTH), tears=True),))
    assert lost(plan) == pytest.approx(120.0 * 500.0)


def test_trim_off_band_reaches_over_a_flaw():
    """The band may cover the same strip by its 12 mm; if the style forbids it, or the flaw does, it may not."""
    strip = box(100, 0, 120, HIDE_WIDTH)
    plan = with_hide(box_plan(), flaws=(flaw(strip),))
    assert lost(plan) == pytest.approx((120.0 - ALLOWANCE) * 500.0)
    assert lost(with_rules(plan, flaws_under_trim=False)) == pytest.approx(120.0 * 500.0)
    assert lost(with_hide(box_plan(), flaws=(flaw(strip, coverable=False),))) == pytest.approx(120.0 * 500.0)


def low_zone():
    """A plan whose hide is third class above y = 400."""
    zones = (zone("good", outline=box(0, 0, HIDE_LENGTH, 400)), zone("low", 3, 0.0, box(0, 400, HIDE_LENGTH, 500)))
    return with_hide(box_plan(), zones=zones)


def test_unfit_zone():
    """A zone too low for the net area is lost but for the band that may reach into it."""
    assert lost(low_zone()) == pytest.approx((100.0 - ALLOWANCE) * 1000.0)
    assert lost(with_rules(low_zone(), trim_quality=1)) == pytest.approx(100.0 * 1000.0)
    assert lost(with_rules(low_zone(), trim_quality=3)) == pytest.approx((100.0 - ALLOWANCE) * 1000.0)


def test_ground_without_a_zone_is_unfit():
    """Ground that no zone holds counts as a zone too low."""
    plan = with_hide(box_plan(), zones=(zone("good", outline=box(0, 0, HIDE_LENGTH, 400)),))
    assert lost(plan) == pytest.approx((100.0 - ALLOWANCE) * 1000.0)
    # No fit ground at all: everything a piece could reach is lost.
    assert lost(with_hide(box_plan(), zones=())) == pytest.approx(500_000.0)


def test_hairline_between_zones_parts_no_ground():
    """Zones drawn 0.005 mm apart are one ground."""
    zones = (zone("a", outline=box(0, 0, 500, 500)), zone("b", outline=box(500.005, 0, 1000, 500)))
    assert lost(with_hide(box_plan(), zones=zones)) == pytest.approx(0.0, abs=1e-6)


def test_direction_is_no_fault():
    """Where two fit zones with crossing stretch meet, ground is lost to direction, not to faults."""
    zones = (zone("a", outline=box(0, 0, 500, 500)), zone("b", stretch_deg=0.0, outline=box(500, 0, 1000, 500)))
    assert lost(with_hide(box_plan(), zones=zones)) == pytest.approx(0.0, abs=1e-6)


def test_ground_too_narrow_for_its_direction_is_no_fault():
    """An end of 80 mm where vamps would have to lie across, 104 mm wide: with or without faults none reaches it."""
    zones = (zone("a", outline=box(0, 0, 920, 500)), zone("b", stretch_deg=0.0, outline=box(920, 0, 1000, 500)))
    assert lost(with_hide(box_plan(), zones=zones)) == pytest.approx(0.0, abs=1e-6)


def test_edge_margin_is_no_fault():
    """Ground within the edge margin is edge, with faults and without."""
    strip = flaw(box(480, 0, 520, HIDE_WIDTH), tears=True)
    plan = with_hide(box_plan(settings=Settings(edge_margin_mm=10.0)), flaws=(strip,))
    assert lost(plan) == pytest.approx(40.0 * 480.0)


def test_the_smallest_piece_counts():
    """A smaller size reaches more ground; other leathers' styles do not count."""
    strip = flaw(box(100, 0, 120, HIDE_WIDTH), tears=True)
    small = vamp("V20", size="20", net=[(-30, -20), (30, -20), (30, 20), (-30, 20)])
    plan = with_hide(box_plan(pieces=(*box_plan().pieces, small)), flaws=(strip,))
    assert lost(plan) == pytest.approx(20.0 * 500.0)
    assert lost(with_hide(plan, leather="suede")) == 0.0


def test_what_was_cut_after_all_is_no_waste():
    """Lost ground under a placed outline is taken off."""
    ring = np.array([(0.0, 0), (60, 0), (60, 500), (0, 500)])
    assert fault_mm2(box(0, 0, 100, 500), [ring]) == pytest.approx(40.0 * 500.0)
    assert fault_mm2(box(0, 0, 100, 500), []) == pytest.approx(50_000.0)


def test_few_headings_serve_every_zone():
    """Zones 20° apart share the heading between them; a zone at right angles has its own; one-way has no half turns."""
    near = [zone("a", stretch_deg=90.0), zone("b", stretch_deg=110.0)]
    assert headings(near, Rules(), False) == (190.0, 10.0)
    far = [*near, zone("c", stretch_deg=0.0)]
    assert headings(far, Rules(), True) == (190.0, 90.0)
    assert headings([], Rules(), False) == (0.0, 180.0)
    assert len(headings(near, Rules(tolerance_deg=5.0), False)) == 4


def slow_inner_fit(container, ring):
    """Positions of a convex ring inside a region, another way: Delaunay triangles of what is not container, each
    summed with the ring turned about as a convex hull of corner sums (Minkowski sum of convex sets, textbook)."""
    frame = shapely.box(*container.bounds).buffer(2.0 * np.ptp(ring, axis=0).sum() + np.abs(ring).max())
    outside = shapely.difference(frame, container)
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(outside))
    sums = []
    for triangle in triangles:
        corners = shapely.get_coordinates(triangle)[:3]
        sums.append(shapely.multipoints((corners[:, None, :] - ring[None, :, :]).reshape(-1, 2)).convex_hull)
    forbidden = shapely.union_all(sums)
    low, high = ring.min(axis=0), ring.max(axis=0)
    x0, y0, x1, y1 = container.bounds
    if high[0] - low[0] > x1 - x0 or high[1] - low[1] > y1 - y0:
        return Polygon()
    return shapely.difference(shapely.box(x0 - low[0], y0 - low[1], x1 - high[0], y1 - high[1]), forbidden)


def test_agrees_with_another_inner_fit():
    """A hexagon on a rounded hide with round and slanting flaws: the same area by two independent inner fits."""
    angle = np.radians(np.arange(0, 360, 60) + 10.0)
    net = as_ring(90.0 * np.column_stack((np.cos(angle), 0.7 * np.sin(angle))))
    outline = box(100, 100, 900, 400).buffer(100, quad_segs=3)
    flaws = (flaw(Point(300, 250).buffer(15, quad_segs=2), tears=True),
             flaw(LineString([(600, 0), (700, 300)]).buffer(3, quad_segs=1), "F2"),
             flaw(translate(box(0, 0, 40, 5), 130, 80), "F3", coverable=False))
    plan = box_plan(pieces=(vamp(net=net),), hides=(hide(zones=[zone(outline=box(0, 0, 850, 500))], flaws=flaws),))
    plan = with_hide(plan, outline=outline)
    found = lost(plan)
    assert found == pytest.approx(lost_to_faults(plan, plan.hides[0], slow_inner_fit).area, rel=1e-6)
    assert 0.05 * outline.area < found < 0.6 * outline.area


def test_one_way_leather_has_no_half_turns():
    """A wedge fits its narrow end into a corner cut off by a flaw one way round only; one-way, the corner is lost."""
    wedge = [(-100.0, -50.0), (100.0, -50.0), (100.0, -30.0), (-100.0, 50.0)]
    # Stretch at 90° and one way: the narrow toe points to 180°. The flaw leaves a corner that narrows to the right.
    strip = flaw(Polygon([(400, 0), (420, 0), (0, 210), (0, 200)]), tears=True)
    plan = with_hide(box_plan(pieces=(vamp(net=wedge),)), flaws=(strip,))
    either_way = lost(plan)
    one_way = (Leather("calf", Decimal("30"), "m2", one_way=True),)
    assert lost(replace(plan, leathers=one_way)) > either_way + 10_000.0
