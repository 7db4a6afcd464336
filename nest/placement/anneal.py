"""Anneal: small changes to a layout free of overlap, each kept only if all items can be pushed apart again.

Simulated annealing (Kirkpatrick, Gelatt & Vecchi 1983, doi:10.1126/science.220.4598.671; acceptance: Metropolis et
al. 1953, doi:10.1063/1.1699114) on the area of the items that have partners, over layouts without overlap. An item
changes its kind or heading, is moved a little, or changes places with another; then everything near gives way at
once (`_apart.py`), which takes some four microseconds on the mean, for most pushes are soon seen to fail.
"""

import numpy as np

from geometry.compiled import Whole, compiled, uncounted
from nest.placement._apart import Work, forget, make_work, mark, push_apart
from nest.placement._cost import NOT_ALLOWED, Model, State, put, put_all, scattered, uniform
from nest.placement.families import Families, count_in, level_of
from nest.placement.state import Snapshot

TRIES = 30
"""Changes tried in one pass: about a tenth of a millisecond."""

FAR = 3.0
"""Items change places with others up to this many mean widths away."""


@uncounted
def _centre(state: State, i: Whole) -> tuple[float, float]:
    """Centre of the bounding box of item i."""
    box = state.box
    return 0.5 * (box[0, i] + box[2, i]), 0.5 * (box[1, i] + box[3, i])


@uncounted
def _put_about(model: Model, state: State, i: Whole, k: Whole, a: Whole, centre: tuple[float, float]) -> None:
    """Lay item i down as form (k, a) with its bounding box about a point, for reference points differ by kind."""
    box = model.form_box
    put(model, state, i, k, a, centre[0] - 0.5 * (box[k, a, 0] + box[k, a, 2]),
        centre[1] - 0.5 * (box[k, a, 1] + box[k, a, 3]))


@uncounted
def _try_something(model: Model, state: State, limit: np.ndarray, i: Whole, work: Work) -> bool:
    """Make one random change to item i; overlaps may come of it. Whether anything was done."""
    n = state.n[0]
    k, a, here = state.kind[i], state.angle[i], _centre(state, i)
    u = uniform(state.random)
    if u < 0.3:
        c = int(uniform(state.random) * len(model.worth))
        if c == k or state.count[c] >= limit[c] or model.fit_id[c, a] == NOT_ALLOWED:
            return False
        state.count[k] -= 1
        state.count[c] += 1
        _put_about(model, state, i, c, a, here)
    elif u < 0.4 or 0.6 <= u < 0.65:
        j = int(uniform(state.random) * n)
        kj, aj, there = state.kind[j], state.angle[j], _centre(state, j)
        if u < 0.4:
            # kinds change hands
            if kj == k or model.fit_id[kj, a] == NOT_ALLOWED or model.fit_id[k, aj] == NOT_ALLOWED:
                return False
            _put_about(model, state, i, kj, a, here)
            _put_about(model, state, j, k, aj, there)
        else:
            # places change hands
            if i == j or (here[0] - there[0]) ** 2 + (here[1] - there[1]) ** 2 > (FAR * model.size.mean()) ** 2:
                return False
            _put_about(model, state, i, k, a, there)
            _put_about(model, state, j, kj, aj, here)
        mark(work, j)
    elif u < 0.6:
        s, e = model.form_start[k], model.form_start[k + 1]
        if u < 0.55:
            # the heading beside the present one
            q = s
            while q < e - 1 and model.form_angle[q] != a:
                q += 1
            q += 1 if uniform(state.random) < 0.5 else -1
            q = e - 1 if q < s else (s if q >= e else q)
        else:
            q = s + int(uniform(state.random) * (e - s))
        if model.form_angle[q] == a:
            return False
        _put_about(model, state, i, k, model.form_angle[q], here)
    else:
        spread = model.size[k] * (0.02 if uniform(state.random) < 0.5 else 0.08)
        x, y = scattered(state.random, state.x[i], state.y[i], spread)
        put(model, state, i, k, a, x, y)
    mark(work, i)
    return True


@uncounted
def _level(model: Model, state: State, families: Families, i: Whole) -> int:
    a = state.angle[i]
    return level_of(families, state.kind[i], model.cos[a], model.sin[a], state.x[i], state.y[i])


