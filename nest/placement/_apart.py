"""Compiled: push overlapping items apart, all at once.

The squares of the penetration depths are brought to nothing by damped least squares over the positions of
every item that overlaps (Levenberg 1944, doi:10.1090/qam/10666; Marquardt 1963, doi:10.1137/0111030; all items of
a layout moved at once by nonlinear programming: Imamichi, Yagiura & Nagamochi 2009,
doi:10.1016/j.disopt.2009.04.002). Room that lies scattered in small gaps comes together so, which moves
of one item at a time gather slowly; headings and kinds stay.
"""

from typing import NamedTuple

import numpy as np

from geometry.compiled import Whole, compiled, uncounted
from nest.placement._cost import Model, State, find_near, ground_exit, pair_exit, put

CLEARANCE = 1e-5
"""Items are pushed this much further than they must, as a share of the mean width of a kind."""

LONGEST_MOVE = 0.15
"""Of an item in one round, as a share of the mean width of a kind."""

ROUNDS = 15
DEPTH_LEFT, DEPTH_LEFT_FALL = 0.0125, 0.5
"""A round is the last if it leaves a root of the sum of squared depths of more than DEPTH_LEFT mean widths of a kind;
after every round this falls to DEPTH_LEFT_FALL of what it was. Four failures of five end so after a round or two, one
success of ten (trial 002)."""

FAR_APART = 0.35
"""Nothing is pushed that begins with more than this."""

DAMPING, LEAST_DAMPING, MOST_DAMPING = 0.02, 1e-4, 5.0


class Work(NamedTuple):
    """Scratch arrays for a layout of n items."""

    moved: np.ndarray
    """(n,) items that have moved since the layout was last free of overlap, in `count[0]` entries."""
    has_moved: np.ndarray
    """(n,) whether an item is in `moved`."""
    count: np.ndarray  # type: ignore[assignment]  # hides `tuple.count`, which no one asks
    overlap: np.ndarray
    """(m, 5) item, other item or -1 for the ground, unit exit move of the item x, y, and depth."""
    slot: np.ndarray
    active: np.ndarray
    back: np.ndarray
    normal: np.ndarray
    step: np.ndarray


@compiled
def make_work(n: Whole) -> Work:
    """Scratch arrays for n items, none moved."""
    return Work(
        np.zeros(n, np.int64), np.zeros(n, np.bool_), np.zeros(1, np.int64), np.empty((12 * n + 8, 5)),
        np.full(n, -1), np.empty(n, np.int64), np.empty((n, 2)), np.empty((2 * n, 2 * n)), np.empty(2 * n),
    )


@uncounted
def mark(work: Work, i: Whole) -> None:
    """Note that item i has moved."""
    if not work.has_moved[i]:
        work.has_moved[i] = True
        work.moved[work.count[0]] = i
        work.count[0] += 1


@uncounted
def forget(work: Work) -> None:
    """Take the layout as free of overlap: no item counts as moved."""
    for p in range(work.count[0]):
        work.has_moved[work.moved[p]] = False
    work.count[0] = 0


@uncounted
def _note(overlap: np.ndarray, m: int, i: Whole, j: Whole, dx: float, dy: float, clearance: float) -> tuple[int, float]:
    """Add an overlap, if it is one, to the list; returns its new length and the square of the depth."""
    if (dx == 0.0 and dy == 0.0) or m >= len(overlap):
        return m, 0.0
    depth = np.sqrt(dx * dx + dy * dy)
    overlap[m, 0], overlap[m, 1], overlap[m, 2], overlap[m, 3] = i, j, dx / depth, dy / depth
    overlap[m, 4] = depth + clearance
    return m + 1, (depth + clearance) ** 2


@uncounted
def _overlaps(model: Model, state: State, work: Work, clearance: float) -> tuple[int, float]:
    """List what the moved items overlap; returns how many there are and the sum of squared depths."""
    box, near, has_moved = state.box, state.near, work.has_moved
    m, total = 0, 0.0
    for p in range(work.count[0]):
        i = work.moved[p]
        k, a, x, y = state.kind[i], state.angle[i], state.x[i], state.y[i]
        dx, dy = ground_exit(model, k, a, x, y)
        m, square = _note(work.overlap, m, i, -1, dx, dy, clearance)
        total += square
        find_near(box, near, state.n[0], box[0, i], box[1, i], box[2, i], box[3, i])
        for j in range(state.n[0]):
            if not near[j] or (has_moved[j] and j >= i):
                continue
            kj, aj = state.kind[j], state.angle[j]
            dx, dy = pair_exit(model, kj, aj, k, a, x - state.x[j], y - state.y[j])
            m, square = _note(work.overlap, m, i, j, dx, dy, clearance)
            total += square
    return m, total


