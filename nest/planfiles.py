"""The files of one hide, lay, piece or chart of a plan: each is written by itself, wherever and in any order."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from nest.accounts import Accounts
from nest.atomic import atomic_path
from nest.cutplan.cautions import NOT_VERIFIED_WARNING
from nest.cutplan.compose import hide_drawing, lay_drawing
from nest.cutplan.dxf import write_hide_dxf, write_lay_dxf, write_piece_dxf
from nest.cutplan.sizes import sizes_in_order
from nest.cutplan.stamp import Stamp
from nest.cutplan.work import Work, hide_work, lay_work
from nest.pieces.piece import Piece, Role
from nest.plan import Bound, HideLayout, Lay, Plan, PlannedStyle
from nest.report import palette
from nest.report.charts import ROW_IN, draw_account, draw_consumption, draw_yields
from nest.report.figures import draw_hide, draw_lay, draw_piece, new_axes, save_figure
from nest.report.summary import Figures, summary_html
from nest.report.tiles import write_table_files
from nest.sheets import HideSheet, LaySheet, MoreSheet, Page, write_sheet, write_sheets
from nest.tickets import batches_of, tickets_of
from nest.verify.verdict import Verdict

DRAWINGS, SHEETS, TICKETS, PRINT_FILE = "drawings", "sheets", "tickets", "print.pdf"
"""Folders of drawings, of sheets and of tickets, and the file that holds all on paper."""

NOT_VERIFIED = "NOT-VERIFIED-"
"""Begins the name of every drawing of a plan that has not passed its checks."""


Drawn = tuple[HideSheet | LaySheet | MoreSheet, tuple[Page, ...]]
"""A sheet and its pages."""


@dataclass(frozen=True, slots=True)
class PlanFiles:
    """What all files of a plan share: whether it has `passed` its checks, the `folder`, whether there are pictures."""

    plan: Plan
    stamp: Stamp
    version: str
    passed: bool
    folder: Path
    pictures: bool

    @property
    def prefix(self) -> str:
        """What the names of drawings begin with."""
        return "" if self.passed else NOT_VERIFIED

    @property
    def warning(self) -> str:
        """What drawings say first."""
        return "" if self.passed else NOT_VERIFIED_WARNING


def write_hide(files: PlanFiles, layout: HideLayout, name: str) -> Work:
    """Write the drawing of a hide, what else its table reads, and its picture; returns the work on it."""
    plan, work = files.plan, hide_work(files.plan, layout)
    path = files.folder / DRAWINGS / f"{files.prefix}hide-{name}.dxf"
    write_hide_dxf(plan, layout, path, files.version, warning=files.warning, work=work, stamp=files.stamp)
    if plan.settings.table.files:
        drawing = hide_drawing(plan, layout, files.warning, work, files.stamp)
        write_table_files(work, drawing, path, f"Hide {layout.hide_id}", files.version)
    if files.pictures:
        x_min, y_min, x_max, y_max = next(h for h in plan.hides if h.hide_id == layout.hide_id).outline.bounds
        ax = draw_hide(_axes(x_max - x_min, y_max - y_min), plan, layout)
        _save_layout(files, ax, f"hide-{name}")
    return work


def write_lay(files: PlanFiles, lay: Lay, name: str) -> Work:
    """Write the same for a lay; returns the work on it."""
    plan, work = files.plan, lay_work(files.plan, lay)
    path = files.folder / DRAWINGS / f"{files.prefix}lay-{name}.dxf"
    write_lay_dxf(plan, lay, path, files.version, warning=files.warning, work=work, stamp=files.stamp)
    if plan.settings.table.files:
        drawing = lay_drawing(plan, lay, files.warning, work, files.stamp)
        write_table_files(work, drawing, path, f"Lay {lay.lay_id}", files.version)
    if files.pictures:
        roll = next(roll for roll in plan.rolls if roll.roll_id == lay.roll_id)
        _save_layout(files, draw_lay(_axes(lay.length_mm, roll.width_mm), plan, lay), f"lay-{name}")
    return work


def write_piece(files: PlanFiles, piece: Piece, name: str) -> None:
    """Write a piece as a drawing of its own."""
    plan, path = files.plan, files.folder / "pieces" / f"{files.prefix}{name}.dxf"
    write_piece_dxf(piece, path, files.version, warning=files.warning, table=plan.settings.table, styles=plan.styles)


def write_paper(files: PlanFiles, sheets: Sequence[Drawn]) -> None:
    """Write sheets and tickets, all of them in one file."""
    write_sheets(files.plan, sheets, files.stamp, files.folder, f"{files.prefix}{PRINT_FILE}")


def write_own_sheet(files: PlanFiles, sheet: HideSheet | LaySheet) -> tuple[Page, ...]:
    """Write the sheet of a hide or lay into a file of its own; returns its pages."""
    return write_sheet(files.plan, sheet, files.stamp, files.folder)


def write_own_tickets(files: PlanFiles, tickets: Mapping[str, str]) -> list[Drawn]:
    """Write the tickets of batches (name, file) into files of their own; returns them."""
    batches = [batch for batch in batches_of(files.plan) if batch.name in tickets]
    found = tickets_of(files.plan, batches, tickets, files.passed, files.stamp)
    return [(ticket, write_sheet(files.plan, ticket, files.stamp, files.folder)) for ticket in found]


def write_page(
    files: PlanFiles, accounts: Accounts, verdict: Verdict, shown: Figures, works: Mapping[str, Work],
    to_buy: Sequence[str],
) -> None:
    """Write the page of the run."""
    page = summary_html(files.plan, accounts, verdict, shown, works, stamp=files.stamp, to_buy=to_buy)
    with atomic_path(files.folder / "report.html") as part:
        part.write_text(page, encoding="utf-8")


def charts_of(accounts: Accounts) -> tuple[str, ...]:
    """The names of the charts that there is something to draw for."""
    return (("yields", "account") if accounts.uses else ()) + (("consumption",) if accounts.leather_consumption else ())


def chart_path(name: str) -> str:
    """Where the page finds a chart."""
    return f"figures/{name}.png"


def write_chart(files: PlanFiles, name: str, accounts: Accounts, bounds: Sequence[Bound]) -> None:
    """Write a chart in dots and in lines."""
    height = ROW_IN * (len(accounts.uses) + 0.2)
    if name == "yields":
        ax = draw_yields(new_axes(8.0, height), accounts.uses, bounds)
    elif name == "account":
        ax = draw_account(new_axes(8.0, height), accounts.uses)
    else:
        ax = draw_consumption(new_axes(8.0, 4.0), accounts.leather_consumption)
    for suffix in ("png", "svg"):
        save_figure(ax.figure, (files.folder / chart_path(name)).with_suffix(f".{suffix}"))


def write_picture(files: PlanFiles, style: PlannedStyle, name: str) -> tuple[str, str] | None:
    """Draw the middle size of a style, with its reinforcement and the parts of its outline; caption and path."""
    plan = files.plan
    rank = {size: i for i, size in enumerate(sizes_in_order(plan))}
    own = sorted((p for p in plan.pieces if p.style == style.name), key=lambda piece: rank[piece.size])
    vamps = [piece for piece in own if piece.role is Role.VAMP and piece.foot != "right"]
    if not vamps:
        return None
    vamp = vamps[len(vamps) // 2]
    back = next((p for p in own if p.role is Role.REINFORCEMENT and (p.size, p.foot) == (vamp.size, vamp.foot)), None)
    template = next((template for template in style.templates if template.size == vamp.size), None)
    path = f"figures/piece-{name}.png"
    save_figure(draw_piece(new_axes(6.5, 6.5), vamp, back, template).figure, files.folder / path)
    return f"{style.name}, size {vamp.size}", path


def _save_layout(files: PlanFiles, ax, name: str) -> None:
    """Save the picture of a layout; one that has not passed its checks says so in its title."""
    if not files.passed:
        words = f"NOT VERIFIED, do not cut. {ax.get_title(loc='left')}"
        ax.set_title(words, loc="left", fontsize=10, color=palette.ALARM)
    save_figure(ax.figure, files.folder / f"figures/{name}.png")


def _axes(length_mm: float, width_mm: float):
    """Axes for a drawing of this size: 11 inches wide and as high as that asks for, within reason."""
    return new_axes(11.0, min(max(11.0 * width_mm / max(length_mm, 1.0), 1.5), 14.0))
