"""The way of the tool, what is cut before what, and the estimate of time."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from table_jobs import on_table
from tiny_plans import ROUGH, box_plan, in_pairs, rectangle
from vamp_plans import vamp_pieces, vamp_plan

from geometry.precision import as_ring
from nest.cutplan.compose import hide_drawing
from nest.cutplan.cuttime import cutting_time
from nest.cutplan.holding import HELD_SHARE, cut_before, faced_shares
from nest.cutplan.marks import CLEARANCE_MM
from nest.cutplan.path import CutPath, check_room, leads, tool_ring
from nest.cutplan.work import hide_work
from nest.errors import PlanProblem
from nest.job.cutting_table import CuttingTable
from nest.pieces.piece import Role
from nest.plan import HideLayout

PLAN = vamp_plan(1)


def star(radii):
    """A star-shaped ring with a corner at each radius."""
    turn = 2.0 * np.pi * np.arange(len(radii)) / len(radii)
    return as_ring(np.column_stack((np.cos(turn), np.sin(turn))) * np.array(radii)[:, None])


STARS = st.lists(st.floats(60.0, 130.0), min_size=5, max_size=40).map(star)


@settings(max_examples=40, deadline=None)
@given(STARS, st.sampled_from((0.0, 0.01, 0.05, 0.5)), st.sampled_from((0.0, 0.15, 0.8)))
def test_the_tool_never_runs_within_the_outline(ring, thin, radius):
    """Moved out and thinned, the way contains the outline and lies no further off it than radius and thinning allow."""
    table = CuttingTable(thin_mm=thin, tool_radius_mm=radius)
    way, wanted = shapely.Polygon(tool_ring(ring, table)), shapely.Polygon(ring)
    assert way.buffer(1e-3).covers(wanted)
    most = radius + max(thin, 0.01 if radius else 0.0)
    assert wanted.buffer(most + 2e-3, quad_segs=64).covers(way)
    if radius:
        assert shapely.distance(wanted, way.boundary) >= radius - 2e-3


def test_thinning_drops_vertices():
    """A circle of 720 chords thinned by 0.05 mm has a quarter of them at most, and still contains it."""
    circle = star([100.0] * 720)
    thinned = tool_ring(circle, CuttingTable(thin_mm=0.05))
    assert len(thinned) <= 180
    assert shapely.Polygon(thinned).buffer(2e-4).covers(shapely.Polygon(circle))


@settings(max_examples=40, deadline=None)
@given(STARS, st.floats(0.5, 16.0), st.floats(1.0, 12.0), st.sampled_from((0.0, 0.3)))
def test_lead_ins_never_touch_the_net_area(net, band, length, radius):
    """Judged by shapely: every lead-in lies within the tool's way, what the tool takes of it off the net."""
    grown = shapely.Polygon(net).buffer(band)
    ring = as_ring(shapely.get_coordinates(grown.exterior))
    way = tool_ring(ring, CuttingTable(tool_radius_mm=radius))
    for vertex, lead in zip(way, leads(way, net, CuttingTable(lead_in_mm=length, tool_radius_mm=radius)), strict=True):
        if lead is not None:
            line = shapely.LineString(lead)
            assert (lead[1] == np.round(vertex, 4)).all()
            assert shapely.distance(line, shapely.Polygon(net)) > CLEARANCE_MM + radius - 1e-3
            assert shapely.Polygon(way).buffer(1e-3).covers(line)
            assert line.length <= length + radius + 1e-3


def test_lead_ins_are_found_on_vamps_and_refused_by_a_thin_band():
    """A 12 mm band has room for 4 mm at every vertex of some vamp; a band of 1.5 mm has room for none."""
    piece = next(piece for piece in vamp_pieces() if piece.role is Role.VAMP)
    found = leads(piece.cut_outline, piece.net_outline, CuttingTable(lead_in_mm=4.0))
    assert sum(lead is not None for lead in found) > 0.8 * len(found)
    ring = as_ring(shapely.get_coordinates(shapely.Polygon(piece.net_outline).buffer(1.5).exterior))
    assert all(lead is None for lead in leads(ring, piece.net_outline, CuttingTable(lead_in_mm=4.0)))


def test_overcut_runs_on_along_the_outline():
    """On a square of 100 mm begun at a corner: once around, then 130 mm on along the same line."""
    square = as_ring([(0, 0), (100, 0), (100, 100), (0, 100)])
    whole = CutPath(0, square, square, np.array(((5.0, 5.0), (0.0, 0.0)))).whole(130.0)
    assert whole.tolist() == [
        [5, 5], [0, 0], [100, 0], [100, 100], [0, 100], [0, 0], [100, 0], [100, 30],
    ]


