"""Compiled cost of a trial layout: what a piece at a pose overlaps, and by how much.

A trial layout may overlap. The cost of a pose is the weighted sum of penetration depths into the
other pieces and into forbidden ground.

A *form* is a kind at one heading. Headings are indices into one list of angles; the no-fit polygon of
two forms is that of their kinds at the relative angle, turned with the fixed one.
"""

from typing import NamedTuple

import numpy as np

from geometry.compiled import Whole, inlined, uncounted
from geometry.overlap import depth_inside, depth_outside, move_in, move_out
from geometry.tables import Tables

NO_FIT_TABLE = -1
"""The form may lie anywhere in its bounds."""
NOT_ALLOWED = -2
"""The form has no place at all."""


class Model(NamedTuple):
    """What the search reads. k kinds, a angles, r relative angles."""

    no_fit: Tables
    no_fit_id: np.ndarray
    """(k, k, r) twice the table of (fixed, moving, relative angle), and 1 if it is that of the mirror image about
    y = 0; -1 where the swapped pair has it."""
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
    worth: np.ndarray
    """(k,) what one item counts for in a region; on a strip its area, mm²."""
    scale: np.ndarray
    """(k, k) factor on the depth of a pair."""
    size: np.ndarray
    """(k,) typical width of a kind, mm."""
    zero: float
    """Depth that counts as none, mm."""


def angles_of(model: Model, kind: Whole) -> np.ndarray:
    """Indices of the angles a kind may have."""
    return model.form_angle[model.form_start[kind]:model.form_start[kind + 1]]


class State(NamedTuple):
    """A trial layout; `n[0]` pieces are in use, arrays have room for more."""

    n: np.ndarray
    kind: np.ndarray
    angle: np.ndarray
    x: np.ndarray
    y: np.ndarray
    box: np.ndarray
    """(4, room) x0, y0, x1, y1 of the pieces where they lie; `put` keeps them true."""
    near: np.ndarray
    """(room,) scratch: which boxes meet another, see `find_near`."""
    weight: np.ndarray
    fit_weight: np.ndarray
    count: np.ndarray  # type: ignore[assignment]  # hides `tuple.count`, which no one asks
    """(k,) pieces of each kind."""
    random: np.ndarray
    """(1,) uint64 state of the generator."""
    passes: np.ndarray
    """(2,) passes made, and passes allowed."""
    stop: np.ndarray
    """(1,) set to 1 from outside to end the search at the next pass."""


