"""The output folder of a run: plan, page, tables, drawings and figures, all of it or nothing."""

import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from math import fsum
from pathlib import Path
from typing import Any

from geometry.polygon import area
from geometry.precision import GeometryError
from nest.accounts import Accounts
from nest.atomic import atomic_folder
from nest.cutplan.dxf import VERSIONS
from nest.cutplan.sheet import CutSheet, cut_sheet
from nest.cutplan.stamp import Stamp, stamp_of
from nest.cutplan.work import Work, hide_work, priced_seconds
from nest.errors import PlanProblem
from nest.plan import HideLayout, Plan
from nest.planfile import plan_from_text, plan_text, write_plan, write_plan_text
from nest.planfiles import (
    DRAWINGS,
    NOT_VERIFIED,
    PRINT_FILE,
    SHEETS,
    TICKETS,
    Drawn,
    PlanFiles,
    chart_path,
    charts_of,
    write_chart,
    write_hide,
    write_lay,
    write_own_sheet,
    write_own_tickets,
    write_page,
    write_paper,
    write_picture,
    write_piece,
)
from nest.report.checks import right_and_wrong
from nest.report.summary import Figures, cut_sheets
from nest.report.tables import Table, consumption_table, cost_table, write_csv, write_workbook
from nest.sheets import HideSheet, LaySheet, MoreSheet, write_sheet, write_sheets
from nest.sidebyside import All, Task, side_by_side
from nest.tickets import Planned, batch_table, batches_of, tickets_of
from nest.verify.verdict import Verdict

__all__ = ["DRAWINGS", "NOT_VERIFIED", "PLAN_FILE", "file_names", "part_of", "write_again", "write_outputs",
           "write_registered", "write_tickets", "BATCHES_FILE"]

PLAN_FILE = "plan.json"
BATCHES_FILE = "batches.csv"
_MANY = 100
"""With this many pieces placed another process has more to do than to start."""

_PLAIN = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-")
_LONGEST_NAME = 60
_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{i}" for port in ("com", "lpt") for i in range(1, 10))}


def write_outputs(
    plan: Plan, accounts: Accounts | Callable[[Mapping[str, float]], Accounts], verdict: Verdict, folder, *,
    dxf_version: str | None = None, figures: bool = True, tables: Sequence[Table] = (), time: str = "",
    to_buy: Sequence[str] = (),
) -> Path:
    """Write everything about `plan` into `folder` and return the folder.

    `plan.json`, `report.html`, `consumption.csv`, `cost.csv`, both in `consumption.xlsx`, `drawings/*.dxf` and what
    else the plan's cutting table reads, `sheets/*.pdf`, `tickets/*.pdf`, all of these in `print.pdf`, `pieces/*.dxf`;
    and `figures/*.png` unless `figures` is off.
    The folder appears whole or not at all; that of an earlier run is renamed, never changed
    (`nest.atomic.atomic_folder`). Drawings of a plan that has not passed its checks say so, in their text and their
    names. `accounts` may be what makes them from the seconds that the table takes for each hide and lay
    (`nest.accounts.charges.plan_charges`): then the order of cutting is found once. `dxf_version` is one of
    `nest.cutplan.dxf.VERSIONS`, by default the plan's own. Each of `tables` is a CSV file beside the consumption and a
    sheet in its workbook. `time` is the time of writing that drawings and sheets state (ISO 8601), by default now, or
    as SOURCE_DATE_EPOCH has it. `to_buy` is the least purchase for what is short, for the page.

    Of what is cut already (`Plan.begun`) the page tells, but there are no drawings, sheets or pictures to hand out.

    Raises
    ------
    PlanProblem
        If the folder holds other files, the version is unknown, or the plan cannot be drawn; nothing is written.
    """
    version = dxf_version or plan.settings.dxf_version
    if version not in VERSIONS:
        raise PlanProblem(f"the drawing version {version} is unknown; choose one of {', '.join(VERSIONS)}")
    # What is drawn is what is saved, digit by digit: drawings are held against the plan file later.
    text = plan_text(plan)
    plan = plan_from_text(text)
    stamp = stamp_of(plan, time)
    try:
        with atomic_folder(folder, marker=PLAN_FILE) as out:
            write_plan_text(text, out / PLAN_FILE)
            files = PlanFiles(plan, stamp, version, verdict.ok, out, figures)
            with side_by_side(files, worth_it=_placed(plan) >= _MANY) as do_all:
                shown, works, lay_works = _write_all(files, plan, do_all)
                # Nothing of what is cut already is written again, but the page tells how it was cut.
                works |= {one.hide_id: hide_work(plan, one) for one in plan.layouts
                          if one.placed and one.hide_id not in works}
                if not isinstance(accounts, Accounts):
                    accounts = accounts(priced_seconds(plan, works, lay_works))
                tables = (consumption_table(accounts), cost_table(accounts.cost, accounts.standard), *tables)
                write_workbook(tables, out / "consumption.xlsx")
                for table in tables:
                    write_csv(table, out / f"{table.name.replace(' ', '-')}.csv")
                charts = charts_of(accounts) if figures else ()
                pictures: dict[str, Any] = {name: chart_path(name) for name in charts}
                shown = replace(shown, files=_files(verdict), **pictures)
                sheets = cut_sheets(plan, accounts, verdict, works, stamp)
                (out / TICKETS).mkdir()
                drawn = _write_own_sheets(files, verdict, sheets, works, lay_works, do_all, ticket_files(files))
                do_all([
                    (write_paper, drawn),
                    (write_page, accounts, verdict, shown, works, to_buy),
                    *((write_chart, name, accounts, plan.bounds) for name in charts),
                ])
    except GeometryError as error:
        raise PlanProblem(f"the plan cannot be drawn ({error}); verify the plan first") from error
    return Path(folder)


