"""Strokes of chalk or pen on the leather: closed ones are zones or flaws, an arrow within a zone is its stretch.

A pixel that a stroke covers in part lies between the leather's colour and the stroke's. Light is taken as a share of
what white paper sends back there (the rims of the mark sheets), its cube root as what the eye sees of it
(CIE 1976 lightness), and the leather's own colour as the median of its surroundings.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np
import shapely
from shapely.geometry import Polygon

from nest.digitise.camera import View
from nest.digitise.edges import sampled
from nest.digitise.meanings import Meaning
from nest.digitise.raster import Grid, coarse_pixels, from_coarse, grid_over, mask_of, straightened
from nest.digitise.vision import PhotographProblem, opencv

STEP_MM = 1.0
WIDEST_STROKE_MM = 14.0
EDGE_MM = 4.0
"""Along the hide's edge light of the table mixes in: no stroke is looked for there."""

_BLOCK = 32
"""Side of the squares whose median is the leather's own colour, in pixels."""

LEAST_COVER = 0.35
LEAST_DIFFERENCE = 0.13
"""Between a stroke and the leather, in cube roots of light (0..1)."""

LEAST_COSINE = 0.86
GAPS_MM = (3.0, 7.0, 13.0, 20.0)
"""Gaps that are closed, one after the other; the first is no gap to speak of."""

LEAST_AREA_MM2 = 40.0
SMALLEST_STROKE_MM2 = 45.0
LEAST_ARROW_MM = 30.0
_SLENDER = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Stroked:
    """A closed stroke: what it means, its ground in mm, the stretch if an arrow lies in it, the widest gap closed."""

    meaning: Meaning
    outline: Polygon
    stretch_deg: float | None
    gap_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Open:
    """A stroke that closes nothing: its middle line's ends, mm, and direction in degrees, modulo 180."""

    meaning: Meaning
    middle: np.ndarray
    length_mm: float
    slender: bool
    direction_deg: float


def find_strokes(
    light: np.ndarray, view: View, outline: Polygon, sheets: Sequence[np.ndarray], meanings: Sequence[Meaning],
    height: float, name: str,
) -> tuple[tuple[Stroked, ...], tuple[str, ...]]:
    """Closed strokes on the hide, and sentences about what was closed, left or missing.

    `sheets` are corners of the pages of the marks, (4, 2) mm, whose rims are white.

    Raises
    ------
    PhotographProblem
        If a colour cannot be told from the leather or from another colour.
    """
    if not meanings:
        return (), ()
    x0, y0, x1, y1 = outline.bounds
    grid = grid_over((x0 - 10.0, y0 - 10.0, x1 + 10.0, y1 + 10.0), STEP_MM)
    picture, _ = straightened(light, view, grid, height)
    seen = _lightness(picture, grid, _white(light, view, sheets, grid))
    inner = outline.buffer(-EDGE_MM)
    rings = [ring for part in shapely.get_parts(inner) for ring in (part.exterior, *part.interiors)]
    on_hide = mask_of([np.array(ring.coords) for ring in rings], grid)
    own = _leather(seen, on_hide)
    kinds = _kinds(seen - own, own, on_hide, meanings, name)
    found, left = [], []
    for i, meaning in enumerate(meanings):
        closed, open_ones = _closed(kinds == i, grid, meaning)
        found += closed
        left += open_ones
    return _with_arrows(found, left, outline)


