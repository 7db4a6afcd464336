"""A drawing laid over a photograph of its hide: so that a table's files can be checked against the leather."""

from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

from nest.digitise.checkpicture import EDGE, MARK, OTHER, ROOM_MM, Canvas, straight_picture, write_picture
from nest.digitise.hide import find_hide
from nest.digitise.picture import read_photograph
from nest.digitise.shop import Asked, scene_of
from nest.digitise.vision import opencv
from nest.errors import PlanProblem
from nest.job.drawing import Drawing
from nest.job.dxf import read_drawing
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.geojson import GEOJSON_SUFFIXES, read_geojson
from nest.job.schema import LayersSection
from nest.units import MM_PER_LENGTH_UNIT

_SPACING_MM = 5.0
_ROUNDS = 40
_TURNS = 8
"""The drawing is tried at this many turns before the best is gone on with."""

MIRRORED_FROM_MM = 5.0
"""From here on the mirror image is tried too: files for a hide that lies grain down are mirrored."""

BELIEVABLE_MM = 40.0
"""Outlines further apart than this on the mean are of another hide, scale or side."""


def lay_over(
    drawing: Path, photograph: Path, out: Path, *, table: Path | None, distances, mark_mm: float, thickness_mm: float,
    as_it_lies: bool, unit: str | None,
) -> tuple[dict, list[str]]:
    """Write the picture; return figures and sentences.

    Raises
    ------
    VampYieldError
        If drawing or photograph cannot be used, or the drawing's largest outline is not that of the hide.
    """
    opencv()
    if unit is not None and unit not in MM_PER_LENGTH_UNIT:
        raise PlanProblem(f"--unit: expected one of {', '.join(MM_PER_LENGTH_UNIT)}, found {unit!r}.")
    found = _read(drawing, unit)
    picture = read_photograph(photograph)
    scene = scene_of(picture, Asked(mark_mm, tuple(distances), table))
    seen = find_hide(picture, scene, thickness_mm)
    largest = _largest(found, drawing.name)
    turn, shift, mirrored = (np.eye(2), np.zeros(2), False) if as_it_lies else laid(largest, seen.outline)

    def moved(points: np.ndarray) -> np.ndarray:
        return points @ turn.T + shift

    away = _apart(moved(largest), seen.outline)
    if away.mean() > BELIEVABLE_MM:
        raise PlanProblem(
            f"{drawing.name}: its largest outline lies {away.mean():.0f} mm from the hide in {photograph.name} on the "
            "mean; it is another hide, or another unit."
        )
    x0, y0, x1, y1 = shapely.union(seen.outline, shapely.Polygon(moved(largest)).buffer(0)).bounds
    straight, grid = straight_picture(
        picture, seen.view, (x0 - ROOM_MM, y0 - ROOM_MM, x1 + ROOM_MM, y1 + ROOM_MM), thickness_mm
    )
    canvas = Canvas(straight, grid)
    canvas.line(seen.outline.exterior.coords[:-1], MARK, width=1)
    for path in found.paths:
        canvas.line(moved(path.points), EDGE if path.points is largest else OTHER, path.closed)
    turned = float(np.degrees(np.arctan2(turn[0, 1] * (1.0 if mirrored else -1.0), turn[1, 1])))
    figures = {
        "turned_deg": round(turned, 3),
        "mirrored": mirrored,
        "moved_mm": [round(float(one), 2) for one in shift],
        "mean_mm": round(float(away.mean()), 2),
        "within_mm_95": round(float(np.percentile(away, 95)), 2),
        "most_mm": round(float(away.max()), 2),
        "outline_within_mm": round(seen.doubt.within_mm, 2),
        "said": list(seen.said),
    }
    canvas.rulers()
    canvas.text(
        f"{drawing.name} over {photograph.name}: mean {away.mean():.1f} mm, most {away.max():.1f} mm",
        (x0 + 40.0, y0 + 10.0), EDGE, 0.8,
    )
    write_picture(canvas.picture, out if out.suffix.casefold() in (".png", ".jpg") else out.with_suffix(".png"))
    said = [
        f"Outlines lie {figures['mean_mm']:g} mm apart on the mean, 95 % within {figures['within_mm_95']:g} mm, "
        f"{figures['most_mm']:g} mm at most; the photograph itself is right within {figures['outline_within_mm']:g} mm."
    ]
    if not as_it_lies:
        said.append(f"To lie on the hide the drawing was turned by {turned:.2f}° and moved.")
    if mirrored:
        said.append("The drawing is mirrored: it is for a hide that lies grain down.")
    return figures, [*said, *(f"Note: {one}." for one in seen.said)]


