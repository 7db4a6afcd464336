"""Compiled local improvement of a lattice: all of it moves at once; private to `geometry.lattice`.

Sequential linear programming with a trust region. About the present lattice every translation near an
obstacle gets half planes that keep it clear, the determinant is linear, and the linear program is
solved by the simplex method. The half planes cut off all of the obstacle that is in reach, so that a step
is clear by construction; the step is kept when the true determinant falls.

Reference for the half planes: R. Deits, R. Tedrake (2015), Computing large convex regions of obstacle-free
space through semidefinite programming, doi:10.1007/978-3-319-16595-0_7 (greedy nearest-obstacle step only).
"""

from math import ceil, floor

import numpy as np

from geometry._rows import cross, lattice_clear, reach
from geometry.compiled import compiled
from geometry.tables import Tables

VARIABLES = 6
"""u, v and c, x and y each."""


@compiled
def solve(rows: np.ndarray, bound: np.ndarray, goal: np.ndarray, radius: float) -> np.ndarray:
    """Minimise goal · x where rows · x ≤ bound, bound ≥ 0, and -radius ≤ x ≤ radius.

    Simplex method on a dictionary (V. Chvátal, Linear Programming, 1983, ch. 2 and 3): x = 0 is feasible, so
    it needs no first phase. Bland's rule takes over should it cycle.
    """
    n = len(goal)
    m = len(rows)
    # Non-basic columns: x = p - q with p, q ≥ 0. Last row: the objective to be raised; last column: values.
    table = np.zeros((m + 2 * n + 1, 2 * n + 1))
    for i in range(m):
        for j in range(n):
            table[i, j] = -rows[i, j]
            table[i, n + j] = rows[i, j]
        table[i, 2 * n] = bound[i]
    for j in range(2 * n):
        table[m + j, j] = -1.0
        table[m + j, 2 * n] = radius
    last = m + 2 * n
    for j in range(n):
        table[last, j] = -goal[j]
        table[last, n + j] = goal[j]
    basic = np.arange(2 * n, 2 * n + last)
    free = np.arange(2 * n)
    scale = 1e-12 * np.abs(goal).max()
    for step in range(400):
        enter = -1
        for j in range(2 * n):
            if table[last, j] > scale:
                if step < 100:
                    if enter < 0 or table[last, j] > table[last, enter]:
                        enter = j
                elif enter < 0 or free[j] < free[enter]:
                    enter = j
        if enter < 0:
            break
        leave = -1
        tightest = np.inf
        for i in range(last):
            if table[i, enter] < -1e-12:
                limit = -table[i, 2 * n] / table[i, enter]
                if limit < tightest or (limit == tightest and basic[i] < basic[leave]):
                    leave, tightest = i, limit
        if leave < 0:
            break
        pivot = table[leave, enter]
        for j in range(2 * n + 1):
            table[leave, j] /= -pivot
        table[leave, enter] = 1.0 / pivot
        for i in range(last + 1):
            if i != leave:
                factor = table[i, enter]
                if factor != 0.0:
                    for j in range(2 * n + 1):
                        if j != enter:
                            table[i, j] += factor * table[leave, j]
                    table[i, enter] = factor / pivot
        basic[leave], free[enter] = free[enter], basic[leave]
    x = np.zeros(n)
    for i in range(last):
        if basic[i] < n:
            x[basic[i]] += table[i, 2 * n]
        elif basic[i] < 2 * n:
            x[basic[i] - n] -= table[i, 2 * n]
    return x


@compiled
def _edges_within(edge: np.ndarray, wx: float, wy: float, within: float) -> np.ndarray:
    """Indices of the edges whose boxes reach within this of a point along both axes."""
    index = np.empty(32, np.int64)
    count = 0
    for e in range(len(edge)):
        if (
            edge[e, 2] == 0.0
            or min(edge[e, 0], edge[e + 1, 0]) > wx + within
            or max(edge[e, 0], edge[e + 1, 0]) < wx - within
            or min(edge[e, 1], edge[e + 1, 1]) > wy + within
            or max(edge[e, 1], edge[e + 1, 1]) < wy - within
        ):
            continue
        if count == len(index):
            bigger = np.empty(2 * count, np.int64)
            bigger[:count] = index
            index = bigger
        index[count] = e
        count += 1
    return index[:count]


