"""The standard cost in the costing workbook: columns of the pages "Sizes" and "Candidates", and lines of "Summary".

All of it follows the cells that may be changed, as the rest of the workbook does. Its pairs cut are good pairs ÷ (1 −
reject rate), none rounded. A size that a plan leaves short is charged here as it was ordered: a good pair costs the
same however many the plan gives.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from nest.accounts.money import minor_digits
from nest.accounts.sheet import CostSheet
from nest.accounts.standard import Reason, StandardBeside
from nest.report.cells import FIRST, SHARE, Page
from nest.report.charged_pages import Rows

COLUMNS = 4
"""Columns that `fill_sizes` takes."""


@dataclass(frozen=True, slots=True)
class StandardColumns:
    """Letters of the columns of the standard cost on the page "Sizes": share spoiled, pairs cut, good pair, times."""

    rate: str
    cut: str
    pair: str
    times: str

    @classmethod
    def after(cls, columns: int) -> "StandardColumns":
        """The four columns that follow."""
        from openpyxl.utils import get_column_letter

        return cls(*(get_column_letter(columns + i) for i in range(1, COLUMNS + 1)))


def headings(currency: str) -> tuple[str, ...]:
    """Headings of the columns."""
    return ("standard: spoiled, % of pairs cut", "standard: pairs cut", f"standard cost, good pair, {currency}",
            "times the standard's charges")


def fill_sizes(
    page: Page, sheet: CostSheet, standard: CostSheet, first: int, names: StandardColumns, rows: Rows, money: str, *,
    own_rate: bool,
) -> None:
    """Columns `first` and on; `own_rate` where the share spoiled is not that of the page but the style's own."""
    end, number = FIRST + len(sheet.sizes), rows.standards
    assert number is not None
    first_of: dict[str, int] = {}
    for i, size in enumerate(sheet.sizes):
        row, mine = FIRST + i, _pairs_of(standard, size)
        if mine is None or not size.pairs.good:
            continue
        rejected = 100 * (1 - mine.good / mine.cut)
        if not own_rate:
            page.formula(row, first, f"D{row}", "0.##")
        elif size.style in first_of:
            page.formula(row, first, f"{names.rate}{first_of[size.style]}", "0.##", open_to=SHARE)
        else:
            page.number(row, first, float(rejected), "0.##", open_to=SHARE)
        first_of.setdefault(size.style, row)
        ordered = _times(mine.good / size.pairs.good)
        page.formula(row, first + 1, f"C{row}{ordered}/(1-{names.rate}{row}/100)", "#,##0.##")
        page.formula(row, first + 2, per_pair(names, rows, number, row), money)
        page.formula(row, first + 3, f"{names.cut}{row}/{float(mine.cut)!r}", "0.####")
    if sheet.sizes:
        page.formula(end, first + 2, order_pair(names.pair, end), money, bold=True)


def per_pair(names: StandardColumns, rows: Rows, number: int, row: int) -> str:
    """A good pair of one size by the standard cost of sheet `number`, as a formula for any page."""
    good = f"(Sizes!${names.cut}${row}*(1-Sizes!${names.rate}${row}/100))"
    return f"IF({good}=0,0,{rows.charged(number, row)}/{good})"


def order_pair(letter: str, end: int) -> str:
    """A good pair of the order, of those sizes above that have a standard cost, as a formula."""
    pairs, good = f"{letter}{FIRST}:{letter}{end - 1}", f"Sizes!$C${FIRST}:$C${end - 1}"
    known = f"SUMPRODUCT(({pairs}<>0)*{good})"
    return f"IF({known}=0,0,SUMPRODUCT({pairs},{good})/{known})"


def _pairs_of(standard: CostSheet, size):
    """Pairs of the standard cost of a size; None where it has none."""
    try:
        pairs = standard.row(size.style, size.size).pairs
    except KeyError:
        return None
    return pairs if pairs.good and pairs.cut else None


def _times(ratio: Fraction) -> str:
    return "" if ratio == 1 else f"*{float(ratio)!r}"


def fill_candidates(
    page: Page, first: int, sheet: CostSheet, standards: Sequence[CostSheet | None], names: StandardColumns, rows: Rows,
    money: str,
) -> None:
    """Columns of the page "Candidates" from `first` on: the standard cost as planned, and with each candidate."""
    from openpyxl.utils import get_column_letter

    end, number = FIRST + len(sheet.sizes), rows.standards
    assert number is not None
    for column, standard in enumerate(standards, start=first):
        if standard is None:
            page.text(FIRST, column, "not known")
            continue
        letter = get_column_letter(column)
        for i, size in enumerate(sheet.sizes):
            if _pairs_of(standard, size) is not None and size.pairs.good:
                page.formula(FIRST + i, column, per_pair(names, rows, number, FIRST + i), money)
        page.formula(end, column, order_pair(letter, end), money, bold=True)
        if column > first:
            page.formula(end + 1, column, f"{letter}{end}-${get_column_letter(first)}${end}", money)
        number += 1


def fill_summary(page: Page, standard: StandardBeside, end: int, names: StandardColumns, row: int, money: str) -> int:
    """Standard cost, cost as planned and the difference from row `row` on, then its reasons; returns the row below."""
    order, digits = standard.order, minor_digits(standard.currency)
    if order.reasons is None:
        return row
    page.text(row, 1, "standard cost: whatever hides it lies on", bold=True)
    page.text(row, 2, "a good pair", bold=True, over_figures=True)
    page.text(row, 3, "all pairs", bold=True, over_figures=True)
    for words, pair, every in (
        ("by the standard", f"Sizes!{names.pair}{end}", f"Sizes!{names.pair}{end}*Sizes!C{end}"),
        ("as above", f"Sizes!K{end}", f"Sizes!L{end}"),
        ("difference", *(f"ROUND({letter}{row + 2},{digits})-ROUND({letter}{row + 1},{digits})" for letter in "BC")),
    ):
        row += 1
        page.text(row, 1, words)
        page.formula(row, 2, pair, money)
        page.formula(row, 3, every, money)
    row += 1
    page.text(row, 1, "made up, before anything was changed, of (fixed)")
    for i, reason in enumerate(Reason):
        if reason in standard.reasons:
            row += 1
            page.text(row, 1, f"  {reason}")
            page.number(row, 2, float(order.reasons[i]), money)
            page.number(row, 3, float(order.reasons_all[i]), money)
    return row + 2
