"""Compiled moves of one piece: sampled poses, improved by exit moves and a compass search."""

from typing import NamedTuple

import numpy as np

from geometry.compiled import Whole, compiled, uncounted
from geometry.overlap import depth_outside
from nest.placement._cost import (
    NOT_ALLOWED,
    Model,
    State,
    find_near,
    ground_exit,
    pair_exit,
    pose_cost,
    put,
    scattered,
    uniform,
)
from nest.placement._cost_raster import Rasters, Window, look, make_window

BEST = 3
"""This many of the candidates are improved, and the present pose."""

OTHER_KIND = 0.3
"""Share of the samples that are of another kind, where one is allowed."""


@uncounted
def exit_descent(
    model: Model, state: State, i: Whole, k: Whole, a: Whole, x: float, y: float, cost: float, moves: np.ndarray
) -> tuple[float, float, float]:
    """Improve a pose by exit moves and their pairwise crossings.

    `moves` is a (12, 2) scratch array of exit moves. Returns the new (x, y, cost).
    """
    form_box, near, n = model.form_box, state.near, state.n[0]
    for _ in range(6):
        if cost <= 0.0:
            return x, y, cost
        m = 0
        moves[m, 0], moves[m, 1] = ground_exit(model, k, a, x, y)
        if moves[m, 0] != 0.0 or moves[m, 1] != 0.0:
            m += 1
        find_near(state.box, near, n, x + form_box[k, a, 0], y + form_box[k, a, 1],
                  x + form_box[k, a, 2], y + form_box[k, a, 3])
        near[i] = False
        for j in range(n):
            if not near[j] or m >= 8:
                continue
            kj, aj, xj, yj = state.kind[j], state.angle[j], state.x[j], state.y[j]
            moves[m, 0], moves[m, 1] = pair_exit(model, kj, aj, k, a, x - xj, y - yj)
            if moves[m, 0] != 0.0 or moves[m, 1] != 0.0:
                m += 1
        bx, by, best = x, y, cost
        for p in range(m):
            cx, cy = x + moves[p, 0], y + moves[p, 1]
            c = pose_cost(model, state, i, k, a, cx, cy, best)
            if c < best:
                bx, by, best = cx, cy, c
            lp = moves[p, 0] ** 2 + moves[p, 1] ** 2
            for q in range(p):
                # where the exit edges of p and q cross: normal n satisfies n . d = |n| for both
                det = moves[p, 0] * moves[q, 1] - moves[p, 1] * moves[q, 0]
                lq = moves[q, 0] ** 2 + moves[q, 1] ** 2
                if abs(det) < 0.02 * np.sqrt(lp * lq):
                    continue
                cx = x + (lp * moves[q, 1] - lq * moves[p, 1]) / det
                cy = y + (lq * moves[p, 0] - lp * moves[q, 0]) / det
                c = pose_cost(model, state, i, k, a, cx, cy, best)
                if c < best:
                    bx, by, best = cx, cy, c
        if best >= cost * (1.0 - 1e-4):
            break
        x, y, cost = bx, by, best
    return x, y, cost


@uncounted
def compass_descent(
    model: Model, state: State, i: Whole, k: Whole, a: Whole, x: float, y: float, cost: float
) -> tuple[float, float, float]:
    """Improve a pose by a short compass search (Hooke & Jeeves 1961, doi:10.1145/321062.321069)."""
    step = 0.01 * model.size[k]
    for _ in range(10):
        if cost <= 0.0:
            break
        # a random direction and its opposite, then across it
        theta = np.pi * uniform(state.random)
        ux, uy = step * np.cos(theta), step * np.sin(theta)
        better = False
        for q in range(4):
            if q == 0:
                cx, cy = x + ux, y + uy
            elif q == 1:
                cx, cy = x - ux, y - uy
            elif q == 2:
                cx, cy = x - uy, y + ux
            else:
                cx, cy = x + uy, y - ux
            c = pose_cost(model, state, i, k, a, cx, cy, cost)
            if c < cost:
                x, y, cost, better = cx, cy, c, True
                break
        step *= 1.4 if better else 0.5
        if step < 2e-4 * model.size[k]:
            break
    return x, y, cost


@uncounted
def sample(model: Model, state: State, k: Whole, a: Whole) -> tuple[float, float]:
    """A place drawn at random, on the ground of kind k at angle a if one of eight is."""
    b = model.bounds
    f = model.fit_id[k, a]
    x, y = b[k, a, 0], b[k, a, 1]
    for _ in range(8):
        x = b[k, a, 0] + (b[k, a, 2] - b[k, a, 0]) * uniform(state.random)
        y = b[k, a, 1] + (b[k, a, 3] - b[k, a, 1]) * uniform(state.random)
        if f < 0 or depth_outside(model.fit, f, x, y) <= 0.0:
            break
    return x, y


class Scratch(NamedTuple):
    """What finding a pose writes to."""

    top: np.ndarray
    """(BEST + 1, 5) kind, angle, x, y, cost of the best candidates, cheapest first, and of the present pose."""
    moves: np.ndarray
    """(12, 2) exit moves."""
    window: Window


@compiled
def make_scratch(rasters: Rasters) -> Scratch:
    """Scratch for `best_pose`."""
    return Scratch(np.empty((BEST + 1, 5)), np.empty((12, 2)), make_window(rasters))


