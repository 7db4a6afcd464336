"""Measures of rings against closed forms and against shapely."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import UNIT_SQUARE, regular, star_rings

from geometry import polygon as measure
from geometry.pose import mirror
from geometry.precision import GeometryError, as_ring

L_SHAPE = as_ring([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])


def test_measures_of_an_l_shape():
    """Area, edges, centroid, box and hull of three unit squares in an L, by hand."""
    assert measure.area(L_SHAPE) == pytest.approx(3.0)
    assert measure.centroid(L_SHAPE) == pytest.approx((5 / 6, 5 / 6))
    assert measure.bounds(L_SHAPE) == (0.0, 0.0, 2.0, 2.0)
    assert measure.size(L_SHAPE) == (2.0, 2.0)
    assert len(measure.convex_hull(L_SHAPE)) == 5
    assert measure.edge_lengths(L_SHAPE) == pytest.approx((2, 1, 1, 1, 1, 2))


@pytest.mark.parametrize("n", [3, 5, 8, 60])
def test_regular_polygon(n):
    """A regular n-gon of circumradius r has area n r² sin(2π/n)/2 and perimeter 2 n r sin(π/n)."""
    ring = regular(n, 7.0)
    assert measure.area(ring) == pytest.approx(0.5 * n * 49.0 * np.sin(2 * np.pi / n))
    assert measure.edge_lengths(ring).sum() == pytest.approx(14.0 * n * np.sin(np.pi / n))


def test_signed_area_tells_the_sense():
    """Clockwise outlines have negative signed area, and area has no sign."""
    assert measure.signed_area(UNIT_SQUARE) == 1.0
    assert measure.signed_area(UNIT_SQUARE[::-1]) == -1.0
    assert measure.area(UNIT_SQUARE[::-1]) == 1.0


def test_area_far_from_the_origin_loses_no_digits():
    """A small ring 10 km out still has its area to nine digits."""
    assert measure.area(UNIT_SQUARE + 1e7) == pytest.approx(1.0, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(star_rings())
def test_agrees_with_shapely(ring):
    """Area, perimeter, centroid and bounds equal shapely's for any ring."""
    shape = shapely.Polygon(ring)
    assert measure.area(ring) == pytest.approx(shape.area)
    assert measure.edge_lengths(ring).sum() == pytest.approx(shape.length)
    assert measure.centroid(ring) == pytest.approx((shape.centroid.x, shape.centroid.y), abs=1e-9)
    assert measure.bounds(ring) == pytest.approx(shape.bounds)


def test_simple_and_not():
    """A bow tie crosses itself and the reason names the place; a square does not."""
    bow_tie = np.array([(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 1.0)])
    assert measure.is_simple(UNIT_SQUARE) and measure.why_not_simple(UNIT_SQUARE) == ""
    assert not measure.is_simple(bow_tie)
    assert "Self-intersection" in measure.why_not_simple(bow_tie)


def test_polygons_and_back():
    """Rings go to shapely and come back; holes are closed on the way back; the largest ring comes first."""
    holed = measure.polygon(10.0 * UNIT_SQUARE, holes=[UNIT_SQUARE + 2.0])
    assert holed.area == pytest.approx(99.0)
    assert measure.area(measure.ring_of(holed)) == pytest.approx(100.0)
    both = shapely.union_all([measure.polygon(UNIT_SQUARE), measure.polygon(3.0 * UNIT_SQUARE + 5.0)])
    assert [measure.area(ring) for ring in measure.rings_of(both)] == pytest.approx([9.0, 1.0])
    assert len(measure.rings_of(shapely.GeometryCollection([shapely.Point(0, 0), both]))) == 2
    assert measure.rings_of(shapely.Polygon()) == ()
    with pytest.raises(GeometryError, match="one polygon, found nothing"):
        measure.ring_of(shapely.Polygon())


def test_contains_with_and_without_tolerance():
    """Touching counts as within; what sticks out counts unless it is within the tolerance."""
    assert measure.contains(UNIT_SQUARE, UNIT_SQUARE)
    assert not measure.contains(UNIT_SQUARE, 1.2 * UNIT_SQUARE - 0.1)
    assert measure.contains(UNIT_SQUARE, 1.2 * UNIT_SQUARE - 0.1, tolerance=0.15)


def test_hausdorff_distance_of_a_dent():
    """A triangle against itself with a dent in one edge: the dent's depth, however narrow the dent."""
    flat = as_ring([(0, 0), (100, 0), (50, 100)])
    dipped = as_ring([(0, 0), (40, 0), (40, 10), (60, 10), (60, 0), (100, 0), (50, 100)])
    assert measure.hausdorff_distance(flat, dipped) == pytest.approx(10.0, abs=1e-3)
    narrow = as_ring([(0, 0), (40, 0), (50, 2), (60, 0), (100, 0), (50, 100)])
    assert measure.hausdorff_distance(flat, narrow) == pytest.approx(2.0, abs=1e-3)


def test_hausdorff_distance_at_a_point_between_vertices():
    """All vertices of both outlines lie on the other one, yet the slot's flanks are 10 mm from it midway."""
    plate = as_ring([(0, 0), (46, 0), (46, 20), (0, 20)])
    slotted = as_ring([(0, 0), (20, 0), (20, 20), (26, 20), (26, 0), (46, 0), (46, 20), (26, 20.0), (20, 20), (0, 20)])
    vertices_only = shapely.hausdorff_distance(shapely.LinearRing(plate), shapely.LinearRing(slotted))
    assert vertices_only == pytest.approx(0.0)
    assert measure.hausdorff_distance(plate, slotted) == pytest.approx(10.0, abs=1e-3)


@settings(deadline=None, max_examples=60)
@given(star_rings(), star_rings())
def test_hausdorff_distance_against_dense_sampling(ring, other):
    """The value lies between shapely's over sampled points and that plus half the sampling step."""
    a, b = shapely.LinearRing(ring), shapely.LinearRing(other)
    step = 0.5
    sampled = shapely.hausdorff_distance(shapely.segmentize(a, step), shapely.segmentize(b, step))
    found = measure.hausdorff_distance(ring, other, tolerance=1e-6)
    assert sampled - 1e-5 <= found <= sampled + 0.5 * step


@given(st.floats(-5.0, 5.0))
def test_mirror_distance_of_a_shifted_square(shift):
    """A square moved off the axis by d is 2 d from its mirror image, up to half its side."""
    ring = 20.0 * UNIT_SQUARE - (10.0, 10.0 - shift)
    assert measure.mirror_distance(ring) == pytest.approx(2.0 * abs(shift), abs=2e-3)


@settings(deadline=None, max_examples=60)
@given(star_rings())
def test_mirror_distance_is_the_hausdorff_distance_to_the_mirror_image(ring):
    """One direction is enough, because mirroring keeps distances."""
    expected = measure.hausdorff_distance(ring, mirror(ring), tolerance=1e-6)
    assert measure.mirror_distance(ring) == pytest.approx(expected, abs=2e-3)


def test_snapped_shapes_do_not_round_what_is_made_of_them():
    """Corners come to the grid, but offsets of the shape leave it; GEOS rounds those of a shape bound to a grid."""
    shape = measure.snapped(shapely.box(0.04, 0.04, 10.04, 10.04), 0.1)
    assert shapely.equals(shape, shapely.box(0.0, 0.0, 10.0, 10.0))
    assert shape.buffer(-0.01, join_style="mitre").bounds == pytest.approx((0.01, 0.01, 9.99, 9.99), abs=1e-12)
