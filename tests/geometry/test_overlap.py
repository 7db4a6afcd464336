"""Penetration depths by table, held against shapely's distances and predicates and against closed forms."""

import numpy as np
import pytest
import shapely
from displacements import contact_spots, random_spots, vamp_pair
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import regular, star_rings

from geometry.overlap import depth_inside, depth_outside, inside, move_in, move_out
from geometry.polygon import polygon
from geometry.tables import build_table, edges_of, join_tables

EXACT = 1e-9
"""Largest difference between a table's distance and shapely's, mm, on shapes about 300 mm wide."""


def wild_shape(seed: int) -> shapely.Polygon | shapely.MultiPolygon:
    """Star-shaped rings strewn about, united, some cut out again: several polygons, holes, islands in holes."""
    rng = np.random.default_rng(seed)

    def star(reach: float) -> shapely.Polygon:
        n = int(rng.integers(5, 14))
        angles = 2.0 * np.pi * (np.arange(n) + rng.random()) / n
        radii = rng.uniform(0.4, 1.0, n) * reach
        centre = rng.uniform(-100.0, 100.0, 2)
        return polygon(centre + radii[:, None] * np.column_stack((np.cos(angles), np.sin(angles))))

    solid = shapely.union_all([star(70.0) for _ in range(6)])
    shape = solid.difference(shapely.union_all([star(40.0) for _ in range(5)]))
    return shape.union(shapely.union_all([star(8.0) for _ in range(6)]))


SHAPES = [wild_shape(seed) for seed in range(8)]


def spots_about(shape: shapely.Geometry, count: int, seed: int) -> np.ndarray:
    """Points everywhere, close to the boundary, on corners, and in line with corners both ways."""
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = shape.bounds
    wide = rng.uniform((x0 - 20.0, y0 - 20.0), (x1 + 20.0, y1 + 20.0), (count, 2))
    edge = shapely.get_coordinates(shape.boundary.interpolate(rng.uniform(0.0, 1.0, count), normalized=True))
    corner = shapely.get_coordinates(shape)
    level = np.column_stack((rng.uniform(x0, x1, count), rng.choice(corner[:, 1], count)))
    upright = np.column_stack((rng.choice(corner[:, 0], count), rng.uniform(y0, y1, count)))
    crossed = np.column_stack((rng.choice(corner[:, 0], count), rng.choice(corner[:, 1], count)))
    return np.concatenate((wide, edge, edge + rng.normal(0.0, 1e-4, edge.shape), corner, level, upright, crossed))


def table(shape: shapely.Geometry, cells: int = 24, outside: bool = False):
    """Flat arrays that hold the one table of `shape`."""
    return join_tables([build_table(shape, cells=cells, outside=outside)])


def in_box(shape: shapely.Geometry, spots: np.ndarray) -> np.ndarray:
    """The points within the bounding box of `shape`."""
    x0, y0, x1, y1 = shape.bounds
    x, y = spots.T
    return spots[(x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)]


def test_the_shapes_have_holes_and_several_parts():
    """The wild shapes are what the tests need them to be."""
    assert sum(len(shapely.get_parts(shape)) > 1 for shape in SHAPES) >= 4
    assert sum(len(part.interiors) > 0 for shape in SHAPES for part in shapely.get_parts(shape)) >= 4


@pytest.mark.parametrize("cells", [1, 5, 24, 96])
@pytest.mark.parametrize("seed", range(len(SHAPES)))
def test_depth_inside_is_shapelys_distance_to_the_boundary(seed, cells):
    """Inside: distance to the boundary; outside: 0; whatever the grid, whatever the point is in line with."""
    shape = SHAPES[seed]
    tables = table(shape, cells)
    spots = spots_about(shape, 40, seed)
    points = shapely.points(spots)
    expected = np.where(shapely.contains(shape, points), shapely.distance(shape.boundary, points), 0.0)
    found = [depth_inside(tables, 0, x, y) for x, y in spots]
    np.testing.assert_allclose(found, expected, rtol=0.0, atol=EXACT)


@pytest.mark.parametrize("cells", [1, 5, 24, 96])
@pytest.mark.parametrize("seed", range(len(SHAPES)))
def test_depth_outside_is_shapelys_distance_to_the_shape(seed, cells):
    """Within the bounding box: distance to the shape, 0 inside it."""
    shape = SHAPES[seed]
    tables = table(shape, cells, outside=True)
    spots = in_box(shape, spots_about(shape, 60, seed))
    found = [depth_outside(tables, 0, x, y) for x, y in spots]
    np.testing.assert_allclose(found, shapely.distance(shape, shapely.points(spots)), rtol=0.0, atol=EXACT)


