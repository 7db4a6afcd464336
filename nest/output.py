"""The output folder of a run: plan, page, tables, drawings and figures, all of it or nothing."""

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from geometry.polygon import area
from geometry.precision import GeometryError
from nest.accounts import Accounts
from nest.atomic import atomic_folder, atomic_path
from nest.cutplan.cautions import NOT_VERIFIED_WARNING
from nest.cutplan.compose import hide_drawing, lay_drawing
from nest.cutplan.dxf import VERSIONS, write_hide_dxf, write_lay_dxf, write_piece_dxf
from nest.cutplan.sheet import CutSheet, cut_sheet
from nest.cutplan.sizes import sizes_in_order
from nest.cutplan.stamp import Stamp, stamp_of
from nest.cutplan.work import Work, hide_work, lay_work
from nest.errors import PlanProblem
from nest.pieces.piece import Piece, Role
from nest.plan import HideLayout, Plan
from nest.planfile import plan_from_text, plan_text, write_plan
from nest.report import palette
from nest.report.charts import ROW_IN, draw_account, draw_consumption, draw_yields
from nest.report.checks import checks_on
from nest.report.figures import draw_hide, draw_lay, draw_piece, new_axes, save_figure
from nest.report.sheets import write_sheet_pdf
from nest.report.summary import Figures, cut_sheets, summary_html
from nest.report.tables import Table, consumption_table, cost_table, write_csv, write_workbook
from nest.report.tiles import write_table_files
from nest.report.whatif import PricedAllowance
from nest.verify.verdict import Verdict

PLAN_FILE, DRAWINGS = "plan.json", "drawings"
NOT_VERIFIED = "NOT-VERIFIED-"
"""Begins the name of every drawing of a plan that has not passed its checks."""

_PLAIN = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-")
_LONGEST_NAME = 60
_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{i}" for port in ("com", "lpt") for i in range(1, 10))}


