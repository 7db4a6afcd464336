"""Offsets against closed forms, against shapely, and against what they promise at every point."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import UNIT_SQUARE, regular, star_rings

from geometry.offset import offset_uniform, offset_variable
from geometry.polygon import area, contains, hausdorff_distance, is_simple, polygon, ring_of
from geometry.precision import CHORD_ERROR_MM, GeometryError, as_ring

SQUARE = 100.0 * UNIT_SQUARE


def test_square_outwards_by_steiner():
    """Area of a convex body grown by d is A + P d + π d² (Steiner's formula)."""
    expected = 1e4 + 400.0 * 12.0 + np.pi * 144.0
    for grown in (offset_uniform(SQUARE, 12.0, 0.001)[0], offset_variable(SQUARE, np.full(4, 12.0), 0.001)):
        assert expected <= area(grown) <= expected + 0.001 * 480.0


def test_square_inwards():
    """A square shrunk by d is a square with sides 2 d shorter; by half its side nothing is left."""
    (shrunk,) = offset_uniform(SQUARE, -10.0, 0.01)
    assert area(shrunk) == pytest.approx(6400.0, abs=0.01 * 400.0)
    assert offset_uniform(SQUARE, -50.0) == ()
    assert np.array_equal(offset_uniform(SQUARE, 0.0)[0], SQUARE)


def test_dumb_bell_falls_apart_inwards_largest_first():
    """Two squares joined by a 4 mm bridge fall apart when shrunk by 3 mm; the larger comes first."""
    bell = as_ring([(0, 0), (30, 0), (30, 13), (60, 13), (60, 5), (80, 5), (80, 25), (60, 25), (60, 17), (30, 17),
                    (30, 30), (0, 30)])
    large, small = offset_uniform(bell, -3.0)
    assert (area(large), area(small)) == pytest.approx((24.0**2, 14.0**2), abs=2.0)


def test_one_wide_corner_in_closed_form():
    """Disc of radius r about a square's corner, tapering to nothing at the next corners, L away.

    Outside the square that adds two tangent triangles, r √(L² − r²) together, and a sector of
    3π/2 − 2 acos(r/L).
    """
    r, length = 20.0, 100.0
    grown = offset_variable(SQUARE, np.array([r, 0.0, 0.0, 0.0]), 0.001)
    added = r * np.sqrt(length**2 - r**2) + 0.5 * r**2 * (1.5 * np.pi - 2.0 * np.arccos(r / length))
    assert area(grown) == pytest.approx(1e4 + added, abs=0.001 * 250.0)


@settings(deadline=None, max_examples=40)
@given(star_rings(), st.floats(1.0, 25.0))
def test_equal_distances_equal_a_buffer(ring, distance):
    """With the same distance everywhere the result is shapely's buffer, outer ring, to 1e-4 of its area."""
    buffered = ring_of(polygon(ring).buffer(distance, quad_segs=256))
    for grown in (offset_variable(ring, np.full(len(ring), distance), 0.004), offset_uniform(ring, distance, 0.004)[0]):
        assert area(grown) == pytest.approx(area(buffered), rel=1e-4)
        # Not below the buffer anywhere, up to the buffer's own flattened arcs.
        assert contains(grown, buffered, tolerance=1e-9)


@settings(deadline=None, max_examples=60)
@given(star_rings(), st.data())
def test_every_point_has_its_distance_and_no_more_than_is_needed(ring, data):
    """Simple, contains the ring, at least the distance wanted at each sample, at most the largest anywhere."""
    n = len(ring)
    wanted = np.array(data.draw(st.lists(st.floats(0.0, 30.0), min_size=n, max_size=n)))
    grown = offset_variable(ring, wanted)
    assert is_simple(grown)
    assert contains(grown, ring, tolerance=1e-9)
    shares = np.linspace(0.0, 1.0, 21)[:, None, None]
    samples = ring + shares * (np.roll(ring, -1, axis=0) - ring)
    widths = wanted + shares[:, :, 0] * (np.roll(wanted, -1) - wanted)
    inside = shapely.distance(shapely.points(samples), shapely.LinearRing(grown))
    assert (inside >= widths - 1e-6).all()
    # Sampled, so that long edges of the result count too.
    outline = shapely.points(shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(grown), 1.0)))
    assert shapely.distance(outline, polygon(ring)).max() <= wanted.max() + CHORD_ERROR_MM + 1e-9