@pytest.mark.parametrize("outside", [False, True])
@pytest.mark.parametrize("seed", range(len(SHAPES)))
def test_a_depth_that_is_enough_is_told_early_and_never_too_deep(seed, outside):
    """Below `enough` the depth is exact; from there on the value lies between `enough` and the depth."""
    shape = SHAPES[seed]
    tables = table(shape, 24, outside=outside)
    depth = depth_outside if outside else depth_inside
    spots = in_box(shape, spots_about(shape, 60, seed))
    full = np.array([depth(tables, 0, x, y) for x, y in spots])
    early = 0
    for enough in np.quantile(full[full > 0.0], (0.1, 0.5, 0.9)):
        told = np.array([depth(tables, 0, x, y, enough) for x, y in spots])
        assert np.array_equal(told[full < enough], full[full < enough])
        assert np.all(told[full >= enough] >= enough)
        assert np.all(told <= full)
        early += int(np.sum(told < full))
    assert early > 0


@pytest.mark.parametrize("seed", range(len(SHAPES)))
def test_beyond_the_grid_depth_outside_is_a_distance_by_way_of_the_box(seed):
    """Far off: way to the bounding box, then from there; never less than the true distance."""
    shape = SHAPES[seed]
    tables = table(shape, outside=True)
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = shape.bounds
    spots = rng.uniform((x0 - 300.0, y0 - 300.0), (x1 + 300.0, y1 + 300.0), (200, 2))
    entry = np.clip(spots, (x0, y0), (x1, y1))
    by_way = np.hypot(*(spots - entry).T) + shapely.distance(shape, shapely.points(entry))
    found = np.array([depth_outside(tables, 0, x, y) for x, y in spots])
    # The grid is wider than the box by a millionth of its size.
    np.testing.assert_allclose(found, by_way, rtol=0.0, atol=1e-5 * max(x1 - x0, y1 - y0))
    assert (found >= shapely.distance(shape, shapely.points(spots)) - EXACT).all()


@pytest.mark.parametrize("seed", range(len(SHAPES)))
def test_beyond_the_grid_nothing_is_inside(seed):
    """Points off the bounding box have no depth and are not inside."""
    shape = SHAPES[seed]
    tables = table(shape)
    x0, y0, x1, y1 = shape.bounds
    off = [(x0 - 1.0, 0.0), (x1 + 1.0, 0.0), (0.0, y0 - 1.0), (0.0, y1 + 1.0), (x0 - 1e4, y1 + 1e4), (1e9, -1e9)]
    for x, y in off:
        assert depth_inside(tables, 0, x, y) == 0.0
        assert not inside(tables, 0, x, y)


@pytest.mark.parametrize("seed", range(len(SHAPES)))
def test_move_out_leads_to_the_nearest_boundary(seed):
    """As long as the depth, and it ends on the boundary."""
    shape = SHAPES[seed]
    tables = table(shape)
    for x, y in spots_about(shape, 30, seed):
        depth = depth_inside(tables, 0, x, y)
        if depth > 0.0:
            dx, dy = move_out(tables, 0, x, y)
            assert np.hypot(dx, dy) == pytest.approx(depth, abs=EXACT)
            assert shape.boundary.distance(shapely.Point(x + dx, y + dy)) < EXACT


@pytest.mark.parametrize("seed", range(len(SHAPES)))
def test_move_in_leads_back_from_outside(seed):
    """From outside, near or far, it ends on the boundary; within the box it is the shortest way."""
    shape = SHAPES[seed]
    tables = table(shape, outside=True)
    for spot in (*spots_about(shape, 30, seed), (-900.0, 400.0), (30.0, -700.0)):
        depth = depth_outside(tables, 0, *spot)
        if depth > 0.0:
            move = move_in(tables, 0, *spot)
            assert shape.boundary.distance(shapely.Point(spot + np.array(move))) < EXACT
            if len(in_box(shape, np.array([spot]))):
                assert np.hypot(*move) == pytest.approx(depth, abs=EXACT)


