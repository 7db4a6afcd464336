"""Pages of the costing workbook that say why: one size beside another, and the handbook's way. Values, not formulas."""

from collections.abc import Sequence

from nest.accounts.estimate import JobEstimate
from nest.accounts.handbook import HandbookLine
from nest.accounts.why import by_size, causes_of
from nest.report.cells import FIRST, Page


def fill_why(page: Page, estimate: JobEstimate, money: str) -> None:
    """Why each size costs more or less than the middle one of its style, by the standard cost."""
    found = by_size(estimate)
    causes = causes_of(found)
    page.title("Why a size is dearer", "By the standard cost, against the middle size of the style; the causes add "
               "up to the difference. Fixed: those of the prices that the program was given.")
    page.headings("size", "beside", f"a good pair, {estimate.standard.currency}", "that beside", "difference",
                  *map(str, causes))
    for row, one in enumerate(found, start=FIRST):
        page.text(row, 1, one.names[1])
        page.text(row, 2, one.names[0])
        amounts = dict(one.causes)
        figures = one.after, one.before, one.difference, *(amounts.get(cause, 0) for cause in causes)
        for column, figure in enumerate(figures, start=3):
            page.number(row, column, float(figure), money)
    if not found:
        page.text(FIRST, 1, "one size alone")


def fill_handbook(page: Page, lines: Sequence[HandbookLine], currency: str, money: str) -> None:
    """Parallelogram, first, second and third waste of a pair cut, in dm² and money."""
    page.title("The handbook's way", "Leather of a pair cut by parallelogram and wastes (Russ & Small 1922; Golding "
               "1902) beside ours, at one price. Fixed.")
    page.headings("style", "size", "line", "book, dm²", "here, dm²", "difference, dm²", f"book, {currency}",
                  f"here, {currency}", f"difference, {currency}", "why")
    for row, one in enumerate(lines, start=FIRST):
        total = one.line == "total"
        for column, words in ((1, one.style), (2, one.size), (3, one.line)):
            page.text(row, column, words, bold=total)
        for column, area in ((4, one.book_mm2), (5, one.here_mm2), (6, one.difference_mm2)):
            page.number(row, column, area / 1e4, "#,##0.00")
        for column, amount in ((7, one.book), (8, one.here), (9, one.difference)):
            page.number(row, column, float(amount), money)
        page.text(row, 10, one.reason)
