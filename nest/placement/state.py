"""Trial layouts as arrays: make, copy, read."""

from dataclasses import dataclass

import numpy as np

from nest.placement._cost import State


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
