"""Compiled search: cost of a pose, the best new pose of a piece, and guided local search on overlaps.

A trial layout may overlap. The cost of a pose is the weighted sum of penetration depths into the
other pieces and into forbidden ground; `separate` moves one overlapped piece after another to its
cheapest pose while the weights of stubborn pairs rise (guided local search: Voudouris & Tsang 1999,
doi:10.1016/S0377-2217(98)00099-X; on overlaps of irregular shapes: Egeblad, Nielsen & Odgaard 2007,
doi:10.1016/j.ejor.2005.11.063; Umetani et al. 2009, doi:10.1111/j.1475-3995.2009.00707.x).

A *form* is a kind at one heading. Headings are indices into one list of angles; the no-fit polygon of
two forms is that of their kinds at the relative angle, turned with the fixed one.
"""

from typing import NamedTuple

import numpy as np

from geometry.compiled import compiled, lean
from geometry.overlap import Tables, depth_inside, depth_outside, exit_move

NO_FIT_TABLE = -1
"""The form may lie anywhere in its bounds."""
NOT_ALLOWED = -2
"""The form has no place at all."""


class Model(NamedTuple):
    """What the search reads. k kinds, a angles, r relative angles."""

    no_fit: Tables
    no_fit_id: np.ndarray
    """(k, k, r) table of (fixed, moving, relative angle), -1 where the swapped pair has it."""
    relative: np.ndarray
    """(a, a) relative angle index of (fixed, moving)."""
    cos: np.ndarray
    sin: np.ndarray
    fit: Tables
    fit_id: np.ndarray
    """(k, a) table of allowed reference points, NO_FIT_TABLE or NOT_ALLOWED."""
    bounds: np.ndarray
    """(k, a, 4) range of the reference point: x0, y0, x1, y1."""
    form_box: np.ndarray
    """(k, a, 4) bounding box of the form, grown by half the gap, about its reference point."""
    cut_box: np.ndarray
    """(k, a, 4) bounding box of the form itself."""
    form_start: np.ndarray
    """(k + 1,) where kind k's allowed angles start in `form_angle`."""
    form_angle: np.ndarray
    area: np.ndarray
    scale: np.ndarray
    """(k, k) factor on the depth of a pair."""
    size: np.ndarray
    """(k,) typical width of a kind, mm."""
    zero: float
    """Depth that counts as none, mm."""


class State(NamedTuple):
    """A trial layout; `n[0]` pieces are in use, arrays have room for more."""

    n: np.ndarray
    kind: np.ndarray
    angle: np.ndarray
    x: np.ndarray
    y: np.ndarray
    box: np.ndarray
    """(room, 4) x0, y0, x1, y1 of the pieces where they lie; `put` keeps them true."""
    weight: np.ndarray
    fit_weight: np.ndarray
    count: np.ndarray
    """(k,) pieces of each kind."""
    random: np.ndarray
    """(1,) uint64 state of the generator."""
    passes: np.ndarray
    """(2,) passes made, and passes allowed."""
    stop: np.ndarray
    """(1,) set to 1 from outside to end the search at the next pass."""


