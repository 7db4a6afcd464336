"""Curves as chords, against the closed-form sagitta and against an independent library."""

import numpy as np
import pytest
import shapely
from ezdxf.math import BSpline, bulge_center, bulge_radius
from hypothesis import assume, given
from hypothesis import strategies as st

from geometry.curves import (
    arc_points,
    bspline_points,
    bulge_points,
    chord_step,
    closed_bspline,
    ellipse_points,
)
from geometry.polygon import area
from geometry.precision import CHORD_ERROR_MM, GeometryError


@given(st.floats(0.5, 5000.0), st.floats(0.001, 0.4))
def test_chord_step_is_the_sagitta_turned_round(radius, chord_error):
    """A chord over the step leaves the circle by r (1 - cos(step/2)): the error itself, or less when capped."""
    step = chord_step(radius, chord_error)
    sagitta = radius * (1.0 - np.cos(0.5 * step))
    assert sagitta == pytest.approx(chord_error) if step < np.pi / 4 else sagitta <= chord_error


def test_chord_error_must_be_above_zero():
    """No number of chords is exact, so an error of nought is refused."""
    with pytest.raises(GeometryError, match="above zero"):
        arc_points((0, 0), 10.0, 0.0, 90.0, chord_error=0.0)


@given(st.floats(1.0, 500.0), st.floats(0.0, 360.0), st.floats(5.0, 355.0))
def test_arc_keeps_the_error_with_no_chord_too_many(radius, start, sweep):
    """Points lie on the circle, every chord's sagitta is within the error, and one chord fewer would break it."""
    points = arc_points((3.0, -2.0), radius, start, start + sweep)
    arms = points - (3.0, -2.0)
    assert np.hypot(*arms.T) == pytest.approx(radius)
    chords = len(points) - 1
    sagitta = radius * (1.0 - np.cos(np.radians(sweep) / chords / 2.0))
    assert sagitta <= CHORD_ERROR_MM * (1.0 + 1e-6)
    if chords > 1 and sweep / (chords - 1) < 45.0:
        assert radius * (1.0 - np.cos(np.radians(sweep) / (chords - 1) / 2.0)) > CHORD_ERROR_MM * (1.0 - 1e-6)


def test_arc_runs_counter_clockwise_past_zero():
    """From 350° to 10° an arc turns 20°, not back through 340° (DXF reference, ARC)."""
    points = arc_points((0, 0), 100.0, 350.0, 10.0)
    assert points[0] == pytest.approx((100 * np.cos(np.radians(10)), -100 * np.sin(np.radians(10))))
    assert points[-1, 1] > 0.0 and points[:, 0].min() > 98.0


def test_whole_circle_has_the_area_of_its_polygon():
    """Equal angles give the whole circle: n chords enclose n r² sin(2π/n)/2."""
    points = arc_points((0, 0), 30.0, 0.0, 0.0)
    n = len(points) - 1
    assert points[0] == pytest.approx(points[-1])
    assert area(points[:-1]) == pytest.approx(0.5 * n * 900.0 * np.sin(2.0 * np.pi / n))


def test_ellipse_points_satisfy_its_equation():
    """x²/a² + y²/b² = 1 at every point, and midway the curve is within the error of its chord."""
    points = ellipse_points((0, 0), (80.0, 0.0), 0.25, 20.0, 250.0)
    assert (points[:, 0] / 80.0) ** 2 + (points[:, 1] / 20.0) ** 2 == pytest.approx(np.ones(len(points)))
    dense = np.radians(np.linspace(20.0, 250.0, 20001))
    curve = shapely.points(np.column_stack((80.0 * np.cos(dense), 20.0 * np.sin(dense))))
    assert shapely.distance(curve, shapely.LineString(points)).max() <= CHORD_ERROR_MM


def test_bulge_of_one_is_a_half_circle_on_the_right():
    """Bulge 1 from (0, 0) to (10, 0) turns counter-clockwise, so it passes through (5, -5)."""
    points = bulge_points((0, 0), (10, 0), 1.0, chord_error=0.01)
    assert np.hypot(*(points - (5.0, 0.0)).T) == pytest.approx(5.0)
    assert points[:, 1].min() == pytest.approx(-5.0, abs=0.01)
    assert np.array_equal(points[[0, -1]], [(0, 0), (10, 0)])