def _white(light: np.ndarray, view: View, sheets: Sequence[np.ndarray], grid: Grid) -> np.ndarray:
    """What white paper sends back at every pixel of the grid, (h, w, 3): a smooth field through the sheets' rims."""
    places, values = [], []
    for corners in sheets:
        right, down = corners[1] - corners[0], corners[3] - corners[0]
        rim = np.array([corners[0] + u * right + v * down for u in (0.06, 0.94) for v in np.linspace(0.08, 0.6, 15)])
        middle = corners[0] + 0.5 * right + 0.35 * down
        found = sampled(light, view.see(rim)) / 65535.0
        places.append(middle)
        values.append(np.percentile(found, 70, axis=0))
    at, logs = np.array(places), np.log(np.maximum(values, 1e-3))
    centre, size = at.mean(axis=0), max(1.0, float(np.ptp(at)))
    coarse = ((grid.points(coarse_pixels(grid)) - centre) / size).astype(np.float32)

    def terms(x, y):
        found = [np.ones_like(x), x, y]
        return [*found, x * x + y * y] if len(at) >= 7 else found

    own = (at - centre) / size
    factors = np.linalg.lstsq(np.stack(terms(own[:, 0], own[:, 1]), axis=1), logs, rcond=None)[0]
    fields = np.exp(np.stack(terms(coarse[:, 0], coarse[:, 1]), axis=1) @ factors.astype(np.float32))
    return from_coarse(fields, grid)


def _lightness(picture: np.ndarray, grid: Grid, white: np.ndarray) -> np.ndarray:
    share = picture.astype(np.float32) / 65535.0 / white
    return np.cbrt(np.clip(share, 0.0, 1.5))


