"""Arcs along outlines, and arcs as chords."""

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from geometry.arcs import arc_chain, chord_ring, radii


def polygon_of_circle(count, radius=50.0):
    """A circle's inscribed polygon."""
    turns = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    return radius * np.column_stack((np.cos(turns), np.sin(turns)))


def kinks(ring):
    """How much a ring turns at each vertex, degrees."""
    ahead = np.roll(ring, -1, axis=0) - ring
    behind = np.roll(ahead, 1, axis=0)
    return np.degrees(np.abs(np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0],
                                        (behind * ahead).sum(axis=1))))


def test_points_of_a_circle_give_the_circle():
    """Of its inscribed polygon come back few arcs of the circle's radius (bulge: DXF reference, group code 42)."""
    chain = arc_chain(polygon_of_circle(36), 0.5, 0.5)
    assert len(chain) <= 12
    assert radii(chain) == pytest.approx(np.full(len(chain), 50.0), rel=1e-6)
    included = 4.0 * np.degrees(np.arctan(chain[:, 2]))
    assert included.sum() == pytest.approx(360.0)


def test_chords_keep_sagitta_and_turn():
    """r - sqrt(r² - c²/4) of each chord is within the sagitta, and no two turn by more than 5 degrees."""
    ring, joints = chord_ring(arc_chain(polygon_of_circle(36), 0.5, 0.5), 0.01, 5.0)
    chord = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    assert (50.0 - np.sqrt(2500.0 - chord**2 / 4.0)).max() <= 0.01 + 1e-9
    assert kinks(ring).max() <= 5.0 + 1e-6 and np.hypot(*ring.T) == pytest.approx(np.full(len(ring), 50.0))
    assert (np.diff(joints) > 0).all()


def test_corners_stay_sharp_and_edges_straight():
    """A rectangle is its own chain."""
    ring = np.array(((0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)))
    chain = arc_chain(ring, 0.5, 0.5)
    again = shapely.LinearRing(chord_ring(chain, 0.01, 5.0)[0])
    assert shapely.hausdorff_distance(again, shapely.LinearRing(ring)) < 1e-6
    assert np.isinf(radii(chain)).all()


@settings(max_examples=40, deadline=None)
@example([31.0, 31.0, *[30.0] * 5, 30.125, 30.0, 30.0, 30.0, 34.0, *[30.0] * 3], 0.875)
@example([*[30.0] * 12, 31.0], 1.0)
@given(st.lists(st.floats(30.0, 60.0), min_size=8, max_size=24), st.floats(0.05, 1.0))
def test_arcs_keep_to_any_outline(distances, tolerance):
    """Nothing of arcs lies further off a star-shaped outline than allowed, on either side."""
    turns = np.linspace(0.0, 2.0 * np.pi, len(distances), endpoint=False)
    ring = np.array(distances)[:, None] * np.column_stack((np.cos(turns), np.sin(turns)))
    shape = shapely.Polygon(ring)
    found, _ = chord_ring(arc_chain(ring, tolerance, 0.5 * tolerance), 0.001, 5.0)
    points = shapely.points(found)
    away = shapely.distance(points, shape.exterior)
    assert away[~shapely.contains(shape, points)].max(initial=0.0) <= tolerance + 1e-6
    assert away[shapely.contains(shape, points)].max(initial=0.0) <= 0.5 * tolerance + 1e-6
    assert shapely.distance(shapely.points(ring), shapely.LinearRing(found)).max() <= tolerance + 1e-3