@uncounted
def _consider(model: Model, state: State, top: np.ndarray, i: Whole, k: Whole, a: Whole, x: float, y: float) -> None:
    """Let a pose of piece i be among the best, if it is."""
    b = model.bounds
    x, y = min(max(x, b[k, a, 0]), b[k, a, 2]), min(max(y, b[k, a, 1]), b[k, a, 3])
    c = pose_cost(model, state, i, k, a, x, y, top[BEST - 1, 4])
    if c < top[BEST - 1, 4]:
        q = BEST - 1
        while q > 0 and top[q - 1, 4] > c:
            for column in range(5):
                top[q, column] = top[q - 1, column]
            q -= 1
        top[q, 0], top[q, 1], top[q, 2], top[q, 3], top[q, 4] = k, a, x, y, c


@uncounted
def best_pose(
    model: Model, rasters: Rasters, state: State, i: Whole, kinds: np.ndarray, n_kinds: int, wide: int, near: int,
    scratch: Scratch,
) -> tuple[int, int, float, float, float]:
    """Cheapest form and pose found for piece i among `kinds[:n_kinds]` (its own kind first).

    `wide` samples over all the ground, or with rasters the lowest places of whole windows at up to `wide` of its
    headings (it keeps its kind then); `near` samples about the present pose. The best few are improved by exit moves
    and the best of them by a compass search. Returns (kind, angle, x, y, cost).
    """
    k0, a0, x0, y0 = state.kind[i], state.angle[i], state.x[i], state.y[i]
    top, moves, window = scratch
    for q in range(BEST):
        top[q, 4] = np.inf
    top[BEST, 0], top[BEST, 1], top[BEST, 2], top[BEST, 3] = k0, a0, x0, y0
    top[BEST, 4] = pose_cost(model, state, i, k0, a0, x0, y0, np.inf)
    if rasters.step > 0.0:
        s, e = model.form_start[k0], model.form_start[k0 + 1]
        first = int(uniform(state.random) * (e - s))
        for h in range(min(wide, e - s)):
            a = model.form_angle[s + (first + h) % (e - s)]
            found, left, low = look(model, rasters, state, i, k0, a, window)
            for p in range(found):
                _consider(model, state, top, i, k0, a,
                          left + window.where[p, 1] * rasters.step, low + window.where[p, 0] * rasters.step)
        wide = 0
    for draw in range(wide + near):
        k = k0
        if n_kinds > 1 and uniform(state.random) < OTHER_KIND:
            k = kinds[int(uniform(state.random) * n_kinds)]
        s, e = model.form_start[k], model.form_start[k + 1]
        if e == s:
            continue
        a = model.form_angle[s + int(uniform(state.random) * (e - s))]
        if draw < wide:
            x, y = sample(model, state, k, a)
        else:
            u = uniform(state.random)
            if u < 0.9:
                # the present angle, or one beside it in the list
                q = s
                while q < e - 1 and model.form_angle[q] != a0:
                    q += 1
                if u >= 0.6:
                    q += 1 if u >= 0.75 else -1
                a = model.form_angle[min(max(q, s), e - 1)]
            spread = (0.05 if uniform(state.random) < 0.5 else 0.2) * model.size[k]
            x, y = scattered(state.random, x0, y0, spread)
        _consider(model, state, top, i, k, a, x, y)
    best = BEST
    for q in range(BEST + 1):
        if top[q, 4] < np.inf:
            k, a = int(top[q, 0]), int(top[q, 1])
            top[q, 2], top[q, 3], top[q, 4] = exit_descent(
                model, state, i, k, a, top[q, 2], top[q, 3], top[q, 4], moves)
            if top[q, 4] < top[best, 4]:
                best = q
    if top[best, 4] > 0.0:
        k, a = int(top[best, 0]), int(top[best, 1])
        top[best, 2], top[best, 3], top[best, 4] = compass_descent(
            model, state, i, k, a, top[best, 2], top[best, 3], top[best, 4])
    return int(top[best, 0]), int(top[best, 1]), top[best, 2], top[best, 3], top[best, 4]


@uncounted
def grow(model: Model, state: State, limit: np.ndarray, tries: int, moves: np.ndarray) -> float:
    """Give random items a larger kind where that needs no overlap. Returns the area gained."""
    gained = 0.0
    n = state.n[0]
    kinds = len(model.worth)
    for _ in range(tries):
        i = int(uniform(state.random) * n)
        k0, a0, x0, y0 = state.kind[i], state.angle[i], state.x[i], state.y[i]
        c = int(uniform(state.random) * kinds)
        if model.worth[c] <= model.worth[k0] or state.count[c] >= limit[c] or model.fit_id[c, a0] == NOT_ALLOWED:
            continue
        for _ in range(4):
            x, y = scattered(state.random, x0, y0, 0.02 * model.size[c])
            cost = pose_cost(model, state, i, c, a0, x, y, np.inf)
            x, y, cost = exit_descent(model, state, i, c, a0, x, y, cost, moves)
            if cost <= 0.0:
                gained += model.worth[c] - model.worth[k0]
                state.count[k0] -= 1
                state.count[c] += 1
                put(model, state, i, c, a0, x, y)
                break
    return gained
