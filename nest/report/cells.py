"""Cells of a workbook page: text that is never a formula, formulas that are, formats, and print set-up."""

from decimal import Decimal

from nest.report.tables import FORMULA_STARTS, printable

FIRST = 4
"""Row of the first figures on every page: title, note and headings stand above."""

_SHADE = "FFF2CC"
_HEAD = "DDE5EA"
_HEAD_HEIGHT = 62
"""Points: four lines of text."""

_FIGURES_WIDTH, _WORDS_WIDTH, _BOLDER, _LEAST_COLUMNS = 11, 7, 1.2, 5
"""Letters that a column of figures and one of words hold at least; how much wider a bold word of a heading is; columns
that are printed. What is wider than it needs to be is smaller on paper."""

_LINE_HEIGHT, _NOTE_LETTERS = 15, 110
"""Points of a line, and letters of a note that go on one."""

_MARGIN_INCHES = 0.4

Span = tuple[float, float]
"""Least and largest number that a cell takes."""

MONEY, SHARE, COUNT = (0.0, 1e9), (0.0, 99.99), (0.0, 1e9)
CREDIT, PERCENT = (-1e9, 1e9), (0.0, 1000.0)
"""What prices, shares in percent, numbers of pairs, prices that may be credits, and what is added in percent are open
to."""


def money_format(digits: int) -> str:
    """Number format of amounts with this many decimals."""
    return "#,##0" + ("." + "0" * digits if digits else "")


