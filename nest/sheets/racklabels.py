"""Labels for hides and remnants on the rack: eight to a sheet of A4, each with its name, a code to scan, its shape."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

from nest.atomic import atomic_path
from nest.sheets.code import draw_code
from nest.sheets.page import MM, PAPER, QUIET, Page, clipped, new_canvas, width
from nest.units import dm2

ACROSS, DOWN = 2, 4
"""Labels of 105 × 74 mm, A7 (ISO 216), so that a sheet is cut in halves three times."""

_INSET, _CODE, _SHAPE = 6.0 * MM, 27.0 * MM, (46.0 * MM, 30.0 * MM)
_NAME_SIZES = (34.0, 28.0, 22.0, 17.0, 13.0)


@dataclass(frozen=True, slots=True)
class RackLabel:
    """What a label says of one hide: area in mm², the hide it was cut from ("" for none), since when it is in stock.

    outline : its shape, grain side up, so that it can be told from its neighbours.
    """

    code: str
    leather: str
    lot: str
    quality: int
    area_mm2: float
    thickness_mm: float
    parent: str
    since: str
    outline: Polygon


def write_rack_labels(labels: Sequence[RackLabel], path: Path) -> None:
    """Write labels, in their sequence, to a PDF file that appears whole or not at all.

    Raises
    ------
    PlanProblem
        As `nest.atomic.atomic_path`.
    """
    wide, high = PAPER[0] / ACROSS, PAPER[1] / DOWN
    with atomic_path(path) as part:
        canvas = new_canvas(part, "Rack labels")
        for start in range(0, len(labels), ACROSS * DOWN):
            page = Page()
            for at, label in enumerate(labels[start : start + ACROSS * DOWN]):
                _draw(page, at % ACROSS * wide, at // ACROSS * high, wide, high, label)
            for x in range(1, ACROSS):
                page.line(np.array(((x * wide, 0.0), (x * wide, PAPER[1]))), colour=QUIET, thick=0.3, dashes=(2, 3))
            for y in range(1, DOWN):
                page.line(np.array(((0.0, y * high), (PAPER[0], y * high))), colour=QUIET, thick=0.3, dashes=(2, 3))
            page.put(canvas)
        canvas.save()


def _draw(page: Page, x: float, y: float, wide: float, high: float, label: RackLabel) -> None:
    left, top, right = x + _INSET, y + _INSET, x + wide - _INSET
    room = right - _CODE - left
    size = next((one for one in _NAME_SIZES if width(label.code, one, True) <= room), _NAME_SIZES[-1])
    page.text(left, top, clipped(label.code, room, size, True), size, bold=True)
    draw_code(page, right - _CODE, top - 3.0 * MM, _CODE, label.code)
    row = top + 15.0 * MM
    kind = f"remnant of {label.parent}" if label.parent else "whole hide"
    lot = f", lot {label.lot}" if label.lot else ""
    for text, bold in (
        (f"{label.leather}{lot}", True), (f"class {label.quality}, {label.thickness_mm:g} mm", False), (kind, False),
    ):
        page.text(left, row, clipped(text, room, 9.5, bold), 9.5, bold=bold)
        row += 13.0
    row += 4.0
    box = page.text(left, row, f"{dm2(label.area_mm2):.1f} dm²", 17.0, bold=True)
    page.text(left, box.y1 + 4.0, f"in stock since {label.since}", 8.0, colour=QUIET)
    _shape(page, right - _SHAPE[0], y + high - _INSET - _SHAPE[1] - 9.0, label.outline)


def _shape(page: Page, x: float, y: float, outline: Polygon) -> None:
    """The outline within its room, and how large it is."""
    x0, y0, x1, y1 = outline.bounds
    step = min(_SHAPE[0] / max(x1 - x0, 1.0), _SHAPE[1] / max(y1 - y0, 1.0))
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (outline.exterior, *outline.interiors)]
    moved = [np.column_stack((
        x + _SHAPE[0] - (x1 - ring[:, 0]) * step, y + _SHAPE[1] - (ring[:, 1] - y0) * step
    )) for ring in rings]
    page.rings(moved, fill="#ece6da", thick=0.7)
    size = f"{(x1 - x0) / 10.0:.0f} × {(y1 - y0) / 10.0:.0f} cm"
    page.text(x + _SHAPE[0], y + _SHAPE[1] + 2.0, size, 8.0, colour=QUIET, align="right")
