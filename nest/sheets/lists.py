"""The lists that go with the sheets: an index of all of them, and by lot which hides to issue, to be ticked."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import fsum

from nest.cutplan.sheet import CutSheet
from nest.cutplan.stamp import Stamp
from nest.cutplan.work import Work
from nest.plan import Lay, Plan
from nest.sheets.frame import MARGIN
from nest.sheets.page import INK, LEAST_SIZE, PITCH, QUIET, Page, wrapped
from nest.units import m2, metres

_SIZE, _PITCH = 9.0, 17.0
_BOX = 9.0
_FOOT = 24.0


@dataclass(frozen=True, slots=True)
class Line:
    """One row: cells left to right; a box to tick before it; a page it leads to."""

    cells: tuple[str, ...]
    bold: bool = False
    tick: bool = False
    to: str = ""


INDEX_HEAD = Line(("page", "sheet of", "material, lot, class", "area, length", "pieces", "minutes"), bold=True)


def hide_line(sheet: CutSheet, work: Work, page: int, anchor: str) -> Line:
    """The row of a hide in the index: its page, what it is, its area, pieces, time on the table."""
    wrong = " NOT VERIFIED" if sheet.findings else ""
    return Line((
        str(page), f"hide {sheet.hide_id}{wrong}", f"{sheet.leather}, lot {sheet.lot}, class {sheet.quality}",
        f"{m2(sheet.measured_area_mm2):.3f} m²", str(sheet.pieces), _minutes(work),
    ), to=anchor)


def lay_line(lay: Lay, work: Work, page: int, anchor: str) -> Line:
    """The row of a lay in the index."""
    plies = "" if lay.plies == 1 else f"{lay.plies} × "
    return Line((
        str(page), f"lay {lay.lay_id}", f"roll {lay.roll_id}", f"{plies}{metres(lay.length_mm):.3f} m",
        str(lay.plies * len(lay.placed)), _minutes(work),
    ), to=anchor)


def more_line(cells: tuple[str, ...], page: int, anchor: str) -> Line:
    """The row of any other sheet, with its cells behind that of the page."""
    return Line((str(page), *cells), to=anchor)


def _minutes(work: Work) -> str:
    return f"{work.time.seconds / 60.0:.1f}"


def issue_lines(sheets: Iterable[CutSheet], lays: Sequence[Lay], plan: Plan) -> list[Line]:
    """Hides by leather and lot, each with its class and area and a box to tick, and the sum of each lot; then rolls."""
    lots: dict[tuple[str, str], list[CutSheet]] = {}
    for sheet in sheets:
        lots.setdefault((sheet.leather, sheet.lot), []).append(sheet)
    lines = []
    for (leather, lot), own in sorted(lots.items()):
        area = fsum(sheet.measured_area_mm2 for sheet in own)
        lines.append(Line((f"{leather}, lot {lot}: {len(own)} hide{'s' * (len(own) != 1)}", "", f"{m2(area):.3f} m²"),
                           bold=True))
        lines += [
            Line((sheet.hide_id, f"class {sheet.quality}", f"{m2(sheet.measured_area_mm2):.3f} m²"), tick=True)
            for sheet in sorted(own, key=lambda sheet: (sheet.quality, sheet.hide_id))
        ]
    for roll in plan.rolls:
        mine = [lay for lay in lays if lay.roll_id == roll.roll_id]
        if mine:
            length = fsum(lay.plies * (lay.length_mm + 2.0 * roll.end_loss_mm) for lay in mine)
            lines.append(Line((f"Roll {roll.roll_id}", f"{roll.width_mm:g} mm wide", f"{metres(length):.3f} m"),
                               tick=True, bold=True))
    return lines


INDEX_COLUMNS = (0.0, 34.0, 160.0, 345.0, 430.0, 482.0)
ISSUE_COLUMNS = (22.0, 270.0, 390.0)


def list_pages(
    title: str, lines: Sequence[Line], columns: Sequence[float], plan: Plan, stamp: Stamp, signed: str
) -> list[Page]:
    """Rows under a title, on as many pages as they take."""
    rest = list(lines)
    pages: list[Page] = []
    while rest or not pages:
        page = Page()
        right, bottom = page.size[0] - MARGIN, page.size[1] - MARGIN
        page.text(MARGIN, MARGIN, f"{title}, continued" if pages else title, 18.0, bold=True)
        y = MARGIN + 26.0
        for line in wrapped(f"{plan.name}. {stamp.told()}", right - MARGIN, _SIZE)[:2]:
            page.text(MARGIN, y, line, _SIZE, colour=QUIET)
            y += 12.0
        y += 8.0
        top = y
        while rest:
            cells = _cells(rest[0], columns, right)
            high = _PITCH + (max(map(len, cells)) - 1) * PITCH * _SIZE
            if y > top and y + high >= bottom - _FOOT:
                break
            _row(page, y, rest.pop(0), columns, right, cells)
            y += high
        if not rest:
            page.text(MARGIN, bottom - LEAST_SIZE - 4.0, signed, 8.0)
        pages.append(page)
    return pages


def _cells(line: Line, columns: Sequence[float], right: float) -> list[list[str]]:
    """The lines of each cell: none is cut."""
    edges = [*columns[1:], right - MARGIN]
    return [wrapped(cell, edge - at - 6.0, _SIZE, line.bold)
            for at, edge, cell in zip(columns, edges, line.cells, strict=True)]


def _row(page: Page, y: float, line: Line, columns: Sequence[float], right: float, cells: list[list[str]]) -> None:
    if line.tick:
        page.rectangle(MARGIN + 4.0, y, _BOX, _BOX, colour=INK, thick=0.8)
    low = y
    for at, lines in zip(columns, cells, strict=True):
        for i, text in enumerate(lines if lines != [""] else ()):
            box = page.text(MARGIN + at, y + i * PITCH * _SIZE, text, _SIZE, bold=line.bold)
            low = max(low, box.y0)
            if line.to:
                page.link(line.to, box)
    page.line(((MARGIN, low + _SIZE + 3.5), (right, low + _SIZE + 3.5)), colour="#cccccc", thick=0.4)
