"""Consumption as tables: one CSV file, and the same in a workbook.

Text that a spreadsheet would take for a formula is made harmless: in the CSV file it is preceded by
an apostrophe, in the workbook it is stored as text. Numbers stay numbers.
"""

import csv
import os
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from nest.accounts import Accounts
from nest.accounts.charges import ChargeKind
from nest.accounts.consumption import Consumption
from nest.accounts.sheet import LINES, CostSheet
from nest.accounts.standard import Reason, StandardBeside
from nest.atomic import atomic_folder, atomic_path
from nest.pieces.piece import Role
from nest.report.books import save_book
from nest.units import dm2, ft2, metres

Cell = str | int | float | Decimal | None

FORMULA_STARTS = tuple("=+-@＝＋－＠")
_DATES = ("due", "date")
_AREAS = ("net", "trim_off", "interlock", "fault", "edge", "measure")
_DIGITS = 4


@dataclass(frozen=True, slots=True)
class Table:
    """A header and rows of cells under it."""

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def consumption_table(accounts: Accounts) -> Table:
    """Material per pair cut by style and size, then by style, then for the order ("" stands for all).

    dm² and ft² a pair, metres a pair for goods off a roll, and what the cost sheet has for it in a good pair, without
    spoilage, and in all good pairs; `measure` is what is paid for beyond the digitised outline.
    """
    header = (
        "style", "size", "material", "pairs_cut", *(f"{name}_dm2_per_pair" for name in _AREAS),
        "gross_dm2_per_pair", "gross_ft2_per_pair", "metres_per_pair",
        f"cost_all_pairs_{accounts.cost.currency}", f"cost_per_pair_{accounts.cost.currency}",
    )
    costs = {(row.style, row.size): row for row in accounts.cost.rows}
    rows = []
    for row in (*accounts.leather_consumption, *accounts.reinforcement_consumption):
        if row.pairs > 0:
            found = costs.get((row.style, row.size))
            line = LINES.index(ChargeKind.LEATHER if row.role is Role.VAMP else ChargeKind.REINFORCEMENT)
            whole = None if found is None else found.amounts[line]
            pair = None if found is None or found.per_pair is None else found.per_pair[line]
            rows.append((*_consumption_row(row), whole, pair))
    return Table("consumption", header, tuple(rows))


def cost_table(sheet: CostSheet, standard: StandardBeside | None = None) -> Table:
    """The cost sheet: for each size, style ("" stands for all) and the order what all pairs cost line by line, and one.

    Lines add up to the total, sizes to their style and to the order, to the last minor unit. Then the standard cost of
    a good pair, half its 95 % interval, and the reasons of the difference, which add up to it.
    """
    beside = {} if standard is None else {(row.style, row.size): row for row in standard.rows}
    reasons = () if standard is None else tuple(Reason)
    more = [f"{name.replace(' ', '_').replace(',', '')}_{sheet.currency}"
            for name in ("standard_pair", "standard_within_95", *reasons)] if beside else []

    def of_standard(row) -> tuple[Cell, ...]:
        found = beside.get((row.style, row.size))
        if found is None or found.reasons is None:
            return (None,) * len(more)
        return (found.standard, found.error, *found.reasons)

    lines = [line.replace(" ", "_") for line in LINES]
    header = ("style", "size", "pairs_cut", "pairs_good", *(f"{line}_{sheet.currency}" for line in lines),
              f"total_{sheet.currency}", f"good_pair_{sheet.currency}", *more)
    return Table("cost", header, tuple(
        (row.style, row.size, float(row.pairs.cut), float(row.pairs.good), *row.amounts, row.total, row.good_pair,
         *of_standard(row))
        for row in sheet.rows
    ))


def _consumption_row(row: Consumption) -> tuple[Cell, ...]:
    each = row.per_pair()
    areas = [round(dm2(getattr(each, f"{name}_mm2")), _DIGITS) + 0.0 for name in _AREAS]
    gross = round(dm2(each.gross_mm2), _DIGITS), round(ft2(each.gross_mm2), _DIGITS)
    length = round(metres(each.length_mm), _DIGITS) if row.role is Role.REINFORCEMENT else None
    material = "leather" if row.role is Role.VAMP else "reinforcement"
    return (row.style, row.size, material, row.pairs, *areas, *gross, length)


