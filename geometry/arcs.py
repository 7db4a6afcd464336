"""Outlines as smooth chains of circular arcs, and arcs as chords.

A chain is an (n, 3) array, closed: a vertex and the bulge of the edge that leaves it, the tangent of a quarter of the
angle the arc includes, positive counter-clockwise (DXF reference, group code 42). `arc_chain` joins pairs of arcs with
common tangents (biarcs: K. M. Bolton, Biarc curves, Computer-Aided Design 7, 1975, from memory).
"""

from itertools import pairwise
from math import ceil
from typing import TypeAlias

import numpy as np
import shapely

from geometry.curves import chord_step

CORNER_DEG = 30.0
"""Where an outline turns by more than this it has a corner, which stays sharp (common practice, no source)."""

_LONGER = 3.0
"""An edge this many times as long as its neighbour is straight: the tangent between the two is its own."""
_STRAIGHT = 1e-6
_MOST_EDGES = 64
_SAMPLES = 7

Rows: TypeAlias = list[tuple[float, float, float]]
"""Vertices and bulges, of which a chain is made."""


def arc_chain(ring: np.ndarray, outside: float, inside: float, corner_deg: float = CORNER_DEG) -> np.ndarray:
    """Arcs and lines along a ring: never further out of it than `outside`, nor further within it than `inside`, mm.

    Tangents are continuous but at corners, and where no arc serves for an edge, which then stays straight. Greedy:
    every pair of arcs takes up as many edges as it can. Vertices of the chain are vertices of the ring, or lie
    between two arcs of a pair.

    Parameters
    ----------
    ring : (n, 2) float array
        Counter-clockwise or clockwise, not closed; mm.

    Returns
    -------
    (m, 3) float array
        x, y, bulge.
    """
    points = np.asarray(ring, dtype=np.float64)
    shape = shapely.Polygon(points)
    shapely.prepare(shape)
    count = len(points)
    after = np.roll(points, -1, axis=0) - points
    length = np.hypot(*after.T)
    ahead = after / length[:, None]
    behind = np.roll(ahead, 1, axis=0)
    turn = np.degrees(np.abs(np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0],
                                        (behind * ahead).sum(axis=1))))
    corner = turn > corner_deg
    tangent = _tangents(ahead, behind, length)
    first = int(np.argmax(turn))  # where it turns most: the best place to begin
    rows: Rows = []
    i = 0
    while i < count:
        best = None
        low, step = 1, 1
        while True:  # longer and longer spans, then halved back to the longest that serves
            span = min(low + step - 1, count - i, _MOST_EDGES) if best else 1
            made = _pair(points, tangent, ahead, behind, corner, first + i, span)
            if made is None or not _keeps(*made, shape, outside, inside):
                if step == 1 or best is None:
                    break
                step = max(1, step // 2)
                continue
            best = span, made[0]
            low = span + 1
            if low > min(count - i, _MOST_EDGES):
                break
            step *= 2
        if best is None:
            x, y = points[(first + i) % count]
            best = 1, [(x, y, 0.0)]
        rows += best[1]
        i += best[0]
    return np.array(rows)


def chord_ring(chain: np.ndarray, sagitta: float, turn_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """A chain as chords that leave its arcs by no more than `sagitta` and turn by no more than `turn_deg` along one.

    Returns
    -------
    (n, 2) float array, (m,) int array
        The ring, and which of its vertices are those of the chain.
    """
    found, joints = [], []
    total = 0
    for (ax, ay, bulge), (bx, by, _) in zip(chain, np.roll(chain, -1, axis=0), strict=True):
        joints.append(total)
        start, end = np.array((ax, ay)), np.array((bx, by))
        chord = end - start
        if abs(bulge) < _STRAIGHT or not chord.any():
            found.append(start[None])
            total += 1
            continue
        included = 4.0 * np.arctan(bulge)
        centre = 0.5 * (start + end) + np.array((-chord[1], chord[0])) * (1.0 - bulge * bulge) / (4.0 * bulge)
        arm = start - centre
        step = min(chord_step(float(np.hypot(*arm)), sagitta), np.radians(turn_deg))
        turns = np.linspace(0.0, included, max(1, ceil(abs(included) / step - 1e-9)) + 1)[:-1]
        points = centre + np.outer(np.cos(turns), arm) + np.outer(np.sin(turns), (-arm[1], arm[0]))
        points[0] = start
        found.append(points)
        total += len(points)
    return np.vstack(found), np.array(joints, dtype=np.int64)


def radii(chain: np.ndarray) -> np.ndarray:
    """Radius of each edge of a chain, mm; inf for straight ones."""
    chord = np.hypot(*(np.roll(chain[:, :2], -1, axis=0) - chain[:, :2]).T)
    bulge = np.abs(chain[:, 2])
    with np.errstate(divide="ignore"):
        return np.where(bulge < _STRAIGHT, np.inf, chord * (1.0 + bulge * bulge) / (4.0 * bulge))


def _tangents(ahead: np.ndarray, behind: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Direction of the curve at each vertex: of the circle through it and its neighbours, or of a straight edge."""
    before = np.roll(length, 1)
    found = behind * length[:, None] + ahead * before[:, None]
    found = np.where((length > _LONGER * before)[:, None], ahead, found)
    found = np.where((before > _LONGER * length)[:, None], behind, found)
    return np.asarray(found / np.maximum(np.hypot(*found.T), 1e-12)[:, None])


def _pair(
    points: np.ndarray, tangent: np.ndarray, ahead: np.ndarray, behind: np.ndarray, corner: np.ndarray, start: int,
    span: int,
) -> tuple[Rows, np.ndarray] | None:
    """Rows of a pair of arcs over `span` edges from vertex `start`, and these edges; None if they pass a corner."""
    count = len(points)
    inner = [(start + k) % count for k in range(1, span)]
    if corner[inner].any():
        return None
    i, j = start % count, (start + span) % count
    from_ = ahead[i] if corner[i] else tangent[i]
    to = behind[j] if corner[j] else tangent[j]
    rows = _biarc(points[i], from_, points[j], to)
    if rows is None:
        return None
    path = points[[i, *inner, j]]
    return rows, path


def _keeps(rows: Rows, path: np.ndarray, shape: shapely.Polygon, outside: float, inside: float) -> bool:
    """Whether a pair of arcs keeps to these edges (n, 2) of a shape, and they to it."""
    chain = np.array([*rows, (*path[-1], 0.0)])
    if _away(path, chain) > max(outside, inside):
        return False
    samples = shapely.points(np.vstack([_between(*edge, path) for edge in pairwise(chain)]))
    away = shapely.distance(samples, shapely.LineString(path))
    return bool((away <= np.where(shapely.contains(shape, samples), inside, outside)).all())


def _between(start: np.ndarray, end: np.ndarray, path: np.ndarray) -> np.ndarray:
    """Points along an edge of a chain, its end left out, among them those that can lie farthest from a path (n, 2).

    An arc lies farthest from an edge of the path where it runs parallel to it, or from two where it crosses the
    bisector between them.
    """
    (ax, ay, bulge), (bx, by, _) = start, end
    shares = np.linspace(-1.0, 1.0, _SAMPLES + 2)[:-1]
    # A point of an arc as seen from its chord: half angles are even along it.
    half = np.arctan(bulge) * 2.0
    a, chord = np.array((ax, ay)), np.array((bx - ax, by - ay))
    left = np.array((-chord[1], chord[0]))
    if abs(bulge) < _STRAIGHT:
        shares = np.append(shares, 2.0 * ((path - a) @ chord) / max(float(chord @ chord), 1e-12) - 1.0)
        shares = shares[np.abs(shares) < 1.0]
        return np.asarray(a + 0.5 * (1.0 + shares)[:, None] * chord)
    centre = a + 0.5 * chord + left * (1.0 - bulge * bulge) / (4.0 * bulge)
    normals = np.diff(path, axis=0)[:, ::-1] * (-1.0, 1.0)
    normals /= np.maximum(np.hypot(*normals.T), 1e-12)[:, None]
    towards = np.vstack((normals, -normals, *_on_bisectors(path - centre, normals, float(np.hypot(*(a - centre))))))
    middle = -np.sign(bulge) * left
    turned = np.arctan2(middle[0] * towards[:, 1] - middle[1] * towards[:, 0], towards @ middle) / half
    shares = np.append(shares, turned[np.abs(turned) < 1.0])
    along = 0.5 * (1.0 + np.sin(shares * half) / np.sin(half))
    up = -0.5 * (np.cos(shares * half) - np.cos(half)) / np.sin(half)
    return np.asarray(a + along[:, None] * chord + up[:, None] * left)


def _on_bisectors(path: np.ndarray, normals: np.ndarray, radius: float) -> tuple[np.ndarray, np.ndarray]:
    """Where a circle about the origin meets the bisectors of a path's inner vertices; NaN where it does not."""
    vertices, bisectors = path[1:-1], normals[1:] + normals[:-1]
    bisectors = bisectors / np.maximum(np.hypot(*bisectors.T), 1e-12)[:, None]
    foot = (vertices * bisectors).sum(axis=1)
    square = foot**2 - (vertices**2).sum(axis=1) + radius**2
    root = np.sqrt(np.where(square >= 0.0, square, np.nan))
    return vertices + (root - foot)[:, None] * bisectors, vertices - (root + foot)[:, None] * bisectors


def _biarc(a: np.ndarray, from_: np.ndarray, b: np.ndarray, to: np.ndarray) -> Rows | None:
    """Two arcs from a to b with these directions at their ends, each as long as the other as seen from its end."""
    v = b - a
    both = from_ + to
    square = 2.0 * (1.0 - float(from_ @ to))
    mixed = float(v @ both)
    if square < 1e-12:
        if mixed <= 0.0:
            return None
        d = float(v @ v) / (2.0 * mixed)
    else:
        root = mixed * mixed + square * float(v @ v)
        d = (np.sqrt(root) - mixed) / square
    if not 0.0 < d < 1e7:
        return None
    middle = 0.5 * (a + d * from_ + b - d * to)
    first, second = _bulge(a, from_, middle), -_bulge(b, -to, middle)
    if max(abs(first), abs(second)) > 1.0:
        return None
    return [(a[0], a[1], first), (middle[0], middle[1], second)]


def _bulge(start: np.ndarray, direction: np.ndarray, end: np.ndarray) -> float:
    """Bulge of the arc that leaves `start` in this direction and ends at `end`."""
    x, y = end - start
    half = np.arctan2(direction[0] * y - direction[1] * x, direction[0] * x + direction[1] * y)
    return float(np.tan(0.5 * half))


def _away(asked: np.ndarray, chain: np.ndarray) -> float:
    """How far points lie from an open chain at most, each from the nearer of its edges."""
    best = np.full(len(asked), np.inf)
    for (ax, ay, bulge), (bx, by, _) in pairwise(chain):
        a, b = np.array((ax, ay)), np.array((bx, by))
        chord = b - a
        size = max(float(np.hypot(*chord)), 1e-12)
        share = np.clip(((asked - a) @ chord) / size**2, 0.0, 1.0)
        if abs(bulge) < _STRAIGHT:
            away = np.hypot(*(asked - a - share[:, None] * chord).T)
        else:
            centre = 0.5 * (a + b) + np.array((-chord[1], chord[0])) * (1.0 - bulge * bulge) / (4.0 * bulge)
            away = np.abs(np.hypot(*(asked - centre).T) - np.hypot(*(a - centre)))
            beyond = (share <= 0.0) | (share >= 1.0)
            ends = np.minimum(np.hypot(*(asked - a).T), np.hypot(*(asked - b).T))
            away = np.where(beyond, ends, away)
        best = np.minimum(best, away)
    return float(best.max(initial=0.0))
