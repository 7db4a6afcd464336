"""Costs of a piece at all places at once: what single poses cost, and the lowest of them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_problems import mixed_strip

from nest.placement import _cost_raster
from nest.placement._cost import angles_of, pose_cost, put_all
from nest.placement._cost_raster import (
    BLOCK,
    NO_RASTERS,
    cost_field,
    look,
    lowest_cells,
    make_rasters,
    make_window,
)
from nest.placement._poses import best_pose, make_scratch
from nest.placement.model import build_model
from nest.placement.state import Snapshot, new_state, restore
from nest.placement.strip import with_length

LENGTH_MM = 300.0
PROBLEM = mixed_strip()
MODEL = with_length(build_model(PROBLEM.kinds, PROBLEM.gap_mm, None, 0.7)[0], PROBLEM.width_mm, LENGTH_MM)
RASTERS = make_rasters(MODEL, LENGTH_MM * PROBLEM.width_mm, 12)
KINDS = np.repeat(np.arange(len(PROBLEM.kinds)), [kind.limit for kind in PROBLEM.kinds])


def thrown(seed):
    """A trial layout with every item somewhere on the strip, unequal weights."""
    rng = np.random.default_rng(seed)
    angle = np.array([rng.choice(angles_of(MODEL, k)) for k in KINDS])
    low, high = MODEL.bounds[KINDS, angle, :2].T, MODEL.bounds[KINDS, angle, 2:].T
    x, y = low + rng.random((2, len(KINDS))) * (high - low)
    state = new_state(len(PROBLEM.kinds), len(KINDS), seed, None)
    restore(state, Snapshot(KINDS, angle, x, y))
    put_all(MODEL, state)
    state.weight[:] = 1.0 + 3.0 * rng.random(state.weight.shape)
    return state


def on_cells(state):
    """Move all items onto whole cells, where the field is exact."""
    state.x[:] = np.round(state.x / RASTERS.step) * RASTERS.step
    state.y[:] = np.round(state.y / RASTERS.step) * RASTERS.step
    put_all(MODEL, state)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**31), item=st.integers(0, len(KINDS) - 1))
def test_the_field_is_what_single_poses_cost(seed, item):
    """Items on whole cells: every cell of the field costs what a piece laid down there does."""
    state = thrown(seed)
    on_cells(state)
    k, a = state.kind[item], state.angle[item]
    rows, columns = 9, 13
    x0, y0 = np.ceil(MODEL.bounds[k, a, :2] / RASTERS.step) * RASTERS.step
    cost = np.empty(rows * columns + 4, np.float32)
    cost[-4:] = 7.0
    cost_field(RASTERS, state, item, k, a, x0, y0, rows, columns, cost)
    for r in range(rows):
        for c in range(columns):
            x, y = x0 + c * RASTERS.step, y0 + r * RASTERS.step
            expected = pose_cost(MODEL, state, item, k, a, x, y, np.inf)
            assert cost[r * columns + c] == pytest.approx(expected, rel=1e-5, abs=1e-3)
    assert (cost[-4:] == 7.0).all()


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**31), item=st.integers(0, len(KINDS) - 1))
def test_items_anywhere_are_off_by_a_cell_at_most(seed, item):
    """A depth changes by no more than a piece is moved: half a cell's diagonal for each neighbour, by its weight."""
    state = thrown(seed)
    k, a = state.kind[item], state.angle[item]
    x0, y0 = MODEL.bounds[k, a, :2]
    cost = np.empty(80, np.float32)
    cost_field(RASTERS, state, item, k, a, x0, y0, 8, 10, cost)
    # from the box of a raster to that of the pair there may be a cell in which nothing is held
    most = np.sqrt(2.0) * RASTERS.step * float((state.weight[item] * MODEL.scale[k, state.kind]).sum())
    for q in range(80):
        x, y = x0 + q % 10 * RASTERS.step, y0 + q // 10 * RASTERS.step
        assert abs(cost[q] - pose_cost(MODEL, state, item, k, a, x, y, np.inf)) <= most


