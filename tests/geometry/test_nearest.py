"""Lists of edges that can be nearest, held against shapely's distances to every edge."""

import numpy as np
import shapely
from displacements import vamp_pair
from hypothesis import given, settings
from hypothesis import strategies as st
from test_overlap import SHAPES

from geometry._nearest import nearest_lists
from geometry.tables import edges_of

CELLS = 12
EXACT = 1e-9


def lists_and_distances(shape, per_side):
    """Of each cell of a grid over a shape: its edges listed, distances of points in it to all edges, its least."""
    edge = edges_of(shape)
    x0, y0, x1, y1 = shape.bounds
    near, spans, least = nearest_lists(
        edge, CELLS, CELLS, np.array((x0, y0, x1, y1)), np.ones(CELLS * CELLS, np.bool_))
    lines = shapely.linestrings(np.stack((edge[:-1, :2], edge[1:, :2]), axis=1))
    lines[edge[:-1, 2] == 0.0] = shapely.Point(1e9, 0.0)  # from a ring to the next there is no edge
    steps = np.linspace(0.0, 1.0, per_side)
    for c, (first, end) in enumerate(spans):
        x = x0 + (c % CELLS + steps) * (x1 - x0) / CELLS
        y = y0 + (c // CELLS + steps) * (y1 - y0) / CELLS
        points = shapely.points(*(axis.ravel() for axis in np.meshgrid(x, y)))
        yield near[first:end], shapely.distance(points[:, None], lines[None, :]), least[c]


@given(st.integers(0, len(SHAPES) - 1))
@settings(max_examples=len(SHAPES), deadline=None)
def test_the_nearest_edge_is_listed_wherever_in_the_cell(number):
    """And no point of the cell is nearer to any edge than the least of the cell says."""
    for listed, distances, least in lists_and_distances(SHAPES[number], 5):
        assert np.all(np.diff(listed) > 0)
        assert np.all(distances[:, listed].min(axis=1) <= distances.min(axis=1) + EXACT)
        assert least <= distances.min() + EXACT


def test_few_others_are_listed():
    """Of a no-fit polygon no more than 2.2 times as many as are nearest somewhere; by the distance from the centre
    alone it would be more than three times."""
    shape = vamp_pair(np.random.default_rng(1)).no_fit
    x0, y0, x1, y1 = shape.bounds
    across = np.hypot(x1 - x0, y1 - y0) / CELLS
    listed, truly, by_centre = 0, 0, 0
    for mine, distances, _ in lists_and_distances(shape, 9):
        listed += len(mine)
        truly += len(set(distances.argmin(axis=1).tolist()))
        centre = distances[len(distances) // 2]
        by_centre += int((centre <= centre.min() + across).sum())
    assert listed <= 2.2 * truly
    assert by_centre >= 3.0 * truly