@pytest.mark.parametrize("seed", range(len(SHAPES)))
def test_inside_is_shapelys_contains_off_the_boundary(seed):
    """Points further than rounding from the boundary are inside exactly when shapely contains them."""
    shape = SHAPES[seed]
    tables = table(shape)
    spots = spots_about(shape, 80, seed)
    points = shapely.points(spots)
    clear = shapely.distance(shape.boundary, points) > EXACT
    assert clear.sum() > 300
    found = np.array([inside(tables, 0, x, y) for x, y in spots[clear]])
    np.testing.assert_array_equal(found, shapely.contains(shape, points[clear]))


def test_every_point_of_a_tiling_belongs_to_one_tile():
    """Whole and half coordinates, so that rays run through corners: one tile holds the point, or it lies on an edge.

    On an edge it has no depth in any tile.
    """
    rng = np.random.default_rng(5)
    points = np.unique(np.concatenate((rng.integers(0, 17, (40, 2)), [(0, 0), (16, 0), (16, 16), (0, 16)])), axis=0)
    tiles = shapely.get_parts(shapely.delaunay_triangles(shapely.multipoints(points.astype(float))))
    tables = join_tables([build_table(tile, cells=7) for tile in tiles])
    edges = shapely.union_all(shapely.boundary(tiles))
    assert sum(tile.area for tile in tiles) == 256.0
    on_edges = 0
    for x in np.arange(0.5, 16.0, 0.5):
        for y in np.arange(0.5, 16.0, 0.5):
            if edges.distance(shapely.Point(x, y)) > EXACT:
                assert sum(inside(tables, t, x, y) for t in range(len(tiles))) == 1
            else:
                assert max(depth_inside(tables, t, x, y) for t in range(len(tiles))) < EXACT
                on_edges += 1
    assert on_edges > 50


def test_joined_tables_answer_as_each_alone():
    """Joining changes no answer by a bit, in any order; polygons of all makes, grids of all sizes."""
    shapes = [*SHAPES, polygon(regular(5)), shapely.box(0, 0, 400.0, 0.3)]
    cells = [3, 40, 17, 1, 96, 8, 33, 24, 5, 50]
    outside = [bool(t % 2) for t in range(len(shapes))]
    made = [build_table(s, cells=c, outside=o) for s, c, o in zip(shapes, cells, outside, strict=True)]
    joined, back = join_tables(made), join_tables(made[::-1])
    for t, shape in enumerate(shapes):
        alone = join_tables([made[t]])
        depth = depth_outside if outside[t] else depth_inside
        for x, y in spots_about(shape, 8, t):
            answer = depth(alone, 0, x, y), inside(alone, 0, x, y)
            for tables, at in ((joined, t), (back, len(made) - 1 - t)):
                assert (depth(tables, at, x, y), inside(tables, at, x, y)) == answer
                move = move_in if outside[t] else move_out
                assert move(tables, at, x, y) == move(alone, 0, x, y)
                assert (np.hypot(*move(tables, at, x, y)) > EXACT) == (answer[0] > EXACT)


def test_edges_run_round_every_ring_once():
    """Outer rings and holes alike, closing edges included; a repeated point makes no edge; nothing has none."""
    ring = shapely.box(0, 0, 10, 10).difference(shapely.box(4, 4, 6, 6))
    both = shapely.MultiPolygon([ring, shapely.Polygon([(20, 0), (21, 0), (21, 0), (20, 1)])])
    edges = edges_of(both)
    assert edges.shape == (5 + 5 + 4, 3)
    whole = edges[:, 2] > 0.0
    assert np.flatnonzero(~whole).tolist() == [4, 9, 13]
    for first, last in ((0, 4), (5, 9), (10, 13)):
        np.testing.assert_array_equal(edges[first, :2], edges[last, :2])
    length = np.hypot(*np.diff(edges[:, :2], axis=0).T)[whole[:-1]]
    assert length.sum() == pytest.approx(both.length)
    np.testing.assert_allclose(edges[whole, 2] * length**2, 1.0)
    assert edges_of(shapely.Polygon()).shape == (0, 3)


def test_depth_in_a_frame_has_its_closed_form():
    """A 10 by 6 box with a 4 by 2 hole in its middle: least of the ways to the sides and to the hole."""
    tables = table(shapely.box(0, 0, 10, 6).difference(shapely.box(3, 2, 7, 4)), 10)
    known = [(1, 3, 1), (2, 3, 1), (5, 1, 1), (5, 1.25, 0.75), (1.5, 1, 1), (5, 3, 0), (3, 2, 0), (10, 3, 0)]
    for x, y, depth in known:
        assert depth_inside(tables, 0, float(x), float(y)) == pytest.approx(depth, abs=1e-12)
    assert depth_inside(tables, 0, 2.25, 1.25) == pytest.approx(0.75 * np.sqrt(2.0), abs=1e-12)


