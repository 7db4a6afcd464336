"""Kinks between arcs are eased: within their room, tangent at both ends, corners left as they are."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.arcs import CORNER_DEG, arc_chain, chord_ring
from nest.cutplan.easing import eased


def joints(chain):
    """By how much a chain turns at each vertex, degrees, from its chords and bulges (DXF reference, group code 42)."""
    chord = np.roll(chain[:, :2], -1, axis=0) - chain[:, :2]
    way, half = np.arctan2(chord[:, 1], chord[:, 0]), 2.0 * np.arctan(chain[:, 2])
    turn = (way - half) - np.roll(way + half, 1)
    return np.degrees(np.abs((turn + np.pi) % (2.0 * np.pi) - np.pi))


def test_a_kink_between_two_lines_becomes_a_fillet():
    """Tangents of a circle (Euclid, III 36): of 10 degrees, left by 0.05 mm, the arc begins 0.05 / tan 2.5° off."""
    turn = np.radians(10.0)
    ring = np.array(((-50.0, 0.0), (0.0, 0.0), (50.0 * np.cos(turn), 50.0 * np.sin(turn)), (0.0, 80.0)))
    found = eased(np.column_stack((ring, np.zeros(4))), 0.05)
    arc = int(np.argmax(np.abs(found[:, 2])))
    off = 0.05 / np.tan(0.25 * turn)
    assert len(found) == 5 and found[arc, 2] == pytest.approx(np.tan(0.25 * turn), rel=1e-5)
    assert np.hypot(*found[arc, :2]) == pytest.approx(off) == pytest.approx(np.hypot(*found[arc + 1, :2]), rel=1e-5)
    sagitta = 0.5 * abs(found[arc, 2]) * np.hypot(*(found[arc + 1] - found[arc])[:2])
    middle = 0.5 * (found[arc] + found[arc + 1])[:2]
    assert np.hypot(*middle) - sagitta == pytest.approx(0.05, rel=1e-3)


def test_corners_and_smooth_joints_stay():
    """A square with one edge in two: nothing is eased; nor is a circle of four arcs."""
    square = np.array([(0.0, 0.0), (20.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0)])
    square = np.column_stack((square, np.zeros(5)))
    assert eased(square, 0.1) == pytest.approx(square)
    quarter = np.tan(np.pi / 8.0)
    circle = np.array([(10.0, 0.0, quarter), (0.0, 10.0, quarter), (-10.0, 0.0, quarter), (0.0, -10.0, quarter)])
    assert eased(circle, 0.1) == pytest.approx(circle)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(45.0, 52.0), min_size=16, max_size=40), st.floats(0.02, 0.3))
def test_no_kink_is_left_and_nothing_leaves_its_room(distances, room):
    """Arcs along any outline, in a tolerance too small for all of it: every kink is gone, each within its room."""
    turns = np.linspace(0.0, 2.0 * np.pi, len(distances), endpoint=False)
    ring = np.array(distances)[:, None] * np.column_stack((np.cos(turns), np.sin(turns)))
    chain = arc_chain(ring, 0.05, 0.02)
    found = eased(chain, room)
    before, after = joints(chain), joints(found)
    assert (after > CORNER_DEG).sum() == (before > CORNER_DEG).sum()
    assert not ((after > 0.3) & (after < CORNER_DEG)).any()
    lines = [shapely.LinearRing(chord_ring(one, 1e-4, 5.0)[0]) for one in (chain, found)]
    assert shapely.hausdorff_distance(*lines, densify=0.1) <= room + 1e-3