def write_csv(table: Table, path) -> None:
    """Write `table` to `path`, atomically: UTF-8, commas, decimal points (RFC 4180)."""
    with atomic_path(path) as part, open(part, "w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(table.header)
        writer.writerows([harmless(cell) for cell in row] for row in table.rows)


def write_workbook(tables: Sequence[Table], path) -> None:
    """Write each of `tables` on its own sheet of one workbook, atomically; text is stored as text.

    Sheets are one A4 page wide; rows of all sizes, or of all styles, are bold, the last of them named "all".
    """
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.utils import get_column_letter

    book = Workbook()
    book.remove(book.active)
    for table in tables:
        sheet = book.create_sheet(table.name)
        for r, row in enumerate((table.header, *table.rows), start=1):
            total = r > 1 and table.header[:2] == ("style", "size") and not row[1]
            for c, (name, value) in enumerate(zip(table.header, row, strict=True), start=1):
                cell = sheet.cell(r, c)
                stored = _stored(name, value or "all" if total and c == 1 else value) if r > 1 else _heading(name)
                cell.value = stored
                if isinstance(stored, str):
                    cell.data_type = "s"
                    cell.quotePrefix = stored.lstrip().startswith(FORMULA_STARTS)
                else:
                    cell.number_format = _format(name, cell.value)
                if r == 1 or total:
                    cell.font = Font(bold=True)
        for c, name in enumerate(table.header, start=1):
            words = max((len(cell) for row in table.rows if isinstance(cell := row[c - 1], str)), default=0)
            parts = max(map(len, _heading(name).split()), default=0)
            sheet.column_dimensions[get_column_letter(c)].width = max(10, parts + 3, min(words + 2, 60))
            figures = any(isinstance(row[c - 1], int | float | Decimal) for row in table.rows)
            side = "right" if figures else "left"
            head = sheet.cell(1, c)
            head.alignment = Alignment(wrap_text=True, vertical="bottom", horizontal=side)
            # Headings that fill their columns stay apart.
            head.fill, head.border = PatternFill("solid", fgColor="DDE5EA"), Border(left=Side("thick", color="FFFFFF"))
        sheet.row_dimensions[1].height = 62
        sheet.freeze_panes, sheet.print_title_rows = "A2", "1:1"
        sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.oddFooter.center.text = "&A, page &P of &N"
    save_book(book, path)


def write_tables(tables: Sequence[Table], folder: str | os.PathLike[str], book: str) -> None:
    """Write every table as CSV, and all as the workbook `book`, in a folder that appears whole or not at all.

    An earlier folder is known by the table of the workbook's name, which must be among them.

    Raises
    ------
    PlanProblem
        As `nest.atomic.atomic_folder`.
    """
    with atomic_folder(folder, marker=f"{book}.csv") as part:
        for table in tables:
            write_csv(table, part / f"{table.name.replace(' ', '-')}.csv")
        write_workbook(tables, part / f"{book}.xlsx")


def _heading(name: str) -> str:
    """The name of a column in words."""
    return re.sub(r"\b(d?m|ft)2\b", r"\1²", name.replace("_", " "))


def _stored(name: str, value: Cell) -> Cell | date:
    """A cell as a workbook holds it: what is named a date, and is one, as a date."""
    if not isinstance(value, str):
        return value
    if name in _DATES:
        try:
            return date.fromisoformat(value)
        except ValueError:
            pass
    return printable(value)


def _format(name: str, value) -> str:
    """Number format of a cell: money with its own digits, areas and lengths to what can be measured."""
    if isinstance(value, date):
        return "yyyy-mm-dd"
    if isinstance(value, Decimal):
        exponent = value.as_tuple().exponent
        digits = max(0, -exponent) if isinstance(exponent, int) else 0
        return "#,##0" + ("." + "0" * digits if digits else "")
    if isinstance(value, float):
        if name.startswith("pairs"):
            return "#,##0" if value.is_integer() else "#,##0.##"
        return "#,##0.000" if "metres" in name or "ft2" in name else "#,##0.00"
    return "#,##0" if isinstance(value, int) else "General"


def harmless(cell: Cell) -> Cell:
    """`cell`, with an apostrophe before text that a spreadsheet would take for a formula."""
    if isinstance(cell, str):
        cell = printable(cell)
        if cell.lstrip().startswith(FORMULA_STARTS):
            return "'" + cell
    return cell


def printable(text: str) -> str:
    """`text` with control characters as spaces, which neither a workbook nor a printer could take."""
    return "".join(" " if unicodedata.category(letter) in ("Cc", "Cs") else letter for letter in text)
