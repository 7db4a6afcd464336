"""The edge of the leather measured in the photograph along normals, and how sure it is."""

from collections.abc import Callable
from dataclasses import dataclass
from math import fsum

import numpy as np
import shapely
from shapely.geometry import Polygon

from geometry.precision import COORDINATE_GRID_MM
from nest.digitise.camera import View
from nest.digitise.edges import sampled, steps
from nest.digitise.kinds import DARKEST
from nest.digitise.vision import PhotographProblem

SPACING_MM = 3.0
REACHES_MM = (8.0, 5.0)
"""Half the measuring line, in the first and the second round."""

_ACROSS, _ALONG, _ENDS = 41, 5, 12
_NEIGHBOURS, _FAR_NEIGHBOURS = 25, 151
LEAST_CONTRAST = 0.3
"""Of the usual one; where the step is lower the edge is in doubt."""

SOFT, LEAST_SOFT_MM = 2.0, 0.7
"""An edge that is softer than is usual along the hide, by both, is not the leather's."""

SOFTEST, _SURELY_SOFTER_MM = 0.186, 0.3
"""Of the measuring line's length: a slope that fills all of it measures as 0.207, and is never taken for an edge."""

ODD_LEATHER, ODD_TABLE = 0.6, 0.28
"""From what is usual before and behind, in logarithms of light: on sound photographs leather stays below 0.46, and the
table below 0.23."""

FAINT_TABLE, FAINT_MM, _FAINT_NEIGHBOURS = 0.14, 100.0, 17
"""The same of the table over a longer way, from which on it is said: a steel rule on a white table was off by 0.3 over
all its length, a hand on light wood by 0.17. Sound photographs were so over 33 mm at most; grain of a table in a small
picture over 84 mm at 0.12."""

MOST_DOUBT = 0.10
"""Share of the outline that may be in doubt: it is bridged from both sides, and said; more is refused."""

LONGEST_DOUBT_MM = 150.0
LONGEST_ODD_MM = 24.0
THINNING_MM = 0.1

EDGE_BIAS_PIXELS = 0.1
"""Standard deviation of the place of all edges together: the tone curve, a bevel, a shadow along the edge."""

LENS_BEYOND, LENS_HOLDS_MM = 0.002, 250.0
"""Two terms of distortion, fitted to the marks, are trusted this far beyond them; further out the doubt grows by this
share of the way (a judgement, no measurement)."""

DRAWS, _THIN = 2000, 3
"""Outlines drawn to see how sure one is, each by every third point; 200 of them missed the 95 % by up to a tenth."""


TableLight = Callable[[np.ndarray], np.ndarray]
"""Linear light (n, 3) of the empty table where pixels (n, 2) of a photograph with a hide would show it."""


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """A measured ring: points (n, 2) mm, their pixels, the standard deviation of one point, the stretches in doubt.

    soft_mm : standard deviation of the blur across it, as is usual along it.
    doubt, odd, faint : [(length mm, (x, y) of its middle)]: where the edge is in doubt, where leather or table beside
        it has another light than before and behind, and where that of the table is so a little, over a longer way.
    """

    points: np.ndarray
    pixels: np.ndarray
    noise_mm: float
    soft_mm: float
    doubt: tuple[tuple[float, tuple[float, float]], ...]
    odd: tuple[tuple[float, tuple[float, float]], ...]
    faint: tuple[tuple[float, tuple[float, float]], ...] = ()


def measure_ring(
    light: np.ndarray, view: View, ring: np.ndarray, height: float, hole: bool = False, table: TableLight | None = None
) -> Edge:
    """Measure the edge along a ring that is right to some millimetres; `hole`: leather lies outside it."""
    points = _resampled(_smooth(_resampled(ring, SPACING_MM), 1.5), SPACING_MM)
    for reach in REACHES_MM:
        normals = _normals(points)
        offsets, sound, noise, soft, odd, faint = _offsets(
            light, view, points, -normals if hole else normals, height, reach, table
        )
        filled = _bridged(offsets, sound)
        moved = points + (-normals if hole else normals) * filled[:, None]
        points = moved if reach == REACHES_MM[-1] else _resampled(_smooth(moved, 0.8), SPACING_MM)
    return Edge(
        points, view.see(points, height), noise, float(np.median(soft)), _stretches(points, sound),
        _stretches(points, ~odd), tuple(one for one in _stretches(points, ~faint) if one[0] >= FAINT_MM),
    )


