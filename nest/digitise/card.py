"""A card in a scan: its outline to a fraction of a pixel, and its axis, by two punched holes or a drawn line."""

from dataclasses import dataclass

import numpy as np
import shapely

from nest.digitise.edges import sampled, steps
from nest.digitise.raster import Grid
from nest.digitise.vision import PhotographProblem, opencv

LEAST_SEPARATION = 0.05
"""Between card and background, in cube roots of light (0..1)."""

HOLE_MM2 = (1.5, 80.0)
_ROUND = 0.72
"""Area of a hole over that of its circumscribed circle."""

LEAST_LINE_MM = 30.0
_REACH_PIXELS = 4.5
_ACROSS = 19


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """Outline (n, 2) mm; the axis, two points (2, 2) mm, its direction not told; and what it was found by."""

    ring: np.ndarray
    axis: np.ndarray
    axis_by: str


def find_card(light: np.ndarray, grid: Grid, hidden: np.ndarray | None, name: str) -> Card:
    """Find the card and its axis.

    Raises
    ------
    PhotographProblem
        If no card stands out from the background, it leaves the picture, or it has no axis.
    """
    cv2 = opencv()
    seen = np.cbrt(light.astype(np.float32) / 65535.0)
    seen = cv2.GaussianBlur(seen, (0, 0), 1.0)
    shown = np.ones(seen.shape[:2], dtype=bool) if hidden is None else ~hidden
    away = np.sqrt(((seen - _background(seen, shown)) ** 2).sum(axis=2))
    level = _level(away[shown][:: max(1, int(shown.sum() / 400000))])
    mask = (away > level) & shown
    mask = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    count, parts, figures, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    if count < 2:
        raise PhotographProblem(f"{name}: no card is seen; scan it on a background of another colour.")
    largest = 1 + int(np.argmax(figures[1:, cv2.CC_STAT_AREA]))
    own = (parts == largest).astype(np.uint8)
    colour = np.median(seen[own > 0][::50], axis=0)
    if level < LEAST_SEPARATION or figures[largest, cv2.CC_STAT_AREA] * grid.step**2 < 500.0:
        raise PhotographProblem(f"{name}: the card hardly stands out; scan it on a background of another colour.")
    padded = np.pad(own, 1)
    contours, tree = cv2.findContours(padded, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    outer = max((i for i in range(len(contours)) if tree[0][i][3] < 0), key=lambda i: len(contours[i]))
    rough = contours[outer].reshape(-1, 2).astype(np.float64) - 1.0
    edge = np.array((grid.width, grid.height)) - 2.0
    if (rough < 1.0).any() or (rough > edge).any():
        raise PhotographProblem(f"{name}: the card leaves the picture; scan all of it, with a rim around it.")
    ring = grid.points(_measured(light, rough, colour, seen, own))
    holes = [
        contours[i].reshape(-1, 2) - 1.0
        for i in range(len(contours))
        if tree[0][i][3] == outer
        and HOLE_MM2[0] <= cv2.contourArea(contours[i]) * grid.step**2 <= HOLE_MM2[1]
        and _is_round(contours[i])
    ]
    axis = _by_holes(away, holes, grid)
    if axis is not None:
        return Card(ring, axis, "two holes" if len(holes) == 2 else f"the outermost of {len(holes)} holes")
    axis = _by_line(seen, own, colour, grid)
    if axis is None:
        raise PhotographProblem(
            f"{name}: the card shows no axis; punch two holes on it, or draw a line from the heel to the toe."
        )
    return Card(ring, axis, "a drawn line")


def _background(seen: np.ndarray, shown: np.ndarray) -> np.ndarray:
    """Colour of what lies behind the card: the median along the rim of the picture."""
    cv2 = opencv()
    rim = shown & ~(cv2.erode(shown.astype(np.uint8), np.ones((9, 9), np.uint8), iterations=3, borderValue=0) > 0)
    return np.median(seen[rim][::7], axis=0)


def _level(values: np.ndarray) -> float:
    """The threshold that parts values best in two (Otsu 1979, doi:10.1109/TSMC.1979.4310076)."""
    counts, edges = np.histogram(values, bins=200)
    middles = 0.5 * (edges[1:] + edges[:-1])
    below = np.cumsum(counts)
    sums = np.cumsum(counts * middles)
    above = below[-1] - below
    between = np.where(
        (below > 0) & (above > 0), (sums[-1] * below / below[-1] - sums) ** 2 / np.maximum(below * above, 1), 0
    )
    return float(edges[int(np.argmax(between)) + 1])


def _is_round(contour: np.ndarray) -> bool:
    cv2 = opencv()
    _, radius = cv2.minEnclosingCircle(contour)
    return cv2.contourArea(contour) > _ROUND * np.pi * radius**2


def _measured(light: np.ndarray, rough: np.ndarray, card: np.ndarray, seen: np.ndarray, own: np.ndarray) -> np.ndarray:
    """The contour moved onto the edge, in pixels: the step of light along normals."""
    line = shapely.LinearRing(rough)
    count = max(64, round(line.length / 2.0))
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(count) * line.length / count))
    weights = np.exp(-0.5 * (np.arange(-4, 5) / 1.6) ** 2)
    weights /= weights.sum()
    around = np.concatenate((points[-4:], points, points[:4]))
    smooth = np.column_stack([np.convolve(around[:, k], weights, mode="valid") for k in range(2)])
    tangent = np.roll(smooth, -2, axis=0) - np.roll(smooth, 2, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    normal = np.column_stack((tangent[:, 1], -tangent[:, 0]))
    across = np.linspace(-_REACH_PIXELS, _REACH_PIXELS, _ACROSS)
    profiles = sampled(light, smooth[:, None] + across[None, :, None] * normal[:, None])
    apart = profiles[:, -4:].mean(axis=1) - profiles[:, :4].mean(axis=1)
    along = np.median(apart, axis=0)
    along = along / max(float(np.linalg.norm(along)), 1e-9)
    found = steps(profiles @ along, 0.22)
    offset = (found.at - 0.5) * 2.0 * _REACH_PIXELS
    sound = (np.abs(found.contrast) > 0.3 * np.median(np.abs(found.contrast))) & (np.abs(offset) < 3.0)
    at = np.arange(count)
    offset = np.interp(at, at[sound], offset[sound], period=count) if sound.any() else np.zeros(count)
    return smooth + offset[:, None] * normal


def _by_holes(away: np.ndarray, holes: list[np.ndarray], grid: Grid) -> np.ndarray | None:
    """Middles of the two holes furthest apart, by the light through them."""
    if len(holes) < 2:
        return None
    middles = []
    for ring in holes:
        low, high = ring.min(axis=0).astype(int) - 4, ring.max(axis=0).astype(int) + 5
        part = away[low[1] : high[1], low[0] : high[0]]
        ground = np.percentile(part, 90)
        weight = np.clip(ground - part, 0.0, None)
        weight[weight < 0.3 * weight.max()] = 0.0
        rows, columns = np.mgrid[low[1] : high[1], low[0] : high[0]]
        middles.append(((columns * weight).sum() / weight.sum(), (rows * weight).sum() / weight.sum()))
    places = grid.points(np.array(middles))
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(np.argmax(apart)), apart.shape)
    return places[[i, j]] if apart[i, j] >= LEAST_LINE_MM else None


