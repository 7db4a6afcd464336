"""A list of outcomes to be filled in: a row for each vamp of a plan, as CSV or a workbook with a choice of reasons."""

from pathlib import Path

from nest.atomic import atomic_path
from nest.outcomes import Reason
from nest.outcomes.figures import COLUMNS
from nest.pieces.piece import Foot
from nest.plan import Plan
from nest.report.books import save_book
from nest.report.tables import Table, printable, write_csv

HEADER = (
    "hide", "piece", "style", "size", "side", "outcome", *(name for name in COLUMNS if name != "side_mm"), "date",
    "reinforcement", "remark",
)


def outcome_table(plan: Plan) -> Table:
    """The empty list: vamps in the order of hides and numbers."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    blank = (None,) * (len(HEADER) - 5)
    rows = []
    for layout in plan.layouts:
        for i, placed in enumerate(layout.placed):
            piece = pieces[placed.piece_id]
            side = "" if piece.foot is Foot.EITHER else str(piece.foot)
            rows.append((layout.hide_id, layout.number(i), piece.style, piece.size, side, *blank))
    return Table("outcomes", HEADER, tuple(rows))


def write_outcome_list(plan: Plan, path: Path) -> None:
    """Write the empty list to `path`, by its ending; errors as `nest.atomic.atomic_path`."""
    table = outcome_table(plan)
    if path.suffix.lower() != ".xlsx":
        write_csv(table, path)
        return
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.worksheet.datavalidation import DataValidation

    book = Workbook()
    sheet = book.active
    sheet.title = table.name
    for r, row in enumerate((table.header, *table.rows), start=1):
        for c, value in enumerate(row, start=1):
            if value is not None:
                cell = sheet.cell(r, c)
                cell.value = printable(value) if isinstance(value, str) else value
                if isinstance(value, str):
                    cell.data_type = "s"
                cell.font = Font(bold=r == 1)
    choice = DataValidation("list", formula1='"' + ",".join(Reason) + '"', allow_blank=True, showErrorMessage=True)
    sheet.add_data_validation(choice)
    column = sheet.cell(1, HEADER.index("outcome") + 1).column_letter
    choice.add(f"{column}2:{column}{len(table.rows) + 1}")
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation, sheet.page_setup.fitToHeight = "landscape", 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    for c, name in enumerate(HEADER, start=1):
        letter = sheet.cell(1, c).column_letter
        sheet.column_dimensions[letter].width = max(10, len(name) + 2)
    with atomic_path(path) as part:
        save_book(book, part)
