"""A quotation on paper: one page of A4 as PDF, or one sheet of a workbook. It shows no cost, yield or margin."""

from datetime import date
from math import fsum
from typing import Any

from nest.accounts.money import minor_digits
from nest.accounts.quotation import Quotation, StyleOffer
from nest.atomic import atomic_path
from nest.errors import PlanProblem
from nest.report.books import save_book
from nest.report.cells import Page, money_format

_MM = 25.4
_PAPER_MM = (210.0, 297.0)
"""A4 upright (ISO 216)."""
_LEFT, _RIGHT, _TOP, _BOTTOM = 20.0, 190.0, 275.0, 20.0
_ROW = 6.2
_COLUMNS = (62.0, 118.0, _RIGHT)
"""Right edges of quantity, price and total, mm from the left."""
_MOST_SIZES = 9
_MONTHS = "January February March April May June July August September October November December"
"""Spelt out, whatever the language of the machine."""


def write_quotation(offered: Quotation, path) -> None:
    """Write the quotation as the suffix of `path` asks for, .pdf or .xlsx; atomically.

    Raises
    ------
    PlanProblem
        If it does not fit one page.
    """
    if str(path).lower().endswith(".pdf"):
        _write_pdf(offered, path)
    else:
        _write_workbook(offered, path)


def _head(offered: Quotation) -> list[tuple[str, str]]:
    rows = [("For", offered.customer), ("Number", offered.number), ("Subject", offered.name),
            ("Date", _day(offered.day)), ("Valid until", _day(offered.valid_until))]
    return [(name, words) for name, words in rows if words]


def _day(day: str) -> str:
    """A date that reads the same everywhere: 2 November 2026."""
    found = date.fromisoformat(day)
    return f"{found.day} {_MONTHS.split()[found.month - 1]} {found.year}"


def _sizes(offer: StyleOffer) -> str:
    """The sizes with the pairs of each; of many the first and last."""
    if len(offer.sizes) > _MOST_SIZES:
        return f"sizes {offer.sizes[0][0]} to {offer.sizes[-1][0]}, in the proportions of the order"
    return "sizes and pairs: " + ", ".join(f"{size}: {pairs}" for size, pairs in offer.sizes)


def _write_pdf(offered: Quotation, path) -> None:
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    needed = 60.0 + fsum(24.0 + _ROW * len(offer.steps) for offer in offered.offers) + 8.0 * len(offered.terms)
    if needed > _TOP - _BOTTOM:
        raise PlanProblem("the quotation does not fit one page; quote fewer styles or quantities, or as a workbook.")
    figure = Figure(figsize=(_PAPER_MM[0] / _MM, _PAPER_MM[1] / _MM))

    def put(x: float, y: float, words: str, **kinds) -> None:
        # A dollar sign would begin a formula.
        look: dict[str, Any] = {"fontsize": 10, "va": "baseline"} | kinds
        figure.text(x / _PAPER_MM[0], y / _PAPER_MM[1], words, parse_math=False, **look)

    def rule(y: float, width: float = 0.6) -> None:
        from matplotlib.lines import Line2D

        xs = _LEFT / _PAPER_MM[0], _RIGHT / _PAPER_MM[0]
        figure.add_artist(Line2D(xs, (y / _PAPER_MM[1],) * 2, color="black", linewidth=width))

    y = _TOP
    put(_LEFT, y, "Quotation", fontsize=20, fontweight="bold")
    y -= 14.0
    for name, words in _head(offered):
        put(_LEFT, y, name, color="#555555")
        put(_LEFT + 32.0, y, words)
        y -= _ROW
    for offer in offered.offers:
        y -= 8.0
        put(_LEFT, y, offer.style, fontsize=13, fontweight="bold")
        put(_RIGHT, y, ", ".join(offer.materials), ha="right", color="#555555")
        y -= _ROW
        put(_LEFT, y, _sizes(offer), fontsize=9, color="#555555")
        y -= _ROW + 1.0
        for edge, words in zip(_COLUMNS, ("pairs", f"a pair, {offered.currency}", f"together, {offered.currency}"),
                               strict=True):
            put(edge, y, words, ha="right", color="#555555", fontsize=9)
        rule(y - 2.0)
        for step in offer.steps:
            y -= _ROW
            for edge, words, weight in zip(
                _COLUMNS, (f"from {step.pairs:,}", f"{step.pair:,}", f"{step.total:,}"), ("normal", "bold", "normal"),
                strict=True,
            ):
                put(edge, y, words, ha="right", fontweight=weight)
        rule(y - 2.2, 0.3)
        y -= 3.0
    y -= 9.0
    for sentence in offered.terms:
        put(_LEFT, y, sentence, fontsize=9)
        y -= 5.4
    with atomic_path(path) as part, PdfPages(part, metadata={"CreationDate": None, "Title": "Quotation"}) as pages:
        pages.savefig(figure)


def _write_workbook(offered: Quotation, path) -> None:
    from openpyxl import Workbook
    from openpyxl.styles import Alignment

    book = Workbook()
    sheet = book.active
    sheet.title = "Quotation"
    page, money = Page(sheet), money_format(minor_digits(offered.currency))
    page.title("Quotation", " · ".join(f"{name}: {words}" for name, words in _head(offered)))
    page.headings("style", "pairs from", f"a pair, {offered.currency}", f"together, {offered.currency}")
    row = 4
    for offer in offered.offers:
        for step in offer.steps:
            page.text(row, 1, offer.style)
            page.number(row, 2, step.pairs, "#,##0")
            page.number(row, 3, float(step.pair), money)
            page.number(row, 4, float(step.total), money)
            row += 1
    said = [f"{offer.style}: {', '.join(offer.materials)}; {_sizes(offer)}." for offer in offered.offers]
    words = (*said, *offered.terms)
    for line, sentence in enumerate(words, start=row + 1):
        page.text(line, 1, sentence, wide=False)
    row += len(words)
    page.set_up(3, one_page=True, least_columns=4)
    for line in range(row - len(words) + 1, row + 1):
        sheet.merge_cells(start_row=line, end_row=line, start_column=1, end_column=4)
        sheet.cell(line, 1).alignment = Alignment(wrap_text=True, vertical="top")
        sheet.row_dimensions[line].height = 32
    for column, width in zip("ABCD", (30, 16, 18, 22), strict=True):
        sheet.column_dimensions[column].width = width
    sheet.row_dimensions[3].height = 20
    sheet.page_setup.orientation = "portrait"
    sheet.print_area = f"A1:D{row}"
    save_book(book, path)
