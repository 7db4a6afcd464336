"""Unions on a grid of whole numbers, held against shapely's predicates."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import UNIT_SQUARE, star_rings

from geometry.polygon import polygon
from geometry.pose import rotate
from geometry.precision import GeometryError
from geometry.winding import union, wound


@settings(max_examples=30, deadline=None)
@given(st.lists(star_rings(), min_size=1, max_size=5), st.integers(0, 2**32 - 1))
def test_a_point_lies_in_the_union_when_it_lies_in_a_part(rings, seed):
    """Stars thrown on top of each other, with their holes: membership as told one by one."""
    rng = np.random.default_rng(seed)
    shapes = [polygon(ring + rng.uniform(-80.0, 80.0, 2), [0.2 * ring[::-1]]) for ring in rings]
    shapes = [shape for shape in shapes if shape.is_valid]
    whole = union(shapes)
    assert whole.is_valid
    for spot in shapely.points(rng.uniform(-180.0, 180.0, (60, 2))):
        if whole.boundary.distance(spot) > 1e-6:
            assert whole.contains(spot) == any(shape.contains(spot) for shape in shapes)


@pytest.mark.parametrize("turn", [0.0, 30.0, 45.0, 12.3])
def test_squares_side_by_side_become_one_rectangle(turn):
    """Edges in line join without slivers, at any turn."""
    row = [polygon(rotate(10.0 * UNIT_SQUARE + np.array((10.0 * k, 0.0)), turn)) for k in range(7)]
    whole = union(row)
    assert whole.geom_type == "Polygon"
    assert not whole.interiors
    assert whole.area == pytest.approx(700.0, rel=1e-7)
    assert whole.length == pytest.approx(160.0, rel=1e-7)


def test_a_ring_of_squares_keeps_its_hole_and_an_island_in_it():
    """Eight squares about a gap of one, with a small square inside the gap: two polygons, one with a hole."""
    cells = [shapely.box(x, y, x + 1, y + 1) for x in range(3) for y in range(3) if (x, y) != (1, 1)]
    whole = union([*cells, shapely.box(1.4, 1.4, 1.6, 1.6)])
    assert sorted(round(part.area, 6) for part in whole.geoms) == [0.04, 8.0]
    assert sorted(len(part.interiors) for part in whole.geoms) == [0, 1]


def test_squares_that_meet_at_a_corner_stay_two_polygons():
    """A common corner joins no insides: a valid multipolygon."""
    whole = union([shapely.box(0, 0, 1, 1), shapely.box(1, 1, 2, 2)])
    assert whole.is_valid
    assert whole.geom_type == "MultiPolygon"


def test_union_of_nothing_is_empty():
    """No polygons, no area."""
    assert union([]).is_empty
    assert union([shapely.Polygon()]).is_empty


def test_a_ring_without_inside_is_refused():
    """A path there and back bounds nothing to add."""
    with pytest.raises(GeometryError, match="enclose"):
        wound([([UNIT_SQUARE], np.array(((0.0, 0.0), (1.0, 1.0), (0.0, 0.0))))], [])