def write_outputs(
    plan: Plan,
    accounts: Accounts,
    verdict: Verdict,
    folder,
    *,
    dxf_version: str | None = None,
    figures: bool = True,
    allowances: Sequence[PricedAllowance] = (),
    tables: Sequence[Table] = (),
    time: str = "",
    to_buy: Sequence[str] = (),
) -> Path:
    """Write everything about `plan` into `folder` and return the folder.

    `plan.json`, `report.html`, `consumption.csv`, `cost.csv`, both in `consumption.xlsx`, `drawings/*.dxf` and what
    else the plan's cutting table reads, `sheets/*.pdf`, `pieces/*.dxf`; and `figures/*.png` unless `figures` is off.
    The folder appears whole or not at all; that of an earlier run is renamed, never changed
    (`nest.atomic.atomic_folder`). Drawings of a plan that has not passed its checks say so, in their text and their
    names. `dxf_version` is one of `nest.cutplan.dxf.VERSIONS`, by default the plan's own. `allowances` are prices of a
    millimetre for the page (`nest.report.whatif.priced_allowances`). Each of `tables` is a CSV file beside the
    consumption and a sheet in its workbook. `time` is the time of writing that drawings and sheets state (ISO
    8601), by default now, or as SOURCE_DATE_EPOCH has it. `to_buy` is the least purchase for what is short, for the
    page.

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
    plan = plan_from_text(plan_text(plan))
    stamp = stamp_of(plan, time)
    try:
        with atomic_folder(folder, marker=PLAN_FILE) as out:
            write_plan(plan, out / PLAN_FILE)
            tables = (consumption_table(accounts), cost_table(accounts.cost), *tables)
            write_workbook(tables, out / "consumption.xlsx")
            for table in tables:
                write_csv(table, out / f"{table.name.replace(' ', '-')}.csv")
            works = {layout.hide_id: hide_work(plan, layout) for layout in plan.layouts if layout.placed}
            hides, lays = _write_drawings(plan, verdict, out, version, works, stamp)
            pictures = Figures()
            if figures:
                pictures = _write_figures(plan, accounts, verdict, out)
            _write_sheets(plan, cut_sheets(plan, accounts, verdict, works, stamp), out)
            found = replace(pictures, hide_drawings=hides, lay_drawings=lays, files=_FILES)
            page = summary_html(plan, accounts, verdict, found, works, allowances, stamp, to_buy)
            with atomic_path(out / "report.html") as part:
                part.write_text(page, encoding="utf-8")
    except GeometryError as error:
        raise PlanProblem(f"the plan cannot be drawn ({error}); verify the plan first") from error
    return Path(folder)


def write_again(plan: Plan, verdict: Verdict, folder, *, dxf_version: str | None = None, time: str = "") -> Path:
    """Write a piece that is cut again (`nest.planning.recut`) into `folder`: plan, drawing, table files, cut sheet.

    Raises as `write_outputs`.
    """
    return _write_some(plan, "", verdict, folder, dxf_version, time, "Cut again", plan.warnings)


def write_registered(
    plan: Plan, layout: HideLayout, verdict: Verdict, folder, said: Sequence[str], *,
    dxf_version: str | None = None, time: str = "",
) -> Path:
    """Write one hide of a plan for the table it is registered on (`nest.registration`): plan, drawing, cut sheet.

    `said` stands on the sheet. Raises as `write_outputs`.
    """
    return _write_some(plan, layout.hide_id, verdict, folder, dxf_version, time, "On the table", said)


def _write_some(
    plan: Plan, hide_id: str, verdict: Verdict, folder, dxf_version: str | None, time: str, title: str,
    said: Sequence[str],
) -> Path:
    """Write the plan, and drawings, table files and cut sheets of it or of one hide, with notes on the sheets."""
    version = dxf_version or plan.settings.dxf_version
    plan = plan_from_text(plan_text(plan))
    stamp, part = stamp_of(plan, time), part_of(plan, hide_id) if hide_id else plan
    with atomic_folder(folder, marker=PLAN_FILE) as out:
        write_plan(plan, out / PLAN_FILE)
        works = {layout.hide_id: hide_work(plan, layout) for layout in part.layouts}
        _write_drawings(part, verdict, out, version, works, stamp)
        sheets = []
        for layout in part.layouts:
            checks = checks_on(plan, verdict, layout.hide_id)
            cut = sum(area(plan.piece(one.piece_id).cut_outline) for one in layout.placed)
            whole = next(hide.measured_area_mm2 for hide in plan.hides if hide.hide_id == layout.hide_id)
            sheet = cut_sheet(
                plan, layout, cutting_yield=cut / whole, work=works[layout.hide_id], stamp=stamp,
                checks=tuple(check.words for check in checks if check.passed),
                findings=tuple(sentence for check in checks for sentence in check.wrong),
            )
            sheets.append(replace(sheet, notes=(*((title, words) for words in said), *sheet.notes)))
        _write_sheets(part, sheets, out)
    return Path(folder)


def part_of(plan: Plan, hide_id: str) -> Plan:
    """A plan of what lies on one hide alone."""
    layouts = tuple(layout for layout in plan.layouts if layout.hide_id == hide_id)
    used = {one.piece_id for layout in layouts for one in layout.placed}
    return replace(
        plan, layouts=layouts, lays=(), pieces=tuple(piece for piece in plan.pieces if piece.piece_id in used)
    )


_FILES = (
    ("the plan itself: judge, cost or cut it again without solving", PLAN_FILE),
    ("consumption by style and size", "consumption.csv"),
    ("cost by style and size", "cost.csv"),
    ("both as a workbook", "consumption.xlsx"),
    ("cutting drawings, one a hide and a lay, and other files for the table", f"{DRAWINGS}/"),
    ("cut sheets, one a hide, to be handed out with it", "sheets/"),
    ("each piece as a drawing of its own", "pieces/"),
)


def _write_drawings(
    plan: Plan, verdict: Verdict, out: Path, version: str, works: Mapping[str, Work], stamp: Stamp
) -> tuple[dict[str, str], dict[str, str]]:
    """Write drawings and pieces; returns the drawing of each hide and of each lay, relative to the page."""
    warning, prefix = ("", "") if verdict.ok else (NOT_VERIFIED_WARNING, NOT_VERIFIED)
    (out / DRAWINGS).mkdir()
    (out / "pieces").mkdir()
    hides, lays = {}, {}
    cut = plan.layouts_to_cut
    names = file_names(layout.hide_id for layout in cut)
    for layout in cut:
        hides[layout.hide_id] = f"{DRAWINGS}/{prefix}hide-{names[layout.hide_id]}.dxf"
        path, work = out / hides[layout.hide_id], works[layout.hide_id]
        write_hide_dxf(plan, layout, path, version, warning=warning, work=work, stamp=stamp)
        if plan.settings.table.files:
            drawing = hide_drawing(plan, layout, warning, work, stamp)
            write_table_files(work, drawing, path, f"Hide {layout.hide_id}", version)
    spread = plan.lays_to_cut
    names = file_names(lay.lay_id for lay in spread)
    for lay in spread:
        lays[lay.lay_id] = f"{DRAWINGS}/{prefix}lay-{names[lay.lay_id]}.dxf"
        path, work = out / lays[lay.lay_id], lay_work(plan, lay)
        write_lay_dxf(plan, lay, path, version, warning=warning, work=work, stamp=stamp)
        if plan.settings.table.files:
            drawing = lay_drawing(plan, lay, warning, work, stamp)
            write_table_files(work, drawing, path, f"Lay {lay.lay_id}", version)
    names = file_names(piece.piece_id for piece in plan.pieces)
    for piece in plan.pieces:
        path = out / "pieces" / f"{prefix}{names[piece.piece_id]}.dxf"
        write_piece_dxf(piece, path, version, warning=warning, table=plan.settings.table, styles=plan.styles)
    return hides, lays


def _write_sheets(plan: Plan, sheets: Iterable[CutSheet], out: Path) -> None:
    """Write the cut sheet of each hide that something is still to be cut from."""
    (out / "sheets").mkdir()
    layouts = {layout.hide_id: layout for layout in plan.layouts_to_cut}
    sheets = [sheet for sheet in sheets if sheet.hide_id in layouts]
    names = file_names(sheet.hide_id for sheet in sheets)
    for sheet in sheets:
        prefix = NOT_VERIFIED if sheet.findings else ""
        write_sheet_pdf(plan, layouts[sheet.hide_id], sheet, out / f"sheets/{prefix}hide-{names[sheet.hide_id]}.pdf")


def _write_figures(plan: Plan, accounts: Accounts, verdict: Verdict, out: Path) -> Figures:
    """Draw every figure; returns where the page finds them."""
    (out / "figures").mkdir()
    hides, lays, charts = {}, {}, {}
    cut = plan.layouts_to_cut
    names = file_names(layout.hide_id for layout in cut)
    stock = {hide.hide_id: hide for hide in plan.hides}
    for layout in cut:
        hides[layout.hide_id] = f"figures/hide-{names[layout.hide_id]}.png"
        x_min, y_min, x_max, y_max = stock[layout.hide_id].outline.bounds
        ax = draw_hide(_axes(x_max - x_min, y_max - y_min), plan, layout)
        _save_layout(ax, out / hides[layout.hide_id], verdict)
    spread = plan.lays_to_cut
    names = file_names(lay.lay_id for lay in spread)
    rolls = {roll.roll_id: roll for roll in plan.rolls}
    for lay in spread:
        lays[lay.lay_id] = f"figures/lay-{names[lay.lay_id]}.png"
        ax = draw_lay(_axes(lay.length_mm, rolls[lay.roll_id].width_mm), plan, lay)
        _save_layout(ax, out / lays[lay.lay_id], verdict)
    if accounts.uses:
        height = ROW_IN * (len(accounts.uses) + 0.2)
        drawn = {
            "yields": draw_yields(new_axes(8.0, height), accounts.uses, plan.bounds),
            "account": draw_account(new_axes(8.0, height), accounts.uses),
        }
        if accounts.leather_consumption:
            drawn["consumption"] = draw_consumption(new_axes(8.0, 4.0), accounts.leather_consumption)
        for name, ax in drawn.items():
            charts[name] = f"figures/{name}.png"
            save_figure(ax.figure, out / charts[name])
            save_figure(ax.figure, out / f"figures/{name}.svg")
    return Figures(hides=hides, lays=lays, pieces=_write_piece_figures(plan, out), **charts)


def _write_piece_figures(plan: Plan, out: Path) -> tuple[tuple[str, str], ...]:
    """The middle size of every style, with its reinforcement and the parts of its outline."""
    names = file_names(style.name for style in plan.styles)
    rank = {size: i for i, size in enumerate(sizes_in_order(plan))}
    found = []
    for style in plan.styles:
        own = sorted((p for p in plan.pieces if p.style == style.name), key=lambda piece: rank[piece.size])
        vamps = [piece for piece in own if piece.role is Role.VAMP and piece.foot != "right"]
        if vamps:
            vamp = vamps[len(vamps) // 2]
            back: Piece | None = next(
                (p for p in own if p.role is Role.REINFORCEMENT and (p.size, p.foot) == (vamp.size, vamp.foot)), None
            )
            template = next((template for template in style.templates if template.size == vamp.size), None)
            path = f"figures/piece-{names[style.name]}.png"
            save_figure(draw_piece(new_axes(6.5, 6.5), vamp, back, template).figure, out / path)
            found.append((f"{style.name}, size {vamp.size}", path))
    return tuple(found)


def _save_layout(ax, path: Path, verdict: Verdict) -> None:
    """Save the picture of a layout; one that has not passed its checks says so in its title."""
    if not verdict.ok:
        words = f"NOT VERIFIED, do not cut. {ax.get_title(loc='left')}"
        ax.set_title(words, loc="left", fontsize=10, color=palette.ALARM)
    save_figure(ax.figure, path)


def _axes(length_mm: float, width_mm: float):
    """Axes for a drawing of this size: 11 inches wide and as high as that asks for, within reason."""
    return new_axes(11.0, min(max(11.0 * width_mm / max(length_mm, 1.0), 1.5), 14.0))


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
