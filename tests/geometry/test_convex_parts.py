"""Convex parts and their sums: the second way to a Minkowski sum, which tests compare with the first."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from outlines import star_rings

from geometry.convex_parts import convex_parts
from geometry.polygon import area, polygon
from geometry.precision import GeometryError, as_ring


@settings(max_examples=40, deadline=None)
@given(star_rings())
def test_convex_parts_cover_the_ring_without_overlap(ring):
    """Parts are convex, their areas add up to the ring's, and their union is the ring."""
    parts = convex_parts(ring)
    assert sum(area(part) for part in parts) == pytest.approx(area(ring), rel=1e-12)
    united = shapely.union_all([polygon(part) for part in parts], grid_size=1e-9)
    assert united.symmetric_difference(polygon(ring)).area < 1e-6
    for part in parts:
        assert shapely.convex_hull(polygon(part)).area == pytest.approx(area(part), rel=1e-12)


def test_convex_parts_of_a_convex_ring_with_points_along_its_edges_are_the_ring():
    """Points in a straight line neither split a convex ring nor are lost."""
    ring = as_ring([(0, 0), (1, 0), (2, 0), (2, 1), (2, 2), (0, 2)])
    (part,) = convex_parts(ring)
    np.testing.assert_array_equal(part, ring)


def test_convex_parts_of_a_ring_with_reflex_and_straight_points():
    """An L with points along its edges falls into two parts and keeps its area."""
    ring = as_ring([(0, 0), (1, 0), (2, 0), (2, 1), (1.5, 1), (1, 1), (1, 1.5), (1, 2), (0, 2), (0, 1)])
    parts = convex_parts(ring)
    assert len(parts) == 2
    assert sum(area(part) for part in parts) == pytest.approx(3.0)


@settings(max_examples=40, deadline=None)
@given(star_rings())
def test_number_of_convex_parts_keeps_the_bound_of_hertel_and_mehlhorn(ring):
    """At most 2 r + 1 parts for r reflex corners (Hertel & Mehlhorn 1983)."""
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    (ax, ay), (bx, by) = (ring - before).T, (after - ring).T
    reflex = int((ax * by - ay * bx < 0.0).sum())
    assert len(convex_parts(ring)) <= 2 * reflex + 1


def test_a_ring_that_crosses_itself_is_refused():
    """A bow tie has no inside to be cut into parts."""
    with pytest.raises(GeometryError, match="cross"):
        convex_parts(np.array([(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 3.0)]))
