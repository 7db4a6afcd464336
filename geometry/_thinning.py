"""Compiled steps of `thin_outwards`; private to `geometry.thinning`."""

import heapq
from math import hypot

import numpy as np

from geometry.compiled import compiled, uncounted

CELLS_ACROSS = 64
"""The band's edges are looked up on a grid this fine."""


@uncounted
def doubled_area(ax: float, ay: float, bx: float, by: float, cx: float, cy: float) -> float:
    """Twice the signed area of a triangle."""
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


@compiled
def grid_of(edge: np.ndarray, box: np.ndarray, cell: float) -> tuple[np.ndarray, np.ndarray, int, int]:
    """Edges by the cells that their boxes meet: where the list of each cell begins, and the lists one after another."""
    across = int((box[2] - box[0]) / cell) + 1
    up = int((box[3] - box[1]) / cell) + 1
    first = np.zeros(across * up + 1, np.int64)
    for e in range(len(edge)):
        i0, i1, j0, j1 = _cells(edge[e, 0], edge[e, 1], edge[e, 2], edge[e, 3], box, cell, across, up)
        for j in range(j0, j1 + 1):
            for i in range(i0, i1 + 1):
                first[j * across + i + 1] += 1
    first = np.cumsum(first)
    fill, listed = first.copy(), np.empty(first[-1], np.int64)
    for e in range(len(edge)):
        i0, i1, j0, j1 = _cells(edge[e, 0], edge[e, 1], edge[e, 2], edge[e, 3], box, cell, across, up)
        for j in range(j0, j1 + 1):
            for i in range(i0, i1 + 1):
                listed[fill[j * across + i]] = e
                fill[j * across + i] += 1
    return first, listed, across, up


@uncounted
def _cells(
    x0: float, y0: float, x1: float, y1: float, box: np.ndarray, cell: float, across: int, up: int
) -> tuple[int, int, int, int]:
    """First and last column and row of the cells that a segment's box meets."""
    i0, i1 = int((min(x0, x1) - box[0]) / cell), int((max(x0, x1) - box[0]) / cell)
    j0, j1 = int((min(y0, y1) - box[1]) / cell), int((max(y0, y1) - box[1]) / cell)
    return max(i0, 0), min(i1, across - 1), max(j0, 0), min(j1, up - 1)


@uncounted
def crosses(
    x0: float, y0: float, x1: float, y1: float, edge: np.ndarray, first: np.ndarray, listed: np.ndarray, across: int,
    up: int, box: np.ndarray, cell: float,
) -> bool:
    """Whether a segment from a point inside the band leaves it: whether it crosses an edge of it, or leaves its box."""
    if min(x0, x1) < box[0] or max(x0, x1) > box[2] or min(y0, y1) < box[1] or max(y0, y1) > box[3]:
        return True
    i0, i1, j0, j1 = _cells(x0, y0, x1, y1, box, cell, across, up)
    for j in range(j0, j1 + 1):
        for i in range(i0, i1 + 1):
            for q in range(first[j * across + i], first[j * across + i + 1]):
                e = listed[q]
                ax, ay, bx, by = edge[e, 0], edge[e, 1], edge[e, 2], edge[e, 3]
                if (
                    max(ax, bx) < min(x0, x1) or min(ax, bx) > max(x0, x1)
                    or max(ay, by) < min(y0, y1) or min(ay, by) > max(y0, y1)
                ):
                    continue
                # Edges of the band have it on their left, so that only a way from left to right leads out.
                if not doubled_area(ax, ay, bx, by, x0, y0) >= 0.0 > doubled_area(ax, ay, bx, by, x1, y1):
                    continue
                if doubled_area(x0, y0, x1, y1, ax, ay) * doubled_area(x0, y0, x1, y1, bx, by) <= 0.0:
                    return True
    return False


@uncounted
def offer(
    i: int, x: np.ndarray, y: np.ndarray, before: np.ndarray, after: np.ndarray
) -> tuple[int, float, float, float]:
    """What the step at vertex i (or at the edge that leaves it) does: (kind, how far it reaches out, x, y of i).

    kind : 0 none, 1 the hollow vertex i goes, 2 the edge from i goes and i moves.
    """
    h, j = before[i], after[i]
    turn = doubled_area(x[h], y[h], x[i], y[i], x[j], y[j])
    if turn <= 0.0:
        length = hypot(x[j] - x[h], y[j] - y[h])
        return 1, -turn / (length if length else 1.0), x[i], y[i]
    k = after[j]
    if doubled_area(x[i], y[i], x[j], y[j], x[k], y[k]) <= 0.0:
        return 0, 0.0, x[i], y[i]
    ax, ay, bx, by = x[i] - x[h], y[i] - y[h], x[k] - x[j], y[k] - y[j]
    cross = ax * by - ay * bx
    if cross <= 0.0:
        return 0, 0.0, x[i], y[i]
    t = ((x[j] - x[i]) * by - (y[j] - y[i]) * bx) / cross
    meet_x, meet_y = x[i] + t * ax, y[i] + t * ay
    length = hypot(x[j] - x[i], y[j] - y[i])
    return 2, abs(doubled_area(x[i], y[i], meet_x, meet_y, x[j], y[j])) / (length if length else 1.0), meet_x, meet_y


@compiled
def thinned(x: np.ndarray, y: np.ndarray, edge: np.ndarray, box: np.ndarray) -> np.ndarray:
    """Thin the ring (x, y), changed in place, within a band with the edges (n, 4) `edge`; returns the vertices kept.

    Every edge of the band has it on its left. box : the band's bounds.
    """
    n = len(x)
    cell = max(box[2] - box[0], box[3] - box[1]) / CELLS_ACROSS
    first, listed, across, up = grid_of(edge, box, cell)
    before, after = np.arange(n) - 1, np.arange(n) + 1
    before[0], after[n - 1] = n - 1, 0
    version, left = np.zeros(n, np.int64), n
    queue = [(0.0, 0, 0) for _ in range(0)]
    for i in range(n):
        kind, reach, _, _ = offer(i, x, y, before, after)
        if kind:
            queue.append((reach, i, 0))
    heapq.heapify(queue)
    while len(queue) and left > 4:
        _, i, made = heapq.heappop(queue)
        if made != version[i]:
            continue
        h, j = before[i], after[i]
        kind, _, meet_x, meet_y = offer(i, x, y, before, after)
        if kind == 1:
            if crosses(x[h], y[h], x[j], y[j], edge, first, listed, across, up, box, cell):
                continue
            after[h], before[j] = j, h
            version[i] = -1
            changed = (before[h], h, j, j)
        else:
            if crosses(x[i], y[i], meet_x, meet_y, edge, first, listed, across, up, box, cell) or crosses(
                x[j], y[j], meet_x, meet_y, edge, first, listed, across, up, box, cell
            ):
                continue
            x[i], y[i] = meet_x, meet_y
            k = after[j]
            after[i], before[k] = k, i
            version[j] = -1
            changed = (before[h], h, i, k)
        left -= 1
        for c in range(4):
            v = changed[c]
            if c == 3 and v == changed[2]:
                continue
            version[v] += 1
            kind, reach, _, _ = offer(v, x, y, before, after)
            if kind:
                heapq.heappush(queue, (reach, v, version[v]))
    start = 0
    while version[start] < 0:
        start += 1
    kept = np.empty(left, np.int64)
    i = start
    for place in range(left):
        kept[place] = i
        i = after[i]
    return kept
