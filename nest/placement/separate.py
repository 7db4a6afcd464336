"""Separate: guided local search on overlaps.

One overlapped piece after another moves to its cheapest pose while the weights of stubborn pairs rise (guided
local search: Voudouris & Tsang 1999, doi:10.1016/S0377-2217(98)00099-X; on overlaps of irregular shapes: Egeblad,
Nielsen & Odgaard 2007, doi:10.1016/j.ejor.2005.11.063; Umetani et al. 2009,
doi:10.1111/j.1475-3995.2009.00707.x).
"""

import numpy as np

from geometry.compiled import compiled
from nest.placement._cost import Model, State, depths, pose_cost, put, put_all, uniform
from nest.placement._cost_raster import Rasters
from nest.placement._poses import best_pose, grow, make_scratch

UNLIMITED = 2**62
"""Passes of one separation that has no limit of its own.

The limit on passes of the whole search holds beside it.
"""


@compiled
def _overlapped(state: State, depth: np.ndarray, ground: np.ndarray, order: np.ndarray) -> int:
    """List the pieces that overlap, shuffled, in `order`; returns how many."""
    m = 0
    for i in range(state.n[0]):
        if ground[i] > 0.0 or depth[i].max() > 0.0:
            order[m] = i
            m += 1
    for p in range(m - 1, 0, -1):
        q = int(uniform(state.random) * (p + 1))
        order[p], order[q] = order[q], order[p]
    return m


@compiled
def _weigh(state: State, depth: np.ndarray, ground: np.ndarray) -> None:
    """Raise the weights of what overlaps, the more the deeper; let those of the others fall."""
    deepest = max(depth.max(), ground.max())
    for i in range(state.n[0]):
        for j in range(i):
            w = state.weight[i, j]
            w = w * (1.2 + 0.8 * depth[i, j] / deepest) if depth[i, j] > 0.0 else max(1.0, w * 0.95)
            state.weight[i, j] = w
            state.weight[j, i] = w
        g = state.fit_weight[i]
        state.fit_weight[i] = g * (1.2 + 0.8 * ground[i] / deepest) if ground[i] > 0.0 else max(1.0, g * 0.95)


@compiled
def separate(
    model: Model, rasters: Rasters, state: State, limit: np.ndarray, target: float, wide: int, near: int,
    patience: int, strikes_allowed: int, most: int,
) -> float:
    """Move overlapped pieces until none overlap; guided local search. Returns the overlap left.

    rasters : of a strip; NO_RASTERS where places are sampled.
    limit : (k,) most pieces of each kind, or zeros when pieces keep their kind.
    target : least total area; a moved piece may change kind while the total stays at least this.
    wide, near : as in `best_pose`.
    patience : passes without 2 % less overlap before a strike; the best state is restored at a strike.
    most : passes after which it ends, the best state restored; weights stay, so that it can be gone on with.
    """
    n = state.n[0]
    state.passes[0] += 1
    last = state.passes[0] + min(most, state.passes[1] - state.passes[0])
    put_all(model, state)
    depth, ground = np.zeros((n, n)), np.zeros(n)
    order = np.empty(n, np.int64)
    kinds = np.empty(len(model.worth), np.int64)
    scratch = make_scratch(rasters)
    total = depths(model, state, depth, ground)
    least = total
    held_kind, held_angle = state.kind[:n].copy(), state.angle[:n].copy()
    held_x, held_y = state.x[:n].copy(), state.y[:n].copy()
    area, strikes = 0.0, 0
    for i in range(n):
        area += model.worth[state.kind[i]]
    held_area, held_count = area, state.count.copy()
    may_change = limit.max() > 0
    while strikes < strikes_allowed and least > 0.0:
        start, idle = least, 0
        while idle < patience:
            if state.stop[0] != 0 or state.passes[0] >= last:
                strikes = strikes_allowed
                break
            state.passes[0] += 1
            for p in range(_overlapped(state, depth, ground, order)):
                i = order[p]
                k = state.kind[i]
                if pose_cost(model, state, i, k, state.angle[i], state.x[i], state.y[i], np.inf) <= 0.0:
                    continue
                kinds[0] = k
                nk = 1
                if may_change:
                    for c in range(len(model.worth)):
                        if c != k and state.count[c] < limit[c] and area - model.worth[k] + model.worth[c] >= target:
                            kinds[nk] = c
                            nk += 1
                c, a, x, y, _ = best_pose(model, rasters, state, i, kinds, nk, wide, near, scratch)
                if c != k:
                    area += model.worth[c] - model.worth[k]
                    state.count[k] -= 1
                    state.count[c] += 1
                put(model, state, i, c, a, x, y)
            if may_change:
                # what grows without overlap lets overlapped items shrink
                area += grow(model, state, limit, n // 2, scratch.moves)
            total = depths(model, state, depth, ground)
            if total < least:
                if total < 0.98 * least:
                    idle = 0
                least = total
                held_kind[:], held_angle[:] = state.kind[:n], state.angle[:n]
                held_x[:], held_y[:] = state.x[:n], state.y[:n]
                held_area = area
                held_count[:] = state.count
                if least <= 0.0:
                    break
            else:
                idle += 1
            _weigh(state, depth, ground)
        strikes = 0 if least < 0.98 * start and strikes < strikes_allowed else strikes + 1
        state.kind[:n], state.angle[:n], state.x[:n], state.y[:n] = held_kind, held_angle, held_x, held_y
        put_all(model, state)
        state.count[:] = held_count
        area = held_area
        total = depths(model, state, depth, ground)
    return least
