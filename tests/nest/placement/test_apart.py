"""Pushing apart: what overlaps gives way at once, nothing else moves, and what cannot go is told."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layout_judge import outlines, overlapping
from tiny_problems import HALF_TURN, SQUARE, kind

from geometry.precision import as_ring
from nest.placement._apart import _solve, make_work, mark, push_apart
from nest.placement._cost import put_all
from nest.placement.items import items_of
from nest.placement.model import build_model
from nest.placement.state import Snapshot, new_state, restore, snapshot
from nest.placement.strip import with_length

HOOK = as_ring(((0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)))


def laid_out(kinds, which, x, y, width, length):
    """Model, angles, state and work of a layout on a strip, every item at its first heading."""
    model, angles = build_model(kinds, 0.0, None)
    model = with_length(model, width, length)
    state = new_state(len(kinds), len(which), 1, None)
    restore(state, Snapshot(np.array(which), np.zeros(len(which), np.int64), np.array(x, float), np.array(y, float)))
    put_all(model, state)
    return model, angles, state, make_work(len(which))


@settings(max_examples=50, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), size=st.integers(1, 24))
def test_the_equations_are_solved_as_numpy_solves_them(seed, size):
    """Random symmetric positive definite systems, beside numpy.linalg.solve."""
    rng = np.random.default_rng(seed)
    square = rng.normal(size=(size, size))
    normal = square @ square.T + 0.1 * np.eye(size)
    right = rng.normal(size=size)
    wanted = np.linalg.solve(normal, right)
    _solve(np.tril(normal), right, size)
    assert right == pytest.approx(wanted, rel=1e-6, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_a_layout_said_to_be_parted_is(seed):
    """One item of a loose layout is thrown elsewhere: by shapely nothing overlaps or lies off the strip afterwards."""
    rng = np.random.default_rng(seed)
    kinds = [kind("hook", HOOK, 9, HALF_TURN), kind("square", SQUARE, 9)]
    which = rng.integers(0, 2, 12)
    x, y = [5 + 70 * (i % 6) for i in range(12)], [5 + 70 * (i // 6) for i in range(12)]
    model, angles, state, work = laid_out(kinds, which, x, y, 145.0, 430.0)
    before = snapshot(state)
    state.x[3], state.y[3] = state.x[3] + rng.normal(0, 20), state.y[3] + rng.normal(0, 20)
    put_all(model, state)
    mark(work, 3)
    parted = push_apart(model, state, work)
    kept = snapshot(state)
    assert (kept.kind == before.kind).all()
    assert (kept.angle == before.angle).all()
    still = [i for i in range(12) if i not in work.moved[: work.count[0]]]
    assert (kept.x[still] == before.x[still]).all()
    assert (kept.y[still] == before.y[still]).all()
    if parted:
        shapes = outlines(items_of(kept, angles, kinds), kinds)
        assert overlapping(shapes) == []
        low_x, low_y, high_x, high_y = shapely.total_bounds(shapes)
        assert min(low_x, low_y) >= -1e-4
        assert high_x <= 430.0 + 1e-4
        assert high_y <= 145.0 + 1e-4


def test_room_in_many_small_gaps_comes_together():
    """Five squares with 0.4 mm between each two: the middle one gives way to one 1.6 mm longer, by all."""
    long = as_ring(((0, 0), (51.6, 0), (51.6, 50), (0, 50)))
    kinds = [kind("square", SQUARE, 9), kind("long", long, 9)]
    x = [50.4 * i for i in range(5)]
    model, angles, state, work = laid_out(kinds, [0, 0, 1, 0, 0], x, [0.0] * 5, 50.0, 251.62)
    mark(work, 2)
    assert push_apart(model, state, work)
    shapes = outlines(items_of(snapshot(state), angles, kinds), kinds)
    assert overlapping(shapes) == []
    assert [shape.bounds[0] for shape in shapes] == pytest.approx([0.0, 50.0, 100.0, 151.6, 201.6], abs=0.03)


def test_overlap_that_cannot_go_is_told():
    """Three squares on ground for two and a half."""
    model, _, state, work = laid_out([kind("square", SQUARE, 3)], [0, 0, 0], [0.0, 40.0, 75.0], [0.0] * 3, 50.0, 125.0)
    for i in range(3):
        mark(work, i)
    assert not push_apart(model, state, work)


def test_what_lies_free_stays_where_it_is():
    """Marked or not, nothing moves that need not."""
    model, _, state, work = laid_out([kind("square", SQUARE, 3)], [0, 0], [0.0, 60.0], [0.0, 0.0], 50.0, 120.0)
    before = snapshot(state)
    mark(work, 0)
    assert push_apart(model, state, work)
    assert (state.x[:2] == before.x).all()
    assert work.count[0] == 1
