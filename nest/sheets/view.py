"""A picture on a page: from the table's mm to the page's points, and what pictures of hides and lays share."""

from dataclasses import dataclass
from math import fsum

import numpy as np
import shapely

from nest.report import palette
from nest.sheets.page import INK, LEAST_SIZE, PITCH, Box, Page, width
from nest.sheets.spots import Spots

_PALER = 0.45
"""Fills of pieces are the colours of the page of the run, mixed with as much white: black figures stay legible."""

_BLANK = 0.08
"""Letters leave this share of a line blank above and below."""

_NUMBER_SIZES = (14.0, 12.0, 10.5, 9.0, 8.0, LEAST_SIZE)


@dataclass(frozen=True, slots=True)
class View:
    """`scale` points a mm; (`x`, `y`) is where the table's (0, 0) would stand on the page."""

    scale: float
    x: float
    y: float

    def of(self, points) -> np.ndarray:
        """Points (n, 2) of the table on the page."""
        points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        return np.column_stack((self.x + self.scale * points[:, 0], self.y - self.scale * points[:, 1]))

    def region(self, region):
        """A shapely geometry of the table on the page."""
        return shapely.transform(region, self.of)

    def rings(self, region) -> list[np.ndarray]:
        """All rings of a region of the table on the page."""
        return [self.of(shapely.get_coordinates(ring)) for ring in shapely.get_rings(region)]


def fitted(bounds, frame: Box) -> View:
    """The view that shows these bounds (mm) as large as the frame allows, in its middle."""
    x0, y0, x1, y1 = bounds
    scale = min((frame.x1 - frame.x0) / (x1 - x0), (frame.y1 - frame.y0) / (y1 - y0))
    return View(
        scale, 0.5 * (frame.x0 + frame.x1) - scale * 0.5 * (x0 + x1),
        0.5 * (frame.y0 + frame.y1) + scale * 0.5 * (y0 + y1),
    )


def pale(colour: str) -> str:
    """A colour mixed with white."""
    parts = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return "#" + "".join(f"{round(part + _PALER * (255 - part)):02x}" for part in parts)


def fills(sizes) -> dict[str, str]:
    """Fill of each size, the same as on the page of the run but paler."""
    return {size: pale(fill) for size, (fill, _) in palette.by_size(sizes).items()}


def draw_piece(page: Page, view: View, cut, net, fill: str) -> None:
    """One piece: cut outline and net outline."""
    page.rings([view.of(cut)], fill=fill, thick=0.7)
    page.rings([view.of(net)], thick=0.35, dashes=(1.6, 1.2))


def dart(view: View, toe) -> np.ndarray:
    """A small dart to the toe along the axis, a ring (3, 2) on the page; `toe` is (2, 2) on the table, the tip last."""
    inner, tip = view.of(toe)
    along = (tip - inner) / max(np.hypot(*(tip - inner)), 1e-9)
    aside, back = 1.6 * np.array((-along[1], along[0])), tip - 4.5 * along
    return np.array((tip, back + aside, back - aside))


def write_in(page: Page, spots: Spots, shape, texts: list[list[tuple[str, float, bool]]]) -> bool:
    """Write the first of these stacks of lines (text, size, bold) that has room within a shape; False if none has."""
    for lines in texts:
        wide = max(width(text, size, bold) for text, size, bold in lines)
        high = fsum((PITCH if i else 1.0) * size for i, (_, size, _) in enumerate(lines))
        if (box := spots.within(shape, wide, high, _rows(lines, high))) is None:
            continue
        spots.take(box)
        y = box.y1
        for text, size, bold in reversed(lines):
            y -= size
            page.text(0.5 * (box.x0 + box.x1), y, text, size, bold=bold, align="middle")
            y -= (PITCH - 1.0) * size
        return True
    return False


def _rows(lines: list[tuple[str, float, bool]], high: float) -> list[tuple[float, float, float, float]]:
    """Where the letters of each line stand, from the middle of them all."""
    found, top = [], -0.5 * high
    for i, (text, size, bold) in enumerate(lines):
        top += (PITCH - 1.0) * size if i else 0.0
        half = 0.5 * width(text, size, bold)
        found.append((-half, top + _BLANK * size, half, top + (1.0 - _BLANK) * size))
        top += size
    return found


def number_stacks(number: str, what: str, pair: str) -> list[list[tuple[str, float, bool]]]:
    """Ways to label a piece, the best first: its number large, with size and pair if there is room."""
    found = [
        [(number, size, True), (what, small, False), *([(pair, small, False)] if pair else [])]
        for size, small in ((14.0, 8.0), (12.0, LEAST_SIZE), (10.5, LEAST_SIZE))
    ]
    found += [[(number, size, True), (what, LEAST_SIZE, False)] for size in (12.0, 10.5, 9.0)]
    return found + [[(number, size, True)] for size in _NUMBER_SIZES] + [[(number, LEAST_SIZE, False)]]


def arrow(page: Page, start, end, *, both: bool = False, colour: str = INK, thick: float = 0.9) -> None:
    """A line with a head at its end, or at both."""
    start, end = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    along = (end - start) / max(np.hypot(*(end - start)), 1e-9)
    aside = np.array((-along[1], along[0]))
    page.line((start, end), colour=colour, thick=thick)
    for tip, way in ((end, along), (start, -along))[: 1 + both]:
        page.rings([np.array((tip, tip - 5.0 * way + 1.9 * aside, tip - 5.0 * way - 1.9 * aside))], fill=colour,
                   colour=None)
