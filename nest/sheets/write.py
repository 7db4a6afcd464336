"""Sheets as files: one PDF a hide, a lay or anything else, and one with all of them behind an index and an issue list.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

from nest.atomic import atomic_path
from nest.cutplan.sheet import CutSheet
from nest.cutplan.stamp import Stamp
from nest.cutplan.work import Work
from nest.plan import Lay, Plan
from nest.sheets.cutsheet import cut_sheet_page
from nest.sheets.laysheet import lay_sheet_page
from nest.sheets.lists import (
    INDEX_COLUMNS,
    INDEX_HEAD,
    ISSUE_COLUMNS,
    Line,
    hide_line,
    issue_lines,
    lay_line,
    list_pages,
    more_line,
)
from nest.sheets.page import Page, new_canvas

_PLANNED = "Planned by, date: ______________"
_ISSUED = "Issued by, date: ______________   Received by, date: ______________"


@dataclass(frozen=True, slots=True)
class HideSheet:
    """The sheet of one hide: what it says, what the table does, and its file, relative to the folder written to."""

    sheet: CutSheet
    work: Work
    file: str


@dataclass(frozen=True, slots=True)
class LaySheet:
    """The sheet of one lay: what the table does, what was found right and wrong, and its file as of a hide."""

    lay: Lay
    work: Work
    checks: tuple[str, ...]
    findings: tuple[str, ...]
    file: str


@dataclass(frozen=True, slots=True)
class MoreSheet:
    """A sheet of something else: its file, title, pages, and its cells in the index, but for that of the page."""

    file: str
    title: str
    pages: tuple[Page, ...]
    cells: tuple[str, ...]


Sheet = HideSheet | LaySheet | MoreSheet


def write_sheets(
    plan: Plan, sheets: Sequence[tuple[Sheet, tuple[Page, ...]]], stamp: Stamp, folder: Path, together: str
) -> None:
    """Write all sheets, each with its pages, into the file `together` in `folder`, behind an index and an issue list.

    The issue list is that of the hides and lays; without any there is none.
    """
    if not sheets:
        return
    issued = []
    hides = [one.sheet for one, _ in sheets if isinstance(one, HideSheet)]
    lays = [one.lay for one, _ in sheets if isinstance(one, LaySheet)]
    if hides or lays:
        issue = issue_lines(hides, lays, plan)
        issued = list_pages("Issue list by lot", issue, ISSUE_COLUMNS, plan, stamp, _ISSUED)
    anchors = [f"sheet-{i}" for i in range(len(sheets))]

    def index(first: int) -> list[Page]:
        starts = accumulate((len(pages) for _, pages in sheets), initial=first)
        lines = [_line(one, start, to) for start, to, (one, _) in zip(starts, anchors, sheets, strict=False)]
        return list_pages("Sheets of this plan", [INDEX_HEAD, *lines], INDEX_COLUMNS, plan, stamp, _PLANNED)

    # How many pages the index takes is known once it is laid out.
    listed = index(len(index(0)) + len(issued) + 1)
    pages = [*_behind("index", "Sheets of this plan", listed), *_behind("issue", "Issue list by lot", issued)]
    for anchor, (one, own) in zip(anchors, sheets, strict=True):
        pages += _behind(anchor, _title(one), own)
    _write(folder / together, f"{plan.name}: all sheets", pages)


def write_sheet(plan: Plan, one: Sheet, stamp: Stamp, folder: Path) -> tuple[Page, ...]:
    """Write a sheet into its own file in `folder`; returns its pages."""
    pages = _pages(plan, one, stamp)
    _write(folder / one.file, _title(one), _behind("sheet", _title(one), pages))
    return pages


def _pages(plan: Plan, one: Sheet, stamp: Stamp) -> tuple[Page, ...]:
    if isinstance(one, HideSheet):
        layout = next(layout for layout in plan.layouts if layout.hide_id == one.sheet.hide_id)
        return (cut_sheet_page(plan, layout, one.sheet, one.work, stamp),)
    if isinstance(one, LaySheet):
        return (lay_sheet_page(plan, one.lay, one.work, one.checks, one.findings, stamp),)
    return one.pages


def _title(one: Sheet) -> str:
    if isinstance(one, HideSheet):
        return f"Hide {one.sheet.hide_id}"
    return f"Lay {one.lay.lay_id}" if isinstance(one, LaySheet) else one.title


def _line(one: Sheet, page: int, anchor: str) -> Line:
    """The line of a sheet in the index."""
    if isinstance(one, HideSheet):
        return hide_line(one.sheet, one.work, page, anchor)
    if isinstance(one, LaySheet):
        return lay_line(one.lay, one.work, page, anchor)
    return more_line(one.cells, page, anchor)


def _behind(anchor: str, title: str, pages: Sequence[Page]) -> list[tuple[str, str, Page]]:
    """Pages, of which the first has the name to jump to."""
    return [(anchor, title, page) if i == 0 else ("", "", page) for i, page in enumerate(pages)]


def _write(path: Path, title: str, pages: Iterable[tuple[str, str, Page]]) -> None:
    with atomic_path(path) as part:
        canvas = new_canvas(part, title)
        for anchor, name, page in pages:
            page.put(canvas, anchor, name)
        canvas.save()
