"""Compiled search of `nest.cutplan.order`: outlines near each other are taken out and put back where they cost least.

Slack induction by string removals: J. Christiaens, G. Vanden Berghe (2020), Transportation Science 54, 417-433,
doi:10.1287/trsc.2019.0914 (from memory), here with a choice of places for each stop and with stops that must come
before others. A worse route may be gone on from, less and less readily (simulated annealing).
"""

import numpy as np
from numba import njit

_MOST_OUT = 12
"""No more outlines than this are taken out at once."""
_LONGEST_STRING = 6
"""At most this many in a row."""
_BLINK = 0.02
"""Share of the gaps that are overlooked, so that the same outlines do not go back to the same gaps."""
_WARM, _COLD = 0.3, 0.003
"""How much longer a route may readily get at first and at last, in mean ways from outline to outline."""
_PROMISING = 1.05


@njit(cache=True, inline="always")
def _far(x, y):
    return np.sqrt(x * x + y * y)


@njit(cache=True)
def search(points, ends, first, start, back, later, order, picks, rounds, rng):
    """The shortest route found from (order, picks) in a number of rounds, and its picks.

    points : (p, 2) places where the outlines may be begun, one after another; ends : (p, 2) where that leaves the head;
    first : (n + 1,) where those of each begin. back : whether the way back to the start counts.
    later : (n, n), whether the first must come before the second, whatever lies between.
    order : (n,) outlines as they follow; picks : (n,) index in `points` for each outline.
    """
    count = len(order)
    centre, radius = _discs(points, ends, first)
    near = _nearest(centre)
    picks = best_places(points, ends, first, start, back, order, picks)
    length = _length(points, ends, start, back, order, picks)
    best, best_order, best_picks = length, order.copy(), picks.copy()
    warm = _WARM * length / count
    out = np.empty(_MOST_OUT, np.int64)
    gone = np.zeros(count, np.bool_)
    for turn in range(rounds):
        trial, chosen = np.empty(count, np.int64), picks.copy()
        left = _take_out(order, near, gone, out, trial, rng)
        taken = count - left
        _shuffle(out, taken, rng)
        for k in range(taken):
            outline = out[k]
            gone[outline] = False
            gap, place = _cheapest(
                points, ends, first, start, back, later, centre, radius, trial, left, chosen, outline, rng
            )
            if gap < 0:
                break
            trial[gap + 1 : left + 1] = trial[gap:left].copy()
            trial[gap] = outline
            chosen[outline] = place
            left += 1
        gone[:] = False
        if left < count:
            continue
        found = _length(points, ends, start, back, trial, chosen)
        if found > _PROMISING * length:
            continue
        _settle(points, ends, first, start, back, trial, chosen)
        found = _length(points, ends, start, back, trial, chosen)
        heat = warm * (_COLD / _WARM) ** (turn / rounds)
        if found < length - heat * np.log(max(1e-12, rng.random())):
            order, picks, length = trial, chosen, found
        if found < best - 1e-9:
            best, best_order, best_picks = found, trial.copy(), chosen.copy()
    return best_order, best_places(points, ends, first, start, back, best_order, best_picks)


@njit(cache=True)
def best_places(points, ends, first, start, back, order, picks):
    """Where each outline is best begun in this order: the shortest path through layers of places (exact)."""
    cost, came = np.zeros(len(points)), np.zeros(len(points), np.int64)
    for at in range(len(order)):
        for p in range(first[order[at]], first[order[at] + 1]):
            if at == 0:
                cost[p] = _far(points[p, 0] - start[0], points[p, 1] - start[1])
                continue
            before = order[at - 1]
            cost[p] = np.inf
            for q in range(first[before], first[before + 1]):
                way = cost[q] + _far(points[p, 0] - ends[q, 0], points[p, 1] - ends[q, 1])
                if way < cost[p]:
                    cost[p], came[p] = way, q
    picks = picks.copy()
    last = order[-1]
    if back:
        for p in range(first[last], first[last + 1]):
            cost[p] += _far(ends[p, 0] - start[0], ends[p, 1] - start[1])
    p = first[last] + np.argmin(cost[first[last] : first[last + 1]])
    for at in range(len(order) - 1, -1, -1):
        picks[order[at]] = p
        p = came[p]
    return picks


@njit(cache=True)
def _discs(points, ends, first):
    """A disc around the places of each outline, where it is begun and where it is left."""
    count = len(first) - 1
    centre, radius = np.empty((count, 2)), np.zeros(count)
    for i in range(count):
        mine = np.concatenate((points[first[i] : first[i + 1]], ends[first[i] : first[i + 1]]))
        for axis in range(2):
            centre[i, axis] = 0.5 * (mine[:, axis].min() + mine[:, axis].max())
        for p in mine:
            radius[i] = max(radius[i], _far(p[0] - centre[i, 0], p[1] - centre[i, 1]))
    return centre, radius


