"""Compiled search of `nest.cutplan.order`: stops near each other are taken out and put back where they cost least.

Slack induction by string removals: J. Christiaens, G. Vanden Berghe (2020), Transportation Science 54, 417-433,
doi:10.1287/trsc.2019.0914 (from memory), here with a choice of places for each stop, and with stops that must come
before others. A worse route may be gone on from, less and less readily (simulated annealing).

A route is a ring of stops and home, the last of all indices: `after` and `before` each stop, `label` rises along it.
`points` are the places where stops may be begun, one stop's after another's, `ends` where that leaves the head; stop i
has those from first[i] to first[i + 1], and `pick` is the one chosen. The last place is home.
"""

import numpy as np

from geometry.compiled import compiled, inlined, uncounted

_MOST_OUT = 50
"""No more stops than this are taken out at once: the marks of six pieces (trials 165, 173)."""
_LONGEST_STRING = 30
"""At most this many in a row."""
_BLINK = 0.02
"""Share of the gaps that are overlooked, so that the same stops do not go back to the same gaps."""
_WARM, _COLD = 3.0, 0.02
"""How much longer a route may readily get at first and at last, in mean ways from stop to stop."""
_PROMISING = 8.0
"""A route that is longer by this many mean ways is given up before its places are chosen anew."""
_LESS = 1e-9
"""What is less by no more than this is the same, mm."""


@compiled
def search(points, ends, first, back, discs, near, rules, order, rounds, dice):
    """The shortest route found from an order in this many rounds, the place of each stop, and its length.

    points, ends : (p + 1, 2); first : (n + 1,). back : whether the way home counts.
    discs : (n, 3) middle and radius of a disc around the places of each stop, begun or left.
    near : (n, k) the stops nearest to each, itself first. rules : as `_may_stand` has them. order : (n,).
    """
    count = len(order)
    along = moved_by(points, ends, first)
    after, before, label, pick = _ring(order, first, len(points) - 1)
    new_after, new_before, new_label, new_pick = after.copy(), before.copy(), label.copy(), pick.copy()
    out, gone = np.empty(_MOST_OUT, np.int64), np.zeros(count + 1, np.bool_)
    queue, queued = np.empty(count + 1, np.int64), np.zeros(count + 1, np.bool_)
    stale = 0
    for stop in order:
        stale = _asked(queue, queued, stale, stop)
    _settle(points, ends, first, along, back, after, before, pick, queue, queued, stale)
    best = length = _length(points, ends, back, after, pick)
    best_after, best_pick = after.copy(), pick.copy()
    mean = length / count
    for turn in range(rounds):
        new_after[:], new_before[:], new_label[:], new_pick[:] = after, before, label, pick
        taken, more, stale = _take_out(
            points, ends, back, near, new_after, new_before, pick, out, gone, queue, queued, dice
        )
        left = taken
        for k in range(taken):
            at = k + int(_draw(dice) * (taken - k))
            stop, out[at] = out[at], out[k]
            gap, place, longer = _cheapest(
                points, ends, first, along, back, discs, near, rules, new_after, new_before, new_label, new_pick, gone,
                stop, dice,
            )
            if gap < 0:
                break
            _put_in(new_after, new_before, new_label, rules, gap, stop)
            new_pick[stop], gone[stop] = place, False
            left, more = left - 1, more + longer
            stale = _asked(queue, queued, stale, gap)
            stale = _asked(queue, queued, stale, stop)
            stale = _asked(queue, queued, stale, new_after[stop])
        if left > 0 or more > _PROMISING * mean:
            gone[:] = False
            queued[:] = False
            continue
        more += _settle(points, ends, first, along, back, new_after, new_before, new_pick, queue, queued, stale)
        heat = _WARM * mean * (_COLD / _WARM) ** (turn / rounds)
        if more < -heat * np.log(max(1e-12, _draw(dice))):
            length += more
            after, new_after = new_after, after
            before, new_before = new_before, before
            pick, new_pick = new_pick, pick
            _number(after, label)
            if length < best - _LESS:
                best = length
                best_after[:], best_pick[:] = after, pick
    found = np.empty(count, np.int64)
    _walk(best_after, found)
    return found, best_pick[:count], best


@compiled
def best_places(points, ends, first, back, order):
    """Where each stop is best begun in this order: the shortest path through layers of places (exact)."""
    cost, came = np.zeros(len(points)), np.zeros(len(points), np.int64)
    along = moved_by(points, ends, first)
    home = len(points) - 1
    picks = np.empty(len(order), np.int64)
    for at in range(len(order)):
        for p in range(first[order[at]], first[order[at] + 1]):
            if at == 0:
                cost[p] = _far(ends, home, points, p)
                continue
            cost[p] = np.inf
            q, stop = first[order[at - 1]], first[order[at - 1] + 1]
            while q < stop:
                way = cost[q] + _far(ends, q, points, p)
                if way < cost[p]:
                    cost[p], came[p] = way, q
                q = _next_place(along, q, stop, way - cost[p])
    last = order[-1]
    if back:
        for p in range(first[last], first[last + 1]):
            cost[p] += _far(ends, p, points, home)
    p = first[last] + np.argmin(cost[first[last] : first[last + 1]])
    for at in range(len(order) - 1, -1, -1):
        picks[order[at]] = p
        p = came[p]
    return picks


