"""Annealing: layouts stay sound, partners are found, limits hold, and small optima are reached."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layout_judge import outlines, overlapping, sticks_out
from tiny_problems import ELL, HALF_TURN, SQUARE, filled, kind

from geometry.pose import mirror
from geometry.precision import as_ring
from nest.placement.anneal import anneal
from nest.placement.families import families_of
from nest.placement.items import items_of
from nest.placement.model import build_model
from nest.placement.problem import Ground, RegionProblem
from nest.placement.state import Snapshot, new_state, restore, snapshot

MANY = 100


def begun(problem, which, places, seed=1):
    """Model, angles and state of a layout at the first heading of every item."""
    model, angles = build_model(problem.kinds, problem.gap_mm, problem.grounds)
    state = new_state(len(problem.kinds), len(which), seed, None)
    x, y = np.array(places, float).T
    restore(state, Snapshot(np.array(which), np.zeros(len(which), np.int64), x.copy(), y.copy()))
    return model, angles, state


def pairs_of_two_sizes():
    """Left and right of two sizes, 90 % and whole."""
    kinds = []
    for size, scale in (("small", 0.9), ("large", 1.0)):
        for side, ring in ((-1, ELL), (1, mirror(ELL))):
            ring = as_ring(ring * scale)
            kinds.append(kind(f"{size} {side}", ring, MANY, HALF_TURN, family=size, side=side))
    return filled(tuple(kinds), shapely.box(0, -70, 300, 210))


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), temperature=st.floats(1.0, 500.0), odd_share=st.floats(0.0, 1.0))
def test_layouts_stay_sound_and_sums_true(seed, temperature, odd_share):
    """After some passes: by shapely no overlap, all on the ground; what is said to be reached is, counted anew."""
    problem = pairs_of_two_sizes()
    which = [0, 1, 0, 1, 2, 3]
    places = [(0, 0), (65, 61), (130, 0), (195, 61), (0, 75), (65, 135)]
    model, angles, state = begun(problem, which, places, seed)
    families = families_of(problem.kinds, problem.grounds)
    best, most = snapshot(state), -np.inf
    for _ in range(3):
        most = anneal(model, state, np.full(4, MANY), families, temperature, odd_share, best, most=most, passes=3)
    for kept in (snapshot(state), best):
        shapes = outlines(items_of(kept, angles, problem.kinds), problem.kinds)
        assert overlapping(shapes) == []
        assert not any(sticks_out(shape, problem.grounds[0].outline) for shape in shapes)
    assert (state.count == np.bincount(state.kind[:6], minlength=4)).all()
    small, large = (shapely.Polygon(problem.kinds[k].outline).area for k in (0, 2))
    count = np.bincount(best.kind, minlength=4)
    whole = small * 2 * min(count[:2]) + large * 2 * min(count[2:])
    assert most == pytest.approx(whole, rel=1e-9)


def test_items_find_partners_on_their_own_ground():
    """Two left pieces here and two right ones there: with two levels of ground each side ends with one of each."""
    kinds = tuple(
        kind(str(side), ring, MANY, HALF_TURN, family="pair", side=side) for side, ring in ((-1, ELL), (1, mirror(ELL)))
    )
    sheet, west = shapely.box(0, -100, 400, 200), shapely.box(0, -100, 200, 200)
    grounds = (Ground(sheet, (sheet, sheet), (west,)),) * 2
    problem = RegionProblem(kinds, grounds)
    model, angles, state = begun(problem, [0, 0, 1, 1], [(10, 0), (100, 0), (300, 100), (300, 0)])
    best, most = snapshot(state), -np.inf
    for _ in range(20):
        most = anneal(model, state, np.full(2, MANY), families_of(kinds, grounds), 50.0, 1.0, best, most=most, passes=3)
    assert most == pytest.approx(4 * model.worth[0])
    shapes = outlines(items_of(best, angles, kinds), kinds)
    found = sorted((bool(west.covers(shape)), int(k)) for shape, k in zip(shapes, best.kind, strict=True))
    assert found == [(False, 0), (False, 1), (True, 0), (True, 1)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_row_takes_as_many_long_pieces_as_there_is_room_for(seed):
    """Five pieces of 50 or 58 mm in a row of 268 mm: two long ones, wherever they stand, and not three."""
    long = as_ring(((0, 0), (58, 0), (58, 50), (0, 50)))
    problem = filled((kind("square", SQUARE, MANY), kind("long", long, MANY)), shapely.box(0, 0, 268, 50.01))
    model, _, state = begun(problem, [0] * 5, [(54.5 * i, 0.005) for i in range(5)], seed)
    best, area = snapshot(state), -np.inf
    families = families_of(problem.kinds, problem.grounds)
    for temperature in np.geomspace(400.0, 10.0, 20):
        area = anneal(model, state, np.full(2, MANY), families, temperature, 0.0, best, most=area, passes=3)
    assert sorted(best.kind) == [0, 0, 0, 1, 1]


def test_limits_hold():
    """Of the larger kind one is left to place: with all the room there is, one is placed."""
    kinds = kind("square", as_ring(SQUARE * 0.8), MANY), kind("large", SQUARE, 1)
    problem = filled(kinds, shapely.box(0, 0, 400, 400))
    model, _, state = begun(problem, [0] * 4, [(100.0 * i, 0.0) for i in range(4)])
    best, area = snapshot(state), -np.inf
    for _ in range(5):
        families = families_of(kinds, problem.grounds)
        area = anneal(model, state, np.array((MANY, 1)), families, 50.0, 0.0, best, most=area, passes=3)
    assert sorted(best.kind) == [0, 0, 0, 1]
    assert state.count[1] <= 1
