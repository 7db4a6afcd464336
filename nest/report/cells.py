"""Cells of a workbook page: text that is never a formula, formulas that are, formats, and print set-up."""

from nest.report.tables import FORMULA_STARTS, printable

FIRST = 4
"""Row of the first figures on every page: title, note and headings stand above."""

_SHADE = "FFF2CC"
_HEAD = "DDE5EA"
_HEAD_HEIGHT = 48
"""Points: three lines of text."""


def money_format(digits: int) -> str:
    """Number format of amounts with so many decimals."""
    return "#,##0" + ("." + "0" * digits if digits else "")


class Page:
    """One sheet to fill, row by row; rows and columns count from 1."""

    def __init__(self, sheet):
        self._sheet, self._widths, self._figures = sheet, {}, set()

    def title(self, words: str, note: str) -> None:
        """The first two rows."""
        self.text(1, 1, words, bold=True, size=14, wide=False)
        self.text(2, 1, note, italic=True, wide=False)

    def headings(self, *names: str) -> None:
        """The third row."""
        from openpyxl.styles import Font, PatternFill

        for column, name in enumerate(names, start=1):
            self.text(3, column, name, bold=True)
            cell = self._sheet.cell(3, column)
            cell.fill, cell.font = PatternFill("solid", fgColor=_HEAD), Font(bold=True)

    def text(self, row: int, column: int, words: str, *, bold=False, italic=False, size=11, wide=True) -> None:
        """Text, stored as text whatever it begins with."""
        from openpyxl.styles import Font

        cell = self._sheet.cell(row, column)
        cell.value = printable(words)
        cell.data_type = "s"
        if words.lstrip().startswith(FORMULA_STARTS):
            cell.quotePrefix = True
        cell.font = Font(bold=bold, italic=italic, size=size)
        if wide and row > 3:
            self._widths[column] = max(self._widths.get(column, 0), min(len(words) + 2, 80))

    def number(self, row: int, column: int, value: float | None, form: str, *, open_to_change=False) -> None:
        """A number, or room for one; shaded if it may be changed."""
        from openpyxl.styles import PatternFill

        self._figures.add(column)
        cell = self._sheet.cell(row, column, value)
        cell.number_format = form
        if open_to_change:
            cell.fill = PatternFill("solid", fgColor=_SHADE)

    def formula(self, row: int, column: int, formula: str, form: str, *, bold=False, open_to_change=False) -> None:
        """A formula, without its equals sign; shaded if a number may take its place."""
        from openpyxl.styles import Font, PatternFill

        self._figures.add(column)
        cell = self._sheet.cell(row, column, f"={formula}")
        cell.number_format = form
        if bold:
            cell.font = Font(bold=True)
        if open_to_change:
            cell.fill = PatternFill("solid", fgColor=_SHADE)

    def set_up_print(self, headings: int) -> None:
        """Widths, and A4 across, as wide as the paper, with the headings on every sheet of it."""
        from openpyxl.styles import Alignment
        from openpyxl.utils import get_column_letter

        sheet = self._sheet
        for column in range(1, sheet.max_column + 1):
            sheet.column_dimensions[get_column_letter(column)].width = max(13, self._widths.get(column, 0))
            side = "right" if column in self._figures else "left"
            sheet.cell(headings, column).alignment = Alignment(horizontal=side, vertical="bottom", wrap_text=True)
        sheet.row_dimensions[headings].height = _HEAD_HEIGHT
        sheet.freeze_panes = f"A{headings + 1}"
        sheet.print_title_rows = f"{headings}:{headings}"
        sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.oddFooter.center.text = "&A, page &P of &N"
