"""Sheets as files: one PDF a hide, a lay or anything else, and one with all of them behind an index and an issue list.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
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


def write_sheets(
    plan: Plan, hides: Sequence[HideSheet], lays: Sequence[LaySheet], stamp: Stamp, folder: Path, together: str,
    more: Sequence[MoreSheet] = (),
) -> None:
    """Write all sheets into the file `together` in `folder`, behind an index and an issue list.

    The issue list is that of the hides and lays; without any there is none.
    """
    drawn = [_drawn(plan, one, stamp) for one in (*hides, *lays, *more)]
    if not drawn:
        return
    issued = []
    if hides or lays:
        issue = issue_lines([one.sheet for one in hides], [one.lay for one in lays], plan)
        issued = list_pages("Issue list by lot", issue, ISSUE_COLUMNS, plan, stamp, _ISSUED)
    anchors = [f"sheet-{i}" for i in range(len(drawn))]

    def index(first: int) -> list[Page]:
        starts = accumulate((len(pages) for _, pages, _ in drawn), initial=first)
        lines = [line(start, anchor) for start, anchor, (_, _, line) in zip(starts, anchors, drawn, strict=False)]
        return list_pages("Sheets of this plan", [INDEX_HEAD, *lines], INDEX_COLUMNS, plan, stamp, _PLANNED)

    # How many pages the index takes is known once it is laid out.
    listed = index(len(index(0)) + len(issued) + 1)
    pages = [*_behind("index", "Sheets of this plan", listed), *_behind("issue", "Issue list by lot", issued)]
    for anchor, (title, own, _) in zip(anchors, drawn, strict=True):
        pages += _behind(anchor, title, own)
    _write(folder / together, f"{plan.name}: all sheets", pages)


def write_sheet(plan: Plan, one: HideSheet | LaySheet | MoreSheet, stamp: Stamp, folder: Path) -> None:
    """Write a sheet into its own file in `folder`."""
    title, pages, _ = _drawn(plan, one, stamp)
    _write(folder / one.file, title, _behind("sheet", title, pages))


def _drawn(
    plan: Plan, one: HideSheet | LaySheet | MoreSheet, stamp: Stamp
) -> tuple[str, tuple[Page, ...], Callable[[int, str], Line]]:
    """Title and pages of a sheet, and what makes its line of the index."""
    if isinstance(one, HideSheet):
        layout = next(layout for layout in plan.layouts if layout.hide_id == one.sheet.hide_id)
        page = cut_sheet_page(plan, layout, one.sheet, one.work, stamp)
        return f"Hide {one.sheet.hide_id}", (page,), partial(hide_line, one.sheet, one.work)
    if isinstance(one, LaySheet):
        page = lay_sheet_page(plan, one.lay, one.work, one.checks, one.findings, stamp)
        return f"Lay {one.lay.lay_id}", (page,), partial(lay_line, one.lay, one.work)
    return one.title, one.pages, partial(more_line, one.cells)


def _behind(anchor: str, title: str, pages: Sequence[Page]) -> list[tuple[str, str, Page]]:
    """Pages, of which the first has the name to jump to."""
    return [(anchor, title, page) if i == 0 else ("", "", page) for i, page in enumerate(pages)]


def _write(path: Path, title: str, pages: Iterable[tuple[str, str, Page]]) -> None:
    with atomic_path(path) as part:
        canvas = new_canvas(part, title)
        for anchor, name, page in pages:
            page.put(canvas, anchor, name)
        canvas.save()