def _offsets(light, view: View, points: np.ndarray, outwards: np.ndarray, height: float, reach: float, table):
    """How far outwards the edge lies from each point, if it is sound, the noise of one, how soft each is, and if the
    light is odd there, or that of the table faintly so; mm.
    """
    tangents = np.column_stack((-outwards[:, 1], outwards[:, 0]))
    across = np.linspace(-reach, reach, _ACROSS)
    along = np.linspace(-0.5, 0.5, _ALONG) * SPACING_MM
    places = (
        points[:, None, None]
        + across[:, None, None] * outwards[:, None, None]
        + (along[:, None] * tangents[:, None, None])
    )
    pixels = view.see(places.reshape(-1, 2), height).reshape(places.shape)
    colours = sampled(light, pixels).mean(axis=2)
    bare = None if table is None else table(pixels.reshape(-1, 2)).reshape(*pixels.shape[:-1], 3).mean(axis=2)
    profile = _table_share(colours, bare)
    found = steps(profile, 0.3)
    offsets = (found.at - 0.5) * 2.0 * reach
    sound = (found.contrast > LEAST_CONTRAST) & (np.abs(offsets) < 0.75 * reach)
    near = _running_median(offsets[:, None], 9)[:, 0]
    wild = np.abs(offsets - near)
    noise = float(1.4826 * np.median(wild[sound])) if sound.any() else reach
    # Glare and shadows end softly; leather does not.
    soft = _running_median(found.spread[:, None], 9)[:, 0] * 2.0 * reach
    usual = float(np.median(soft))
    sound &= (wild < max(6.0 * noise, 1.0)) & (soft < most_soft(usual, reach))
    return offsets, sound, noise, soft, *_odd_light(points, colours, bare)


def most_soft(usual_mm: float, reach_mm: float = REACHES_MM[-1]) -> float:
    """How soft an edge may be, mm, where that is usual along the hide; measured to `reach_mm` on both sides."""
    softer = max(SOFT * usual_mm, usual_mm + LEAST_SOFT_MM)
    return max(min(softer, 2.0 * SOFTEST * reach_mm), usual_mm + _SURELY_SOFTER_MM)


