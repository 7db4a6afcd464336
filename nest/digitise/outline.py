"""Which part of the table is leather: two kinds of ground, told apart by their colour under uneven light.

`nest.digitise.kinds` compares colours; here the largest stretch of leather is taken, and refused where its edge is not
seen beyond doubt.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from nest.digitise.kinds import Kinds, changed_kinds, plain_kinds
from nest.digitise.raster import Grid, mask_of
from nest.digitise.vision import PhotographProblem, opencv

STEP_MM = 2.0
"""Step of the grid on which leather is first separated from the table; its edge is then measured in the photograph."""

REACHES_MM = (250.0, 700.0)
"""The hide may reach this far beyond the marks' hull: it is looked for within the first, for further out there is more
that is neither leather nor table; and within the second if it goes on there."""

LEAST_HIDE_MM2 = 2.0e4
LEAST_SEPARATION = 8.0
"""Difference of the two kinds over their common spread; below it they are not safely told apart: at 5 to 7 grain of the
table was taken for leather along the edge. Sound photographs have 20 and more."""

LEAST_HOLE_MM = 20.0
"""A hole is at least this wide; smaller ones are flaws to be drawn in chalk, and no stroke of chalk is so wide."""

OTHER_SHARE = 0.01
"""Something else on the table is said from this share of the hide's area on."""

STRANGE = 0.35
"""Distance from both kinds, in logarithms of light, from which on ground is neither."""

LIKE_TABLE = 0.35
"""In the same logarithms, from the table's own: a gap in the leather within it is a hole."""

STRANGE_MM2 = 400.0
STRANGE_NEAR_MM = 30.0
"""How far from the edge it counts, to both sides: a soft glare has a rim of the table's colour, and a hard shadow may
make the table look like leather, but not the leather that it lies on too."""


Where = Callable[[float, float], str]
"""A place (x, y) in words: its mm, and the mark that lies nearest."""


class BeyondMarks(PhotographProblem):
    """Leather that goes on where it was not looked for, within the picture."""


@dataclass(frozen=True, slots=True, eq=False)
class LeatherOnGrid:
    """Leather and table on the grid.

    leather : (h, w) bool, the hide without its holes.
    colour : (h, w, 3) logarithm of light, less the table's.
    separation : how far the two kinds lie apart, in their common spread.
    said : sentences about what else was seen.
    """

    grid: Grid
    leather: np.ndarray
    colour: np.ndarray
    separation: float
    said: tuple[str, ...]


def find_leather(
    light: np.ndarray, shown: np.ndarray, grid: Grid, sheets: list[np.ndarray], reach: Polygon, name: str, *,
    where: Where, empty: np.ndarray | None = None,
) -> LeatherOnGrid:
    """Tell leather from table.

    Parameters
    ----------
    light : (h, w, 3) uint16
        The straightened photograph in linear light.
    shown : (h, w) bool
        Where the photograph shows the plane.
    sheets : list of (4, 2) arrays
        Corners of the mark sheets, mm.
    reach : Polygon
        Where leather is looked for.
    empty : (h, w, 3) uint16, optional
        The same table without a hide.

    Raises
    ------
    PhotographProblem
        If there is no leather, it cannot be told from the table, or it leaves the picture.
    BeyondMarks
        If it leaves `reach`, but not the picture.
    """
    cv2 = opencv()
    within = mask_of([np.array(reach.exterior.coords)], grid)
    paper = mask_of(sheets, grid)
    near_paper = cv2.dilate(paper.astype(np.uint8), _disc(12.0)) > 0
    ground = within & shown & ~near_paper
    beside = (cv2.dilate(near_paper.astype(np.uint8), _disc(50.0)) > 0) & ground
    kinds = plain_kinds(light, ground, beside) if empty is None else changed_kinds(light, empty, ground, beside)
    leather = kinds.leather & ground
    leather = cv2.morphologyEx(leather.astype(np.uint8), cv2.MORPH_OPEN, _disc(3.0))
    count, parts, figures, _ = cv2.connectedComponentsWithStats(leather, connectivity=4)
    if count < 2:
        raise PhotographProblem(f"{name}: no leather is seen on the table; see that the hide lies between the marks.")
    areas = figures[1:, cv2.CC_STAT_AREA] * grid.step**2
    largest = int(np.argmax(areas))
    # Within a closed stroke of chalk leather is a part of its own.
    hide = _filled(parts == largest + 1) & (leather > 0)
    if areas[largest] < LEAST_HIDE_MM2 or kinds.separation < LEAST_SEPARATION:
        raise PhotographProblem(
            f"{name}: the leather can hardly be told from the table; lay it on a table of another colour, or give a "
            "photograph of the empty table (--background)."
        )
    _refuse_cut_off(hide, shown, within, near_paper, grid, name, where)
    beside = np.unique(parts[(parts > 0) & ~hide])
    _refuse_strange(hide, kinds, ground, grid, name, where)
    others = sorted(areas[beside - 1] / areas[largest], reverse=True)
    said = []
    if others and others[0] > OTHER_SHARE:
        said.append(
            f"something else of {others[0] * areas[largest] / 1e4:.1f} dm² lies beside the hide and was left out"
        )
    return LeatherOnGrid(grid, hide, kinds.colour, kinds.separation, tuple(said))


def _disc(radius_mm: float) -> np.ndarray:
    cv2 = opencv()
    size = 2 * max(1, round(radius_mm / STEP_MM)) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))