@lean
def uniform(random):
    """Next number in [0, 1) of an xorshift64* generator (Vigna 2016, doi:10.1145/2845077)."""
    s = random[0]
    s ^= s >> np.uint64(12)
    s ^= s << np.uint64(25)
    s ^= s >> np.uint64(27)
    random[0] = s
    return np.float64((s * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@lean
def normal(random):
    """Standard normal number (Box & Muller 1958, doi:10.1214/aoms/1177706645)."""
    return np.sqrt(-2.0 * np.log(1.0 - uniform(random))) * np.cos(2.0 * np.pi * uniform(random))


@lean
def put(model, state, i, k, a, x, y):
    """Lay piece i down as form (k, a) at (x, y)."""
    state.kind[i], state.angle[i], state.x[i], state.y[i] = k, a, x, y
    state.box[i, 0] = x + model.form_box[k, a, 0]
    state.box[i, 1] = y + model.form_box[k, a, 1]
    state.box[i, 2] = x + model.form_box[k, a, 2]
    state.box[i, 3] = y + model.form_box[k, a, 3]


@lean
def put_all(model, state):
    """Bring every bounding box up to date."""
    for i in range(state.n[0]):
        put(model, state, i, state.kind[i], state.angle[i], state.x[i], state.y[i])


@lean
def pair_depth(model, ka, aa, kb, ab, dx, dy, enough=np.inf):
    """Penetration depth of form (kb, ab) displaced by (dx, dy) from form (ka, aa); `enough` as in `depth_inside`."""
    ka, aa, kb, ab = np.uint64(ka), np.uint64(aa), np.uint64(kb), np.uint64(ab)
    t = model.no_fit_id[ka, kb, np.uint64(model.relative[aa, ab])]
    if t >= 0:
        c, s = model.cos[aa], model.sin[aa]
        u, v = c * dx + s * dy, c * dy - s * dx
    else:
        t = model.no_fit_id[kb, ka, np.uint64(model.relative[ab, aa])]
        c, s = model.cos[ab], model.sin[ab]
        u, v = -c * dx - s * dy, s * dx - c * dy
    d = depth_inside(model.no_fit, t, u, v, enough)
    return d if d > model.zero else 0.0


@lean
def pair_exit(model, ka, aa, kb, ab, dx, dy):
    """Shortest move of form (kb, ab) that parts it from form (ka, aa)."""
    t = model.no_fit_id[ka, kb, model.relative[aa, ab]]
    if t >= 0:
        c, s = model.cos[aa], model.sin[aa]
        mx, my = exit_move(model.no_fit, t, c * dx + s * dy, c * dy - s * dx)
        return c * mx - s * my, s * mx + c * my
    t = model.no_fit_id[kb, ka, model.relative[ab, aa]]
    c, s = model.cos[ab], model.sin[ab]
    mx, my = exit_move(model.no_fit, t, -c * dx - s * dy, s * dx - c * dy)
    return -c * mx + s * my, -s * mx - c * my


@lean
def ground_depth(model, k, a, x, y, enough=np.inf):
    """How far form (k, a) at (x, y) is from allowed ground; `enough` as in `depth_outside`."""
    f = model.fit_id[k, a]
    if f >= 0:
        out = depth_outside(model.fit, f, x, y, enough)
    else:
        b = model.bounds
        out = (max(0.0, b[k, a, 0] - x) + max(0.0, x - b[k, a, 2])
               + max(0.0, b[k, a, 1] - y) + max(0.0, y - b[k, a, 3]))
    return out if out > model.zero else 0.0


@lean
def pose_cost(model, state, i, k, a, x, y, bound):
    """Weighted penetration of piece i as form (k, a) at (x, y); stops once it exceeds `bound`."""
    total = 0.0
    factor = state.fit_weight[i] * model.scale[k, k]
    g = ground_depth(model, k, a, x, y, bound / factor)
    if g > 0.0:
        total = factor * g
        if total >= bound:
            return total
    form_box, box = model.form_box, state.box
    x0, y0, x1, y1 = x + form_box[k, a, 0], y + form_box[k, a, 1], x + form_box[k, a, 2], y + form_box[k, a, 3]
    for j in range(state.n[0]):
        # one jump in place of four: most boxes are apart, which of the four says so is a coin toss
        if (x0 >= box[j, 2]) | (x1 <= box[j, 0]) | (y0 >= box[j, 3]) | (y1 <= box[j, 1]) | (j == i):
            continue
        kj = state.kind[j]
        factor = state.weight[i, j] * model.scale[k, kj]
        d = pair_depth(model, kj, state.angle[j], k, a, x - state.x[j], y - state.y[j], (bound - total) / factor)
        if d > 0.0:
            total += factor * d
            if total >= bound:
                return total
    return total


@lean
def exit_descent(model, state, i, k, a, x, y, cost, moves):
    """Improve a pose by exit moves and their pairwise crossings.

    `moves` is a (12, 2) scratch array of exit moves. Returns the new (x, y, cost).
    """
    form_box = model.form_box
    box = state.box
    for _ in range(6):
        if cost <= 0.0:
            return x, y, cost
        m = 0
        if ground_depth(model, k, a, x, y) > 0.0:
            if model.fit_id[k, a] >= 0:
                moves[m, 0], moves[m, 1] = exit_move(model.fit, model.fit_id[k, a], x, y)
            else:
                moves[m, 0] = min(max(x, model.bounds[k, a, 0]), model.bounds[k, a, 2]) - x
                moves[m, 1] = min(max(y, model.bounds[k, a, 1]), model.bounds[k, a, 3]) - y
            m += 1
        x0, y0, x1, y1 = x + form_box[k, a, 0], y + form_box[k, a, 1], x + form_box[k, a, 2], y + form_box[k, a, 3]
        for j in range(state.n[0]):
            if (x0 >= box[j, 2]) | (x1 <= box[j, 0]) | (y0 >= box[j, 3]) | (y1 <= box[j, 1]) | (j == i) | (m >= 8):
                continue
            kj, aj, xj, yj = state.kind[j], state.angle[j], state.x[j], state.y[j]
            if pair_depth(model, kj, aj, k, a, x - xj, y - yj) > 0.0:
                moves[m, 0], moves[m, 1] = pair_exit(model, kj, aj, k, a, x - xj, y - yj)
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


@lean
def compass_descent(model, state, i, k, a, x, y, cost):
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


@lean
def _sample(model, state, k, a):
    b = model.bounds
    f = model.fit_id[k, a]
    x, y = b[k, a, 0], b[k, a, 1]
    for _ in range(8):
        x = b[k, a, 0] + (b[k, a, 2] - b[k, a, 0]) * uniform(state.random)
        y = b[k, a, 1] + (b[k, a, 3] - b[k, a, 1]) * uniform(state.random)
        if f < 0 or depth_outside(model.fit, f, x, y) <= 0.0:
            break
    return x, y


@lean
def best_pose(model, state, i, kinds, n_kinds, wide, near, top, moves):
    """Cheapest form and pose found for piece i among `kinds[:n_kinds]` (its own kind first).

    `wide` samples over all the ground, `near` about the present pose; the best few are improved by
    exit moves and the best of them by a compass search. `top` is a (4, 5) scratch array.
    Returns (kind, angle, x, y, cost).
    """
    k0, a0, x0, y0 = state.kind[i], state.angle[i], state.x[i], state.y[i]
    keep = 3
    other_kind = 0.3
    for q in range(keep + 1):
        top[q, 4] = np.inf
    top[keep, 0], top[keep, 1], top[keep, 2], top[keep, 3] = k0, a0, x0, y0
    top[keep, 4] = pose_cost(model, state, i, k0, a0, x0, y0, np.inf)
    for sample in range(wide + near):
        k = k0
        if n_kinds > 1 and uniform(state.random) < other_kind:
            k = kinds[int(uniform(state.random) * n_kinds)]
        s, e = model.form_start[k], model.form_start[k + 1]
        if e == s:
            continue
        a = model.form_angle[s + int(uniform(state.random) * (e - s))]
        if sample < wide:
            x, y = _sample(model, state, k, a)
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
            b = model.bounds
            x = min(max(x0 + spread * normal(state.random), b[k, a, 0]), b[k, a, 2])
            y = min(max(y0 + spread * normal(state.random), b[k, a, 1]), b[k, a, 3])
        c = pose_cost(model, state, i, k, a, x, y, top[keep - 1, 4])
        if c < top[keep - 1, 4]:
            q = keep - 1
            while q > 0 and top[q - 1, 4] > c:
                for column in range(5):
                    top[q, column] = top[q - 1, column]
                q -= 1
            top[q, 0], top[q, 1], top[q, 2], top[q, 3], top[q, 4] = k, a, x, y, c
    best = keep
    for q in range(keep + 1):
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


@lean
def grow(model, state, limit, tries, moves):
    """Give random items a larger kind where that needs no overlap. Returns the area gained."""
    gained = 0.0
    n = state.n[0]
    kinds = len(model.area)
    for _ in range(tries):
        i = int(uniform(state.random) * n)
        k0, a0, x0, y0 = state.kind[i], state.angle[i], state.x[i], state.y[i]
        c = int(uniform(state.random) * kinds)
        if model.area[c] <= model.area[k0] or state.count[c] >= limit[c] or model.fit_id[c, a0] == NOT_ALLOWED:
            continue
        for _ in range(4):
            spread = 0.02 * model.size[c]
            x, y = x0 + spread * normal(state.random), y0 + spread * normal(state.random)
            cost = pose_cost(model, state, i, c, a0, x, y, np.inf)
            x, y, cost = exit_descent(model, state, i, c, a0, x, y, cost, moves)
            if cost <= 0.0:
                gained += model.area[c] - model.area[k0]
                state.count[k0] -= 1
                state.count[c] += 1
                put(model, state, i, c, a0, x, y)
                break
    return gained


@lean
def depths(model, state, depth, ground):
    """Fill `depth` (n, n) and `ground` (n,) with unweighted, scaled depths; return their sum."""
    n, box = state.n[0], state.box
    total = 0.0
    for i in range(n):
        k, a, x, y = state.kind[i], state.angle[i], state.x[i], state.y[i]
        ground[i] = ground_depth(model, k, a, x, y) * model.scale[k, k]
        total += ground[i]
        depth[i, i] = 0.0
        for j in range(i):
            d = 0.0
            if not (box[i, 0] >= box[j, 2] or box[i, 2] <= box[j, 0]
                    or box[i, 1] >= box[j, 3] or box[i, 3] <= box[j, 1]):
                kj = state.kind[j]
                d = pair_depth(model, kj, state.angle[j], k, a, x - state.x[j], y - state.y[j]) * model.scale[k, kj]
            depth[i, j] = d
            depth[j, i] = d
            total += d
    return total


@compiled
def separate(model, state, limit, target, wide, near, patience, strikes_allowed):
    """Move overlapped pieces until none overlap; guided local search. Returns the overlap left.

    limit : (k,) most pieces of each kind, or zeros when pieces keep their kind.
    target : least total area; a moved piece may change kind while the total stays at least this.
    patience : passes without 2 % less overlap before a strike; the best state is restored at a strike.
    """
    n = state.n[0]
    state.passes[0] += 1
    put_all(model, state)
    depth = np.zeros((n, n))
    ground = np.zeros(n)
    order = np.empty(n, np.int64)
    kinds = np.empty(len(model.area), np.int64)
    top = np.empty((4, 5))
    moves = np.empty((12, 2))
    total = depths(model, state, depth, ground)
    least = total
    held_kind, held_angle = state.kind[:n].copy(), state.angle[:n].copy()
    held_x, held_y = state.x[:n].copy(), state.y[:n].copy()
    area = 0.0
    for i in range(n):
        area += model.area[state.kind[i]]
    held_area = area
    held_count = state.count.copy()
    strikes = 0
    may_change = limit.max() > 0
    while strikes < strikes_allowed and least > 0.0:
        start = least
        idle = 0
        while idle < patience:
            if state.stop[0] != 0 or state.passes[0] >= state.passes[1]:
                strikes = strikes_allowed
                break
            state.passes[0] += 1
            m = 0
            for i in range(n):
                if ground[i] > 0.0 or depth[i].max() > 0.0:
                    order[m] = i
                    m += 1
            for p in range(m - 1, 0, -1):
                q = int(uniform(state.random) * (p + 1))
                order[p], order[q] = order[q], order[p]
            for p in range(m):
                i = order[p]
                k = state.kind[i]
                if pose_cost(model, state, i, k, state.angle[i], state.x[i], state.y[i], np.inf) <= 0.0:
                    continue
                kinds[0] = k
                nk = 1
                if may_change:
                    for c in range(len(model.area)):
                        if c != k and state.count[c] < limit[c] and area - model.area[k] + model.area[c] >= target:
                            kinds[nk] = c
                            nk += 1
                c, a, x, y, _ = best_pose(model, state, i, kinds, nk, wide, near, top, moves)
                if c != k:
                    area += model.area[c] - model.area[k]
                    state.count[k] -= 1
                    state.count[c] += 1
                put(model, state, i, c, a, x, y)
            if may_change:
                # what grows without overlap lets overlapped items shrink
                area += grow(model, state, limit, n // 2, moves)
            total = depths(model, state, depth, ground)
            if total < least:
                if total < 0.98 * least:
                    idle = 0
                least = total
                held_kind[:] = state.kind[:n]
                held_angle[:] = state.angle[:n]
                held_x[:] = state.x[:n]
                held_y[:] = state.y[:n]
                held_area = area
                held_count[:] = state.count
                if least <= 0.0:
                    break
            else:
                idle += 1
            deepest = max(depth.max(), ground.max())
            for i in range(n):
                for j in range(i):
                    w = state.weight[i, j]
                    w = w * (1.2 + 0.8 * depth[i, j] / deepest) if depth[i, j] > 0.0 else max(1.0, w * 0.95)
                    state.weight[i, j] = w
                    state.weight[j, i] = w
                g = state.fit_weight[i]
                state.fit_weight[i] = g * (1.2 + 0.8 * ground[i] / deepest) if ground[i] > 0.0 else max(1.0, g * 0.95)
        strikes = 0 if least < 0.98 * start and strikes < strikes_allowed else strikes + 1
        state.kind[:n] = held_kind
        state.angle[:n] = held_angle
        state.x[:n] = held_x
        state.y[:n] = held_y
        put_all(model, state)
        state.count[:] = held_count
        area = held_area
        total = depths(model, state, depth, ground)
    return least
