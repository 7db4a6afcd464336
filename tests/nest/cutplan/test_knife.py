"""A trailing blade cuts the line wanted, as its tip is simulated by other code; loops keep to the trim-off band."""

import re
from dataclasses import replace
from functools import partial
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from table_jobs import on_table
from test_hpgl import plotted
from test_tool_path import STARS
from tiny_plans import box_plan
from vamp_plans import vamp_plan

from geometry.arcs import CORNER_DEG
from geometry.precision import as_ring
from nest.cutplan.cuttime import cutting_time
from nest.cutplan.dxf import write_hide_dxf, write_lean_dxf
from nest.cutplan.hpgl import CUT_PEN, hpgl_text
from nest.cutplan.knife import _loop, bare_starts, knife_way, pivot_way
from nest.cutplan.marks import CLEARANCE_MM
from nest.cutplan.order import cut_route
from nest.cutplan.path import CutPath
from nest.cutplan.readback import read_cut_dxf
from nest.cutplan.work import hide_work
from nest.errors import PlanProblem
from nest.job.cutting_table import TRAILS_TO_TURN, CuttingTable, FileKind

FILES = (FileKind.HPGL, FileKind.LEAN)
STATED_MM = 0.02
"""The tip keeps this near to the line wanted, once the blade has turned (and HP-GL's own rounding more)."""

ASKEW_MM = 0.01
"""What is left, at the outline, of a blade that came down askew by 170 degrees, as a share of how far it trails."""


def tip_of(pivot, trail, heading=None):
    """Where the tip goes as the pivot is led along a line (n, 2): sampled, (m, 2), from this heading of the blade.

    Its heading phi obeys d phi / ds = sin(alpha - phi) / trail while the pivot runs in the direction alpha: along each
    straight stretch tan((phi - alpha) / 2) falls as exp(-s / trail) (the tractrix; from memory, held to an integrator
    below).
    """
    steps = np.diff(pivot, axis=0)
    length, ways = np.hypot(*steps.T), np.arctan2(steps[:, 1], steps[:, 0])
    phi = ways[0] if heading is None else heading
    tips = [pivot[:1] - trail * np.array((np.cos(phi), np.sin(phi)))]
    for start, long, way in zip(pivot[:-1], length, ways, strict=True):
        if long == 0.0:
            continue
        s = np.linspace(0.0, long, max(2, int(np.ceil(long / 0.2)) + 1))[1:]
        off = (phi - way + np.pi) % (2.0 * np.pi) - np.pi
        phis = way + 2.0 * np.arctan(np.tan(0.5 * off) * np.exp(-s / trail))
        at = start + s[:, None] * np.array((np.cos(way), np.sin(way)))
        tips.append(at - trail * np.column_stack((np.cos(phis), np.sin(phis))))
        phi = phis[-1]
    return np.vstack(tips)


def furthest(points, line):
    """Largest distance of points (n, 2) from a line (m, 2), mm."""
    return float(shapely.distance(shapely.points(points), shapely.linestrings(line)).max())


def test_the_simulated_tip_obeys_its_equation():
    """Closed form against scipy's integrator, on a way of three stretches, from across: the same tip to 1e-5 mm."""
    pivot, trail = np.array(((0.0, 0.0), (3.0, 0.0), (3.0, 2.0), (1.0, 2.5))), 0.8
    phi = 0.5 * np.pi
    for a, b in pairwise(pivot):
        way, long = np.arctan2(*(b - a)[::-1]), float(np.hypot(*(b - a)))
        run = solve_ivp(lambda s, y, way=way: np.sin(way - y) / trail, (0.0, long), [phi], rtol=1e-10, atol=1e-12)
        phi = float(run.y[0, -1])
    there = pivot[-1] - trail * np.array((np.cos(phi), np.sin(phi)))
    assert tip_of(pivot, trail, 0.5 * np.pi)[-1] == pytest.approx(there, abs=1e-5)