@settings(max_examples=50, deadline=None)
@given(seed=st.integers(0, 2**31), rows=st.integers(1, 40), columns=st.integers(1, 40))
def test_lowest_cells_are_the_lowest_of_their_blocks(seed, rows, columns):
    """The first is the lowest of all; no two lie in one block; they ascend and say where they are."""
    rng = np.random.default_rng(seed)
    cost = rng.random(rows * columns).astype(np.float32)
    low, where = np.empty(5, np.float32), np.empty((5, 2), np.int64)
    random = np.array([seed * 2 + 1], np.uint64)
    found = lowest_cells(cost, rows, columns, np.empty(columns, np.float32), low, where, random)
    assert found >= min(5, -(-rows // BLOCK) * -(-columns // BLOCK))
    assert low[0] == cost.min()
    assert (np.diff(low[:found]) >= 0.0).all()
    field = cost.reshape(rows, columns)
    assert [field[r, c] for r, c in where[:found]] == low[:found].tolist()
    assert len({tuple(cell) for cell in where[:found].tolist()}) == found


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**31), item=st.integers(0, len(KINDS) - 1))
def test_a_looked_up_pose_is_no_dearer_than_the_present_one(seed, item):
    """It keeps its kind, lies within its bounds, and costs what is said."""
    state = thrown(seed)
    k = state.kind[item]
    before = pose_cost(MODEL, state, item, k, state.angle[item], state.x[item], state.y[item], np.inf)
    kinds = np.array([k])
    c, a, x, y, cost = best_pose(MODEL, RASTERS, state, item, kinds, 1, 2, 0, make_scratch(RASTERS))
    assert c == k
    assert a in angles_of(MODEL, k)
    assert cost <= before
    assert cost == pytest.approx(pose_cost(MODEL, state, item, k, a, x, y, np.inf))
    x0, y0, x1, y1 = MODEL.bounds[k, a]
    # exit moves may leave the bounds, at their price
    assert cost > 0.0 or (x0 - 1e-3 <= x <= x1 + 1e-3 and y0 - 1e-3 <= y <= y1 + 1e-3)


def test_weights_without_bound_leave_costs_finite():
    """Weights of stubborn pairs double again and again."""
    state = thrown(3)
    state.weight[:] = 1e200
    k, a = state.kind[0], state.angle[0]
    cost = np.empty(400, np.float32)
    cost_field(RASTERS, state, 0, k, a, *MODEL.bounds[k, a, :2], 20, 20, cost)
    assert np.isfinite(cost).all()
    assert cost.max() > 1e30


def test_the_only_hole_is_found():
    """A strip full of squares but for one place: the square that lies on another goes there, wherever it is."""
    square = PROBLEM.kinds[0]
    model = with_length(build_model((square,), 0.0, None)[0], 100.0, 1000.0)
    rasters = make_rasters(model, 1e5, 40)
    for hole in range(0, 40, 3):
        state = new_state(1, 40, hole, None)
        x, y = 50.0 * (np.arange(40) // 2), 50.0 * (np.arange(40) % 2)
        at = (hole + 17) % 40
        x[hole], y[hole] = x[at], y[at]
        restore(state, Snapshot(np.zeros(40, np.int64), np.zeros(40, np.int64), x, y))
        put_all(model, state)
        _, _, x, y, cost = best_pose(model, rasters, state, hole, np.zeros(1, np.int64), 1, 1, 0, make_scratch(rasters))
        assert cost == 0.0
        assert (x, y) == pytest.approx((50.0 * (hole // 2), 50.0 * (hole % 2)), abs=1e-3)


def test_a_long_strip_is_looked_at_in_windows():
    """Windows have no more than WINDOW_CELLS, lie within the strip, and differ."""
    model = with_length(MODEL, PROBLEM.width_mm, 50.0 * LENGTH_MM)
    state = thrown(1)
    window = make_window(RASTERS)
    starts = set()
    for _ in range(30):
        found, x0, _ = look(model, RASTERS, state, 0, state.kind[0], state.angle[0], window)
        starts.add(round(x0))
        furthest = x0 + window.where[:found, 1].max() * RASTERS.step
        x_low, _, x_high, _ = model.bounds[state.kind[0], state.angle[0]]
        assert x_low <= x0 <= furthest <= x_high
    assert len(starts) > 20
    assert len(window.cost) == _cost_raster.WINDOW_CELLS


def test_rasters_that_would_be_too_many_are_not_made(monkeypatch):
    """Places are sampled then."""
    assert RASTERS.step > 0.0
    monkeypatch.setattr(_cost_raster, "MOST_VALUES", len(RASTERS.value) - 1)
    assert make_rasters(MODEL, LENGTH_MM * PROBLEM.width_mm, 12) is NO_RASTERS
    monkeypatch.setattr(_cost_raster, "MOST_VALUES", len(RASTERS.start) ** 2 - 1)
    assert make_rasters(MODEL, LENGTH_MM * PROBLEM.width_mm, 12) is NO_RASTERS
    assert make_window(NO_RASTERS).cost.size == 0


def test_rasters_that_would_take_too_much_of_the_time_are_not_made(monkeypatch):
    """How many there may be goes by the seconds there are, within bounds."""
    values = len(RASTERS.value)
    monkeypatch.setattr(_cost_raster, "VALUES_PER_SECOND", values // 10)
    monkeypatch.setattr(_cost_raster, "QUICK_VALUES", 0)

    def made(seconds):
        return make_rasters(MODEL, LENGTH_MM * PROBLEM.width_mm, 12, seconds) is not NO_RASTERS

    assert made(11.0) and not made(9.0)
    monkeypatch.setattr(_cost_raster, "QUICK_VALUES", values)
    assert made(9.0)
    monkeypatch.setattr(_cost_raster, "MOST_VALUES", values - 1)
    assert not made(float("inf"))
