"""Compiled arrangement of closed curves on a grid of whole numbers; private to `geometry.winding`.

Curves are noded by snap rounding: every end and every crossing takes a grid point, and every segment that
meets the unit square about such a point is led through it. Then segments meet at ends only, and the winding
number of every face follows from exact integer arithmetic.

Reference: J. Hobby (1999), Practical segment intersection with finite precision output,
doi:10.1016/S0925-7721(99)00021-8.
"""

import numpy as np

from geometry._convolution import cross
from geometry.compiled import compiled, uncounted

_HALF = 1 << 30
_SHIFT = 31
_LOW = (1 << _SHIFT) - 1


@uncounted
def _key(x: int, y: int) -> int:
    """One number for a grid point; sorts by x, then by y."""
    return ((x + _HALF) << _SHIFT) | (y + _HALF)


@uncounted
def _first_from(keys: np.ndarray, key: int) -> int:
    """Index of the first of some sorted keys that is not below `key`."""
    low, high = 0, len(keys)
    while low < high:
        middle = (low + high) >> 1
        if keys[middle] < key:
            low = middle + 1
        else:
            high = middle
    return low


@compiled
def _nodes(segment: np.ndarray) -> np.ndarray:
    """Keys, sorted and unique, of all ends and all rounded crossings."""
    n = len(segment)
    below, above = 0.5 - 1e-6, 0.5 + 1e-6
    keys = np.empty(4 * n + 64, np.int64)
    for i in range(n):
        keys[2 * i] = _key(segment[i, 0], segment[i, 1])
        keys[2 * i + 1] = _key(segment[i, 2], segment[i, 3])
    used = 2 * n
    by_left = np.empty(n, np.int64)
    for i in range(n):
        by_left[i] = ((min(segment[i, 0], segment[i, 2]) + _HALF) << _SHIFT) | i
    by_left = np.sort(by_left)
    box = np.empty((n, 8), np.int64)
    for k in range(n):
        i = by_left[k] & _LOW
        x0, y0, x1, y1 = segment[i, 0], segment[i, 1], segment[i, 2], segment[i, 3]
        box[k, 0], box[k, 1], box[k, 2], box[k, 3] = x0, y0, x1, y1
        box[k, 4], box[k, 5], box[k, 6], box[k, 7] = min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)
    for i in range(n):
        x0, y0, x1, y1 = box[i, 0], box[i, 1], box[i, 2], box[i, 3]
        dx, dy = x1 - x0, y1 - y0
        for j in range(i + 1, n):
            if box[j, 4] > box[i, 6]:
                break
            if box[j, 5] > box[i, 7] or box[j, 7] < box[i, 5]:
                continue
            from_here = cross(dx, dy, box[j, 0] - x0, box[j, 1] - y0)
            to_here = cross(dx, dy, box[j, 2] - x0, box[j, 3] - y0)
            if from_here == 0 or to_here == 0 or (from_here > 0) == (to_here > 0):
                continue
            ex, ey = box[j, 2] - box[j, 0], box[j, 3] - box[j, 1]
            from_there = cross(ex, ey, x0 - box[j, 0], y0 - box[j, 1])
            to_there = cross(ex, ey, x1 - box[j, 0], y1 - box[j, 1])
            if from_there == 0 or to_there == 0 or (from_there > 0) == (to_there > 0):
                continue
            share = from_here / (from_here - to_here)
            if used + 4 > len(keys):
                bigger = np.empty(2 * used + 4, np.int64)
                bigger[:used] = keys[:used]
                keys = bigger
            # Rounded in floats: where that may go to either side of a square's border, both are taken.
            left, right = np.int64(np.floor(share * ex + below)), np.int64(np.floor(share * ex + above))
            low_y, high_y = np.int64(np.floor(share * ey + below)), np.int64(np.floor(share * ey + above))
            for gx in range(left, right + 1):
                for gy in range(low_y, high_y + 1):
                    keys[used] = _key(box[j, 0] + gx, box[j, 1] + gy)
                    used += 1
    keys = np.sort(keys[:used])
    unique = 0
    for i in range(used):
        if i == 0 or keys[i] != keys[unique - 1]:
            keys[unique] = keys[i]
            unique += 1
    return keys[:unique]