def _leather(seen: np.ndarray, on_hide: np.ndarray) -> np.ndarray:
    """The leather's own colour at every pixel: medians of blocks, smoothly joined."""
    cv2 = opencv()
    height, width = on_hide.shape
    rows, columns = -(-height // _BLOCK), -(-width // _BLOCK)
    padded = np.full((rows * _BLOCK, columns * _BLOCK, 3), np.nan, dtype=np.float32)
    padded[:height, :width][on_hide] = seen[on_hide]
    blocks = padded.reshape(rows, _BLOCK, columns, _BLOCK, 3).transpose(0, 2, 4, 1, 3).reshape(rows, columns, 3, -1)
    full = np.isfinite(blocks[:, :, 0]).sum(axis=2) > 0.2 * _BLOCK**2
    medians = np.zeros((rows, columns, 3), dtype=np.float32)
    medians[full] = np.nanmedian(blocks[full], axis=2)
    weight = full.astype(np.float32)
    # Blocks at the edge take the colour of the nearest full ones; then a look around takes out those full of chalk.
    for _ in range(max(rows, columns)):
        if (weight > 0).all():
            break
        sums, counts = cv2.blur(medians * weight[:, :, None], (3, 3)), cv2.blur(weight, (3, 3))
        empty = (weight == 0) & (counts > 0)
        medians[empty], weight[empty] = sums[empty] / counts[empty][:, None], 1.0
    medians = np.stack([cv2.medianBlur(np.ascontiguousarray(medians[:, :, k]), 3) for k in range(3)], axis=2)
    x, y = np.meshgrid(
        (np.arange(width, dtype=np.float32) + 0.5) / _BLOCK - 0.5,
        (np.arange(height, dtype=np.float32) + 0.5) / _BLOCK - 0.5,
    )
    return cv2.remap(medians, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def _kinds(
    away: np.ndarray, own: np.ndarray, on_hide: np.ndarray, meanings: Sequence[Meaning], name: str
) -> np.ndarray:
    """Which stroke each pixel shows, (h, w) int; -1 for none."""
    cv2 = opencv()
    away = cv2.GaussianBlur(away, (0, 0), 0.8)
    size = np.sqrt(cv2.transform(away * away, np.ones((1, 3), dtype=np.float32)))
    kinds = np.full(size.shape, -1, dtype=np.int16)
    drawn = np.flatnonzero((size > LEAST_DIFFERENCE * 0.6) & on_hide)
    off, size, below = away.reshape(-1, 3)[drawn], size.ravel()[drawn], own.reshape(-1, 3)[drawn]
    best = np.full(len(drawn), LEAST_COSINE, dtype=np.float32)
    usual = np.median(own[on_hide], axis=0)
    aims = [np.cbrt(np.array(one.light[::-1], dtype=np.float32)) for one in meanings]
    _refuse_alike(aims, usual, meanings, name)
    for i, aim in enumerate(aims):
        toward = aim - below
        reach = np.sqrt((toward**2).sum(axis=1))
        along = (off * toward).sum(axis=1)
        cosine = along / np.maximum(size * reach, 1e-6)
        better = (cosine > best) & (along / np.maximum(reach**2, 1e-6) > LEAST_COVER)
        best[better], kinds.ravel()[drawn[better]] = cosine[better], i
    return kinds


def _refuse_alike(aims: list[np.ndarray], leather: np.ndarray, meanings: Sequence[Meaning], name: str) -> None:
    for i, (aim, one) in enumerate(zip(aims, meanings, strict=True)):
        toward = aim - leather
        if np.linalg.norm(toward) < LEAST_DIFFERENCE:
            raise PhotographProblem(f"{name}: {one.colour} can hardly be seen on this leather; draw in another colour.")
        for other, two in zip(aims[:i], meanings, strict=False):
            across = other - leather
            cosine = float(toward @ across / np.linalg.norm(toward) / np.linalg.norm(across))
            if cosine > 0.985 and one.words != two.words:
                raise PhotographProblem(
                    f"{name}: {two.colour} and {one.colour} look alike on this leather; draw one in another colour."
                )


def _closed(mask: np.ndarray, grid: Grid, meaning: Meaning) -> tuple[list[Stroked], list[_Open]]:
    """Closed strokes of one colour, over ever wider gaps, and what stays open."""
    cv2 = opencv()
    rest = mask.astype(np.uint8)
    found: list[Stroked] = []
    for gap in GAPS_MM:
        size = 2 * max(1, round(0.5 * gap / grid.step)) + 1
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
        count, parts, figures, _ = cv2.connectedComponentsWithStats(_joined(rest, disc), connectivity=8)
        for part in range(1, count):
            x, y, w, h, area = figures[part]
            if area * grid.step**2 < SMALLEST_STROKE_MM2:
                continue
            own = parts[y : y + h, x : x + w] == part
            regions = _regions(own, Grid(grid.x + x * grid.step, grid.y - y * grid.step, grid.step, w, h), gap)
            if regions:
                real = 0.0 if gap == GAPS_MM[0] else gap
                found += [Stroked(meaning, region, None, real) for region in regions]
                rest[y : y + h, x : x + w][own] = 0
    size = 2 * max(1, round(0.5 * GAPS_MM[0] / grid.step)) + 1
    joined = cv2.morphologyEx(rest, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8))
    count, parts, figures, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    left = []
    for part in range(1, count):
        if figures[part, cv2.CC_STAT_AREA] * grid.step**2 >= SMALLEST_STROKE_MM2:
            left.append(_open(np.argwhere(parts == part)[:, ::-1], grid, meaning))
    return found, left


def _joined(mask: np.ndarray, disc: np.ndarray) -> np.ndarray:
    """A mask (h, w) of strokes with all gaps closed that are too narrow for the disc, if only by a line a pixel wide.

    Closing alone joins nothing between the ends of a narrow stroke, for the disc enters the gap from both sides. So
    the ground that strokes enclose once they are spread by half a disc is filled first: then the disc can enter from
    outside only.
    """
    cv2 = opencv()
    closed, spread = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, disc), cv2.dilate(mask, disc)
    _, around = cv2.connectedComponents(np.pad(1 - spread, 1, constant_values=1), connectivity=4)
    inside = (spread == 0) & (around[1:-1, 1:-1] != around[0, 0])
    if not inside.any():
        return closed
    _, parts = cv2.connectedComponents(cv2.erode(spread | inside, disc) & (1 - closed), connectivity=4)
    enclosed = np.unique(parts[inside])
    ground = np.isin(parts, enclosed[enclosed > 0])
    return closed | (cv2.dilate(ground.astype(np.uint8), np.ones((3, 3), np.uint8)) & ~ground)


