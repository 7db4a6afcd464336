"""No-fit and inner-fit polygons, held against shapely's own predicates and against closed forms."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import UNIT_SQUARE, regular, star_rings

from geometry.nofit import (
    inner_fit_polygon,
    inner_fit_strip,
    joint_fit_polygon,
    joint_fit_rings,
    minkowski_sum,
    no_fit_polygon,
    no_fit_rings,
    walls,
)
from geometry.polygon import polygon, size
from geometry.pose import rotate
from geometry.precision import as_ring

NEAR = 1e-6
"""Displacements nearer than this to a boundary are not judged by the differential tests: the grid's step for these."""


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


def block_ring(seed: int) -> np.ndarray:
    """Outline of up to ten cells of a square grid, turned: its edges lie in line with those of its own copies."""
    rng = np.random.default_rng(seed)
    cells = {(0, 0)}
    while len(cells) < rng.integers(4, 11):
        x, y = sorted(cells)[rng.integers(len(cells))]
        step = [(1, 0), (0, 1), (-1, 0), (0, -1)][rng.integers(4)]
        cells.add((x + step[0], y + step[1]))
    outline = shapely.union_all([shapely.box(x, y, x + 1, y + 1) for x, y in cells]).simplify(0.0).exterior
    if not outline.is_simple or len(shapely.get_coordinates(outline)) < 8:
        return block_ring(seed + 1000)
    return as_ring(rotate(10.0 * as_ring(outline.coords), rng.choice((0.0, 30.0, 45.0, 57.3))))


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


def test_sum_of_convex_rings_has_the_area_of_the_mixed_formula():
    """Area of a square of side 2 plus a unit disc's n-gon: A + perimeter-like mixed term + B (Steiner's formula)."""
    square, disc = 2.0 * UNIT_SQUARE, regular(4096)
    assert minkowski_sum(square, disc).area == pytest.approx(4.0 + 8.0 + np.pi, rel=1e-5)


@pytest.mark.parametrize("seed", range(6))
def test_sum_of_polygons_with_holes_tells_contact_as_shapely_does(seed):
    """Two polygons, one with a hole larger than the ring and some smaller: the holes close as they must."""
    rng = np.random.default_rng(seed)
    ring = 0.4 * RINGS[seed]
    whole = polygon(6.0 * RINGS[8]).buffer(60.0).difference(shapely.Point(0.0, 0.0).buffer(70.0))
    whole = whole.difference(shapely.MultiPoint(rng.uniform(-300.0, 300.0, (5, 2))).buffer(8.0))
    whole = shapely.union_all([whole, shapely.box(700.0, 0.0, 760.0, 30.0)])
    total = minkowski_sum(whole, ring)
    assert total.is_valid
    assert total.geom_type == "MultiPolygon"
    assert any(part.interiors for part in total.geoms)
    for spot in np.concatenate((spots(total, 60, seed), rng.uniform(-60.0, 60.0, (60, 2)))):
        at = shapely.Point(spot)
        if total.boundary.distance(at) >= 1e-5:
            assert whole.intersects(moved(-ring, spot)) == total.contains(at)


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


@pytest.mark.parametrize("seed", range(16))
def test_no_fit_polygon_of_outlines_with_edges_in_line(seed):
    """An outline against itself, half turned or not, where nearly all edges coincide: overlap is told right."""
    fixed = block_ring(seed)
    moving = fixed if seed % 2 else as_ring(-fixed)
    shape = no_fit_polygon(fixed, moving)
    assert shape.is_valid
    for spot in spots(shape, 40, seed):
        at = shapely.Point(spot)
        if shape.boundary.distance(at) >= NEAR:
            assert polygon(fixed).intersects(moved(moving, spot)) == shape.contains(at)


def test_no_fit_polygon_where_shapely_loses_a_part_of_the_union():
    """A hollow octagon with nearly coinciding edges: one whose union of convex sums shapely 2.2 gets 16 % too small."""
    angles = 2.0 * np.pi * np.arange(8) / 8
    radii = np.array((20.0, 20.0, 20.0, 20.0, 20.0, 20.0, 65.0, 41.0))
    ring = as_ring(radii[:, None] * np.column_stack((0.5 * np.cos(angles), np.sin(angles))))
    shape = no_fit_polygon(ring, -ring)
    for spot in spots(shape, 200, 1):
        at = shapely.Point(spot)
        if shape.boundary.distance(at) >= NEAR:
            assert polygon(ring).intersects(moved(-ring, spot)) == shape.contains(at)


@pytest.mark.parametrize("seed", range(14))
def test_sum_is_the_union_of_the_sums_of_convex_parts(seed):
    """Another method: outlines cut into triangles by shapely, hulls of their corners' sums, and these united."""
    a, b = RINGS[seed], RINGS[(seed + 3) % len(RINGS)]
    ours, others = (
        shapely.get_coordinates(shapely.constrained_delaunay_triangles(polygon(ring))).reshape(-1, 4, 2)[:, :3]
        for ring in (a, b)
    )
    corners = (ours[:, None, :, None] + others[None, :, None, :]).reshape(-1, 9, 2)
    expected = shapely.union_all(shapely.convex_hull(shapely.multipoints(shapely.points(corners))), grid_size=1e-7)
    assert minkowski_sum(a, b).symmetric_difference(expected).area < 1e-6 * expected.length


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


@pytest.mark.parametrize("seed", range(6))
def test_joint_fit_is_the_intersection_of_the_fits(seed):
    """Two rings that move together, in containers of their own, one of these in two parts with a hole."""
    ground = polygon(5.0 * RINGS[12 + seed % 4])
    good = shapely.MultiPolygon([shapely.box(-250, -250, -20, 250), shapely.box(20, -250, 250, 250)])
    good = good.difference(shapely.Point(90.0, 30.0).buffer(20.0))
    rough, net = 0.4 * RINGS[seed], 0.3 * RINGS[seed]
    joint = joint_fit_polygon([(ground, rough), (good, net)])
    fits = shapely.intersection(inner_fit_polygon(ground, rough), inner_fit_polygon(good, net))
    assert joint.is_valid
    assert joint.area > 0.0
    assert joint.symmetric_difference(fits).area < 1e-5 * fits.length
    rings = joint_fit_rings([(walls(ground), rough), (walls(good), net)])
    assert sum(polygon(ring).area * (1 if shapely.is_ccw(shapely.LinearRing(ring)) else -1) for ring in rings) == (
        pytest.approx(joint.area))


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


@pytest.mark.parametrize("seed", range(8))
def test_rings_are_those_of_the_polygon(seed):
    """Without a shapely polygon in between the rings of a no-fit polygon, its holes among them, are the same."""
    fixed, moving = RINGS[seed], 0.3 * RINGS[15 - seed]
    rings = no_fit_rings(fixed, moving)
    whole = no_fit_polygon(fixed, moving)
    assert sum(0.5 * np.sum(r[:, 0] * np.roll(r[:, 1], -1) - r[:, 1] * np.roll(r[:, 0], -1)) for r in rings) == (
        pytest.approx(whole.area))
    assert sorted(map(len, rings)) == sorted(len(shapely.get_coordinates(r)) - 1 for r in shapely.get_rings(whole))