@compiled
def _routed(segment: np.ndarray, keys: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Edges between nodes that the segments are led along: (from node, to node, times), times not 0.

    Node numbers count `keys`; from < to, and times is how often the curves run so less how often they run back.
    """
    x, y = (keys >> _SHIFT) - _HALF, (keys & _LOW) - _HALF
    steps = np.empty(2 * len(keys) + 2 * len(segment) + 16, np.int64)
    used = 0
    on = np.empty(len(keys), np.int64)
    along = np.empty(len(keys), np.int64)
    for i in range(len(segment)):
        x0, y0, x1, y1 = segment[i, 0], segment[i, 1], segment[i, 2], segment[i, 3]
        dx, dy = x1 - x0, y1 - y0
        low, high = min(y0, y1), max(y0, y1)
        width = abs(dx) + abs(dy)
        count = 0
        for k in range(_first_from(keys, _key(min(x0, x1), low)), len(keys)):
            if x[k] > max(x0, x1):
                break
            if y[k] < low or y[k] > high:
                continue
            # Does it meet the square about the point, left and lower sides included, right and upper ones not?
            side = 2 * cross(dx, dy, x[k] - x0, y[k] - y0)
            if abs(side) < width or (side == width and dx > 0 > dy) or (side == -width and dx < 0 < dy):
                place = dx * (x[k] - x0) + dy * (y[k] - y0)
                c = count
                while c > 0 and along[c - 1] > place:
                    along[c], on[c] = along[c - 1], on[c - 1]
                    c -= 1
                along[c], on[c] = place, k
                count += 1
        if used + count > len(steps):
            bigger = np.empty(2 * used + count, np.int64)
            bigger[:used] = steps[:used]
            steps = bigger
        for c in range(count - 1):
            f, t = on[c], on[c + 1]
            # The lowest bit says which way the step runs.
            steps[used] = (((f << _SHIFT) | t) << 1) if f < t else ((((t << _SHIFT) | f) << 1) | 1)
            used += 1
    steps = np.sort(steps[:used])
    edge = np.empty((used, 3), np.int64)
    count = 0
    i = 0
    while i < used:
        pair = steps[i] >> 1
        times = 0
        while i < used and steps[i] >> 1 == pair:
            times += 1 - 2 * (steps[i] & 1)
            i += 1
        if times != 0:
            edge[count, 0], edge[count, 1], edge[count, 2] = pair >> _SHIFT, pair & _LOW, times
            count += 1
    return x, y, edge[:count]


@uncounted
def _before(ax: int, ay: int, bx: int, by: int) -> bool:
    """Whether direction a comes before b counter-clockwise from straight down (itself last)."""
    a_half = 0 if ax > 0 or (ax == 0 and ay > 0) else 1
    b_half = 0 if bx > 0 or (bx == 0 and by > 0) else 1
    if a_half != b_half:
        return a_half < b_half
    return cross(ax, ay, bx, by) > 0


@compiled
def _around_nodes(x: np.ndarray, y: np.ndarray, edge: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Directed edges in counter-clockwise order about the node they leave.

    Directed edge 2 e runs along edge e, 2 e + 1 back. Returns (start, order, place): node v owns
    order[start[v]:start[v + 1]], and place is where a directed edge stands in order.
    """
    n, m = len(x), 2 * len(edge)
    start = np.zeros(n + 1, np.int64)
    for e in range(len(edge)):
        start[edge[e, 0] + 1] += 1
        start[edge[e, 1] + 1] += 1
    start = np.cumsum(start)
    fill = start[:-1].copy()
    order, place = np.empty(m, np.int64), np.empty(m, np.int64)
    for h in range(m):
        v, w = edge[h >> 1, h & 1], edge[h >> 1, 1 - (h & 1)]
        dx, dy = x[w] - x[v], y[w] - y[v]
        c = fill[v]
        while c > start[v]:
            g = order[c - 1]
            t = edge[g >> 1, 1 - (g & 1)]
            if not _before(dx, dy, x[t] - x[v], y[t] - y[v]):
                break
            order[c] = g
            c -= 1
        order[c] = h
        fill[v] += 1
    for c in range(m):
        place[order[c]] = c
    return start, order, place


@compiled
def _windings(
    x: np.ndarray, y: np.ndarray, edge: np.ndarray, start: np.ndarray, order: np.ndarray, place: np.ndarray, base: int
) -> tuple[bool, np.ndarray]:
    """Winding number to the left of every directed edge; `base` is the one at infinity.

    Returns (ok, winding): not ok when two ways about a node disagree, which noding rules out.
    """
    m = 2 * len(edge)
    winding = np.zeros(m, np.int64)
    known, walked = np.zeros(m, np.bool_), np.zeros(m, np.bool_)
    stack = np.empty(m, np.int64)
    for v in range(len(x)):
        # Nodes come by x, then y: the first node of a connected part is its leftmost, nothing of it lies further left.
        if start[v] == start[v + 1] or known[order[start[v]]]:
            continue
        outer = base
        for e in range(len(edge)):
            f, t = edge[e, 0], edge[e, 1]
            if (y[f] <= y[v]) != (y[t] <= y[v]):
                side = cross(x[t] - x[f], y[t] - y[f], x[v] - x[f], y[v] - y[f])
                if y[f] <= y[v] and side < 0:
                    outer -= edge[e, 2]
                elif y[f] > y[v] and side > 0:
                    outer += edge[e, 2]
        top = 0
        stack[0] = order[start[v + 1] - 1]
        winding[stack[0]] = outer
        known[stack[0]] = True
        while top >= 0:
            first = stack[top]
            top -= 1
            if walked[first]:
                continue
            h = first
            while not walked[h]:
                walked[h] = True
                # Across the edge, then on along the face.
                twin = h ^ 1
                other = winding[h] - (edge[h >> 1, 2] if h & 1 == 0 else -edge[h >> 1, 2])
                if not known[twin]:
                    known[twin] = True
                    winding[twin] = other
                    top += 1
                    stack[top] = twin
                elif winding[twin] != other:
                    return False, winding
                w = edge[h >> 1, 1 - (h & 1)]
                c = place[twin] - 1
                following = order[c if c >= start[w] else start[w + 1] - 1]
                if known[following] and winding[following] != winding[h]:
                    return False, winding
                known[following] = True
                winding[following] = winding[h]
                h = following
    return True, winding


@compiled
def _loops(
    edge: np.ndarray, start: np.ndarray, order: np.ndarray, place: np.ndarray, kept: np.ndarray, nodes: int
) -> tuple[np.ndarray, np.ndarray]:
    """Simple loops of the kept directed edges, as node numbers: loop k is out[loop_start[k]:loop_start[k + 1]]."""
    out = np.empty(len(kept), np.int64)
    loop_start = np.empty(len(kept) + 1, np.int64)
    loop_start[0] = 0
    used = loops = 0
    done = np.zeros(len(kept), np.bool_)
    at = np.full(nodes, -1, np.int64)
    path = np.empty(len(kept), np.int64)
    for begin in range(len(kept)):
        if not kept[begin] or done[begin]:
            continue
        h = begin
        length = 0
        while not done[h]:
            done[h] = True
            v = edge[h >> 1, h & 1]
            at[v] = length
            path[length] = v
            length += 1
            w = edge[h >> 1, 1 - (h & 1)]
            if at[w] >= 0:
                # Back at a node of the path: what lies between is a loop of its own.
                for c in range(at[w], length):
                    out[used] = path[c]
                    used += 1
                    if c > at[w]:
                        at[path[c]] = -1
                length = at[w]
                at[w] = -1
                loops += 1
                loop_start[loops] = used
            c = place[h ^ 1]
            while True:
                c = c - 1 if c > start[w] else start[w + 1] - 1
                if kept[order[c]]:
                    break
            h = order[c]
    return out[:used], loop_start[: loops + 1]


@compiled
def outlines(segment: np.ndarray, base: int, wanted: bool) -> tuple[bool, np.ndarray, np.ndarray]:
    """Outlines of the points about which closed curves wind more than 0 times, or (not `wanted`) do not.

    `segment` is an int64 array (m, 4) of directed segments that make up closed curves; `base` is how often they
    wind about points far away. Returns (ok, points, start): loop k is points[start[k]:start[k + 1]], the region to
    its left. Not ok when the curves are not closed.
    """
    keys = _nodes(segment)
    x, y, edge = _routed(segment, keys)
    start, order, place = _around_nodes(x, y, edge)
    ok, winding = _windings(x, y, edge, start, order, place, base)
    if not ok:
        return False, np.empty((0, 2), np.int64), np.zeros(1, np.int64)
    kept = np.zeros(len(winding), np.bool_)
    for h in range(len(winding)):
        kept[h] = (winding[h] > 0) == wanted and (winding[h ^ 1] > 0) != wanted
    loop, loop_start = _loops(edge, start, order, place, kept, len(x))
    points = np.empty((len(loop), 2), np.int64)
    for i in range(len(loop)):
        points[i, 0], points[i, 1] = x[loop[i]], y[loop[i]]
    return True, points, loop_start