def _regions(own: np.ndarray, grid: Grid, gap: float) -> list[Polygon]:
    """Ground that a stroke encloses, out to the stroke's middle line."""
    cv2 = opencv()
    contours, tree = cv2.findContours(np.pad(own.astype(np.uint8), 1), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    edge = fsum(cv2.arcLength(one, True) for one in contours) * grid.step
    width = min(2.0 * own.sum() * grid.step**2 / max(edge, 1.0), WIDEST_STROKE_MM)
    found = []
    for i, contour in enumerate(contours):
        if tree[0][i][3] < 0 or len(contour) < 4:
            continue
        # The library's contour of a hole runs through the stroke's pixels about it: half a pixel too far out.
        ring = grid.points(contour.reshape(-1, 2).astype(np.float64) - 1.0)
        shape = shapely.make_valid(shapely.Polygon(ring)).buffer(0.5 * width - 0.5 * grid.step)
        inner = shape.buffer(-0.5 * width)
        if inner.area >= max(LEAST_AREA_MM2, 0.9 * gap * gap) and shape.geom_type == "Polygon":
            found.append(shapely.Polygon(shapely.simplify(shape, 0.5).exterior))
    return found


def _open(pixels: np.ndarray, grid: Grid, meaning: Meaning) -> _Open:
    """Middle and direction of an open stroke: the line through most of it, its head and tail left aside."""
    points = grid.points(pixels.astype(np.float64))
    keep = np.ones(len(points), dtype=bool)
    for _ in range(8):
        middle = points[keep].mean(axis=0)
        _, _, axes = np.linalg.svd(points[keep] - middle, full_matrices=False)
        beside = np.abs((points - middle) @ axes[1])
        keep = beside <= max(2.0 * float(np.median(beside[keep])), 1.5 * grid.step)
    along = (points[keep] - middle) @ axes[0]
    length = float(np.ptp(along))
    slender = length > _SLENDER * 2.0 * float(np.median(beside[keep])) and keep.mean() > 0.35
    angle = float(np.degrees(np.arctan2(axes[0][1], axes[0][0]))) % 180.0
    return _Open(meaning, points.mean(axis=0), length, slender, angle)


def _with_arrows(
    found: list[Stroked], left: list[_Open], outline: Polygon
) -> tuple[tuple[Stroked, ...], tuple[str, ...]]:
    """Zones with the arrows that lie in them; everything else that was seen, in words."""
    said, done = [], []
    used: set[int] = set()
    order = sorted(range(len(found)), key=lambda i: found[i].outline.area)
    for i in order:
        one = found[i]
        if one.meaning.zone:
            arrows = [
                k
                for k, stroke in enumerate(left)
                if k not in used
                and stroke.meaning is one.meaning
                and stroke.slender
                and stroke.length_mm >= LEAST_ARROW_MM
                and shapely.contains_xy(one.outline, *stroke.middle)
            ]
            used.update(arrows)
            x, y = one.outline.centroid.coords[0]
            if len(arrows) > 1:
                said.append(
                    f"{len(arrows)} arrows lie in the {one.meaning.colour} zone near ({x:.0f}, {y:.0f}) mm; the "
                    "longest was taken"
                )
            if arrows:
                longest = max(arrows, key=lambda k: left[k].length_mm)
                one = Stroked(one.meaning, one.outline, left[longest].direction_deg, one.gap_mm)
        x, y = one.outline.centroid.coords[0]
        if one.gap_mm:
            said.append(
                f"the {one.meaning.colour} stroke about ({x:.0f}, {y:.0f}) mm was closed over a gap of up to "
                f"{one.gap_mm:.0f} mm"
            )
        inside = shapely.intersection(one.outline, shapely.Polygon(outline.exterior))
        parts = [part for part in shapely.get_parts(inside) if part.geom_type == "Polygon"]
        if parts:
            done.append(Stroked(one.meaning, max(parts, key=shapely.area), one.stretch_deg, one.gap_mm))
    for k, stroke in enumerate(left):
        if k not in used:
            x, y = stroke.middle
            said.append(
                f"a {stroke.meaning.colour} stroke of {stroke.length_mm:.0f} mm near ({x:.0f}, {y:.0f}) mm closes "
                "nothing and was left"
            )
    return tuple(done), tuple(said)
