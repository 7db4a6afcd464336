"""Trial layouts as arrays: make, copy, read."""

from dataclasses import dataclass

import numpy as np

from nest.placement._cost import Model, State

SAME_PLACE = 0.1
"""An item that is moved by no more than this share of its size, along x and y, lies where it lay."""

MOST_MOVED = 12
"""Layouts in which more items lie elsewhere differ without asking what lies there instead."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A trial layout kept aside: kinds, angle indices, positions."""

    kind: np.ndarray
    angle: np.ndarray
    x: np.ndarray
    y: np.ndarray


def new_state(kinds: int, capacity: int, seed: int, passes: int | None) -> State:
    """An empty trial layout with room for `capacity` pieces."""
    mixed = np.random.SeedSequence(seed).generate_state(1, np.uint64)
    return State(
        n=np.zeros(1, np.int64),
        kind=np.zeros(capacity, np.int64),
        angle=np.zeros(capacity, np.int64),
        x=np.zeros(capacity),
        y=np.zeros(capacity),
        box=np.zeros((4, capacity)),
        near=np.zeros(capacity, np.bool_),
        weight=np.ones((capacity, capacity)),
        fit_weight=np.ones(capacity),
        count=np.zeros(kinds, np.int64),
        random=mixed | np.uint64(1),
        passes=np.array((0, np.iinfo(np.int64).max if passes is None else passes)),
        stop=np.zeros(1, np.int64),
    )


def snapshot(state: State) -> Snapshot:
    """Copy of the pieces in use."""
    n = state.n[0]
    return Snapshot(state.kind[:n].copy(), state.angle[:n].copy(), state.x[:n].copy(), state.y[:n].copy())


def restore(state: State, kept: Snapshot) -> None:
    """Put a snapshot back; weights start anew."""
    n = len(kept.kind)
    state.n[0] = n
    state.kind[:n], state.angle[:n], state.x[:n], state.y[:n] = kept.kind, kept.angle, kept.x, kept.y
    state.count[:] = np.bincount(kept.kind, minlength=len(state.count))
    state.weight[:] = 1.0
    state.fit_weight[:] = 1.0


def alike(model: Model, one: Snapshot, other: Snapshot) -> bool:
    """Whether two layouts are one but for small moves and for items of the same form that changed places."""
    tolerance = SAME_PLACE * model.size[one.kind]
    moved = (one.kind != other.kind) | (one.angle != other.angle)
    moved |= (np.abs(one.x - other.x) > tolerance) | (np.abs(one.y - other.y) > tolerance)
    at = np.flatnonzero(moved)
    if len(at) > MOST_MOVED:
        return False
    far_x, far_y = np.subtract.outer(one.x[at], other.x[at]), np.subtract.outer(one.y[at], other.y[at])
    same = np.maximum(np.abs(far_x), np.abs(far_y)) <= tolerance[at, None]
    same &= np.equal.outer(one.kind[at], other.kind[at])
    same &= np.equal.outer(one.angle[at], other.angle[at])
    return bool(same.any(axis=0).all() and same.any(axis=1).all())
