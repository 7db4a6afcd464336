"""What all turns of an outline share, and what they sweep."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from geometry.polygon import polygon
from geometry.pose import rotate
from geometry.turning import reach_of, shared_by_turns, swept_by_turns

HOLLOW = np.array([(-120.0, -60.0), (40.0, -75.0), (125.0, -10.0), (60.0, 0.0), (120.0, 30.0), (20.0, 70.0),
                   (-110.0, 55.0), (-60.0, 0.0)])
"""An invented outline with two hollows, about its own middle."""


@settings(deadline=None)
@given(half=st.floats(0.01, 40.0), at=st.floats(-1.0, 1.0))
def test_shared_lies_within_and_swept_around_every_turn(half, at):
    """Whatever the angle within the range: the shared ring lies within the turned outline, that within the swept."""
    turned = polygon(rotate(HOLLOW, at * half))
    shared, swept = shared_by_turns(HOLLOW, half), swept_by_turns(HOLLOW, half)
    assert shared is None or turned.buffer(1e-9).covers(polygon(shared))
    assert polygon(swept).buffer(1e-9).covers(turned)


def test_a_small_range_leaves_nearly_all():
    """For a twentieth of a degree little is lost: no more than the way of the furthest corner, all along the edge."""
    shared, swept = shared_by_turns(HOLLOW, 0.05), swept_by_turns(HOLLOW, 0.05)
    way = reach_of(HOLLOW) * np.radians(0.05)
    edge = polygon(HOLLOW).length
    assert 0.0 < polygon(HOLLOW).area - polygon(shared).area < 2.0 * way * edge
    assert 0.0 < polygon(swept).area - polygon(HOLLOW).area < 2.0 * way * edge


def test_all_turns_of_a_square_share_its_inner_circle_at_most():
    """Elementary: all turns of a square by up to 45° either way share its inner circle alone, here of radius 50."""
    square = np.array([(-50.0, -50.0), (50.0, -50.0), (50.0, 50.0), (-50.0, 50.0)])
    shared = Polygon(shared_by_turns(square, 45.0))
    assert 0.6 * np.pi * 50.0**2 < shared.area
    assert np.hypot(*np.asarray(shared.exterior.coords).T).max() <= 50.0


def test_no_angle_and_nothing_shared():
    """No range leaves the outline as it is; far off the origin turns share nothing, and none are made up."""
    assert np.array_equal(shared_by_turns(HOLLOW, 0.0), HOLLOW) and np.array_equal(swept_by_turns(HOLLOW, 0.0), HOLLOW)
    assert shared_by_turns(HOLLOW + 5_000.0, 10.0) is None