def _odd_light(points: np.ndarray, colours: np.ndarray, bare: np.ndarray | None) -> tuple[np.ndarray, np.ndarray]:
    """Whether leather or table beside the edge is lighter or darker than it is before and behind, and whether the
    table is a little so; (n,) bool each.
    """
    odd = np.zeros(len(colours), dtype=bool)
    for ends, most in ((slice(None, _ENDS), ODD_LEATHER), (slice(-_ENDS, None), ODD_TABLE)):
        level = np.log(colours[:, ends].mean(axis=1) / 65535.0 + DARKEST)
        if bare is not None and ends.start is not None:
            level -= np.log(bare[:, ends].mean(axis=1) / 65535.0 + DARKEST)
        usual = _running_median(level, min(_FAR_NEIGHBOURS, len(level) // 3))
        odd |= np.linalg.norm(_running_median(level, 5) - usual, axis=1) > most
    # The table came last. What lies along much of the edge would be usual there, but not over the whole table.
    away = level - _over_the_plane(points, level)
    return odd, np.linalg.norm(_running_median(away, _FAINT_NEIGHBOURS), axis=1) > FAINT_TABLE


def _over_the_plane(points: np.ndarray, values: np.ndarray) -> np.ndarray:
    """A quadratic over the plane through values (n, k) at points, without those that leave it."""
    x, y = ((points - points.mean(axis=0)) / max(float(np.ptp(points)), 1.0)).T
    terms = np.column_stack((np.ones_like(x), x, y, x * x, x * y, y * y))
    keep = np.ones(len(x), dtype=bool)
    for _ in range(5):
        found = terms @ np.linalg.lstsq(terms[keep], values[keep], rcond=None)[0]
        off = np.linalg.norm(values - found, axis=1)
        keep = off <= max(2.5 * float(np.median(off)), 1e-3)
    return found


def _table_share(colours: np.ndarray, bare: np.ndarray | None) -> np.ndarray:
    """How much each place looks like table rather than leather, (n, m); leather comes first in a row.

    colours : (n, m, 3) linear light along n lines; bare : the same of the empty table, if it is not plain.
    """
    inner, outer = colours[:, :_ENDS].mean(axis=1), colours[:, -_ENDS:].mean(axis=1)
    if bare is None:
        apart = _running_median(outer - inner, _NEIGHBOURS)
        size = np.maximum((apart**2).sum(axis=1), 1e-9)
        return (colours * apart[:, None, :]).sum(axis=2) / size[:, None]
    leather = _running_median(inner, _NEIGHBOURS)[:, None]
    gain = _running_median(outer / np.maximum(bare[:, -_ENDS:].mean(axis=1), 1.0), _NEIGHBOURS)[:, None]
    apart = bare * gain - leather
    size = (apart**2).sum(axis=2)
    # Where the table is as the leather is, the share says nothing: it stays small, and the edge in doubt.
    return ((colours - leather) * apart).sum(axis=2) / np.maximum(size, 2.0 * LEAST_CONTRAST**2 * np.median(size))


def _running_median(values: np.ndarray, count: int) -> np.ndarray:
    """Median over `count` neighbours around the ring, (n, k)."""
    half = min(count, len(values) - 1) // 2
    around = np.concatenate((values[-half:], values, values[:half])) if half else values
    windows = np.lib.stride_tricks.sliding_window_view(around, 2 * half + 1, axis=0)
    return np.median(windows, axis=-1)


def _bridged(offsets: np.ndarray, sound: np.ndarray) -> np.ndarray:
    """Offsets with those in doubt interpolated between their sound neighbours around the ring."""
    if not sound.any():
        return np.zeros_like(offsets)
    at = np.arange(len(offsets))
    known = at[sound]
    count = len(offsets)
    return np.interp(at, np.concatenate((known - count, known, known + count)), np.tile(offsets[sound], 3))


def _stretches(points: np.ndarray, sound: np.ndarray) -> tuple[tuple[float, tuple[float, float]], ...]:
    """Runs of three and more points in doubt, around the ring."""
    if sound.all() or not sound.any():
        return () if sound.all() else ((SPACING_MM * len(points), tuple(points[0])),)
    first = int(np.argmax(sound))
    order = np.roll(np.arange(len(points)), -first)
    runs: list[tuple[float, tuple[float, float]]] = []
    run: list[int] = []
    for i in (*order, first):
        if sound[i]:
            if len(run) >= 3:
                x, y = points[run[len(run) // 2]]
                runs.append((SPACING_MM * len(run), (float(x), float(y))))
            run = []
        else:
            run.append(i)
    return tuple(runs)


def refuse_doubt(edge: Edge, name: str, where: Callable[[float, float], str]) -> None:
    """Refuse an outline that is seen too badly to be bridged, or that may be that of a glare, a shadow or a fold."""
    length, (x, y) = max(edge.odd, default=(0.0, (0.0, 0.0)))
    if length > LONGEST_ODD_MM:
        raise PhotographProblem(
            f"{name}: near {where(x, y)}, the light changes over {length:.0f} mm of the edge; look for glare, a "
            "shadow, a fold, or something that lies there."
        )
    if not edge.doubt:
        return
    longest, (x, y) = max(edge.doubt)
    share = fsum(length for length, _ in edge.doubt) / (SPACING_MM * len(edge.points))
    if longest > LONGEST_DOUBT_MM or share > MOST_DOUBT:
        raise PhotographProblem(
            f"{name}: the edge of the leather is not clear over {longest:.0f} mm near {where(x, y)} "
            f"({share:.0%} of it in all); look for glare, a shadow or a fold there."
        )


def _normals(points: np.ndarray) -> np.ndarray:
    """Unit normals that point out of a ring, whichever way it runs."""
    tangent = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    x, y = points.T
    around = np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)
    return np.column_stack((tangent[:, 1], -tangent[:, 0])) * (1.0 if around > 0 else -1.0)


def _resampled(ring: np.ndarray, spacing: float) -> np.ndarray:
    line = shapely.LinearRing(ring)
    count = max(8, round(line.length / spacing))
    return shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(count) * line.length / count))


def _smooth(ring: np.ndarray, sigma: float) -> np.ndarray:
    """Gaussian over the points of a ring, about their mean run: corners lose little."""
    reach = int(np.ceil(3.0 * sigma))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    weights /= weights.sum()
    around = np.concatenate((ring[-reach:], ring, ring[:reach]))
    return np.column_stack([np.convolve(around[:, k], weights, mode="valid") for k in range(2)])


def outline_polygon(outer: Edge, holes: list[Edge], name: str) -> Polygon:
    """The hide as a polygon on the coordinate grid."""
    shape = shapely.Polygon(outer.points, [hole.points for hole in holes])
    if not shape.is_valid:
        parts = shapely.get_parts(shapely.make_valid(shape))
        shape = max((part for part in parts if part.geom_type == "Polygon"), key=shapely.area, default=None)
        if shape is None:
            raise PhotographProblem(
                f"{name}: the outline crosses itself; photograph the hide again, flat and wholly lit."
            )
    shape = shapely.simplify(shape, THINNING_MM)
    return shapely.orient_polygons(shapely.set_precision(shape, COORDINATE_GRID_MM))


@dataclass(frozen=True, slots=True)
class Doubt:
    """How sure an outline is, at 95 %: `within_mm` holds 95 % of its points, `area_mm2` its area."""

    within_mm: float
    area_mm2: float


def doubt_about(edges: list[Edge], moves: np.ndarray, pixel_mm: float, beyond: np.ndarray) -> Doubt:
    """How sure a measured outline is.

    moves : (n, p, 2) mm, from `Scene.doubt_of`: how all points of the edges may move together. What turns or shifts
        the whole outline is no error of it and is taken off.
    beyond : (p,) mm, how far each point lies beyond the marks.
    """
    rng = np.random.default_rng(11)
    base = np.concatenate([edge.points for edge in edges])
    counts = np.cumsum([len(edge.points) for edge in edges])[:-1]
    normal = np.concatenate(
        [_normals(part) * (1.0 if i == 0 else -1.0) for i, part in enumerate(np.split(base, counts))]
    )
    noise = np.concatenate([np.full(len(edge.points), edge.noise_mm) for edge in edges])
    together = np.vstack(
        (
            (moves * normal).sum(axis=2),
            np.full(len(base), EDGE_BIAS_PIXELS * pixel_mm),
            LENS_BEYOND * np.maximum(beyond - LENS_HOLDS_MM, 0.0),
        )
    )
    outwards = _without_rigid(together, base, normal)
    drawn = rng.standard_normal((DRAWS, len(outwards))) @ outwards[:, ::_THIN]
    drawn += noise[::_THIN] * rng.standard_normal(drawn.shape)
    away = np.percentile(np.abs(drawn), 95, axis=1)
    areas = SPACING_MM * together.sum(axis=1)
    return Doubt(float(np.percentile(away, 95)), float(1.96 * np.sqrt((areas**2).sum())))


def _without_rigid(outwards: np.ndarray, base: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """Moves outwards (n, p) less the shift and turn of the outline that explain most of them (least squares)."""
    arms = base - base.mean(axis=0)
    rigid = np.column_stack((normal, arms[:, 0] * normal[:, 1] - arms[:, 1] * normal[:, 0]))
    return outwards - (rigid @ np.linalg.lstsq(rigid, outwards.T, rcond=None)[0]).T


def without_rigid(moves: np.ndarray, base: np.ndarray) -> np.ndarray:
    """Small moves (n, p, 2) of points less the shift and turn that explain most of them."""
    arms = base - base.mean(axis=0)
    rest = moves - moves.mean(axis=1, keepdims=True)
    across = np.column_stack((-arms[:, 1], arms[:, 0]))
    turn = (rest * across).sum(axis=(1, 2)) / (across**2).sum()
    return rest - turn[:, None, None] * across