@settings(max_examples=25, deadline=None)
@given(STARS, st.sampled_from((0.2, 0.5, 1.0, 2.5)))
def test_a_blade_led_so_cuts_any_outline(ring, trail):
    """Round any outline with corners: no point of the tip is off the line, none of the line is left out."""
    line = np.vstack((ring, ring[:1]))
    tip = tip_of(pivot_way(line, trail), trail)
    assert furthest(tip, line) < STATED_MM
    spots = shapely.get_coordinates(shapely.segmentize(shapely.linestrings(line), 1.0))
    assert furthest(spots, tip) < STATED_MM
    assert np.hypot(*(tip[-1] - line[-1])) < STATED_MM


def test_without_leading_it_would_not():
    """The same blade led along the outline itself rounds a corner of a square by a good part of what it trails by."""
    square = np.array(((0.0, 0.0), (50.0, 0.0), (50.0, 50.0)))
    assert furthest(square[1:2], tip_of(square, 1.0)) > 0.3


@pytest.fixture(scope="module")
def work():
    """A side of vamps for a knife that trails by 0.6 mm, with loops."""
    table = CuttingTable(files=FILES, knife_offset_mm=0.6, lead_in_mm=6.0, corner_loop_mm=3.0)
    plan = on_table(vamp_plan(1), table)
    return plan, hide_work(plan, plan.layouts[0], partial(cut_route, effort=0.01))