def test_a_needle_is_measured_like_anything_else():
    """A triangle a thousand times longer than wide, its rows few and its cells long."""
    needle = polygon(np.array([(0.0, 0.0), (400.0, 0.1), (0.0, 0.4)]))
    tables, back = table(needle, 32), table(needle, 32, outside=True)
    rng = np.random.default_rng(1)
    for x, y in rng.uniform((0.0, 0.0), (400.0, 0.4), (300, 2)):
        at = shapely.Point(x, y)
        depth = needle.boundary.distance(at) if needle.contains(at) else 0.0
        assert depth_inside(tables, 0, x, y) == pytest.approx(depth, abs=EXACT)
        assert depth_outside(back, 0, x, y) == pytest.approx(needle.distance(at), abs=EXACT)


@settings(max_examples=40, deadline=None)
@given(star_rings(), st.integers(1, 40), st.integers(0, 2**32 - 1))
def test_depths_change_no_faster_than_the_point_moves(ring, cells, seed):
    """Distances are 1-Lipschitz, inside and outside, over cell borders too; only one of the two is above 0."""
    shape = polygon(ring)
    deep, far = table(shape, cells), table(shape, cells, outside=True)
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = shape.bounds
    here = rng.uniform((x0, y0), (x1, y1))
    for _ in range(20):
        there = np.clip(here + rng.normal(0.0, 10.0 ** rng.uniform(-6.0, 1.0), 2), (x0, y0), (x1, y1))
        step = np.hypot(*(there - here)) + EXACT
        assert abs(depth_inside(deep, 0, *there) - depth_inside(deep, 0, *here)) <= step
        assert abs(depth_outside(far, 0, *there) - depth_outside(far, 0, *here)) <= step
        assert min(depth_inside(deep, 0, *there), depth_outside(far, 0, *there)) == 0.0
        here = there


@settings(max_examples=40, deadline=None)
@given(star_rings(), st.floats(-5e3, 5e3), st.floats(-5e3, 5e3), st.integers(0, 2**32 - 1))
def test_depth_does_not_depend_on_where_the_shape_lies(ring, dx, dy, seed):
    """Shape and point moved together keep their depth."""
    here, there = table(polygon(ring)), table(polygon(ring + np.array((dx, dy))))
    rng = np.random.default_rng(seed)
    low, high = ring.min(axis=0), ring.max(axis=0)
    for x, y in rng.uniform(low, high, (20, 2)):
        assert depth_inside(there, 0, x + dx, y + dy) == pytest.approx(depth_inside(here, 0, x, y), abs=1e-8)


def test_overlap_of_vamps_is_told_as_shapely_tells_it():
    """Table over no-fit polygon against shapely's shared area: 3,000 random and 3,000 contact displacements.

    They may differ on contacts alone: where either says overlap and the other does not, it is a ten-millionth
    of the size deep at most.
    """
    rng = np.random.default_rng(20)
    overlaps = contacts = 0
    for _ in range(30):
        pair = vamp_pair(rng)
        for make in (random_spots, contact_spots):
            spots = make(pair, 100, rng)
            depth = pair.depths(spots)
            area, thick = pair.shared(spots)
            differ = (depth > 0.0) != (area > 0.0)
            assert (np.maximum(depth, thick)[differ] < 1e-7 * pair.size).all()
            overlaps += int((depth > 1.0).sum())
            contacts += int((depth < 1e-9).sum()) if make is contact_spots else 0
    assert overlaps > 2000
    assert contacts > 1000


def test_moving_out_of_a_vamp_parts_the_pair():
    """After the exit move the two outlines touch: hardly any area is shared, and they are no distance apart."""
    rng = np.random.default_rng(21)
    moved = 0
    for _ in range(10):
        pair = vamp_pair(rng)
        for x, y in random_spots(pair, 20, rng):
            if depth_inside(pair.tables, 0, x, y) > 0.0:
                spot = np.array((x, y)) + move_out(pair.tables, 0, x, y)
                assert pair.shared(spot[None, :])[1][0] < 1e-7 * pair.size
                apart = polygon(pair.fixed).distance(polygon(pair.moving + spot))
                assert apart < 1e-8 * pair.size
                moved += 1
    assert moved > 60