def _placed(plan: Plan) -> int:
    return sum(len(one.placed) for one in plan.groups_to_cut)


def write_again(plan: Plan, verdict: Verdict, folder, *, dxf_version: str | None = None, time: str = "") -> Path:
    """Write a piece that is cut again (`nest.planning.recut`) into `folder`: plan, drawing, table files, cut sheet.

    Raises as `write_outputs`.
    """
    return _write_some(
        plan, "", verdict, folder, dxf_version=dxf_version, time=time, title="Cut again", said=plan.warnings
    )


def write_tickets(
    plan: Plan, verdict: Verdict, folder, *, time: str = "", planned: Mapping[str, Planned] | None = None,
    more: Callable[[Path, Stamp], Sequence[MoreSheet]] = lambda folder, stamp: (),
) -> Path:
    """Write the tickets of a plan into `folder`, all of them in `print.pdf`, and in `batches.csv` what is in which.

    planned : when a timetable has each batch, by its name.
    more : writes other files into the folder it is given, and returns sheets to stand first in `print.pdf`.

    Raises as `write_outputs`.
    """
    stamp = stamp_of(plan, time)
    with atomic_folder(folder, marker=BATCHES_FILE) as out:
        files = PlanFiles(plan, stamp, plan.settings.dxf_version, verdict.ok, out, pictures=False)
        (out / TICKETS).mkdir()
        batches = batches_of(plan)
        write_csv(batch_table(batches), out / BATCHES_FILE)
        sheets = (*more(out, stamp), *tickets_of(plan, batches, ticket_files(files), verdict.ok, stamp, planned))
        drawn = [(sheet, write_sheet(plan, sheet, stamp, out)) for sheet in sheets]
        write_sheets(plan, drawn, stamp, out, f"{files.prefix}{PRINT_FILE}")
    return Path(folder)


def write_registered(
    plan: Plan, layout: HideLayout, verdict: Verdict, folder, said: Sequence[str], *,
    dxf_version: str | None = None, time: str = "",
) -> Path:
    """Write one hide of a plan for the table it is registered on (`nest.registration`): plan, drawing, cut sheet.

    `said` stands on the sheet. Raises as `write_outputs`.
    """
    return _write_some(
        plan, layout.hide_id, verdict, folder, dxf_version=dxf_version, time=time, title="On the table", said=said
    )