def test_a_tool_too_wide_for_the_gap_is_refused():
    """Pieces 6 mm apart take a tool of radius 2.9 mm, not one of 3.1 mm, and the sentence says so."""
    wanted = [rectangle(100.0, 50.0), np.add(rectangle(100.0, 50.0), (0.0, 56.0))]
    check_room(wanted, CuttingTable(tool_radius_mm=2.9))
    with pytest.raises(PlanProblem, match=r"radius 3.1 mm .* found 6.00 mm"):
        check_room(wanted, CuttingTable(tool_radius_mm=3.1))


def grid(columns, rows, gap):
    """Rectangles of 100 × 60 mm in a grid with this gap."""
    ring = rectangle(100.0, 60.0)
    return [np.add(ring, (i * (100.0 + gap), j * (60.0 + gap))) for j in range(rows) for i in range(columns)]


def test_shares_of_a_row_can_be_worked_out_by_hand():
    """Three rectangles in a row, 2 mm apart, 320 mm round: 60 mm and the 8 mm of each side within 10 mm face a web."""
    facing, open_share = faced_shares(np.array([shapely.Polygon(ring) for ring in grid(3, 1, 2.0)]))
    assert facing[0, 1] == pytest.approx((60.0 + 2 * 8.0) / 320.0, abs=1e-3)
    assert open_share[1] == pytest.approx(1.0 - 2 * (60.0 + 2 * 8.0) / 320.0, abs=2e-3)
    assert facing[0, 2] == 0.0


def held_shares(outlines, order):
    """Share of each outline that still faces uncut leather or an uncut neighbour when its turn comes."""
    facing, open_share = faced_shares(np.array([shapely.Polygon(ring) for ring in outlines]))
    turn = np.argsort(order)
    return open_share + (facing * (turn[None, :] > turn[:, None])).sum(axis=1)


def test_pieces_walled_in_are_cut_while_they_are_held():
    """In a dense 5 × 5 grid the inner pieces come before enough of their neighbours; the rule holds in the route."""
    placed = in_pairs(["V38"] * 16, [(120 + (ROUGH[0] + 1) * i, 70 + (ROUGH[1] + 1) * j)
                                     for j in range(4) for i in range(4)])
    work = hide_work(box_plan(), HideLayout("H1", placed))
    assert len(work.before) >= 4
    order = [path.index for path in work.paths]
    turn = np.argsort(order)
    assert all(turn[i] < turn[j] for i, j in work.before)
    outlines = [path.wanted for path in sorted(work.paths, key=lambda path: path.index)]
    assert held_shares(outlines, order).min() >= HELD_SHARE - 1e-9


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), min_size=1, max_size=30, unique=True))
def test_the_rule_never_runs_in_a_circle(cells):
    """Any set of cells of a dense grid can be cut in an order that keeps every pair."""
    ring = rectangle(100.0, 60.0)
    before = cut_before([np.add(ring, (101.0 * x, 61.0 * y)) for x, y in cells])
    left = set(range(len(cells)))
    while left:
        free = {i for i in left if not any(j == i and k in left for k, j in before)}
        assert free
        left -= free


def test_an_outline_within_another_is_cut_first():
    """A ring's hole comes before its outer outline, whichever is given first."""
    outer, inner = rectangle(300.0, 200.0), rectangle(100.0, 50.0)
    assert (1, 0) in cut_before([outer, inner]) and (0, 1) in cut_before([inner, outer])


def test_time_is_length_over_speed():
    """One square of 100 mm from its corner, 400 mm at 100 mm/s, 500 mm there and back at 500 mm/s, a lift of 0.5 s."""
    square = as_ring([(300, 400), (400, 400), (400, 500), (300, 500)])
    table = CuttingTable(cut_mm_s=100.0, travel_mm_s=500.0, lift_s=0.5)
    found = cutting_time([CutPath(0, square, square)], table)
    assert (found.cut_mm, found.travel_mm, found.lifts) == (400.0, 1000.0, 1)
    assert found.seconds == pytest.approx(4.0 + 2.0 + 0.5)


def test_starts_are_chosen_for_little_travel():
    """Beginning each outline at the place the route likes is far shorter than at its first vertex in the same order."""
    work = hide_work(PLAN, PLAN.layouts[0])
    plain = [replace(path, ring=path.wanted) for path in work.paths]
    fixed = cutting_time(plain, work.table).travel_mm
    assert cutting_time(work.paths, work.table).travel_mm < 0.8 * fixed


def test_leads_and_tool_stand_on_the_drawing_apart_from_the_cut():
    """With a tool, each cut follows its lead-in, and the outlines wanted are drawn on a layer of their own."""
    table = CuttingTable(tool_radius_mm=0.2, lead_in_mm=4.0)
    drawing = hide_drawing(on_table(PLAN, table), PLAN.layouts[0])
    count = len(PLAN.layouts[0].placed)
    assert len(drawing.outlines("cut")) == len(drawing.outlines("rough")) == count
    uses = [e.use for e in drawing.entities if e.use in ("cut", "lead")]
    assert uses == ["lead", "cut"] * count
    assert not hide_drawing(PLAN, PLAN.layouts[0]).outlines("rough")