def _refuse_cut_off(
    hide: np.ndarray, shown: np.ndarray, within: np.ndarray, paper: np.ndarray, grid: Grid, name: str, where: Where
) -> None:
    """Leather that touches what is not seen, or a mark sheet, has no edge there."""
    cv2 = opencv()
    for seen, problem, words in (
        (shown, PhotographProblem, "leaves the picture"),
        (within & shown, BeyondMarks, "reaches too far beyond the marks"),
    ):
        inner = cv2.erode(seen.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0) > 0
        touching = hide & ~inner
        if touching.sum() > 2:
            x, y = _middle(touching, grid)
            raise problem(
                f"{name}: the leather, or something on it, {words} near {where(x, y)}; show the whole hide "
                "between the marks, hands away."
            )
    near = cv2.dilate(paper.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    if (hide & near).sum() > 20:
        x, y = _middle(hide & near, grid)
        raise PhotographProblem(f"{name}: a mark sheet touches the hide near {where(x, y)}; lay it apart.")


def _refuse_strange(hide: np.ndarray, kinds: Kinds, ground: np.ndarray, grid: Grid, name: str, where: Where) -> None:
    """Refuse what is neither leather nor table along the hide's edge: a hand, glare, a hard shadow hide the edge."""
    cv2 = opencv()
    table = ground & ~cv2.dilate(hide.astype(np.uint8), _disc(20.0)).astype(bool)
    strange = ground.copy()
    for kind, off in ((hide, kinds.off_leather(hide)), (table, kinds.off_table(table))):
        strange &= off > max(STRANGE, 4.0 * float(np.median(off[kind])))
    # Narrower than this are strokes, and the edge itself, where light of both mixes.
    wide = cv2.morphologyEx(strange.astype(np.uint8), cv2.MORPH_OPEN, _disc(0.5 * LEAST_HOLE_MM)) > 0
    whole = _filled(hide).astype(np.uint8)
    beside = cv2.dilate(whole, _disc(STRANGE_NEAR_MM)) > cv2.erode(whole, _disc(STRANGE_NEAR_MM))
    meets = wide & beside
    if meets.sum() * grid.step**2 > STRANGE_MM2:
        x, y = _middle(meets, grid)
        raise PhotographProblem(
            f"{name}: near {where(x, y)}, something hides the edge that is neither leather nor table (a hand, "
            "glare, a hard shadow); take it away and photograph again."
        )


def _middle(mask: np.ndarray, grid: Grid) -> np.ndarray:
    rows, columns = np.nonzero(mask)
    return grid.points(np.array(((float(np.median(columns)), float(np.median(rows))),)))[0]


def rings_of_mask(mask: np.ndarray, grid: Grid, least_hole_mm: float) -> tuple[np.ndarray, list[np.ndarray]]:
    """The largest outline of a mask and the holes in it that a disc of this diameter fits in; rings, mm.

    What is narrower is a stroke of a colour like the table's, or a flaw.
    """
    cv2 = opencv()
    outer = max(_contours(mask), key=cv2.contourArea)
    missing = _filled(mask) & ~mask
    size = round(least_hole_mm / grid.step) | 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    wide = cv2.morphologyEx(missing.astype(np.uint8), cv2.MORPH_OPEN, disc)
    holes = [grid.points(ring.reshape(-1, 2) - 1.0) for ring in _contours(wide > 0) if _is_disc(ring, wide)]
    return grid.points(outer.reshape(-1, 2) - 1.0), holes


def _is_disc(contour: np.ndarray, wide: np.ndarray) -> bool:
    """Whether what a contour encloses is missing too: else it is a stroke around sound leather."""
    cv2 = opencv()
    inside = np.zeros((wide.shape[0] + 2, wide.shape[1] + 2), dtype=np.uint8)
    cv2.drawContours(inside, [contour], -1, 1, cv2.FILLED)
    inside = inside[1:-1, 1:-1] > 0
    return len(contour) >= 4 and bool(wide[inside].mean() > 0.6)


def _filled(mask: np.ndarray) -> np.ndarray:
    """The largest outline of a mask with all that lies within it."""
    cv2 = opencv()
    filled = np.zeros((mask.shape[0] + 2, mask.shape[1] + 2), dtype=np.uint8)
    cv2.drawContours(filled, [max(_contours(mask), key=cv2.contourArea)], -1, 1, cv2.FILLED)
    return filled[1:-1, 1:-1] > 0


def is_table(ground: LeatherOnGrid, ring: np.ndarray) -> bool:
    """Whether a gap in the leather shows the table: chalk and glare leave the leather's colour too, but not for its."""
    inside = mask_of([ring], ground.grid)
    if not inside.any():
        return False
    away = np.linalg.norm(ground.colour[ground.leather][::20], axis=1)
    return bool(np.linalg.norm(np.median(ground.colour[inside], axis=0)) < min(LIKE_TABLE, 0.35 * np.median(away)))


def _contours(mask: np.ndarray):
    """Outer contours of a mask with one pixel of rim, so that they close at the grid's edge."""
    cv2 = opencv()
    found, _ = cv2.findContours(np.pad(mask.astype(np.uint8), 1), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return found


def sheet_corners(places: np.ndarray, turns: np.ndarray, side_mm: float) -> list[np.ndarray]:
    """Corners of the A4 pages that the marks are printed on, (4, 2) mm each."""
    rim = np.array(((-105.0, 110.0), (105.0, 110.0), (105.0, -187.0), (-105.0, -187.0)))
    found = []
    for (x, y), angle in zip(places, turns, strict=True):
        cos, sin = np.cos(angle), np.sin(angle)
        found.append(rim @ np.array(((cos, sin), (-sin, cos))) + (x, y))
    return found