def _largest(drawing: Drawing, name: str) -> np.ndarray:
    """The closed path of the drawing that encloses most."""
    outlines = [path.points for path in drawing.paths if path.closed and len(path.points) > 2]
    if not outlines:
        raise PlanProblem(
            f"{name}: expected a closed outline of the hide, found none; draw it, or lay the file that holds it."
        )
    return max(outlines, key=lambda ring: shapely.Polygon(ring).area)


def _read(path: Path, unit: str | None) -> Drawing:
    findings = Findings()
    source = Source(path, path.name)
    if path.suffix.casefold() in GEOJSON_SUFFIXES:
        found = read_geojson(source, LayersSection(), unit, findings)
    else:
        found = read_drawing(source, unit, findings)
    if found is None:
        raise findings.error()
    return found


def laid(ring: np.ndarray, outline: Polygon) -> tuple[np.ndarray, np.ndarray, bool]:
    """Matrix (2, 2) and shift (2,) that lay a ring on an outline, and whether the ring is mirrored for it."""
    turn, shift = fit(ring, outline)
    away = _apart(ring @ turn.T + shift, outline).mean()
    if away > MIRRORED_FROM_MM:
        flip = np.diag((-1.0, 1.0))
        other, moved = fit(ring @ flip, outline)
        if _apart(ring @ flip @ other.T + moved, outline).mean() < away / 3.0:
            return other @ flip, moved, True
    return turn, shift, False


def fit(ring: np.ndarray, outline: Polygon) -> tuple[np.ndarray, np.ndarray]:
    """Turn (2, 2) and shift (2,) that lay a ring on an outline: closest points, from several turns.

    References
    ----------
    P. J. Besl, N. D. McKay (1992), A method for registration of 3-D shapes, doi:10.1109/34.121791.
    """
    line = shapely.LinearRing(ring)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(0.0, line.length, _SPACING_MM)))
    edge = outline.exterior
    middle = np.array(outline.centroid.coords[0])
    inner = np.array(shapely.Polygon(ring).centroid.coords[0])
    starts = [_turn(2.0 * np.pi * start / _TURNS) for start in range(_TURNS)]
    coarse = [_closer(points[::6], turn, middle - turn @ inner, edge, _ROUNDS // 3) for turn in starts]
    misses = [_apart(points[::6] @ turn.T + shift, outline).mean() for turn, shift in coarse]
    return _closer(points, *coarse[int(np.argmin(misses))], edge, _ROUNDS)


def _closer(
    points: np.ndarray, turn: np.ndarray, shift: np.ndarray, edge, rounds: int
) -> tuple[np.ndarray, np.ndarray]:
    """Turn and shift after some rounds of laying points on their nearest places of the edge."""
    for _ in range(rounds):
        laid = points @ turn.T + shift
        near = shapely.get_coordinates(
            shapely.line_interpolate_point(edge, shapely.line_locate_point(edge, shapely.points(laid)))
        )
        a, b = points - points.mean(axis=0), near - near.mean(axis=0)
        turn = _turn(np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum()))
        shift = near.mean(axis=0) - turn @ points.mean(axis=0)
    return turn, shift


def _turn(angle: float) -> np.ndarray:
    return np.array(((np.cos(angle), -np.sin(angle)), (np.sin(angle), np.cos(angle))))


def _apart(points: np.ndarray, outline: Polygon) -> np.ndarray:
    return shapely.distance(shapely.points(points), outline.exterior)