@pytest.mark.parametrize("askew", [0.0, 90.0, 170.0, -135.0])
def test_hpgl_leads_the_blade_along_every_vamp(work, askew):
    """From the file, however the blade came down: the tip enters within its band and then keeps to the outline."""
    plan, made = work
    trail = made.table.knife_offset_mm
    strokes = [line for pen, line in plotted(hpgl_text(made)) if pen == CUT_PEN]
    assert len(strokes) == len(made.paths)
    for path, pivot in list(zip(made.paths, strokes, strict=True))[:6]:
        lead = path.lead[1] - path.lead[0]
        tip = tip_of(pivot, trail, np.arctan2(lead[1], lead[0]) + np.radians(askew))
        where = made.placed[path.index]
        net = shapely.polygons(made.frame.apply(where.pose.apply(plan.piece(where.piece_id).net_outline)))
        assert shapely.polygons(path.ring).buffer(STATED_MM + 0.02).covers(shapely.linestrings(tip))
        assert shapely.distance(shapely.linestrings(tip), net) >= CLEARANCE_MM - STATED_MM
        ring = np.vstack((path.ring, path.ring[:1]))
        spots = shapely.get_coordinates(shapely.segmentize(shapely.linestrings(ring), 2.0))
        assert furthest(spots, tip) < STATED_MM + 0.02 + ASKEW_MM * trail
        begun = np.argmin(np.hypot(*(tip - path.ring[0]).T)[: len(tip) // 2])
        loops = path.knife.loops
        assert loops or furthest(tip[begun:], ring) < STATED_MM + 0.02 + ASKEW_MM * trail


def notched():
    """A rough outline with one corner that points into it, and a net outline 12 mm within."""
    ring = as_ring([(0, 0), (120, 0), (120, 80), (60, 50), (0, 80)])
    return ring, as_ring(shapely.get_coordinates(shapely.Polygon(ring).buffer(-12.0).exterior))


def test_a_loop_runs_past_a_corner_within_the_band():
    """The inward corner has a loop, the four others have none; all that is cut lies in the outline and off the net."""
    ring, net = notched()
    table = CuttingTable(files=FILES, corner_loop_mm=2.5, knife_offset_mm=0.4, lead_in_mm=4.0)
    made = knife_way(ring, None, net, table)
    assert (made.loops, made.turned, made.bare, len(made.strokes)) == (1, 4, True, 1)
    tip = tip_of(made.strokes[0], 0.4)
    off = shapely.distance(shapely.points(tip), shapely.linearrings(ring))
    assert off.max() > 2.0 and shapely.polygons(ring).buffer(STATED_MM).covers(shapely.linestrings(tip))
    assert shapely.distance(shapely.linestrings(tip), shapely.polygons(net)) >= CLEARANCE_MM


def test_a_loop_is_three_quarters_of_a_circle_past_a_right_angle():
    """3 mm past the corner at (0, 0) and back to it from 3 mm above: about (3, 3), in even steps of 5 degrees."""
    around, net = np.array(((-10.0, 0.0), (0.0, 0.0), (0.0, -10.0))), shapely.box(40, 40, 50, 50)
    loop = _loop(around, -0.5 * np.pi, CuttingTable(corner_loop_mm=3.0), shapely.box(-20, -20, 20, 20), net, None)
    assert loop[0].tolist() == [3.0, 0.0] and loop[-1] == pytest.approx((0.0, 3.0)) and len(loop) == 55
    off = loop - 3.0
    assert np.hypot(*off.T) == pytest.approx(3.0)
    steps = np.degrees(np.diff(np.unwrap(np.arctan2(off[:, 1], off[:, 0]))))
    assert steps == pytest.approx(5.0)


def test_no_loop_without_room():
    """With the net area 3 mm off, or a mark in the way, there is no room: the knife turns on the spot, or is lifted."""
    ring, net = notched()
    table = CuttingTable(files=FILES, corner_loop_mm=5.0, lead_in_mm=4.0)
    wide = as_ring(shapely.get_coordinates(shapely.Polygon(ring).buffer(-3.0).exterior))
    assert knife_way(ring, None, wide, table).loops == 0
    assert knife_way(ring, None, net, table).loops == 1
    assert knife_way(ring, None, net, table, shapely.box(55, 35, 65, 48)).loops == 0
    assert knife_way(ring, None, net, table, shapely.box(5, 5, 8, 8)).loops == 1
    lifted = knife_way(ring, None, wide, replace(table, lift_at_corners=True))
    assert len(lifted.strokes) == 1 + lifted.turned == 5
    assert np.vstack(lifted.strokes)[[0, -1]].tolist() == [ring[0].tolist()] * 2


@settings(max_examples=25, deadline=None)
@given(STARS, st.floats(4.0, 16.0), st.floats(1.0, 10.0))
def test_loops_never_leave_the_band(net, band, loop):
    """Whatever the outline: nothing is cut outside it, nor within the clearance of the net area."""
    ring = as_ring(shapely.get_coordinates(shapely.Polygon(net).buffer(band, join_style="mitre").exterior))
    made = knife_way(ring, None, net, CuttingTable(files=FILES, corner_loop_mm=loop))
    way = shapely.linestrings(np.vstack(made.strokes))
    assert shapely.polygons(ring).buffer(2e-3).covers(way)
    assert shapely.distance(way, shapely.polygons(net)) >= CLEARANCE_MM - 1e-3


def test_a_raised_knife_counts_in_time():
    """Each corner where the knife is raised adds a lift; the tour is timed as driven."""
    ring = as_ring([(0, 0), (100, 0), (100, 50), (0, 50)])
    table = CuttingTable(files=FILES, lift_at_corners=True, lift_s=1.0)
    way = knife_way(ring, None, ring * 0.5 + 10.0, table)
    there = cutting_time([CutPath(0, ring, ring, knife=way)], table)
    assert there.lifts == 4
    assert there.seconds - cutting_time([CutPath(0, ring, ring)], table).seconds == pytest.approx(3.0)


def narrow(plan):
    """The plan with a trim-off band of 1.5 mm."""
    pieces = tuple(replace(piece, net_outline=as_ring(shapely.get_coordinates(
        shapely.Polygon(piece.cut_outline).buffer(-1.5, join_style="mitre").exterior))) for piece in plan.pieces)
    return replace(plan, pieces=pieces)


def test_a_cut_without_lead_in_begins_where_it_harms_nothing():
    """Where the band has no room, cuts begin off net and neighbours and run on past the start; too near is refused."""
    table = CuttingTable(files=FILES, knife_offset_mm=0.3, lead_in_mm=40.0)
    plan = narrow(on_table(box_plan(), table))
    made = hide_work(plan, plan.layouts[0])
    rings = shapely.polygons([shapely.linearrings(path.ring) for path in made.paths])
    bare = [path for path in made.paths if path.knife.bare]
    assert bare
    for path in bare:
        start = shapely.Point(path.ring[0])
        others = [ring for ring in rings if not ring.intersects(start)]
        assert min(ring.distance(start) for ring in others) >= 0.6 - 1e-6
        tip = tip_of(path.knife.strokes[0], 0.3)
        long = float(shapely.length(shapely.linearrings(path.ring)))
        assert shapely.length(shapely.linestrings(tip)) >= long + TRAILS_TO_TURN * 0.3 - 0.1
    with pytest.raises(PlanProblem, match=r"hide H1: a blade that trails by 5 mm has no place to begin on .* no\. \d"):
        close = narrow(on_table(box_plan(), replace(table, knife_offset_mm=5.0)))
        hide_work(close, close.layouts[0])


def test_drawing_and_lean_drawing_say_which_is_which(work, tmp_path):
    """The full drawing holds the line that is cut, reads back, and says so; the lean one holds the way of the pivot."""
    plan, made = work
    write_hide_dxf(plan, plan.layouts[0], tmp_path / "hide.dxf", work=made)
    assert read_cut_dxf(tmp_path / "hide.dxf", plan).layouts[0].placed
    texts = " ".join(one.dxf.text for one in ezdxf.readfile(tmp_path / "hide.dxf").modelspace().query("TEXT"))
    assert "The blade trails its pivot by 0.6 mm" in texts
    assert re.search(r"\d+ corners? with a loop of up to 3 mm", texts)
    write_lean_dxf(made, tmp_path / "lean.dxf", "R2000")
    ways = [one for one in ezdxf.readfile(tmp_path / "lean.dxf").modelspace() if one.dxf.layer == "CUT"]
    assert len(ways) == len(made.paths) and not any(one.closed for one in ways)
    for way, path in zip(ways, made.paths, strict=True):
        assert np.abs(np.array(way.get_points("xy")) - path.knife.strokes[0]).max() < 1e-4


def test_corners_are_those_of_the_house():
    """What counts as a corner for loops is what stays sharp in smooth cut lines: more than 30 degrees."""
    ring, net = notched()
    table = CuttingTable(files=FILES, lift_at_corners=True)
    sharp = np.degrees(np.arctan2(30.0, 60.0)) * 2.0
    assert sharp > CORNER_DEG and knife_way(ring, None, net, table).turned == 4


@pytest.mark.parametrize(("off", "clear"), [(0.6, True), (0.5995, True), (0.598, False), (0.0, False)])
def test_a_blade_may_begin_twice_its_trail_from_all_else(off, clear):
    """With a trail of 0.3 mm each corner needs 0.6 mm to net area and neighbour, the latter to a thousandth."""
    table = CuttingTable(files=FILES, knife_offset_mm=0.3)
    ring, net = (as_ring([(-a, -a), (a, -a), (a, a), (-a, a)]) for a in (10.0, 9.0))
    for other in (shapely.box(10.0 + off, -20.0, 30.0, 20.0), shapely.box(10.0 + off, 5.0, 30.0, 20.0)):
        found = bare_starts(ring, net, np.array([other]), table)
        beside = (ring[:, 0] > 0.0) & (ring[:, 1] > -20.0 if other.bounds[1] < 0.0 else ring[:, 1] > 0.0)
        assert (found == np.where(beside, clear, True)).all()
    assert bare_starts(ring, net, np.array([]), table).all()
    within = np.hypot(0.42, 0.42)  # from corner to corner: just short of 0.6 mm
    assert within < 0.6 and not bare_starts(ring, ring * 0.958, np.array([]), table).any()