def _write_some(
    plan: Plan, hide_id: str, verdict: Verdict, folder, *, dxf_version: str | None, time: str, title: str,
    said: Sequence[str],
) -> Path:
    """Write the plan, and drawings, table files and cut sheets of it or of one hide, with notes on the sheets."""
    version = dxf_version or plan.settings.dxf_version
    plan = plan_from_text(plan_text(plan))
    stamp, part = stamp_of(plan, time), part_of(plan, hide_id) if hide_id else plan
    with atomic_folder(folder, marker=PLAN_FILE) as out:
        files = PlanFiles(part, stamp, version, verdict.ok, out, pictures=False)
        write_plan(plan, out / PLAN_FILE)
        with side_by_side(files, worth_it=False) as do_all:
            _, found, lay_works = _write_all(files, part, do_all)
            works = {one.hide_id: found.get(one.hide_id) or hide_work(part, one) for one in part.layouts}
            sheets = []
            for layout in part.layouts:
                right, wrong = right_and_wrong(plan, verdict, layout.hide_id)
                cut = fsum(area(plan.piece(one.piece_id).cut_outline) for one in layout.placed)
                whole = next(hide.measured_area_mm2 for hide in plan.hides if hide.hide_id == layout.hide_id)
                sheet = cut_sheet(
                    plan, layout, cutting_yield=cut / whole, work=works[layout.hide_id], stamp=stamp,
                    checks=right, findings=wrong,
                )
                sheets.append(replace(sheet, notes=(*((title, words) for words in said), *sheet.notes)))
            do_all([(write_paper, _write_own_sheets(files, verdict, sheets, works, lay_works, do_all))])
    return Path(folder)


def part_of(plan: Plan, hide_id: str) -> Plan:
    """A plan of what lies on one hide alone; the reinforcements of its vamps stay known, for their ticks match."""
    layouts = tuple(layout for layout in plan.layouts if layout.hide_id == hide_id)
    placed = {one.piece_id for layout in layouts for one in layout.placed}
    used = {(piece.style, piece.size, piece.foot) for piece in plan.pieces if piece.piece_id in placed}
    pieces = tuple(piece for piece in plan.pieces if (piece.style, piece.size, piece.foot) in used)
    return replace(plan, layouts=layouts, lays=(), pieces=pieces)


def _files(verdict: Verdict) -> tuple[tuple[str, str], ...]:
    """What the folder holds, in words and by name, for the page."""
    together = PRINT_FILE if verdict.ok else f"{NOT_VERIFIED}{PRINT_FILE}"
    return (("all sheets to print, with an index and a list of what to issue", together), *_FILES)


_FILES = (
    ("the plan itself: judge, cost or cut it again without solving", PLAN_FILE),
    ("consumption by style and size", "consumption.csv"),
    ("cost by style and size", "cost.csv"),
    ("both as a workbook", "consumption.xlsx"),
    ("cutting drawings, one a hide and a lay, and other files for the table", f"{DRAWINGS}/"),
    ("the same one by one: a cut sheet a hide, a lay sheet a lay", f"{SHEETS}/"),
    ("a ticket a batch: what is done to its vamps after cutting, and what became of them", f"{TICKETS}/"),
    ("each piece as a drawing of its own", "pieces/"),
)