def _by_line(seen: np.ndarray, own: np.ndarray, card: np.ndarray, grid: Grid) -> np.ndarray | None:
    """Ends of the longest straight stroke on the card."""
    cv2 = opencv()
    rim = max(2, round(1.5 / grid.step))
    size = 2 * rim + 1
    filled = cv2.morphologyEx(own, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8))
    inner = cv2.erode(filled, np.ones((size, size), np.uint8), borderValue=0) > 0
    off = np.sqrt(((seen - card) ** 2).sum(axis=2))
    stroke = (inner & (off > max(0.08, 6.0 * float(np.median(off[inner]))))).astype(np.uint8)
    # Of odd size: an even one would move the line by a pixel.
    stroke = cv2.morphologyEx(stroke, cv2.MORPH_CLOSE, np.ones((rim | 1, rim | 1), np.uint8))
    count, parts, figures, _ = cv2.connectedComponentsWithStats(stroke, connectivity=8)
    best = None
    for part in range(1, count):
        x, y, w, h = figures[part, :4]
        if np.hypot(w, h) * grid.step < LEAST_LINE_MM:
            continue
        rows, columns = np.nonzero(parts[y : y + h, x : x + w] == part)
        points = grid.points(np.column_stack((columns + x, rows + y)).astype(np.float64))
        keep = np.ones(len(points), dtype=bool)
        for _ in range(6):
            middle = points[keep].mean(axis=0)
            axis = np.linalg.svd(points[keep] - middle, full_matrices=False)[2]
            beside = np.abs((points - middle) @ axis[1])
            keep = beside <= max(2.5 * float(np.median(beside[keep])), 2.0 * grid.step)
        along = (points[keep] - middle) @ axis[0]
        length = float(np.ptp(along))
        if keep.mean() > 0.6 and length >= LEAST_LINE_MM and (best is None or length > best[0]):
            best = (length, np.array((middle + axis[0] * along.min(), middle + axis[0] * along.max())))
    return None if best is None else best[1]
