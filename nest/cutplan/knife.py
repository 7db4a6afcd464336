"""The way of a knife whose blade trails its pivot, or that loops around corners instead of turning in the leather.

A trailing blade follows its pivot as a hind wheel does: its tip runs towards the pivot and stays at one distance behind
it, so that it draws a tractrix (C. Huygens, 1693, from memory). On a straight edge the tip keeps to the line if the
pivot leads by that distance; in a corner it stays where it is while the pivot swings around it. So the way of the pivot
follows from the line wanted, without any error but that of its chords.

Whatever is cut beyond the outline lies within the piece's own trim-off band: lead-ins, in which the blade turns the way
it is to go, and loops. A loop runs on past a corner and comes back along the next edge, so only a corner that points
into the piece has room for one. At other corners the blade turns on the spot, or is raised and turned.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from geometry.arcs import CORNER_DEG
from nest.cutplan.grid import rounded
from nest.cutplan.marks import CLEARANCE_MM
from nest.job.cutting_table import TRAILS_TO_TURN, CuttingTable

SWIVEL_DEG = 10.0
"""Chords of a swing turn by no more than this: the tip moves by less than 0.004 of the distance it trails by."""

_LOOP_DEG = 5.0
_LOOP_SHARES = (1.0, 0.7, 0.5)
_SLACK_MM = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class KnifeWay:
    """How a knife goes around one piece: each stroke (n, 2) from where it is lowered to where it is raised, mm.

    loops, turned : corners with a loop, and those where the blade turns without one.
    bare : whether the cut begins on the outline, for want of room for a lead-in in which the blade would turn.
    """

    strokes: tuple[np.ndarray, ...]
    loops: int
    turned: int
    bare: bool


def needs_way(table: CuttingTable) -> bool:
    """Whether the tool goes otherwise than along the line that it cuts."""
    return table.knife_offset_mm > 0.0 or table.corner_loop_mm > 0.0 or table.lift_at_corners


def knife_way(ring: np.ndarray, lead: np.ndarray | None, net: np.ndarray, table: CuttingTable, taken=None) -> KnifeWay:
    """The way around a closed ring (n, 2), counter-clockwise from where it begins, after the lead-in (2, 2) or none.

    net : ring that no loop comes near. taken : a shapely geometry that none touches, or None.
    """
    count, bare = len(ring), lead is None and table.knife_offset_mm > 0.0
    past = max(table.overcut_mm, TRAILS_TO_TURN * table.knife_offset_mm if bare else 0.0)
    points = np.vstack((ring, ring[:1], past_start(ring, past)))
    turns = _turns(points)
    own, kept = shapely.buffer(shapely.Polygon(ring), _SLACK_MM), shapely.Polygon(net)
    tips: list[list[np.ndarray]] = [[] if lead is None else [lead[0]]]
    loops = turned = 0
    for i, point in enumerate(points):
        tips[-1].append(point)
        if not 0 < i < len(points) - 1 or abs(turns[i - 1]) <= np.radians(CORNER_DEG):
            continue
        loop = _loop(points[i - 1 : i + 2], turns[i - 1], table, own, kept, taken)
        loops, turned = loops + (loop is not None and i <= count), turned + (loop is None and i <= count)
        if loop is not None:
            tips[-1] += [*loop, point]
        elif table.lift_at_corners:
            tips.append([point])
    strokes = tuple(rounded(pivot_way(np.array(tip), table.knife_offset_mm)) for tip in tips)
    return KnifeWay(strokes, loops, turned, bare)


def pivot_way(tip: np.ndarray, trail_mm: float) -> np.ndarray:
    """The way (m, 2) of the pivot whose blade, trailing by this much, cuts the line `tip` (n, 2), both open."""
    steps = np.diff(tip, axis=0)
    length = np.hypot(*steps.T)
    tip, steps = np.vstack((tip[:1], tip[1:][length > 0.0])), steps[length > 0.0]
    if trail_mm <= 0.0 or not len(steps):
        return tip
    ahead = trail_mm * steps / length[length > 0.0][:, None]
    left = np.column_stack((-ahead[:, 1], ahead[:, 0]))
    parts = [tip[:1] + ahead[:1]]
    for i, turn in enumerate(_turns(tip)):
        swing = np.linspace(0.0, turn, max(1, int(np.ceil(np.degrees(abs(turn)) / SWIVEL_DEG))) + 1)
        parts.append(tip[i + 1] + np.outer(np.cos(swing), ahead[i]) + np.outer(np.sin(swing), left[i]))
    return np.vstack((*parts, tip[-1:] + ahead[-1:]))


def past_start(ring: np.ndarray, past_mm: float) -> np.ndarray:
    """Points (n, 2) of a ring after its first, as far along it as `past_mm`, and the point there."""
    if past_mm <= 0.0:
        return np.zeros((0, 2))
    around = np.vstack((ring, ring[:1]))
    run = np.concatenate(((0.0,), np.cumsum(np.hypot(*np.diff(around, axis=0).T))))
    past = min(past_mm, run[-1])
    end = [np.interp(past, run, around[:, axis]) for axis in (0, 1)]
    return np.vstack((around[1:][run[1:] < past], rounded([end])))


def bare_starts(ring: np.ndarray, net: np.ndarray, others, table: CuttingTable) -> np.ndarray:
    """For each vertex, whether a blade that points anywhere may begin there: it touches no net area and no other piece.

    others : shapely geometries of the other pieces. Lowered askew, the tip lies within twice the distance it trails by.
    """
    far = 2.0 * table.knife_offset_mm
    points = shapely.points(ring)
    clear = shapely.distance(points, shapely.Polygon(net)) >= far
    if len(others):
        tree = shapely.STRtree(others)
        near = tree.query(points, predicate="dwithin", distance=max(far - _SLACK_MM, 0.0))[0]
        clear[near] = False
    return clear


def _loop(around: np.ndarray, turn: float, table: CuttingTable, own, net, taken) -> np.ndarray | None:
    """A loop (n, 2) from a corner past it and back to it along the next edge; None without room in the band."""
    if table.corner_loop_mm <= 0.0 or turn > 0.0:
        return None
    before, corner, after = around
    into, out = ((b - a) / np.hypot(*(b - a)) for a, b in ((before, corner), (corner, after)))
    half = 0.5 * (np.pi + turn)
    sweep = np.linspace(0.0, np.pi + 2.0 * half, int(np.ceil(np.degrees(np.pi + 2.0 * half) / _LOOP_DEG)) + 1)
    left = np.array((-into[1], into[0]))
    for share in _LOOP_SHARES:
        long = share * table.corner_loop_mm
        radius = long * np.tan(half)
        centre = corner + long * into + radius * left
        loop = centre + radius * (np.outer(np.sin(sweep), into) - np.outer(np.cos(sweep), left))
        line = shapely.linestrings(np.vstack((corner, loop, corner)))
        clear = CLEARANCE_MM + table.tool_radius_mm
        if shapely.covers(own, line) and shapely.distance(line, net) >= clear and (
            taken is None or not shapely.intersects(line, taken)
        ):
            return np.vstack((loop[:-1], corner - long * out))
    return None


def _turns(points: np.ndarray) -> np.ndarray:
    """By how much an open line turns at each point between its ends, radians, positive to the left."""
    (ax, ay), (bx, by) = np.diff(points, axis=0)[:-1].T, np.diff(points, axis=0)[1:].T
    return np.arctan2(ax * by - ay * bx, ax * bx + ay * by)