def _write_all(files: PlanFiles, plan: Plan, do_all: All) -> tuple[Figures, dict[str, Work], dict[str, Work]]:
    """Write what each hide, lay and piece of a plan has.

    Returns where the page finds them, and the work on each hide and each lay.
    """
    pictures = files.pictures
    for folder in (DRAWINGS, "pieces", *(["figures"] if pictures else [])):
        (files.folder / folder).mkdir()
    cut, spread = plan.layouts_to_cut, plan.lays_to_cut
    names = file_names(layout.hide_id for layout in cut)
    hides = [(layout, names[layout.hide_id]) for layout in cut]
    names = file_names(lay.lay_id for lay in spread)
    lays = [(lay, names[lay.lay_id]) for lay in spread]
    names = file_names(piece.piece_id for piece in plan.pieces)
    styles = file_names(style.name for style in plan.styles)
    tasks: list[Task] = [  # the longest first
        *((write_lay, *one) for one in lays), *((write_hide, *one) for one in hides),
        *((write_picture, style, styles[style.name]) for style in (plan.styles if pictures else ())),
        *((write_piece, piece, names[piece.piece_id]) for piece in plan.pieces),
    ]
    made: dict[Callable, list] = {task[0]: [] for task in tasks}
    for task, one in zip(tasks, do_all(tasks), strict=True):
        made[task[0]].append(one)
    works = {layout.hide_id: one for (layout, _), one in zip(hides, made.get(write_hide, ()), strict=True)}
    lay_works = {lay.lay_id: one for (lay, _), one in zip(lays, made.get(write_lay, ()), strict=True)}
    drawing = f"{DRAWINGS}/{files.prefix}{{}}-{{}}.dxf".format
    shown = Figures(
        hide_drawings={layout.hide_id: drawing("hide", name) for layout, name in hides},
        sheets={layout.hide_id: f"{SHEETS}/{files.prefix}hide-{name}.pdf" for layout, name in hides},
        lay_drawings={lay.lay_id: drawing("lay", name) for lay, name in lays},
    )
    if pictures:
        shown = replace(
            shown, hides={layout.hide_id: f"figures/hide-{name}.png" for layout, name in hides},
            lays={lay.lay_id: f"figures/lay-{name}.png" for lay, name in lays},
            pieces=tuple(filter(None, made.get(write_picture, ()))),
        )
    return shown, works, lay_works


def _write_own_sheets(
    files: PlanFiles, verdict: Verdict, sheets: Iterable[CutSheet], works: Mapping[str, Work],
    lay_works: Mapping[str, Work], do_all: All, tickets: Mapping[str, str] | None = None,
) -> list[Drawn]:
    """Write the sheet of each hide and lay that something is still to be cut from, and the tickets; returns them."""
    plan = files.plan
    (files.folder / SHEETS).mkdir()
    to_cut = {layout.hide_id for layout in plan.layouts_to_cut}
    sheets = [sheet for sheet in sheets if sheet.hide_id in to_cut]
    names = file_names(sheet.hide_id for sheet in sheets)
    hides = [
        HideSheet(sheet, works[sheet.hide_id],
                  f"{SHEETS}/{NOT_VERIFIED if sheet.findings else ''}hide-{names[sheet.hide_id]}.pdf")
        for sheet in sheets
    ]
    names = file_names(lay.lay_id for lay in plan.lays_to_cut)
    lays = [
        LaySheet(lay, lay_works[lay.lay_id], *right_and_wrong(plan, verdict, lay.lay_id),
                 f"{SHEETS}/{files.prefix}lay-{names[lay.lay_id]}.pdf")
        for lay in plan.lays_to_cut
    ]
    *pages, drawn = do_all([
        *((write_own_sheet, sheet) for sheet in (*hides, *lays)), (write_own_tickets, tickets or {}),
    ])
    return [*zip((*hides, *lays), pages, strict=True), *drawn]


def ticket_files(files: PlanFiles) -> dict[str, str]:
    """The file of the ticket of each batch, by its name."""
    names = file_names(batch.name for batch in batches_of(files.plan))
    return {name: f"{TICKETS}/{files.prefix}{file}.pdf" for name, file in names.items()}


def file_names(ids: Iterable[str]) -> dict[str, str]:
    """A file name for each id, without suffix: letters, digits and - . _ only, no path, no two alike.

    Names differ in more than upper and lower case, and none is one that some systems keep for themselves.
    """
    names: dict[str, str] = {}
    taken: set[str] = set()
    for one in dict.fromkeys(ids):
        plain = unicodedata.normalize("NFKD", one)
        plain = "".join(c if c in _PLAIN else "" if unicodedata.combining(c) else "-" for c in plain)
        plain = plain.strip(".-")[:_LONGEST_NAME].rstrip(".-") or "unnamed"
        if plain.split(".")[0].casefold() in _RESERVED:
            plain = f"_{plain}"
        name, number = plain, 2
        while name.casefold() in taken:
            name, number = f"{plain}-{number}", number + 1
        taken.add(name.casefold())
        names[one] = name
    return names
