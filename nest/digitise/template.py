"""A card template from a scan, or from a photograph with marks: outline, axis, parts, ready to run."""

from pathlib import Path

import numpy as np
import shapely

from geometry.pose import rotate
from nest.atomic import atomic_path
from nest.digitise.card import Card, find_card
from nest.digitise.checkpicture import EDGE, FLAW, OTHER, ZONE, Canvas, write_picture
from nest.digitise.curvefit import even, fitted, fitted_half, outline_of
from nest.digitise.picture import read_photograph, to_srgb
from nest.digitise.raster import Grid, grid_over, straightened
from nest.digitise.scene import solve_scene
from nest.digitise.templatedraw import Shape, template_document
from nest.digitise.vision import PhotographProblem
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.schema import LayersSection
from nest.job.template import BELIEVABLE_MM, read_template

SYMMETRIC_MM = 0.5
"""Halves that differ by no more are made the same; the most that a hand cuts off a folded card."""

TOES = {"right": 0.0, "up": 90.0, "left": 180.0, "down": 270.0}
PHOTO_STEP_MM = 0.15
TOE_DEG, BACK_DEG = 45.0, 135.0
"""The toe ends where the outline's outward normal leaves the axis by the first, the back begins at the second."""


def digitise_template(
    scan: Path, out: Path, picture: Path, dpi: float | None, toe: str | None, side_mm: float, distances
) -> tuple[dict, list[str]]:
    """Write drawing and check picture; return figures and sentences.

    Raises
    ------
    PhotographProblem
        If the card, or its axis, is not found, or the drawing could not be used in a job.
    """
    if toe is not None and toe not in TOES:
        raise PhotographProblem(f"--toe: expected one of {', '.join(TOES)}, found {toe!r}.")
    photograph = read_photograph(scan)
    if dpi is not None:
        step = 25.4 / dpi
        height, width = photograph.pixels.shape[:2]
        light, grid, hidden = photograph.light, Grid(0.0, height * step, step, width, height), None
        of_marks: tuple[str, ...] = ()
    else:
        light, grid, hidden, of_marks = _square_on(photograph, side_mm, distances)
    card = find_card(light, grid, hidden, photograph.name)
    ring = even(card.ring)
    size = np.ptp(ring, axis=0)
    if not all(BELIEVABLE_MM[0] <= one <= BELIEVABLE_MM[1] for one in size):
        raise PhotographProblem(
            f"{photograph.name}: the card measures {size[0]:.0f} × {size[1]:.0f} mm; expected a template of "
            f"{BELIEVABLE_MM[0]:g} to {BELIEVABLE_MM[1]:g} mm. Give the scan's own --dpi."
        )
    heel, angle, guessed = _axis(card, ring, toe)
    shape = shape_of(rotate(ring - heel, -angle))
    document = template_document(shape)
    findings = Findings()
    with atomic_path(out) as part:
        document.saveas(part)
        if read_template(Source(part, out.name), LayersSection(), "template", "1", None, findings) is None:
            raise PhotographProblem(f"{photograph.name}: the template cannot be used: {findings.problems[0]}")
    _picture(light, grid, shape, heel, angle, picture)
    outline = shapely.Polygon(outline_of(shape.curves))
    x0, y0, x1, y1 = outline.bounds
    figures = {
        "drawing": str(out),
        "length_mm": round(x1 - x0, 2),
        "width_mm": round(y1 - y0, 2),
        "area_mm2": round(outline.area, 1),
        "axis": card.axis_by,
        "axis_deg_in_picture": round(angle % 360.0, 2),
        "symmetric": shape.symmetric,
        "halves_differ_mm": round(shape.halves_differ_mm, 2),
        "curves": {kind: sum(one.kind == kind for one in shape.curves) for kind in ("line", "arc", "spline")},
    }
    return figures, [*_told(figures, guessed), *(f"Note: {one}." for one in of_marks)]


def _told(figures: dict, guessed: bool) -> list[str]:
    kinds = ", ".join(f"{count} {kind}{'s' * (count != 1)}" for kind, count in figures["curves"].items() if count)
    said = [
        f"Template {figures['length_mm']:.1f} × {figures['width_mm']:.1f} mm, {figures['area_mm2'] / 100.0:.1f} cm²; "
        f"{kinds}; axis by {figures['axis']}.",
        f"Its halves differ by up to {figures['halves_differ_mm']:g} mm: "
        + ("they were made exactly the same." if figures["symmetric"] else "left and right are kept as they are."),
        "Toe, side and back are proposed by the angle of the outline: look them over in the check picture, and move "
        "the points on layer PARTS where the pattern maker wants them.",
    ]
    if guessed:
        said.append(
            "The toe was taken to be the end without hollows; if that is wrong, say where it points with --toe."
        )
    return said