@compiled
def half_planes(
    table: Tables, wx: float, wy: float, within: float, contact: float, choice: int, out: np.ndarray
) -> tuple[int, int]:
    """Half planes through which a point w clear of the table may move by `within` and stay clear.

    Writes rows (normal x, normal y, slack): normal · move + slack ≥ 0. Where w touches an outward corner
    the outline's edges offer themselves in turn: bit number i of `choice` picks for the i-th such corner.
    Returns (rows, choices met).
    """
    edge = table.edge
    index = _edges_within(edge, wx, wy, within)
    count = len(index)
    begin, end = np.zeros(count), np.ones(count)
    gone = np.zeros(count, np.bool_)
    used = met = 0
    while used < len(out):
        best, pick, tied, at = within * within, -1, -1, 0.0
        for i in range(count):
            if gone[i]:
                continue
            e = index[i]
            ex, ey = edge[e + 1, 0] - edge[e, 0], edge[e + 1, 1] - edge[e, 1]
            t = ((wx - edge[e, 0]) * ex + (wy - edge[e, 1]) * ey) * edge[e, 2]
            t = min(max(t, begin[i]), end[i])
            dx, dy = wx - edge[e, 0] - t * ex, wy - edge[e, 1] - t * ey
            squared = dx * dx + dy * dy
            if squared > within * within:
                continue
            if pick >= 0 and max(best, squared) <= contact * contact:
                tied = i
            if squared < best:
                if tied == i:
                    tied = pick
                best, pick, at = squared, i, t
        if pick < 0:
            break
        if tied >= 0:
            if (choice >> met) & 1:
                pick = tied
            met += 1
        e = index[pick]
        ex, ey = edge[e + 1, 0] - edge[e, 0], edge[e + 1, 1] - edge[e, 1]
        t = ((wx - edge[e, 0]) * ex + (wy - edge[e, 1]) * ey) * edge[e, 2]
        at = min(max(t, begin[pick]), end[pick])
        px, py = edge[e, 0] + at * ex, edge[e, 1] + at * ey
        distance = np.sqrt((wx - px) ** 2 + (wy - py) ** 2)
        if distance <= contact or at == t:
            # The obstacle lies to the left of its edges.
            length = np.sqrt(ex ** 2 + ey ** 2)
            nx, ny = ey / length, -ex / length
            if distance > contact and nx * (wx - px) + ny * (wy - py) < 0.0:
                nx, ny = -nx, -ny
        else:
            nx, ny = (wx - px) / distance, (wy - py) / distance
        slack = max(0.0, nx * (wx - px) + ny * (wy - py))
        out[used, 0], out[used, 1], out[used, 2] = nx, ny, slack
        used += 1
        gone[pick] = True
        for i in range(count):
            if gone[i]:
                continue
            e = index[i]
            # Keep what of the edge lies on the free side.
            s0 = nx * (edge[e, 0] - px) + ny * (edge[e, 1] - py)
            slope = nx * (edge[e + 1, 0] - edge[e, 0]) + ny * (edge[e + 1, 1] - edge[e, 1])
            small = 1e-3 * contact
            if s0 + begin[i] * slope <= small and s0 + end[i] * slope <= small:
                gone[i] = True
            elif slope > 0.0:
                begin[i] = max(begin[i], min(-s0 / slope, end[i]))
            elif slope < 0.0:
                end[i] = min(end[i], max(-s0 / slope, begin[i]))
    return used, met


@compiled
def _keep_clear(
    same: Tables, turned: Tables, double: bool, x: np.ndarray, radius: float, contact: float, choice: int,
    rows: np.ndarray, bound: np.ndarray,
) -> tuple[int, int]:
    """Fill `rows` and `bound` with the half planes of all translations near an obstacle.

    Returns (used, choices met); used is -1 when there is no room for all.
    """
    ux, uy, vx, vy = x[0], x[1], x[2], x[3]
    planes = np.empty((24, 3))
    length = np.sqrt(ux * ux + uy * uy)
    row = cross(ux, uy, vx, vy) / length
    used = met = 0
    for pass_ in range(2 if double else 1):
        of_turned = pass_ == 1
        table = turned if of_turned else same
        cx, cy = (x[4], x[5]) if of_turned else (0.0, 0.0)
        far = reach(table)
        height = cross(ux, uy, cx, cy) / length
        # Of the obstacle that is its own half turn, half the translations are enough.
        first = ceil((-far - height) / row) if of_turned else 0
        for j in range(first, floor((far - height) / row) + 1):
            wx, wy = cx + j * vx, cy + j * vy
            middle = -(wx * ux + wy * uy) / (length * length)
            for k in range(ceil(middle - far / length), floor(middle + far / length) + 1):
                if not of_turned and j == 0 and k <= 0:
                    continue
                within = 1.5 * radius * (abs(j) + abs(k) + pass_)
                found, ties = half_planes(
                    table, wx + k * ux, wy + k * uy, within, contact, choice >> min(met, 60), planes
                )
                met += ties
                if found == len(planes) or used + found > len(rows):
                    return -1, met
                for i in range(found):
                    nx, ny = planes[i, 0], planes[i, 1]
                    rows[used, 0], rows[used, 1] = -k * nx, -k * ny
                    rows[used, 2], rows[used, 3] = -j * nx, -j * ny
                    rows[used, 4], rows[used, 5] = -pass_ * nx, -pass_ * ny
                    bound[used] = planes[i, 2]
                    used += 1
    return used, met


@compiled
def polish(
    same: Tables, turned: Tables, double: bool, start: np.ndarray, radius: float, tolerance: float, rounds: int
) -> np.ndarray:
    """Improve a clear lattice `start` (det, u, v, c) until no step within reach lowers its determinant."""
    x = start[1:].copy()
    if not double:
        x[4] = x[5] = 0.0
    best = cross(x[0], x[1], x[2], x[3])
    contact = 20.0 * tolerance
    rows, bound = np.empty((256, VARIABLES)), np.empty(256)
    goal = np.zeros(VARIABLES)
    least = radius * 1e-9
    for _ in range(rounds):
        goal[0], goal[1], goal[2], goal[3] = x[3], -x[2], -x[1], x[0]
        kept = False
        tries = 1
        for choice in range(8):
            if choice >= tries:
                break
            used, met = _keep_clear(same, turned, double, x, radius, contact, choice, rows, bound)
            tries = max(tries, 1 << min(met, 3))
            if used < 0:
                continue
            trial = x + solve(rows[:used], bound[:used], goal, radius)
            value = cross(trial[0], trial[1], trial[2], trial[3])
            if value < best - 1e-13 * abs(best) and lattice_clear(
                same, turned, double, trial[0], trial[1], trial[2], trial[3], trial[4], trial[5], tolerance
            ):
                x, best, kept = trial, value, True
                break
        radius *= 1.3 if kept else 0.4
        if radius < least:
            break
    out = np.empty(7)
    out[0] = best
    out[1:] = x
    return out
