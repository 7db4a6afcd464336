"""Compiled loops over flat arrays; private to `geometry`."""

import numpy as np

from geometry.compiled import compiled


@compiled
def _turn(points, a, b, c):
    """Twice the signed area of the triangle of three point numbers; positive for a left turn."""
    return (points[b, 0] - points[a, 0]) * (points[c, 1] - points[a, 1]) - (points[b, 1] - points[a, 1]) * (
        points[c, 0] - points[a, 0]
    )


@compiled
def merge_triangles(points, triangles):
    """Merge triangles (t, 3) of point numbers, across common edges, into convex polygons.

    Longest common edge first. Returns (order, start): polygon k is points[order[start[k]:start[k + 1]]].
    """
    count = 3 * len(triangles)
    # Directed edge 3 t + k runs from corner k of triangle t to the next corner.
    origin = np.empty(count, np.int64)
    after = np.empty(count, np.int64)
    before = np.empty(count, np.int64)
    twin = np.full(count, -1, np.int64)
    for t in range(len(triangles)):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        if _turn(points, a, b, c) < 0.0:
            b, c = c, b
        origin[3 * t], origin[3 * t + 1], origin[3 * t + 2] = a, b, c
        for k in range(3):
            after[3 * t + k] = 3 * t + (k + 1) % 3
            before[3 * t + k] = 3 * t + (k + 2) % 3
    n = len(points)
    key = np.empty(count, np.int64)
    for e in range(count):
        i, j = origin[e], origin[after[e]]
        key[e] = min(i, j) * n + max(i, j)
    by_key = np.argsort(key)
    length = np.empty(count // 2)
    shared = np.empty(count // 2, np.int64)
    m = 0
    for s in range(count - 1):
        e, f = by_key[s], by_key[s + 1]
        if key[e] == key[f]:
            twin[e], twin[f] = f, e
            i, j = origin[e], origin[f]
            length[m] = (points[i, 0] - points[j, 0]) ** 2 + (points[i, 1] - points[j, 1]) ** 2
            shared[m] = e
            m += 1
    gone = np.zeros(count, np.bool_)
    for s in np.argsort(-length[:m]):
        e = shared[s]
        f = twin[e]
        if (
            _turn(points, origin[before[e]], origin[e], origin[after[after[f]]]) >= 0.0
            and _turn(points, origin[before[f]], origin[f], origin[after[after[e]]]) >= 0.0
        ):
            after[before[e]], before[after[f]] = after[f], before[e]
            after[before[f]], before[after[e]] = after[e], before[f]
            gone[e] = gone[f] = True
    order = np.empty(count, np.int64)
    start = np.empty(len(triangles) + 1, np.int64)
    start[0] = 0
    used = parts = 0
    for e in range(count):
        if gone[e]:
            continue
        f = e
        while not gone[f]:
            gone[f] = True
            order[used] = origin[f]
            used += 1
            f = after[f]
        parts += 1
        start[parts] = used
    return order[:used], start[: parts + 1]


@compiled
def _lowest(points, begin, end):
    low = begin
    for k in range(begin + 1, end):
        if points[k, 1] < points[low, 1] or (points[k, 1] == points[low, 1] and points[k, 0] < points[low, 0]):
            low = k
    return low - begin


@compiled
def sum_pairs(a, a_start, b, b_start):
    """Minkowski sums of every convex part of a with every convex part of b.

    Edges of both are merged by direction from the lowest point on. Returns (points, start) with closed
    rings: sum k is points[start[k]:start[k + 1]], first point repeated. Every corner is one corner of a plus one
    of b, so that sums which share a corner share it to the last bit.
    """
    na, nb = len(a_start) - 1, len(b_start) - 1
    room = nb * a_start[na] + na * b_start[nb] + na * nb
    points = np.empty((room, 2))
    start = np.empty(na * nb + 1, np.int64)
    start[0] = 0
    low_b = np.empty(nb, np.int64)
    for q in range(nb):
        low_b[q] = _lowest(b, b_start[q], b_start[q + 1])
    used = 0
    for p in range(na):
        a0, m = a_start[p], a_start[p + 1] - a_start[p]
        low_a = _lowest(a, a0, a_start[p + 1])
        for q in range(nb):
            b0, n = b_start[q], b_start[q + 1] - b_start[q]
            first = used
            i = j = 0
            while True:
                ia, ja = a0 + (low_a + i) % m, b0 + (low_b[q] + j) % n
                points[used, 0] = a[ia, 0] + b[ja, 0]
                points[used, 1] = a[ia, 1] + b[ja, 1]
                used += 1
                if i == m and j == n:
                    break
                ib, jb = a0 + (low_a + i + 1) % m, b0 + (low_b[q] + j + 1) % n
                cross = (a[ib, 0] - a[ia, 0]) * (b[jb, 1] - b[ja, 1]) - (a[ib, 1] - a[ia, 1]) * (b[jb, 0] - b[ja, 0])
                if j == n or (i < m and cross > 0.0):
                    i += 1
                elif i == m or cross < 0.0:
                    j += 1
                else:
                    i += 1
                    j += 1
            start[p * nb + q + 1] = used
            points[used - 1] = points[first]
    return points[:used], start