class Page:
    """One sheet to fill, row by row; rows and columns count from 1."""

    def __init__(self, sheet):
        self._sheet, self._widths, self._figures, self._validations = sheet, {}, set(), {}

    def title(self, words: str, note: str) -> None:
        """The first two rows."""
        self.text(1, 1, words, bold=True, size=14, wide=False)
        self.text(2, 1, note, italic=True, wide=False)

    def headings(self, *names: str) -> None:
        """The third row."""
        from openpyxl.styles import Border, Font, PatternFill, Side

        for column, name in enumerate(names, start=1):
            self.text(3, column, name, bold=True)
            cell = self._sheet.cell(3, column)
            cell.fill, cell.font = PatternFill("solid", fgColor=_HEAD), Font(bold=True)
            cell.border = Border(left=Side("thick", color="FFFFFF"))  # headings that fill their columns stay apart

    def text(
        self, row: int, column: int, words: str, *, bold=False, italic=False, size=11, wide=True, over_figures=False
    ) -> None:
        """Text, stored as text whatever it begins with; to the right where it heads figures."""
        from openpyxl.styles import Alignment, Font

        cell = self._sheet.cell(row, column)
        cell.value = printable(words)
        cell.data_type = "s"
        if words.lstrip().startswith(FORMULA_STARTS):
            cell.quotePrefix = True
        cell.font = Font(bold=bold, italic=italic, size=size)
        if over_figures:
            cell.alignment = Alignment(horizontal="right")
        elif column > 1:
            # Figures end where the next column's text would begin.
            cell.alignment = Alignment(horizontal="left", indent=1)
        if wide and row > 3:
            self._widths[column] = max(self._widths.get(column, 0), min(len(words) + 2, 80))

    def number(
        self, row: int, column: int, value: float | Decimal | None, form: str, *, open_to: Span | None = None
    ) -> None:
        """A number, or room for one; shaded if it may be changed, within what it is open to."""
        self._figures.add(column)
        cell = self._sheet.cell(row, column, value)
        cell.number_format = form
        if open_to is not None:
            self._open(cell, open_to)

    def note(self, row: int, words: str, columns: int) -> None:
        """A sentence over several columns, on as many lines as it takes."""
        from openpyxl.styles import Alignment

        self.text(row, 1, words, italic=True, wide=False)
        self._sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=columns)
        self._sheet.cell(row, 1).alignment = Alignment(wrap_text=True, vertical="top")
        self._sheet.row_dimensions[row].height = _LINE_HEIGHT * (1 + len(words) // _NOTE_LETTERS)

    def add(self, chart, corner: str) -> None:
        """A chart, its upper left corner in a cell."""
        self._sheet.add_chart(chart, corner)

    @property
    def cells(self):
        """The sheet itself, for the references of a chart."""
        return self._sheet

    def _width(self, column: int) -> float:
        """Letters that a column holds: its texts, its figures, and the longest word of its heading."""
        words = str(self._sheet.cell(FIRST - 1, column).value or "").split()
        heading = _BOLDER * max(map(len, words), default=0) + 2
        least = _FIGURES_WIDTH if column in self._figures else _WORDS_WIDTH
        return max(least, heading, self._widths.get(column, 0))

    def _wrap_note(self, columns: int) -> None:
        """Let the note below the title run over all columns, on as many lines as that takes."""
        from math import ceil

        from openpyxl.styles import Alignment

        note = self._sheet.cell(2, 1)
        letters = sum(self._width(column) for column in range(1, columns + 1))
        self._sheet.merge_cells(start_row=2, end_row=2, start_column=1, end_column=columns)
        note.alignment = Alignment(wrap_text=True, vertical="top")
        self._sheet.row_dimensions[2].height = _LINE_HEIGHT * ceil((len(str(note.value or "")) + 1) / letters)

    def _open(self, cell, span: Span) -> None:
        """Shade and unlock a cell, and let in nothing but numbers within the span."""
        from openpyxl.styles import PatternFill, Protection
        from openpyxl.worksheet.datavalidation import DataValidation

        cell.fill = PatternFill("solid", fgColor=_SHADE)
        cell.protection = Protection(locked=False)
        if span not in self._validations:
            words = f"a number from {span[0]:g} to {span[1]:g}"
            rule = DataValidation(
                "decimal", operator="between", formula1=repr(span[0]), formula2=repr(span[1]), allow_blank=True,
                showErrorMessage=True, errorTitle="Not taken", error=f"Enter {words}.",
            )
            self._sheet.add_data_validation(rule)
            self._validations[span] = rule
        self._validations[span].add(cell)

    def formula(
        self, row: int, column: int, formula: str, form: str, *, bold=False, open_to: Span | None = None
    ) -> None:
        """A formula, without its equals sign; shaded if a number may take its place, within what it is open to."""
        from openpyxl.styles import Font

        self._figures.add(column)
        cell = self._sheet.cell(row, column, f"={formula}")
        cell.number_format = form
        if bold:
            cell.font = Font(bold=True)
        if open_to is not None:
            self._open(cell, open_to)

    def set_up(
        self, headings: int, *, one_page: bool = False, last: str = "", least_columns: int = _LEAST_COLUMNS
    ) -> None:
        """Widths; A4 across, as wide as the paper or all on one page of it, headings on every one; protection.

        last : lower right cell of what is printed, where charts reach beyond the cells.
        least_columns : this many are printed, and run through by the note, however few are filled.

        What is not shaded is protected, without a password: to keep formulas from slips, not from anybody.
        """
        from openpyxl.styles import Alignment
        from openpyxl.utils import get_column_letter

        sheet = self._sheet
        for column in range(1, sheet.max_column + 1):
            sheet.column_dimensions[get_column_letter(column)].width = self._width(column)
            side, indent = ("right", 0) if column in self._figures else ("left", int(column > 1))
            sheet.cell(headings, column).alignment = Alignment(
                horizontal=side, vertical="bottom", wrap_text=True, indent=indent)
        self._wrap_note(max(sheet.max_column, least_columns))
        sheet.row_dimensions[headings].height = _HEAD_HEIGHT
        sheet.freeze_panes = f"A{headings + 1}"
        sheet.print_title_rows = f"{headings}:{headings}"
        sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
        sheet.page_margins.left = sheet.page_margins.right = _MARGIN_INCHES
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, int(one_page)
        right = get_column_letter(max(sheet.max_column, least_columns))
        sheet.print_area = f"A1:{last or f'{right}{sheet.max_row}'}"
        sheet.protection.enable()
        sheet.protection.formatColumns = sheet.protection.formatRows = False
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.oddFooter.center.text = "&A, page &P of &N"
