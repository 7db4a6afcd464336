"""Measured outlines as lines, arcs and splines within a tolerance, corners kept."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

TOLERANCE_MM = 0.1
SPLINE_SHARE = 0.6
"""Of the tolerance, that a spline keeps to: what was measured is itself off by some hundredths of a millimetre."""

SPACING_MM = 0.25
CORNER_DEG = 32.0
_ARM_MM = (0.4, 1.5)
"""A corner is found by directions over this stretch before and behind it: an arc of 3 mm radius is none."""

_ROUNDED_MM = 0.7
"""Next to a corner measured points are drawn into it; the corner is where its sides meet."""

_PAD_MM = 12.0
_NOISE_MM = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A stretch of an outline.

    points : (2, 2) of a line; (3, 2) of an arc, its middle between its ends; else (3 n + 1, 2), n Bézier cubics end to
        end.
    """

    kind: str
    points: np.ndarray

    def flattened(self, count: int = 12) -> np.ndarray:
        """Points along it, its first included, its last not."""
        if self.kind == "line":
            return self.points[:1]
        if self.kind == "arc":
            return _arc_points(self.points, 4 * count)[:-1]
        t = np.linspace(0.0, 1.0, count, endpoint=False)[:, None]
        parts = []
        for i in range(0, len(self.points) - 1, 3):
            a, b, c, d = self.points[i : i + 4]
            parts.append((1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d)
        return np.concatenate(parts)

    def mirrored(self) -> "Curve":
        """Mirrored about y = 0 and run the other way."""
        return Curve(self.kind, self.points[::-1] * (1.0, -1.0))


def even(ring: np.ndarray, spacing: float = SPACING_MM) -> np.ndarray:
    """The ring with points evenly apart."""
    line = shapely.LinearRing(ring)
    count = max(16, round(line.length / spacing))
    return shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(count) * line.length / count))


def corners_of(ring: np.ndarray) -> list[int]:
    """Indices of corners of an evenly spaced ring, ascending."""
    near, far = (max(1, round(arm / SPACING_MM)) for arm in _ARM_MM)
    before = np.roll(ring, near, axis=0) - np.roll(ring, far, axis=0)
    behind = np.roll(ring, -far, axis=0) - np.roll(ring, -near, axis=0)
    turn = np.degrees(
        np.abs(np.arctan2(before[:, 0] * behind[:, 1] - before[:, 1] * behind[:, 0], (before * behind).sum(axis=1)))
    )
    window = 2 * far + 1
    around = np.lib.stride_tricks.sliding_window_view(np.concatenate((turn[-far:], turn, turn[:far])), window)
    best = (turn >= around.max(axis=1)) & (turn > CORNER_DEG)
    found: list[int] = []
    for i in np.flatnonzero(best).tolist():
        if not found or i - found[-1] > far:
            found.append(i)
    if len(found) > 1 and found[0] + len(ring) - found[-1] <= far:
        found.pop()
    return found


def fitted(ring: np.ndarray) -> list[Curve]:
    """An evenly spaced ring as curves, around from its first corner, or from its first point if it has none."""
    corners = corners_of(ring)
    places = [_corner(ring, i) for i in corners]
    if not corners:
        wrapped = np.concatenate((ring, ring[:1]))
        pad = round(_PAD_MM / SPACING_MM)
        curve = _curve(wrapped, ring[-pad:], ring[1 : pad + 1])
        points = curve.points.copy()
        points[-1] = points[0]
        # One tangent where it closes, from both sides.
        slope = 0.5 * ((points[1] - points[0]) + (points[-1] - points[-2]))
        points[1], points[-2] = points[0] + slope, points[-1] - slope
        return [Curve("spline", points)]
    found = []
    for k, start in enumerate(corners):
        end = corners[(k + 1) % len(corners)]
        found.append(_between(ring, start, end, places[k], places[(k + 1) % len(corners)]))
    return found