@settings(deadline=None, max_examples=30)
@given(star_rings(least=6), st.data())
def test_outline_is_no_further_out_than_its_discs_ask(ring, data):
    """The result is within the chord error of the union of many discs along the outline, built apart."""
    n = len(ring)
    wanted = np.array(data.draw(st.lists(st.floats(2.0, 15.0), min_size=n, max_size=n)))
    shares = np.linspace(0.0, 1.0, 61)[:-1, None, None]
    centres = (ring + shares * (np.roll(ring, -1, axis=0) - ring)).reshape(-1, 2)
    radii = (wanted + shares[:, :, 0] * (np.roll(wanted, -1) - wanted)).ravel()
    discs = shapely.buffer(shapely.points(centres), radii, quad_segs=16)
    union = ring_of(shapely.union_all([polygon(ring), *discs]))
    grown = offset_variable(ring, wanted, 0.05)
    assert contains(grown, union, tolerance=1e-6)
    # Between neighbouring discs, up to 2.3 mm apart, the union falls short of the hull by less than 0.5 mm.
    outline = shapely.points(shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(grown), 0.5)))
    assert shapely.distance(outline, polygon(union)).max() <= 0.5 + 0.05


def test_more_distance_never_gives_less_outline():
    """Growing any one distance only adds to the outline."""
    ring, wanted = regular(12, 80.0), np.linspace(5.0, 16.0, 12)
    grown = offset_variable(ring, wanted, 0.01)
    for i in range(12):
        more = wanted.copy()
        more[i] += 3.0
        assert contains(offset_variable(ring, more, 0.01), grown, tolerance=0.011)


@pytest.mark.parametrize("width", [3e-77, 1e-12, 1e-7, 2e-6])
def test_a_distance_of_next_to_nothing(width):
    """A disc too small for floating point, beside one of 1 mm, made the union fail; it counts as none."""
    ring = regular(7, 20.0)
    wanted = np.array([width, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0])
    grown, without = offset_variable(ring, wanted), offset_variable(ring, np.where(wanted < 1.0, 0.0, 1.0))
    assert area(grown) == pytest.approx(area(without), abs=1e-3)


def test_union_that_fails_in_full_precision_is_taken_on_a_grid(monkeypatch):
    """When the plain union gives up, the one on a fine grid gives the same outline within the chord error."""
    wanted = np.linspace(3.0, 14.0, 12)
    plain, union_all = offset_variable(regular(12, 40.0), wanted), shapely.union_all

    def gives_up_without_a_grid(shapes, grid_size=None):
        if grid_size is None:
            raise shapely.GEOSException("TopologyException")
        return union_all(shapes, grid_size=grid_size)

    monkeypatch.setattr(shapely, "union_all", gives_up_without_a_grid)
    on_a_grid = offset_variable(regular(12, 40.0), wanted)
    assert hausdorff_distance(on_a_grid, plain) <= CHORD_ERROR_MM
    assert contains(on_a_grid, regular(12, 40.0))


def test_holes_are_closed():
    """Where two arms meet, the gap between them is filled: the result is one ring."""
    clasp = as_ring([(0, 0), (60, 0), (60, 50), (34, 50), (34, 40), (50, 40), (50, 10), (10, 10), (10, 40), (26, 40),
                     (26, 50), (0, 50)])
    for grown in (offset_variable(clasp, np.full(12, 5.0)), offset_uniform(clasp, 5.0)[0]):
        assert is_simple(grown)
        assert contains(grown, as_ring([(20, 20), (40, 20), (40, 30), (20, 30)]))


def test_a_small_disc_within_a_large_one_asks_for_nothing():
    """An edge shorter than the difference of its distances is covered by the larger disc alone."""
    grown = offset_variable(as_ring([(0, 0), (5, 0), (2, 4)]), np.array([50.0, 1.0, 1.0]), 0.001)
    assert area(grown) == pytest.approx(np.pi * 2500.0, rel=1e-4)


def test_unfit_distances_are_refused():
    """Distances must be finite, not negative, and one for each vertex."""
    with pytest.raises(GeometryError, match="expected 4 distances"):
        offset_variable(SQUARE, np.ones(3))
    with pytest.raises(GeometryError, match="not below zero"):
        offset_variable(SQUARE, np.array([1.0, -1.0, 1.0, 1.0]))
    with pytest.raises(GeometryError, match="finite"):
        offset_uniform(SQUARE, float("nan"))
    assert np.array_equal(offset_variable(SQUARE, np.zeros(4)), SQUARE)