@uncounted
def _solve(normal: np.ndarray, right: np.ndarray, n: Whole) -> None:
    """Solve `normal` x = `right` in place by Cholesky's method; the lower triangle is read and overwritten."""
    for j in range(n):
        pivot = normal[j, j]
        for q in range(j):
            pivot -= normal[j, q] * normal[j, q]
        pivot = np.sqrt(max(pivot, 1e-12))
        normal[j, j] = pivot
        for i in range(j + 1, n):
            value = normal[i, j]
            for q in range(j):
                value -= normal[i, q] * normal[j, q]
            normal[i, j] = value / pivot
    for i in range(n):
        value = right[i]
        for q in range(i):
            value -= normal[i, q] * right[q]
        right[i] = value / normal[i, i]
    for i in range(n - 1, -1, -1):
        value = right[i]
        for q in range(i + 1, n):
            value -= normal[q, i] * right[q]
        right[i] = value / normal[i, i]


@uncounted
def _step(work: Work, m: Whole, damping: float) -> int:
    """Damped least-squares moves of the items in the first m overlaps, in `work.step`; returns how many items."""
    overlap, slot, normal, step = work.overlap, work.slot, work.normal, work.step
    count = 0
    for q in range(m):
        for side in range(2):
            i = int(overlap[q, side])
            if i >= 0 and slot[i] < 0:
                slot[i] = count
                work.active[count] = i
                count += 1
    for r in range(2 * count):
        step[r] = 0.0
        for c in range(r + 1):
            normal[r, c] = 0.0
        normal[r, r] = damping
    for q in range(m):
        i, j = slot[int(overlap[q, 0])], -1
        if overlap[q, 1] >= 0.0:
            j = slot[int(overlap[q, 1])]
        ux, uy, depth = overlap[q, 2], overlap[q, 3], overlap[q, 4]
        xx, xy, yy = ux * ux, ux * uy, uy * uy
        for end, sign in ((i, 1.0), (j, -1.0)):
            if end >= 0:
                normal[2 * end, 2 * end] += xx
                normal[2 * end + 1, 2 * end] += xy
                normal[2 * end + 1, 2 * end + 1] += yy
                step[2 * end] += sign * ux * depth
                step[2 * end + 1] += sign * uy * depth
        if j >= 0:
            high, low = 2 * max(i, j), 2 * min(i, j)
            normal[high, low] -= xx
            normal[high, low + 1] -= xy
            normal[high + 1, low] -= xy
            normal[high + 1, low + 1] -= yy
    for r in range(count):
        slot[work.active[r]] = -1
    _solve(normal, step, 2 * count)
    return count


@uncounted
def push_apart(model: Model, state: State, work: Work) -> bool:
    """Push items apart until none overlap; whether that was reached.

    The items in `work.moved` may overlap anything, all others lie free of overlap; what is pushed is added to
    `work.moved`. Gives up after ROUNDS rounds, or when a round brings little.
    """
    size = model.size.mean()
    clearance, longest = CLEARANCE * size, LONGEST_MOVE * size
    damping = DAMPING
    m, total = _overlaps(model, state, work, clearance)
    if total > (FAR_APART * size) ** 2:
        return False
    most_left = (DEPTH_LEFT * size) ** 2
    for _ in range(ROUNDS):
        if m == 0:
            return True
        count = _step(work, m, damping)
        far = 0.0
        for r in range(count):
            far = max(far, work.step[2 * r] ** 2 + work.step[2 * r + 1] ** 2)
        factor = min(1.0, longest / np.sqrt(far)) if far > 0.0 else 0.0
        for r in range(count):
            i = work.active[r]
            mark(work, i)
            x, y = state.x[i], state.y[i]
            work.back[r, 0], work.back[r, 1] = x, y
            put(model, state, i, state.kind[i], state.angle[i],
                x + factor * work.step[2 * r], y + factor * work.step[2 * r + 1])
        m, left = _overlaps(model, state, work, clearance)
        if left > most_left:
            return False
        most_left *= DEPTH_LEFT_FALL * DEPTH_LEFT_FALL
        if left < total:
            total = left
            damping = max(0.4 * damping, LEAST_DAMPING)
        else:
            for r in range(count):
                i = work.active[r]
                put(model, state, i, state.kind[i], state.angle[i], work.back[r, 0], work.back[r, 1])
            damping *= 5.0
            if damping > MOST_DAMPING:
                return False
            m, total = _overlaps(model, state, work, clearance)
    return m == 0