def _square_on(photograph, side_mm: float, distances):
    """A photograph with marks, straightened; the pages of the marks are hidden; what was said of marks."""
    from nest.digitise.hide import pages_of

    scene = solve_scene([photograph], side_mm, distances)
    hull = shapely.convex_hull(shapely.MultiPoint(scene.places()))
    x0, y0, x1, y1 = hull.bounds
    grid = grid_over(hull.bounds, max(PHOTO_STEP_MM, max(x1 - x0, y1 - y0) / 7000.0))
    light, shown = straightened(photograph.light, scene.view(), grid)
    from nest.digitise.raster import mask_of

    hidden = ~shown | ~mask_of([np.array(hull.exterior.coords)], grid)
    for page in pages_of(scene):
        hidden |= mask_of([page.mean(axis=0) + (page - page.mean(axis=0)) * 1.06], grid)
    return light, grid, hidden, scene.said


def _axis(card: Card, ring: np.ndarray, toe: str | None) -> tuple[np.ndarray, float, bool]:
    """Heel end of the axis, its angle in the picture's plane, and whether the toe's end was guessed."""
    away = card.axis[1] - card.axis[0]
    angle = float(np.degrees(np.arctan2(away[1], away[0])))
    if toe is not None:
        if abs((angle - TOES[toe] + 180.0) % 360.0 - 180.0) > 90.0:
            angle += 180.0
    elif _hollow(rotate(ring - card.axis[0], -angle)) > 0.0:
        angle += 180.0
    local = rotate(ring - card.axis[0], -angle)
    line = shapely.LineString(((local[:, 0].min() - 10.0, 0.0), (local[:, 0].max() + 10.0, 0.0)))
    crossed = shapely.get_coordinates(shapely.intersection(line, shapely.Polygon(local)))
    if len(crossed) < 2:
        raise PhotographProblem("The axis does not cross the template; draw it from the heel to the toe.")
    heel = card.axis[0] + rotate(np.array(((crossed[:, 0].min() - 15.0, 0.0),)), angle)[0]
    return heel, angle, toe is None


def _hollow(local: np.ndarray) -> float:
    """Above 0 where the outline is hollower towards +x than towards -x: then the back lies there."""
    shape = shapely.Polygon(local)
    rest = shapely.difference(shapely.convex_hull(shape), shape)
    x0, y0, x1, y1 = shape.bounds
    middle = 0.5 * (x0 + x1)
    ahead = shapely.intersection(rest, shapely.box(middle, y0, x1, y1)).area
    return ahead - (rest.area - ahead)


def shape_of(local: np.ndarray) -> Shape:
    """Curves and parts of an evenly spaced ring in the template's frame."""
    ring = local if _signed(local) > 0 else local[::-1]
    toe, heel = _crossing(ring, ahead=True), _crossing(ring, ahead=False)
    upper, lower = _run(ring, toe, heel), _run(ring, heel, toe)
    other = lower[::-1] * (1.0, -1.0)
    differ = max(_furthest(upper, other), _furthest(other, upper))
    symmetric = differ <= SYMMETRIC_MM
    if symmetric:
        half = _even_line(_averaged(upper, other))
        above = fitted_half(half)
        curves = (*above, *(one.mirrored() for one in reversed(above)))
    else:
        curves = tuple(fitted(even(ring)))
    outline = outline_of(curves)
    # The ring runs counter-clockwise: from the toe over the upper side.
    whole = even(outline, 0.5)
    toe, heel = _crossing(whole, ahead=True), _crossing(whole, ahead=False)
    top, bottom = _run(whole, toe, heel), _run(whole, heel, toe)[::-1] * (1.0, -1.0)
    a, b = _limits(top)
    c, d = (a * (1.0, -1.0), b * (1.0, -1.0)) if symmetric else (one * (1.0, -1.0) for one in _limits(bottom))
    return Shape(curves, float(outline[:, 0].max()) + 15.0, np.array((a, b, d, c)), symmetric, differ)


