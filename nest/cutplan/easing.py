"""Kinks that a chain of arcs is left with, eased: a short arc in place of each, tangent to both its edges."""

from dataclasses import dataclass
from math import atan, atan2, cos, degrees, hypot, pi, sin, tan

import numpy as np

from geometry.arcs import CORNER_DEG

_LEAST_DEG = 0.2
"""Joints that turn by less are smooth."""

_SHARE = 0.4
"""No more than this of an edge is given up at either of its ends."""

_TRIED, _HALVINGS = 6, 24
_TINY = 1e-9


@dataclass(frozen=True, slots=True)
class _Edge:
    """An edge of a chain from where it begins: its direction there, radians, its length, and its curvature, 1/mm."""

    x: float
    y: float
    heading: float
    length: float
    curvature: float

    def at(self, along: float) -> tuple[float, float, float]:
        """Place and heading so far along it."""
        turned = self.curvature * along
        # The chord of an arc goes half as far aside as its end does.
        chord = along * (sin(0.5 * turned) / (0.5 * turned) if abs(turned) > _TINY else 1.0)
        way = self.heading + 0.5 * turned
        return self.x + chord * cos(way), self.y + chord * sin(way), self.heading + turned


def eased(chain: np.ndarray, room_mm: float) -> np.ndarray:
    """The closed chain (n, 3), its kinks of up to `CORNER_DEG` replaced by arcs that leave them by `room_mm` at most.

    Where two edges turn by an angle the arc that touches both so far from their joint leaves it by that distance times
    the tangent of a quarter of the angle.
    """
    edges = [_edge(a, b) for a, b in zip(chain, np.roll(chain, -1, axis=0), strict=True)]
    begin, end = [0.0] * len(edges), [edge.length for edge in edges]
    arcs: dict[int, float] = {}
    for i, (before, after) in enumerate(zip([edges[-1], *edges[:-1]], edges, strict=True)):
        turn = _turn(before.at(before.length)[2], after.heading)
        if not _LEAST_DEG < abs(degrees(turn)) <= CORNER_DEG:
            continue
        back = min(room_mm / tan(0.25 * abs(turn)), _SHARE * before.length, 0.5 * _SHARE * after.length)
        # Where the edges curve more than they meet askew, an arc touches both only near their joint.
        for _ in range(_TRIED):
            ahead = _touching(before, after, before.length - back, min(2.0 * back, _SHARE * after.length))
            if ahead is not None:
                end[i - 1], begin[i] = before.length - back, ahead
                arcs[i] = tan(0.25 * _turn(before.at(end[i - 1])[2], after.at(ahead)[2]))
                break
            back *= 0.5
    rows = []
    for i, edge in enumerate(edges):
        if i in arcs:
            rows.append((*edges[i - 1].at(end[i - 1])[:2], arcs[i]))
        rows.append((*edge.at(begin[i])[:2], tan(0.25 * edge.curvature * (end[i] - begin[i]))))
    return np.array(rows)


def _edge(start: np.ndarray, stop: np.ndarray) -> _Edge:
    (ax, ay, bulge), (bx, by, _) = start.tolist(), stop.tolist()
    chord, included = hypot(bx - ax, by - ay), 4.0 * atan(bulge)
    length = chord * (0.5 * included / sin(0.5 * included) if abs(included) > _TINY else 1.0)
    return _Edge(ax, ay, atan2(by - ay, bx - ax) - 0.5 * included, length, included / length)


def _touching(before: _Edge, after: _Edge, from_: float, most: float) -> float | None:
    """How far along `after` an arc ends that leaves `before` at `from_` and touches both; None if beyond `most`."""
    px, py, out = before.at(from_)

    def askew(along: float) -> float:
        """By how much the chord turns from the one more than to the other."""
        x, y, into = after.at(along)
        way = atan2(y - py, x - px)
        return _turn(out, way) - _turn(way, into)

    low, high = 0.0, most
    if askew(low) * askew(high) > 0.0:
        return None
    rising = askew(low) < 0.0
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if (askew(middle) < 0.0) == rising:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _turn(from_: float, to: float) -> float:
    """From one heading to the other, radians, between -π and π."""
    return (to - from_ + pi) % (2.0 * pi) - pi