@compiled
def discs_around(points, ends, first):
    """(n, 3) middle and radius of a disc around the places of each stop, where it is begun and where it is left."""
    discs = np.zeros((len(first) - 1, 3))
    for i in range(len(discs)):
        mine = np.concatenate((points[first[i] : first[i + 1]], ends[first[i] : first[i + 1]]))
        for axis in range(2):
            discs[i, axis] = 0.5 * (mine[:, axis].min() + mine[:, axis].max())
        for p in mine:
            x, y = p[0] - discs[i, 0], p[1] - discs[i, 1]
            discs[i, 2] = max(discs[i, 2], np.sqrt(x * x + y * y))
    return discs


@compiled
def moved_by(points, ends, first):
    """How far beginning and end have moved in all up to each place of a stop: the way to it and on changes by no more.

    (p,), zero at the first place of each stop.
    """
    along = np.zeros(len(points))
    for i in range(len(first) - 1):
        for p in range(first[i] + 1, first[i + 1]):
            along[p] = along[p - 1] + _far(points, p - 1, points, p) + _far(ends, p - 1, ends, p)
    return along


@inlined
def _draw(dice):
    """A number from 0 to 1, the same everywhere: xorshift (G. Marsaglia 2003, doi:10.18637/jss.v008.i14)."""
    x = dice[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    dice[0] = x
    return np.float64(x >> np.uint64(11)) * 2.0**-53


@inlined
def _far(ends, q, points, p):
    """The way from where place q leaves the head to place p."""
    x, y = points[p, 0] - ends[q, 0], points[p, 1] - ends[q, 1]
    return np.sqrt(x * x + y * y)


@inlined
def _way(points, ends, back, pick, a, b):
    """The way from one stop to the next; none home where that does not count."""
    return 0.0 if b == len(pick) - 1 and not back else _far(ends, pick[a], points, pick[b])


@inlined
def _next_place(along, p, stop, too_long):
    """The next place after p that can be better than the best, which that at p is longer than by `too_long`."""
    reached = along[p] + too_long
    p += 1
    while p < stop and along[p] <= reached:
        p += 1
    return p


@compiled
def _ring(order, first, home):
    count = len(order)
    after, before = np.empty(count + 1, np.int64), np.empty(count + 1, np.int64)
    label, pick = np.full(count + 1, -1.0), np.full(count + 1, home)
    pick[:count] = first[:count]
    last = count
    for stop in order:
        after[last], before[stop] = stop, last
        last = stop
    after[last], before[count] = count, last
    _number(after, label)
    return after, before, label, pick


@uncounted
def _number(after, label):
    """Labels 0, 1, 2 ... along the route."""
    stop = after[-1]
    for at in range(len(after) - 1):
        label[stop] = at
        stop = after[stop]


@uncounted
def _walk(after, order):
    stop = after[-1]
    for at in range(len(order)):
        order[at] = stop
        stop = after[stop]


@inlined
def _asked(queue, queued, stale, stop):
    """Note that a place for this stop is to be chosen anew; returns how many there are."""
    if stop < len(queue) - 1 and not queued[stop]:
        queue[stale], queued[stop] = stop, True
        stale += 1
    return stale


@uncounted
def _take_out(points, ends, back, near, after, before, pick, out, gone, queue, queued, dice):
    """Strings of the route that hold stops near one another go to `out`.

    Returns how many stops that are, how much longer the route is (less than nil), and how many are stale.
    """
    count = len(near)
    wanted = min(count, 1 + int(_draw(dice) * len(out)))
    taken, more, stale = 0, 0.0, 0
    about = int(_draw(dice) * count)
    for i in range(near.shape[1]):
        stop = near[about, i]
        if taken >= wanted:
            break
        if gone[stop]:
            continue
        long = min(wanted - taken, 1 + int(_draw(dice) * _LONGEST_STRING))
        for _ in range(int(_draw(dice) * long)):
            stop = before[stop] if before[stop] < count else stop
        a = before[stop]
        while long > 0 and stop < count:
            b = after[stop]
            more += _way(points, ends, back, pick, a, b)
            more -= _way(points, ends, back, pick, a, stop) + _way(points, ends, back, pick, stop, b)
            out[taken], gone[stop] = stop, True
            taken, long, stop = taken + 1, long - 1, b
            after[a], before[b] = b, a
        stale = _asked(queue, queued, _asked(queue, queued, stale, a), stop)
    return taken, more, stale


@inlined
def _may_stand(rules, label, a, b, stop, low, high):
    """Whether a stop may stand between a and b, if it comes after `low` and before `high`.

    rules : where the second part of the route begins, or less than nil where it has no parts; (n,) whether a stop
    belongs to it; and for each stop those that come before it and those that come after it beyond that, as (n + 1,)
    first indices and the stops, twice.
    """
    home = len(label) - 1
    from_label = -1.0 if a == home else label[a]
    to_label = float(home) if b == home else label[b]
    if from_label < low or to_label > high:
        return False
    gate, second = rules[0], rules[1]
    return gate < 0.0 or (to_label > gate if second[stop] else from_label < gate)


@inlined
def _put_in(after, before, label, rules, a, stop):
    """Put a stop behind a."""
    home, b = len(label) - 1, after[a]
    gate, second = rules[0], rules[1]
    low = -1.0 if a == home else label[a]
    high = float(home) if b == home else label[b]
    if gate >= 0.0:
        low, high = (max(low, gate), high) if second[stop] else (low, min(high, gate))
    label[stop] = 0.5 * (low + high)
    after[a], before[stop], after[stop], before[b] = stop, a, b, stop


@uncounted
def _cheapest(points, ends, first, along, back, discs, near, rules, after, before, label, pick, gone, stop, dice):
    """The stop behind which one costs least, of those near to it or home, its place, and the cost; else -1."""
    home = len(label) - 1
    _, _, first_ahead, ahead, first_behind, behind = rules
    low, high = -1.0, float(home)
    for i in range(first_ahead[stop], first_ahead[stop + 1]):
        if not gone[ahead[i]]:
            low = max(low, label[ahead[i]])
    for i in range(first_behind[stop], first_behind[stop + 1]):
        if not gone[behind[i]]:
            high = min(high, label[behind[i]])
    best, best_gap, best_place = np.inf, -1, -1
    cx, cy, reach = discs[stop, 0], discs[stop, 1], discs[stop, 2]
    for i in range(2 * near.shape[1]):
        # Beside each stop near by; in place of the first, which is the stop itself, beside home.
        a = near[stop, i >> 1] if i > 1 else home
        if gone[a]:
            continue
        a = before[a] if i & 1 else a
        b = after[a]
        if not _may_stand(rules, label, a, b, stop, low, high):
            continue
        last = b == home and not back
        ax, ay, bx, by = ends[pick[a], 0], ends[pick[a], 1], points[pick[b], 0], points[pick[b], 1]
        direct = 0.0 if last else np.sqrt((bx - ax) ** 2 + (by - ay) ** 2)
        least = np.sqrt((cx - ax) ** 2 + (cy - ay) ** 2) - reach
        if not last:
            least += np.sqrt((cx - bx) ** 2 + (cy - by) ** 2) - reach - direct
        if least >= best or (best_gap >= 0 and _draw(dice) < _BLINK):
            continue
        place, way = _best_between(points, ends, first, along, stop, ax, ay, bx, by, last, -1, best + direct)
        if place >= 0:
            best, best_gap, best_place = way - direct, a, place
    if best_gap >= 0:
        return best_gap, best_place, best
    # No gap near by keeps what comes before what: the first that does.
    a = home
    for _ in range(home + 1):
        b = after[a]
        if _may_stand(rules, label, a, b, stop, low, high):
            last = b == home and not back
            ax, ay, bx, by = ends[pick[a], 0], ends[pick[a], 1], points[pick[b], 0], points[pick[b], 1]
            direct = 0.0 if last else np.sqrt((bx - ax) ** 2 + (by - ay) ** 2)
            place, way = _best_between(points, ends, first, along, stop, ax, ay, bx, by, last, -1, np.inf)
            return a, place, way - direct
        a = b
        if a == home:
            break
    return -1, -1, 0.0


@inlined
def _best_between(points, ends, first, along, stop, ax, ay, bx, by, last, place, best):
    """Where a stop is best begun on the way from a to b, and how long that is; `place` unless that is shorter."""
    p, end = first[stop], first[stop + 1]
    while p < end:
        way = np.sqrt((points[p, 0] - ax) ** 2 + (points[p, 1] - ay) ** 2)
        if not last:
            way += np.sqrt((ends[p, 0] - bx) ** 2 + (ends[p, 1] - by) ** 2)
        if way < best - _LESS:
            best, place = way, p
        p = _next_place(along, p, end, way - best)
    return place, best


@uncounted
def _settle(points, ends, first, along, back, after, before, pick, queue, queued, stale):
    """Stale stops, and those beside one that is begun elsewhere now, are begun where that is best; the change."""
    more, home = 0.0, len(pick) - 1
    while stale > 0:
        stale -= 1
        stop = queue[stale]
        queued[stop] = False
        a, b, p = before[stop], after[stop], pick[stop]
        last = b == home and not back
        ax, ay, bx, by = ends[pick[a], 0], ends[pick[a], 1], points[pick[b], 0], points[pick[b], 1]
        now = _way(points, ends, back, pick, a, stop) + _way(points, ends, back, pick, stop, b)
        place, best = _best_between(points, ends, first, along, stop, ax, ay, bx, by, last, p, now)
        if place != p:
            pick[stop] = place
            more += best - now
            stale = _asked(queue, queued, _asked(queue, queued, stale, a), b)
    return more


@uncounted
def _length(points, ends, back, after, pick):
    length, a = 0.0, len(after) - 1
    for _ in range(len(after)):
        length += _way(points, ends, back, pick, a, after[a])
        a = after[a]
    return length