def fitted_half(half: np.ndarray) -> list[Curve]:
    """Half of a symmetric outline, (n, 2) evenly spaced, from y = 0 to y = 0, as curves whose mirror images go on."""
    mirrored = half[::-1] * (1.0, -1.0)
    ring = np.concatenate((half, mirrored[1:-1]))
    count = len(half) - 1
    corners = [i for i in corners_of(ring) if 0 < i < count]
    ends = [i for i in corners_of(ring) if i in (0, count)]
    breaks = [0, *corners, count]
    places = {i: _corner(ring, i) for i in (*corners, *ends)}
    for i in (0, count):
        places[i] = np.array((places.get(i, half[i])[0], 0.0))
    pad = round(_PAD_MM / SPACING_MM)
    found = []
    for start, end in itertools.pairwise(breaks):
        smooth = [i not in ends and i in (0, count) for i in (start, end)]
        inner = _trimmed(half[start : end + 1], places[start], places[end], smooth)
        before = half[1 : pad + 1][::-1] * (1.0, -1.0) if smooth[0] else None
        after = half[-pad - 1 : -1][::-1] * (1.0, -1.0) if smooth[1] else None
        curve = _curve(inner, before, after)
        found.append(_square_to_axis(curve, places[start], places[end], smooth))
    return found


def _square_to_axis(curve: Curve, start: np.ndarray, end: np.ndarray, smooth: Sequence[bool]) -> Curve:
    """Ends exactly where they are to be; an outline that crosses the axis without a corner is square to it."""
    points = curve.points.copy()
    if curve.kind != "spline":
        points[0], points[-1] = start, end
        return Curve(curve.kind, points)
    points[0] = (points[0][0], 0.0) if smooth[0] else start
    points[-1] = (points[-1][0], 0.0) if smooth[1] else end
    if smooth[0]:
        points[1] = (points[0][0], points[1][1])
    if smooth[1]:
        points[-2] = (points[-1][0], points[-2][1])
    return Curve("spline", points)


def _corner(ring: np.ndarray, i: int) -> np.ndarray:
    """Where the sides of a corner meet: lines through what lies just beyond its rounding."""
    near, far = round(_ROUNDED_MM / SPACING_MM), round((_ROUNDED_MM + 1.5) / SPACING_MM)
    sides = []
    for step in (-1, 1):
        points = ring[[(i + step * k) % len(ring) for k in range(near, far + 1)]]
        middle = points.mean(axis=0)
        sides.append((middle, np.linalg.svd(points - middle, full_matrices=False)[2][0]))
    (a, u), (b, v) = sides
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.2:
        return ring[i]
    at = a + u * ((b - a)[0] * v[1] - (b - a)[1] * v[0]) / cross
    return at if np.hypot(*(at - ring[i])) < 2.0 else ring[i]


def _between(ring: np.ndarray, start: int, end: int, first: np.ndarray, last: np.ndarray) -> Curve:
    count = (end - start) % len(ring) or len(ring)
    points = ring[[(start + k) % len(ring) for k in range(count + 1)]]
    return _curve(_trimmed(points, first, last, (False, False)), None, None)


def _trimmed(points: np.ndarray, first: np.ndarray, last: np.ndarray, smooth: Sequence[bool]) -> np.ndarray:
    """A stretch between two places, without what is rounded at corners."""
    cut = round(_ROUNDED_MM / SPACING_MM)
    low, high = (0 if smooth[0] else cut), (len(points) if smooth[1] else len(points) - cut)
    inner = points[low:high] if high - low > 2 else points[:0]
    parts = [*([] if smooth[0] else [first[None]]), inner, *([] if smooth[1] else [last[None]])]
    return np.concatenate(parts)


def _curve(points: np.ndarray, before: np.ndarray | None, after: np.ndarray | None) -> Curve:
    """The simplest curve that keeps to the points; `before` and `after` are points beyond ends that run on smoothly."""
    if before is None and after is None:
        first, last = points[0], points[-1]
        closed = np.hypot(*(last - first)) < 1e-9
        if not closed and _off_line(points, first, last) <= TOLERANCE_MM:
            return Curve("line", np.array((first, last)))
        arc = None if closed else _arc(points)
        if arc is not None:
            return arc
    return Curve("spline", _spline(points, before, after))