@njit(cache=True)
def _nearest(centre):
    """For each outline those nearest to it, itself first; no more than may be taken out at once, and as many again."""
    count = len(centre)
    near = np.empty((count, min(count, 2 * _MOST_OUT)), np.int64)
    for i in range(count):
        away = np.sqrt((centre[:, 0] - centre[i, 0]) ** 2 + (centre[:, 1] - centre[i, 1]) ** 2)
        away[i] = -1.0
        near[i] = np.argsort(away, kind="mergesort")[: near.shape[1]]
    return near


@njit(cache=True)
def _take_out(order, near, gone, out, trial, rng):
    """Strings of the route that hold outlines near one another go to `out`; how many are left, in `trial`."""
    count = len(order)
    wanted = min(count, 1 + int(rng.random() * _MOST_OUT))
    turn_of = np.empty(count, np.int64)
    for at in range(count):
        turn_of[order[at]] = at
    taken = 0
    about = int(rng.random() * count)
    for outline in near[about]:
        if taken >= wanted:
            break
        if gone[outline]:
            continue
        long = min(wanted - taken, 1 + int(rng.random() * _LONGEST_STRING))
        begin = min(max(0, turn_of[outline] - int(rng.random() * long)), count - long)
        for at in range(begin, begin + long):
            if not gone[order[at]]:
                gone[order[at]] = True
                out[taken] = order[at]
                taken += 1
    left = 0
    for outline in order:
        if not gone[outline]:
            trial[left] = outline
            left += 1
    return left


@njit(cache=True)
def _shuffle(values, count, rng):
    for k in range(count - 1, 0, -1):
        other = int(rng.random() * (k + 1))
        values[k], values[other] = values[other], values[k]


@njit(cache=True)
def _cheapest(points, ends, first, start, back, later, centre, radius, trial, left, chosen, outline, rng):
    """The gap and the place where `outline` costs least; -1 where no gap keeps what must come before what."""
    low, high = 0, left
    for at in range(left):
        if later[trial[at], outline]:
            low = at + 1
        elif later[outline, trial[at]] and at < high:
            high = at
    best, best_gap, best_place = np.inf, -1, -1
    cx, cy, reach = centre[outline, 0], centre[outline, 1], radius[outline]
    for gap in range(low, high + 1):
        ax, ay = start[0], start[1]
        if gap > 0:
            ax, ay = ends[chosen[trial[gap - 1]], 0], ends[chosen[trial[gap - 1]], 1]
        last = gap == left and not back
        bx, by = start[0], start[1]
        if gap < left:
            bx, by = points[chosen[trial[gap]], 0], points[chosen[trial[gap]], 1]
        direct = 0.0 if last else _far(bx - ax, by - ay)
        least = _far(cx - ax, cy - ay) - reach
        if not last:
            least += _far(cx - bx, cy - by) - reach - direct
        if least >= best or (best_gap >= 0 and rng.random() < _BLINK):
            continue
        for p in range(first[outline], first[outline + 1]):
            way = _far(points[p, 0] - ax, points[p, 1] - ay)
            if not last:
                way += _far(ends[p, 0] - bx, ends[p, 1] - by) - direct
            if way < best:
                best, best_gap, best_place = way, gap, p
    return best_gap, best_place


@njit(cache=True)
def _settle(points, ends, first, start, back, order, picks):
    """Each outline in turn is begun where that is best between its neighbours."""
    count = len(order)
    for at in range(count):
        ax, ay = start[0], start[1]
        if at > 0:
            ax, ay = ends[picks[order[at - 1]], 0], ends[picks[order[at - 1]], 1]
        last = at == count - 1 and not back
        bx, by = start[0], start[1]
        if at < count - 1:
            bx, by = points[picks[order[at + 1]], 0], points[picks[order[at + 1]], 1]
        best = np.inf
        for p in range(first[order[at]], first[order[at] + 1]):
            way = _far(points[p, 0] - ax, points[p, 1] - ay)
            if not last:
                way += _far(ends[p, 0] - bx, ends[p, 1] - by)
            if way < best:
                best, picks[order[at]] = way, p


@njit(cache=True)
def _length(points, ends, start, back, order, picks):
    x, y, length = start[0], start[1], 0.0
    for outline in order:
        p = picks[outline]
        length += _far(points[p, 0] - x, points[p, 1] - y)
        x, y = ends[p, 0], ends[p, 1]
    return length + _far(start[0] - x, start[1] - y) if back else length
