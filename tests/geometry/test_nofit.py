"""No-fit and inner-fit polygons, held against shapely's own predicates and against closed forms."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import UNIT_SQUARE, regular, star_rings

from geometry.convex_parts import convex_parts
from geometry.nofit import inner_fit_polygon, inner_fit_strip, minkowski_sum, no_fit_polygon
from geometry.polygon import area, polygon, size
from geometry.pose import rotate
from geometry.precision import GeometryError, as_ring

NEAR = 1e-7
"""Displacements nearer than this to a boundary are not judged by the differential tests."""


def random_simple_ring(seed: int, corners: int) -> np.ndarray:
    """A wild simple ring: random points, joined by a random tour whose crossings are undone one by one."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(-50.0, 50.0, (corners, 2))
    crossed = True
    while crossed:
        crossed = False
        for i in range(corners - 1):
            for j in range(i + 2, corners - (i == 0)):
                a = shapely.LineString((points[i], points[i + 1]))
                b = shapely.LineString((points[j], points[(j + 1) % corners]))
                if a.intersects(b):
                    points[i + 1 : j + 1] = points[i + 1 : j + 1][::-1]
                    crossed = True
    return as_ring(points)


RINGS = [random_simple_ring(seed, 5 + seed) for seed in range(16)]


def moved(ring: np.ndarray, by) -> shapely.Polygon:
    """The ring's polygon, displaced."""
    return polygon(np.asarray(ring) + by)


def spots(shape: shapely.Geometry, count: int, seed: int) -> np.ndarray:
    """Random displacements about `shape`, and some close to both sides of its boundary."""
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = shape.bounds
    wide = rng.uniform((x0 - 5.0, y0 - 5.0), (x1 + 5.0, y1 + 5.0), (count, 2))
    edge = shapely.get_coordinates(shape.boundary.interpolate(rng.uniform(0.0, 1.0, count), normalized=True))
    return np.concatenate((wide, edge + rng.normal(0.0, 1e-3, edge.shape)))


@pytest.mark.parametrize("ring", [*RINGS, regular(7), UNIT_SQUARE], ids=lambda ring: f"{len(ring)}")
def test_convex_parts_cover_the_ring_without_overlap(ring):
    """Parts are convex, their areas add up to the ring's, and their union is the ring."""
    parts = convex_parts(ring)
    assert sum(area(part) for part in parts) == pytest.approx(area(ring), rel=1e-12)
    assert shapely.union_all([polygon(part) for part in parts]).symmetric_difference(polygon(ring)).area < 1e-9
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


def test_number_of_convex_parts_keeps_the_bound_of_hertel_and_mehlhorn():
    """At most 2 r + 1 parts for r reflex corners (Hertel & Mehlhorn 1983)."""
    for ring in RINGS:
        before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
        (ax, ay), (bx, by) = (ring - before).T, (after - ring).T
        reflex = int((ax * by - ay * bx < 0.0).sum())
        assert len(convex_parts(ring)) <= 2 * reflex + 1


def test_a_ring_that_crosses_itself_is_refused():
    """A bow tie has no inside to be cut into parts."""
    with pytest.raises(GeometryError, match="cross"):
        convex_parts(np.array([(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 3.0)]))


def test_sum_of_convex_rings_has_the_area_of_the_mixed_formula():
    """Area of a square of side 2 plus a unit disc's n-gon: A + perimeter-like mixed term + B (Steiner's formula)."""
    square, disc = 2.0 * UNIT_SQUARE, regular(4096)
    assert minkowski_sum(square, disc).area == pytest.approx(4.0 + 8.0 + np.pi, rel=1e-5)


@settings(max_examples=30, deadline=None)
@given(star_rings(), star_rings())
def test_sum_does_not_depend_on_the_order(a, b):
    """a ⊕ b = b ⊕ a."""
    one, other = minkowski_sum(a, b), minkowski_sum(b, a)
    assert one.symmetric_difference(other).area <= 1e-9 * one.area


@pytest.mark.parametrize("seed", range(14))
def test_no_fit_polygon_tells_overlap_as_shapely_does(seed):
    """Wild outlines overlap with area exactly when the displacement lies inside the no-fit polygon."""
    fixed, moving = RINGS[seed], RINGS[(seed + 5) % len(RINGS)]
    shape = no_fit_polygon(fixed, moving)
    judged = 0
    for spot in spots(shape, 60, seed):
        at = shapely.Point(spot)
        if shape.boundary.distance(at) < NEAR:
            continue
        judged += 1
        assert polygon(fixed).intersects(moved(moving, spot)) == shape.contains(at)
    assert judged > 100


@settings(max_examples=25, deadline=None)
@given(star_rings(), star_rings(), st.floats(0.0, 360.0))
def test_at_the_corners_of_the_no_fit_polygon_outlines_touch_without_overlap(fixed, moving, turn):
    """Contact moves share no area beyond rounding, and are contacts: the outlines are no distance apart."""
    moving = as_ring(rotate(moving, turn))
    scale = max(*size(fixed), *size(moving))
    for spot in shapely.get_coordinates(no_fit_polygon(fixed, moving).boundary):
        placed = moved(moving, spot)
        assert polygon(fixed).intersection(placed).area < 1e-7 * scale**2
        assert polygon(fixed).distance(placed) < 1e-8 * scale


