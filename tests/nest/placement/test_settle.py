"""Settling by linear programming: known positions, no overlap, never longer."""

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.nofit import no_fit_polygon
from geometry.pose import Pose
from geometry.precision import as_ring
from nest.placement.problem import Item, Kind
from nest.placement.settle import keep_out, settle_strip

SQUARE = as_ring(((0, 0), (50, 0), (50, 50), (0, 50)))
TRIANGLE = as_ring(((0, 0), (60, 0), (0, 60)))
HOOK = as_ring(((0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)))


def kind(ring, *headings):
    """A kind of which enough may be placed."""
    return Kind("piece", ring, ring, headings or (0.0,), 9)


def test_a_loose_row_of_squares_is_pushed_together():
    """Three squares 20 mm apart on a strip just as wide as they are come to lie within 150 mm."""
    items = [Item(0, Pose(70.0 * i + 5.0, 0.0, 0.0)) for i in range(3)]
    settled, length = settle_strip(items, [kind(SQUARE)], 0.0, 50.0)
    assert length == pytest.approx(150.0, abs=1e-4)
    assert sorted(item.pose.x for item in settled) == pytest.approx([0.0, 50.0, 100.0], abs=1e-4)


def test_the_gap_is_kept():
    """The same row with a gap of 2 mm needs 154 mm."""
    items = [Item(0, Pose(70.0 * i + 5.0, 0.0, 0.0)) for i in range(3)]
    _, length = settle_strip(items, [kind(SQUARE)], 2.0, 50.0)
    assert length == pytest.approx(154.0, abs=1e-3)


def test_two_triangles_close_to_a_square():
    """A right triangle and its half turn, on a strip as wide as their legs, fill a square."""
    items = [Item(0, Pose(0.0, 0.0, 0.0)), Item(0, Pose(75.0, 60.0, 180.0))]
    _, length = settle_strip(items, [kind(TRIANGLE, 0.0, 180.0)], 0.0, 60.0)
    assert length == pytest.approx(60.0, abs=1e-3)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_settling_never_overlaps_and_never_lengthens(seed):
    """Hooks and triangles dropped where they are clear of each other stay clear, on no longer strip."""
    rng = np.random.default_rng(seed)
    kinds = [kind(HOOK, 0.0, 180.0), kind(TRIANGLE, 0.0, 180.0)]
    items, shapes = [], []
    for _ in range(60):
        k, turn = int(rng.integers(2)), float(rng.choice((0.0, 180.0)))
        item = Item(k, Pose(float(rng.uniform(60, 340)), float(rng.uniform(60, 140)), turn))
        shape = shapely.Polygon(item.pose.apply(kinds[k].outline))
        if shape.bounds[1] >= 0 and shape.bounds[3] <= 200 and all(shape.distance(other) > 0.01 for other in shapes):
            items.append(item)
            shapes.append(shape)
    before = max(shape.bounds[2] for shape in shapes)
    settled, length = settle_strip(items, kinds, 0.0, 200.0)
    after = [shapely.Polygon(item.pose.apply(kinds[item.kind].outline)) for item in settled]
    assert length <= before + 1e-9
    assert length == pytest.approx(max(shape.bounds[2] for shape in after), abs=1e-6)
    for i, one in enumerate(after):
        assert one.bounds[0] >= -1e-6 and one.bounds[1] >= -1e-6 and one.bounds[3] <= 200 + 1e-6
        for other in after[:i]:
            assert shapely.intersection(one, other).area < 1e-4


def test_a_line_keeps_out_of_the_no_fit_polygon():
    """Within reach, every displacement beyond the line lies outside the no-fit polygon, in a hollow too."""
    no_fit = no_fit_polygon(HOOK, as_ring(0.2 * SQUARE))
    displacement = np.array((25.0, 25.0))
    lines = keep_out(no_fit, displacement, 8.0)
    rng = np.random.default_rng(1)
    spots = displacement + rng.uniform(-8.0, 8.0, (500, 2))
    beyond = spots[np.all([spots @ line[:2] >= line[2] for line in lines], axis=0)]
    assert len(beyond) > 50
    assert not shapely.contains_properly(no_fit, shapely.points(beyond)).any()


def test_pieces_too_far_apart_need_no_line():
    """A displacement whose reach does not meet the no-fit polygon is free."""
    assert keep_out(no_fit_polygon(SQUARE, SQUARE), np.array((200.0, 0.0)), 20.0) == []


def test_no_way_out_of_a_corner_through_it():
    """Where a place touches both sides of a corner it may move into the free quarter alone, along no seam either."""
    whole, quarter = shapely.box(-9, -9, 9, 9), shapely.box(0, 0, 9, 9)
    for turn in (0.0, 17.0, 45.0, 90.0):
        barred = shapely.affinity.rotate(whole.difference(quarter), turn, origin=(0.0, 0.0))
        lines = keep_out(barred, np.zeros(2), 5.0)
        way = np.radians(turn + np.arange(0.0, 360.0, 5.0))
        steps = np.column_stack((np.cos(way), np.sin(way)))
        allowed = np.all([steps @ line[:2] >= line[2] - 1e-9 for line in lines], axis=0)
        assert not allowed[19:].any() and allowed[9]