def _off_line(points: np.ndarray, first: np.ndarray, last: np.ndarray) -> float:
    along = (last - first) / np.hypot(*(last - first))
    return float(np.abs((points - first) @ np.array((-along[1], along[0]))).max())


def _arc(points: np.ndarray) -> Curve | None:
    """The circle's arc through both ends and nearest to the points, if it keeps to them."""
    first, last = points[0], points[-1]
    chord = last - first
    length = float(np.hypot(*chord))
    along, across = chord / length, np.array((-chord[1], chord[0])) / length
    x, y = (points - first) @ along, (points - first) @ across
    # A circle through both ends: x² - x c + y² = 2 k y, k the height of its middle over the chord.
    k = float((y * (x * x - x * length + y * y)).sum() / max(2.0 * (y * y).sum(), 1e-12))
    radius = float(np.hypot(k, 0.5 * length))
    if not 1.0 <= radius <= 2000.0:
        return None
    off = np.abs(np.hypot(x - 0.5 * length, y - k) - radius)
    if off.max() > TOLERANCE_MM:
        return None
    side = 1.0 if np.median(y) > 0 else -1.0
    middle = first + 0.5 * length * along + (k + side * radius) * across
    return Curve("arc", np.array((first, middle, last)))


def _arc_points(points: np.ndarray, count: int) -> np.ndarray:
    from geometry.curves import bulge_points

    first, middle, last = points
    bulge = arc_bulge(points)
    found = bulge_points(tuple(first), tuple(last), bulge, 0.01)
    return found if len(found) > 2 else np.array((first, middle, last))


def arc_bulge(points: np.ndarray) -> float:
    """Bulge of an arc (start, middle, end): sagitta over half the chord (public DXF reference, group code 42)."""
    first, middle, last = points
    chord = last - first
    away = middle - 0.5 * (first + last)
    sagitta = (chord[0] * away[1] - chord[1] * away[0]) / np.hypot(*chord)
    return float(-2.0 * sagitta / np.hypot(*chord))


def _spline(points: np.ndarray, before: np.ndarray | None, after: np.ndarray | None) -> np.ndarray:
    """A smoothing spline as Bézier cubics: as smooth as the tolerance allows (Dierckx 1993, as scipy has it)."""
    from scipy.interpolate import splev, splprep

    parts = [part for part in (before, points, after) if part is not None and len(part)]
    every = np.concatenate(parts)
    low = 0 if before is None else len(before)
    weights = np.ones(len(every))
    weights[[low, low + len(points) - 1]] = 20.0
    run = np.concatenate(((0.0,), np.cumsum(np.maximum(np.hypot(*np.diff(every, axis=0).T), 1e-6))))
    degree = min(3, len(every) - 1)
    smooth = len(every) * _NOISE_MM**2
    for _ in range(12):
        tck, _ = splprep(every.T, w=weights, u=run, s=smooth, k=degree)
        off = np.hypot(*(np.column_stack(splev(run, tck)) - every).T)
        if off[low : low + len(points)].max() <= SPLINE_SHARE * TOLERANCE_MM:
            break
        smooth *= 0.5
    start, end = run[low], run[low + len(points) - 1]
    knots = np.unique(np.concatenate(((start,), tck[0][(tck[0] > start) & (tck[0] < end)], (end,))))
    at, slope = np.column_stack(splev(knots, tck)), np.column_stack(splev(knots, tck, der=1))
    found = [at[0]]
    for i, width in enumerate(np.diff(knots)):
        # A cubic is given by its ends and its slopes there.
        found += [at[i] + slope[i] * width / 3.0, at[i + 1] - slope[i + 1] * width / 3.0, at[i + 1]]
    return np.array(found)


def outline_of(curves: Sequence[Curve]) -> np.ndarray:
    """All curves as one ring of points."""
    return np.concatenate([curve.flattened() for curve in curves])
