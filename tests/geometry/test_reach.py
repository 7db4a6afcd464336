"""Ground within reach, held against closed forms, shapely's opening by discs, and pieces laid down at random."""

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import UNIT_SQUARE, regular, star_rings

from geometry.nofit import inner_fit_polygon
from geometry.polygon import area, edge_lengths, polygon
from geometry.pose import rotate
from geometry.precision import as_ring

sys.path.append(str(Path(__file__).parent.parent / "bench"))

from reach import reachable_ground

CORRIDOR = as_ring([(0, 0), (60, 0), (60, 20), (100, 20), (100, 30), (60, 30), (60, 50), (0, 50)])
"""A hall of 60 by 50 with a corridor of 40 by 10."""


def reachable_area(container: np.ndarray, rings: list[np.ndarray]) -> float:
    """What rings can cover of a container: the ground within reach, but no more than there is."""
    return min(area(container), reachable_ground([[(container, ring)] for ring in rings]).area)


def test_a_corridor_too_narrow_for_the_piece_is_out_of_reach():
    """A square of side 11 covers the whole hall and nothing of the corridor 10 wide."""
    assert reachable_area(CORRIDOR, [11.0 * UNIT_SQUARE]) == pytest.approx(60.0 * 50.0, abs=1.0)


def test_a_corridor_without_play_is_within_reach():
    """A square of side 10 fits the corridor exactly, positions being a line: it counts, lest the bound be too low."""
    assert reachable_area(CORRIDOR, [10.0 * UNIT_SQUARE]) == pytest.approx(60.0 * 50.0 + 40.0 * 10.0)


def test_a_piece_that_fits_at_one_point_reaches_its_own_area():
    """A container of the piece's own shape is reached whole."""
    assert reachable_area(CORRIDOR + 7.0, [CORRIDOR]) == pytest.approx(area(CORRIDOR), rel=1e-9)


def test_what_does_not_fit_reaches_nothing():
    """No position, no ground; nor without pieces."""
    assert reachable_area(CORRIDOR, [61.0 * UNIT_SQUARE]) == 0.0
    assert reachable_area(CORRIDOR, []) == 0.0
    assert reachable_ground([]).is_empty


def test_a_disc_leaves_the_corners_of_a_square():
    """Closed form: side² − (4 − π) r² for a disc of radius r."""
    found = reachable_area(40.0 * UNIT_SQUARE, [regular(400, 8.0)])
    assert found == pytest.approx(1600.0 - (4.0 - np.pi) * 64.0, rel=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_reach_of_a_disc_is_shapelys_opening(seed):
    """Drawn in and out again by the radius, a ground with flaws is what a disc can reach of it."""
    rng = np.random.default_rng(seed)
    ground = shapely.Point(0.0, 0.0).buffer(100.0)
    for spot in rng.uniform(-90.0, 90.0, (8, 2)):
        ground = ground.difference(shapely.Point(spot).buffer(rng.uniform(1.0, 9.0), quad_segs=3))
    opened = ground.buffer(-12.0, quad_segs=64).buffer(12.0, quad_segs=64)
    found = reachable_ground([[(ground, regular(256, 12.0))]])
    assert found.symmetric_difference(opened).area < 2e-3 * ground.area


@settings(max_examples=15, deadline=None)
@given(star_rings(), star_rings(), st.floats(0.0, 360.0), st.integers(0, 2**32 - 1))
def test_every_piece_that_lies_in_the_container_lies_in_its_reach(container, piece, heading, seed):
    """Pieces laid at corners of, and within, the inner-fit polygon are covered whole; the bound holds their area."""
    ring = as_ring(0.3 * rotate(piece, heading))
    fit = inner_fit_polygon(container, ring)
    ground = reachable_ground([[(container, ring)]])
    assert ground.area <= area(container) + 2e-3 * edge_lengths(container).sum()
    if fit.is_empty:
        return
    rng = np.random.default_rng(seed)
    corners = shapely.get_coordinates(fit)
    inside = shapely.get_coordinates(fit.representative_point())
    for spot in np.concatenate((rng.permutation(corners)[:8], inside)):
        assert ground.covers(polygon(ring + spot))
    assert reachable_area(container, [ring]) >= area(ring)


def test_more_headings_reach_no_less():
    """Ground within reach of two headings holds that of each."""
    ring = as_ring([(0, 0), (30, 0), (30, 9), (0, 9)])
    turned = as_ring(rotate(ring, 90.0))
    one, other, both = (reachable_area(CORRIDOR, rings) for rings in ([ring], [turned], [ring, turned]))
    assert both >= max(one, other)
    assert one == pytest.approx(3400.0, abs=1.0)
    assert other == pytest.approx(3000.0, abs=1.0)


def test_a_demand_on_the_core_binds_the_position():
    """A square of 10 whose core of 2 must lie in the left half of a 40 by 10 strip reaches 4 beyond the half."""
    strip, left = shapely.box(0, 0, 40, 10), shapely.box(0, 0, 20, 10)
    core = as_ring(2.0 * UNIT_SQUARE + 4.0)
    ground = reachable_ground([[(strip, 10.0 * UNIT_SQUARE), (left, core)]])
    assert ground.bounds == pytest.approx((0.0, 0.0, 24.0, 10.0), abs=0.01)
    assert ground.area == pytest.approx(240.0, abs=0.1)
