"""Separating: overlaps go away, what is bounded stays bounded, areas stay at the target."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layout_judge import outlines, overlapping
from tiny_problems import kind

from geometry.precision import as_ring
from nest.placement._cost_raster import NO_RASTERS
from nest.placement.items import items_of
from nest.placement.model import build_model
from nest.placement.separate import UNLIMITED, separate
from nest.placement.state import Snapshot, new_state, restore, snapshot
from nest.placement.strip import with_length

SQUARE = as_ring(((0, 0), (50, 0), (50, 50), (0, 50)))
HOOK = as_ring(((0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)))
FIXED = np.zeros(1, np.int64)


def trial(kinds, which, x, y, width, length, seed=1):
    """Model, angles and state of a trial layout on a strip, every item at its first heading."""
    model, angles = build_model(kinds, 0.0, None)
    state = new_state(len(kinds), len(which), seed, 400)
    restore(state, Snapshot(np.array(which, np.int64), np.zeros(len(which), np.int64), np.array(x), np.array(y)))
    return with_length(model, width, length), angles, state


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_items_thrown_on_a_roomy_strip_are_parted(seed):
    """Hooks and squares dropped anywhere: no overlap is left, nothing lies off the strip, none is lost."""
    rng = np.random.default_rng(seed)
    kinds = [kind("hook", HOOK, 9, (0.0, 180.0)), kind("square", SQUARE, 9)]
    which = rng.integers(0, 2, 8)
    model, angles, state = trial(kinds, which, rng.uniform(60, 300, 8), rng.uniform(60, 90, 8), 160.0, 400.0, seed)
    assert separate(model, NO_RASTERS, state, FIXED, 0.0, 50, 25, 100, 3, UNLIMITED) == 0.0
    kept = snapshot(state)
    assert sorted(kept.kind) == sorted(which)
    shapes = outlines(items_of(kept, angles, kinds), kinds)
    assert overlapping(shapely.buffer(shapes, -1e-4)) == []
    low_x, low_y, high_x, high_y = shapely.total_bounds(shapes)
    assert min(low_x, low_y) >= -1e-4
    assert high_x <= 400.0 + 1e-4
    assert high_y <= 160.0 + 1e-4


def test_overlap_that_cannot_go_is_told():
    """Three squares on ground for two: what is left is the least depth that must remain, 25 mm or more in all."""
    model, _, state = trial([kind("square", SQUARE, 3)], [0, 0, 0], [0.0, 20.0, 40.0], [0.0, 0.0, 0.0], 50.0, 100.0)
    left = separate(model, NO_RASTERS, state, FIXED, 0.0, 50, 25, 30, 2, UNLIMITED)
    assert left == pytest.approx(50.0, abs=0.5)


def test_items_without_overlap_stay_where_they_are():
    """Nothing moves that need not."""
    model, _, state = trial([kind("square", SQUARE, 3)], [0, 0], [0.0, 60.0], [0.0, 0.0], 50.0, 120.0)
    before = snapshot(state)
    assert separate(model, NO_RASTERS, state, FIXED, 0.0, 50, 25, 30, 2, UNLIMITED) == 0.0
    after = snapshot(state)
    assert np.array_equal(before.x, after.x)
    assert np.array_equal(before.y, after.y)


@pytest.mark.parametrize("target", [5000.0, 3700.0])
def test_kinds_change_only_down_to_the_target(target):
    """A large and a small square on ground for one large: the area never falls below the target."""
    small = as_ring(((0, 0), (35, 0), (35, 35), (0, 35)))
    kinds = [kind("large", SQUARE, 2), kind("small", small, 2)]
    model, _, state = trial(kinds, [0, 0], [0.0, 10.0], [0.0, 0.0], 50.0, 86.0)
    left = separate(model, NO_RASTERS, state, np.array((2, 2)), target, 50, 25, 50, 2, UNLIMITED)
    area = float(model.worth[state.kind[:2]].sum())
    assert area >= target
    assert (left == 0.0) == (target < 5000.0)


def test_the_same_seed_gives_the_same_layout():
    """Random numbers come from the state alone."""
    kinds = [kind("hook", HOOK, 9, (0.0, 180.0))]
    found = []
    for _ in range(2):
        model, _, state = trial(kinds, [0] * 6, [50.0] * 6, [50.0] * 6, 130.0, 260.0, seed=3)
        separate(model, NO_RASTERS, state, FIXED, 0.0, 50, 25, 40, 2, UNLIMITED)
        found.append(snapshot(state))
    assert np.array_equal(found[0].x, found[1].x)
    assert np.array_equal(found[0].angle, found[1].angle)


def test_it_ends_after_so_many_passes_and_can_be_gone_on_with():
    """Hooks all in one place need some passes; after two of them no worse than at first, and parted at last."""
    kinds = [kind("hook", HOOK, 9, (0.0, 180.0))]
    model, _, state = trial(kinds, [0] * 6, [50.0] * 6, [50.0] * 6, 130.0, 400.0, seed=3)
    first = separate(model, NO_RASTERS, state, FIXED, 0.0, 0, 1, 100, 2, 0)
    passes = state.passes[0]
    left = separate(model, NO_RASTERS, state, FIXED, 0.0, 0, 1, 100, 2, 2)
    assert state.passes[0] - passes <= 3
    assert 0.0 < left <= first
    assert separate(model, NO_RASTERS, state, FIXED, 0.0, 50, 25, 100, 3, UNLIMITED) == 0.0