@uncounted
def uniform(random: np.ndarray) -> float:
    """Next number in [0, 1) of an xorshift64* generator (Vigna 2016, doi:10.1145/2845077)."""
    s = random[0]
    s ^= s >> np.uint64(12)
    s ^= s << np.uint64(25)
    s ^= s >> np.uint64(27)
    random[0] = s
    return np.float64((s * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@uncounted
def scattered(random: np.ndarray, x: float, y: float, spread: float) -> tuple[float, float]:
    """A point normally distributed about another (Box & Muller 1958, doi:10.1214/aoms/1177706645)."""
    far = spread * np.sqrt(-2.0 * np.log(1.0 - uniform(random)))
    turn = 2.0 * np.pi * uniform(random)
    return x + far * np.cos(turn), y + far * np.sin(turn)


@uncounted
def put(model: Model, state: State, i: Whole, k: Whole, a: Whole, x: float, y: float) -> None:
    """Lay piece i down as form (k, a) at (x, y)."""
    state.kind[i], state.angle[i], state.x[i], state.y[i] = k, a, x, y
    state.box[0, i] = x + model.form_box[k, a, 0]
    state.box[1, i] = y + model.form_box[k, a, 1]
    state.box[2, i] = x + model.form_box[k, a, 2]
    state.box[3, i] = y + model.form_box[k, a, 3]


@inlined
def find_near(box: np.ndarray, near: np.ndarray, n: Whole, x0: float, y0: float, x1: float, y1: float) -> None:
    """Note in `near` which of the first n boxes meet a box; a loop of its own, so that it runs several at a time."""
    for j in range(n):
        near[j] = (x0 < box[2, j]) & (x1 > box[0, j]) & (y0 < box[3, j]) & (y1 > box[1, j])


@uncounted
def put_all(model: Model, state: State) -> None:
    """Bring every bounding box up to date."""
    for i in range(state.n[0]):
        put(model, state, i, state.kind[i], state.angle[i], state.x[i], state.y[i])


@uncounted
def pair_depth(
    model: Model, ka: Whole, aa: Whole, kb: Whole, ab: Whole, dx: float, dy: float, enough: float = np.inf
) -> float:
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
    if t & 1:
        v = -v
    d = depth_inside(model.no_fit, t >> 1, u, v, enough)
    return d if d > model.zero else 0.0


@uncounted
def pair_exit(model: Model, ka: Whole, aa: Whole, kb: Whole, ab: Whole, dx: float, dy: float) -> tuple[float, float]:
    """Shortest move of form (kb, ab), displaced by (dx, dy), that parts it from form (ka, aa); (0, 0) if they do not
    overlap."""
    ka, aa, kb, ab = np.uint64(ka), np.uint64(aa), np.uint64(kb), np.uint64(ab)
    t = model.no_fit_id[ka, kb, np.uint64(model.relative[aa, ab])]
    turned, sign = aa, 1.0
    if t < 0:
        t = model.no_fit_id[kb, ka, np.uint64(model.relative[ab, aa])]
        turned, sign = ab, -1.0
    c, s = sign * model.cos[turned], sign * model.sin[turned]
    image = -1.0 if t & 1 else 1.0
    mx, my = move_out(model.no_fit, t >> 1, c * dx + s * dy, image * (c * dy - s * dx))
    my *= image
    if mx * mx + my * my <= model.zero * model.zero:
        return 0.0, 0.0
    return c * mx - s * my, s * mx + c * my


@uncounted
def ground_depth(model: Model, k: Whole, a: Whole, x: float, y: float, enough: float = np.inf) -> float:
    """How far form (k, a) at (x, y) is from allowed ground; `enough` as in `depth_outside`."""
    f = model.fit_id[k, a]
    if f >= 0:
        out = depth_outside(model.fit, f, x, y, enough)
    else:
        b = model.bounds
        out = (max(0.0, b[k, a, 0] - x) + max(0.0, x - b[k, a, 2])
               + max(0.0, b[k, a, 1] - y) + max(0.0, y - b[k, a, 3]))
    return out if out > model.zero else 0.0


@uncounted
def ground_exit(model: Model, k: Whole, a: Whole, x: float, y: float) -> tuple[float, float]:
    """Shortest move of form (k, a) at (x, y) to allowed ground; (0, 0) where it is on it."""
    f = model.fit_id[k, a]
    if f >= 0:
        mx, my = move_in(model.fit, f, x, y)
    else:
        b = model.bounds
        mx, my = min(max(x, b[k, a, 0]), b[k, a, 2]) - x, min(max(y, b[k, a, 1]), b[k, a, 3]) - y
    if mx * mx + my * my <= model.zero * model.zero:
        return 0.0, 0.0
    return mx, my


@inlined
def pose_cost(model: Model, state: State, i: Whole, k: Whole, a: Whole, x: float, y: float, bound: float) -> float:
    """Weighted penetration of piece i as form (k, a) at (x, y); stops once it exceeds `bound`."""
    total = 0.0
    factor = state.fit_weight[i] * model.scale[k, k]
    g = ground_depth(model, k, a, x, y, bound / factor)
    if g > 0.0:
        total = factor * g
        if total >= bound:
            return float(total)
    form_box, near, n = model.form_box, state.near, state.n[0]
    find_near(state.box, near, n, x + form_box[k, a, 0], y + form_box[k, a, 1],
              x + form_box[k, a, 2], y + form_box[k, a, 3])
    near[i] = False
    for j in range(n):
        if not near[j]:
            continue
        kj = state.kind[j]
        factor = state.weight[i, j] * model.scale[k, kj]
        d = pair_depth(model, kj, state.angle[j], k, a, x - state.x[j], y - state.y[j], (bound - total) / factor)
        if d > 0.0:
            total += factor * d
            if total >= bound:
                return float(total)
    return total


@uncounted
def depths(model: Model, state: State, depth: np.ndarray, ground: np.ndarray) -> float:
    """Fill `depth` (n, n) and `ground` (n,) with unweighted, scaled depths; return their sum."""
    n, box = state.n[0], state.box
    total = 0.0
    for i in range(n):
        k, a, x, y = state.kind[i], state.angle[i], state.x[i], state.y[i]
        ground[i] = ground_depth(model, k, a, x, y) * model.scale[k, k]
        total += ground[i]
        depth[i, i] = 0.0
        find_near(box, state.near, i, box[0, i], box[1, i], box[2, i], box[3, i])
        for j in range(i):
            d = 0.0
            if state.near[j]:
                kj = state.kind[j]
                d = pair_depth(model, kj, state.angle[j], k, a, x - state.x[j], y - state.y[j]) * model.scale[k, kj]
            depth[i, j] = d
            depth[j, i] = d
            total += d
    return total