def test_bulge_is_the_tangent_of_a_quarter_of_the_angle():
    """A quarter circle has bulge tan(90°/4) (DXF reference, code 42): its centre is the square's corner."""
    points = bulge_points((10, 0), (0, 10), np.tan(np.radians(90.0 / 4.0)))
    assert np.hypot(*points.T) == pytest.approx(10.0)


@given(
    st.tuples(st.floats(-100, 100), st.floats(-100, 100)),
    st.tuples(st.floats(-100, 100), st.floats(-100, 100)),
    st.floats(-3.0, 3.0),
)
def test_bulge_agrees_with_an_independent_library(start, end, bulge):
    """Centre and radius as ezdxf computes them; ends exact; sagitta within the error."""
    assume(abs(bulge) > 0.01 and np.hypot(end[0] - start[0], end[1] - start[1]) > 1.0)
    points = bulge_points(start, end, bulge)
    centre, radius = bulge_center(start, end, bulge), bulge_radius(start, end, bulge)
    assert np.hypot(*(points - (centre.x, centre.y)).T) == pytest.approx(radius, rel=1e-6)
    assert tuple(points[0]) == start and tuple(points[-1]) == end
    half_chords = 0.5 * np.hypot(*np.diff(points, axis=0).T)
    assert (radius - np.sqrt(np.clip(radius**2 - half_chords**2, 0.0, None))).max() <= CHORD_ERROR_MM * 1.001


def test_straight_edge_has_no_points_between():
    """Bulge 0 is the edge itself."""
    assert np.array_equal(bulge_points((0, 0), (5, 5), 0.0), [(0, 0), (5, 5)])


@given(
    st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=5, max_size=9),
    st.integers(1, 4),
)
def test_spline_agrees_with_an_independent_library(control, degree):
    """Points of a clamped spline lie on ezdxf's curve, whose own points are within the error of the chords."""
    assume(np.ptp(control, axis=0).max() > 1.0)
    inner = len(control) - degree - 1
    knots = [0.0] * (degree + 1) + list(range(1, inner + 1)) + [float(inner + 1)] * (degree + 1)
    points = bspline_points(np.array(control), np.array(knots), degree)
    reference = BSpline(control, order=degree + 1, knots=knots)
    parameters = np.linspace(0.0, inner + 1, 801)
    curve = np.array([(v.x, v.y) for v in reference.points(parameters)])
    assert points[0] == pytest.approx(control[0], abs=1e-9) and points[-1] == pytest.approx(control[-1], abs=1e-9)
    assert shapely.distance(shapely.points(curve), shapely.LineString(points)).max() <= CHORD_ERROR_MM * (1.0 + 1e-6)


def test_parabola_needs_just_the_chords_the_bound_says():
    """A parabola of degree 2 leaves each chord by h² |C''| / 8 exactly: no chord more than that asks for."""
    control = np.array([(0.0, 0.0), (50.0, 40.0), (100.0, 0.0)])
    points = bspline_points(control, np.array([0, 0, 0, 1, 1, 1]), 2, chord_error=0.1)
    second_derivative = np.hypot(*(2.0 * (control[0] - 2.0 * control[1] + control[2])))
    assert len(points) - 1 == np.ceil(np.sqrt(second_derivative / 0.8))


def test_closed_spline_of_a_square_is_symmetric_and_open():
    """The closed spline of a square's corners has the square's symmetry, and does not repeat its start."""
    ring = closed_bspline(50.0 * np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)]), chord_error=0.01)
    assert not np.allclose(ring[0], ring[-1])
    assert ring.mean(axis=0) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert ring.max(axis=0) == pytest.approx(-ring.min(axis=0), abs=1e-9)


def test_spline_data_must_fit_together():
    """Too few control points or knots are named in the error."""
    with pytest.raises(GeometryError, match="more than 3 control points"):
        bspline_points(np.zeros((3, 2)), np.arange(7.0), 3)
    with pytest.raises(GeometryError, match="expected 9 non-decreasing knots, found 8"):
        bspline_points(np.zeros((5, 2)), np.arange(8.0), 3)