@uncounted
def _recount(
    families: Families, tally: np.ndarray, work: Work, kind: np.ndarray, level: np.ndarray, new_kind: np.ndarray,
    new_level: np.ndarray,
) -> tuple[float, float]:
    """Count the moved items out as they were and in as they are; the changes of area without partner, as `count_in`."""
    whole, part = 0.0, 0.0
    for p in range(work.count[0]):
        i = work.moved[p]
        w, s = count_in(families, tally, kind[i], level[i], -1)
        whole, part = whole + w, part + s
        w, s = count_in(families, tally, new_kind[i], new_level[i], 1)
        whole, part = whole + w, part + s
    return whole, part


@compiled
def _anneal(
    model: Model, state: State, limit: np.ndarray, families: Families, temperature: float, odd_share: float,
    passes: int, most: float, best_kind: np.ndarray, best_angle: np.ndarray, best_x: np.ndarray, best_y: np.ndarray,
) -> float:
    n = state.n[0]
    state.passes[0] += passes
    put_all(model, state)
    work = make_work(n)
    kind, angle, x, y = state.kind[:n].copy(), state.angle[:n].copy(), state.x[:n].copy(), state.y[:n].copy()
    level, new_level = np.empty(n, np.int64), np.empty(n, np.int64)
    tally = np.zeros((families.step.shape[0], families.better.shape[1] + 1, families.step.shape[1], 3), np.int64)
    area, odd = 0.0, 0.0
    for i in range(n):
        area += model.worth[kind[i]]
        level[i] = _level(model, state, families, i)
        whole, part = count_in(families, tally, kind[i], level[i], 1)
        odd += whole + part
    for _ in range(passes * TRIES):
        if state.stop[0] != 0:
            break
        i = int(uniform(state.random) * n)
        if not _try_something(model, state, limit, i, work):
            continue
        grace = -temperature * np.log(1.0 - uniform(state.random))
        change, turned = 0.0, False
        for p in range(work.count[0]):
            i = work.moved[p]
            change += model.worth[state.kind[i]] - model.worth[kind[i]]
            turned |= state.kind[i] != kind[i]
        # most changes that are not wanted are known before anything is pushed
        whole, part = 0.0, 0.0
        if turned:
            whole, part = _recount(families, tally, work, kind, level, state.kind, level)
            _recount(families, tally, work, state.kind, level, kind, level)
        wanted = odd_share * whole + part - change <= grace and push_apart(model, state, work)
        if wanted:
            for p in range(work.count[0]):
                i = work.moved[p]
                new_level[i] = _level(model, state, families, i)
            whole, part = _recount(families, tally, work, kind, level, state.kind, new_level)
            wanted = odd_share * whole + part - change <= grace
            if not wanted:
                _recount(families, tally, work, state.kind, new_level, kind, level)
        if wanted:
            area += change
            odd += whole + part
            for p in range(work.count[0]):
                i = work.moved[p]
                kind[i], angle[i], x[i], y[i] = state.kind[i], state.angle[i], state.x[i], state.y[i]
                level[i] = new_level[i]
            if area - odd > most:
                most = area - odd
                best_kind[:], best_angle[:], best_x[:], best_y[:] = kind, angle, x, y
        else:
            for p in range(work.count[0]):
                i = work.moved[p]
                state.count[state.kind[i]] -= 1
                state.count[kind[i]] += 1
                put(model, state, i, kind[i], angle[i], x[i], y[i])
        forget(work)
    return most


def anneal(
    model: Model, state: State, limit: np.ndarray, families: Families, temperature: float, odd_share: float,
    best: Snapshot, *, most: float, passes: int = 1,
) -> float:
    """Passes of TRIES changes each at one temperature (mm²), beginning from a layout free of overlap.

    What is raised is the area, less what larger items lose to smaller partners, less `odd_share` of that of items
    without partner. `best`, a layout of as many items, is overwritten whenever the area of items with partners is more
    than `most`; the new `most` is returned.
    """
    return _anneal(model, state, limit, families, temperature, odd_share, passes, most,
                   best.kind, best.angle, best.x, best.y)