def _signed(ring: np.ndarray) -> float:
    x, y = ring.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y))


def _crossing(ring: np.ndarray, ahead: bool) -> tuple[int, np.ndarray]:
    """Where the ring crosses the axis furthest ahead or back: the edge's index and the place."""
    following = np.roll(ring, -1, axis=0)
    edges = np.flatnonzero((ring[:, 1] <= 0.0) != (following[:, 1] <= 0.0))
    share = ring[edges, 1] / (ring[edges, 1] - following[edges, 1])
    x = ring[edges, 0] + share * (following[edges, 0] - ring[edges, 0])
    i = int(np.argmax(x) if ahead else np.argmin(x))
    return int(edges[i]), np.array((x[i], 0.0))


def _run(ring: np.ndarray, start: tuple[int, np.ndarray], end: tuple[int, np.ndarray]) -> np.ndarray:
    """Points of the ring from one crossing to another, the crossings included."""
    count = (end[0] - start[0]) % len(ring)
    inner = ring[[(start[0] + 1 + k) % len(ring) for k in range(count)]]
    return np.concatenate((start[1][None], inner, end[1][None]))


def _furthest(line: np.ndarray, other: np.ndarray) -> float:
    return float(shapely.distance(shapely.points(line), shapely.LineString(other)).max())


def _averaged(line: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Halfway from each point to the nearest place of the other line; the ends on the axis."""
    edge = shapely.LineString(other)
    near = shapely.get_coordinates(
        shapely.line_interpolate_point(edge, shapely.line_locate_point(edge, shapely.points(line)))
    )
    half = 0.5 * (line + near)
    half[[0, -1]] = 0.5 * (line[[0, -1]] + other[[0, -1]])
    half[[0, -1], 1] = 0.0
    return half[np.append(True, np.hypot(*np.diff(half, axis=0).T) > 1e-6)]


def _even_line(points: np.ndarray) -> np.ndarray:
    from nest.digitise.curvefit import SPACING_MM

    line = shapely.LineString(points)
    count = max(16, round(line.length / SPACING_MM))
    found = shapely.get_coordinates(shapely.line_interpolate_point(line, np.linspace(0.0, line.length, count + 1)))
    found[[0, -1]] = points[[0, -1]]
    return found


def _limits(upper: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where toe passes into side and side into back, on the upper half from toe to heel."""
    # Over some millimetres, so that the measure is of the outline, not of its grain.
    reach = 6
    tangent = upper[2 * reach :] - upper[: -2 * reach]
    middle = upper[reach:-reach]
    normal = np.degrees(np.arctan2(-tangent[:, 0], tangent[:, 1])) % 360.0
    normal = np.where(normal > 270.0, normal - 360.0, normal)
    first = _first(normal > TOE_DEG, 0, len(middle) // 4)
    second = _first(normal > BACK_DEG, first + 1, (first + len(middle)) // 2)
    return middle[first], middle[min(second, len(middle) - 1)]


def _first(where: np.ndarray, start: int, otherwise: int) -> int:
    found = np.flatnonzero(where[start:])
    return start + int(found[0]) if len(found) else otherwise


def _picture(light: np.ndarray, grid: Grid, shape: Shape, heel: np.ndarray, angle: float, path: Path) -> None:
    share = max(1, round(max(grid.width, grid.height) / 2400))
    picture = to_srgb(light[::share, ::share].astype(np.float32) / 65535.0)
    small = Grid(grid.x, grid.y, grid.step * share, picture.shape[1], picture.shape[0])
    canvas = Canvas(picture, small)

    def placed(points) -> np.ndarray:
        return rotate(np.asarray(points), angle) + heel

    canvas.line(placed(outline_of(shape.curves)), EDGE)
    canvas.line(placed(((0.0, 0.0), (shape.length, 0.0))), ZONE, closed=False)
    canvas.text("toe", placed(((shape.length, 0.0),))[0], ZONE, 0.8)
    for point in placed(shape.limits):
        canvas.line(point + 1.5 * np.array(((-1, -1), (1, -1), (1, 1), (-1, 1))), OTHER, width=3)
    canvas.text("red: outline   blue: parts meet", placed(((0.0, 0.0),))[0] + (0.0, -12.0), FLAW, 0.6)
    write_picture(canvas.picture, path)