def test_no_fit_polygon_keeps_the_hole_of_a_hollow():
    """A small square inside a C with a narrow mouth: its free positions there are a hole of known area."""
    right = [(0, 0), (10, 0), (10, 10), (5.5, 10), (5.5, 9), (9, 9), (9, 1)]
    hollow = as_ring([*right, (1, 1), (1, 9), (5, 9), (5, 10), (0, 10)])
    shape = no_fit_polygon(hollow, 2.0 * UNIT_SQUARE)
    assert len(shape.interiors) == 1
    assert shapely.Polygon(shape.interiors[0]).area == pytest.approx(6.0 * 6.0)


@pytest.mark.parametrize("gap", [0.5, 3.0, 20.0])
def test_gap_is_never_undercut_and_hardly_overdone(gap):
    """Along the whole boundary the outlines stand at least the gap apart, and at most 0.5 % more."""
    for seed in range(0, 14, 2):
        fixed, moving = RINGS[seed], RINGS[seed + 1]
        boundary = no_fit_polygon(fixed, moving, gap).boundary
        along = boundary.interpolate(np.linspace(0.0, 1.0, 300), normalized=True)
        for spot in np.concatenate((shapely.get_coordinates(boundary), shapely.get_coordinates(along))):
            apart = polygon(fixed).distance(moved(moving, spot))
            assert gap - 1e-9 <= apart <= 1.005 * gap


@pytest.mark.parametrize("seed", range(10))
def test_inner_fit_polygon_tells_containment_as_shapely_does(seed):
    """A wild piece lies in a wild container with holes exactly when its position is in the inner-fit polygon."""
    rng = np.random.default_rng(seed)
    outer = 6.0 * RINGS[12 + seed % 4]
    holes = [shapely.Point(spot).buffer(rng.uniform(3.0, 15.0), quad_segs=3) for spot in rng.uniform(-250, 250, (9, 2))]
    container = shapely.difference(polygon(outer), shapely.union_all(holes))
    moving = 0.5 * RINGS[seed]
    shape = inner_fit_polygon(container, moving)
    judged = 0
    for spot in spots(shape if not shape.is_empty else container, 80, seed):
        at = shapely.Point(spot)
        if shape.boundary.distance(at) < NEAR:
            continue
        judged += 1
        assert container.contains(moved(moving, spot)) == shape.contains(at)
    assert judged > 100


def test_at_the_corners_of_the_inner_fit_polygon_the_piece_does_not_stick_out():
    """Contact moves against the container's outline and its holes lose no area beyond rounding."""
    container = polygon(4.0 * RINGS[3]).difference(shapely.Point(20.0, 5.0).buffer(9.0))
    corners = shapely.get_coordinates(inner_fit_polygon(container, 0.6 * RINGS[6]))
    assert len(corners) > 8
    for spot in corners:
        assert moved(0.6 * RINGS[6], spot).difference(container).area < 1e-7 * 400.0**2


def test_inner_fit_in_a_rectangle_is_the_rectangle_less_the_size():
    """A 3 by 2 box in a 10 by 5 one may move by 7 by 3; in a ring or a polygon alike."""
    container, moving = UNIT_SQUARE * (10.0, 5.0), UNIT_SQUARE * (3.0, 2.0) + 1.0
    for given_as in (as_ring(container), polygon(container)):
        assert inner_fit_polygon(given_as, as_ring(moving)).equals(shapely.box(-1.0, -1.0, 6.0, 2.0))


def test_inner_fit_of_several_polygons_is_the_union_of_each():
    """Two boxes apart: the piece fits in one or the other, never across."""
    both = shapely.MultiPolygon([shapely.box(0, 0, 4, 4), shapely.box(5, 0, 8, 4)])
    assert inner_fit_polygon(both, 2.0 * UNIT_SQUARE).area == pytest.approx(2.0 * 2.0 + 1.0 * 2.0)


def test_what_does_not_fit_has_no_position():
    """Too wide, too high, or kept out by a bend: empty."""
    bend = as_ring([(0, 0), (10, 0), (10, 2), (2, 2), (2, 10), (0, 10)])
    assert inner_fit_polygon(UNIT_SQUARE, 2.0 * UNIT_SQUARE).is_empty
    assert inner_fit_polygon(bend, as_ring(UNIT_SQUARE * (3.0, 3.0))).is_empty


def test_inner_fit_strip_is_the_width_less_the_height():
    """Ends of the free way across a strip; none if the piece is higher than the strip is wide."""
    ring = as_ring([(0, -1), (5, -1), (2, 3)])
    assert inner_fit_strip(10.0, ring) == (1.0, 7.0)
    assert inner_fit_strip(4.0, ring) == (1.0, 1.0)
    assert inner_fit_strip(3.9, ring) is None
