"""The cost sheet as a workbook of formulas: change a shaded cell, and it says what the program would of such a job.

Shaded: list prices on "Materials", rates of exchange on "Rates", breaks on "Breaks", good pairs and the share that is
spoiled on "Sizes", millimetres and pairs a year on "What-ifs". Candidates, standard costs and what-ifs follow them too.
Fixed, and said to be: what a pair cut takes of each material, but for the millimetres, which move it by their slopes
within those that were tried; shares of trim-off; and what-ifs that were placed. An estimate cuts whole pairs, as the
program does; layouts are taken in proportion, fractions of a hide and of a lay included. Amounts are not rounded, only
shown so; the program rounds as `nest.accounts.sheet` says. What is not shaded is protected without a password.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from nest.accounts.candidates import Candidate
from nest.accounts.charges import WHOLE, ChargeKind
from nest.accounts.handbook import HandbookLine
from nest.accounts.money import minor_digits
from nest.accounts.sheet import LINES, SPOILAGE, CostSheet
from nest.accounts.standard import StandardBeside
from nest.accounts.trimshares import TrimShare
from nest.pieces.quantities import RejectPairs
from nest.report.books import save_book
from nest.report.cells import COUNT, FIRST, SHARE, Page, money_format
from nest.report.charged_pages import Rows, fill_breaks, fill_charges, fill_materials, fill_rates, rates_of, rows_of
from nest.report.reason_pages import fill_handbook, fill_why
from nest.report.standard_pages import StandardColumns, fill_candidates, fill_sizes, fill_summary, headings
from nest.report.what_if_pages import figures_end, fill_what_ifs
from nest.report.workbook_charts import structure_chart
from nest.stock.material import Leather, Roll
from nest.whatif.prices import WhatIf

_NOTE_COLUMNS = 9
"""Notes on the first page go over this many columns."""

SHEETS = ("Summary", "Sizes", "Candidates", "Materials", "Breaks", "Trim-off", "What-ifs", "Charges", "Figures")
"""Pages; the last only where there are what-ifs."""


@dataclass(frozen=True, slots=True)
class Costing:
    """What a workbook shows: the sheet, and as far as there are any candidates, trim-off shares and what-ifs.

    leathers, rolls : for their price breaks.
    reject_percent : by style, of an estimate; None for layouts, of which the share spoiled is as they were cut.
    """

    sheet: CostSheet
    candidates: tuple[Candidate, ...] = ()
    trim: tuple[TrimShare, ...] = ()
    what_if: WhatIf | None = None
    leathers: tuple[Leather, ...] = ()
    rolls: tuple[Roll, ...] = ()
    reject_percent: Mapping[str, float] | None = None
    reject_pairs: RejectPairs = RejectPairs.POOLED
    standard: StandardBeside | None = None
    handbook: tuple[HandbookLine, ...] = ()

    @property
    def standards(self) -> tuple[CostSheet | None, ...]:
        """The standard cost and that with each candidate; empty where there is none."""
        if self.standard is None or self.standard.order.standard is None:
            return ()
        return self.standard.estimate.standard, *(one.standard for one in self.candidates)


def write_costing_workbook(costing: Costing, path) -> None:
    """Write the workbook to `path`, atomically.

    Raises
    ------
    PlanProblem
        If its folder does not exist.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    pages = {name: Page(book.create_sheet(name)) for name in SHEETS}
    digits = minor_digits(costing.sheet.currency)
    money = money_format(digits)
    standards = costing.standards
    sheets = [costing.sheet, *(one.sheet for one in costing.candidates), *filter(None, standards)]
    names = _standard_columns(costing)
    rows = rows_of(sheets, figures_end(costing.what_if), 1 + len(costing.candidates) if standards else None,
                   names.times)
    rates = rates_of(costing.leathers, costing.rolls)
    if rates:
        pages["Rates"] = Page(book.create_sheet("Rates", SHEETS.index("Breaks")))
        fill_rates(pages["Rates"], rates, costing.sheet.currency)
    fill_materials(pages["Materials"], sheets, rows, money, rates)
    fill_breaks(pages["Breaks"], sheets, rows, costing.leathers, costing.rolls)
    fill_charges(pages["Charges"], sheets, rows, costing.leathers, money)
    _sizes(pages["Sizes"], costing, rows, money)
    _candidates(pages["Candidates"], costing, rows, money)
    _trim(pages["Trim-off"], costing, money)
    last: dict[str, str] = {}
    if costing.what_if is None:
        pages["What-ifs"].text(FIRST, 1, "not asked for")
        del book["Figures"], pages["Figures"]
    else:
        last["What-ifs"] = fill_what_ifs(pages["What-ifs"], pages["Figures"], costing.sheet, costing.what_if, rows)
    last["Summary"] = _summary(pages["Summary"], costing, rows, money)
    if costing.standard is not None:
        pages["Why"] = Page(book.create_sheet("Why"))
        fill_why(pages["Why"], costing.standard.estimate, money)
    if costing.handbook:
        pages["Handbook"] = Page(book.create_sheet("Handbook"))
        fill_handbook(pages["Handbook"], costing.handbook, costing.sheet.currency, money)
    for name, page in pages.items():
        page.set_up(FIRST - 1, one_page=name not in ("Charges", "Figures", "Handbook"), last=last.get(name, ""))
    save_book(book, path)


_FIRST = ("leather", "reinforcement", "cutting", "scrap credit", SPOILAGE)
"""Lines that always have a column on the page "Sizes", F to J; the others stand at the end where they are charged."""

_BEFORE_MORE = 14
"""Columns of the page "Sizes" that are always there."""


def _columns(sheet: CostSheet) -> dict[str, str]:
    """Column of each line on the page "Sizes"."""
    more = [line for line in sheet.lines if line not in _FIRST]
    places = dict(zip(_FIRST, "FGHIJ", strict=True))
    places |= {line: _letter(_BEFORE_MORE + i) for i, line in enumerate(more, start=1)}
    return {line: places[line] for line in LINES if line in places}


def _number(letter: str) -> int:
    from openpyxl.utils import column_index_from_string

    return column_index_from_string(letter)


def _standard_columns(costing: Costing) -> StandardColumns:
    """Where the standard cost stands on the page "Sizes": after all else."""
    more = len([line for line in costing.sheet.lines if line not in _FIRST])
    return StandardColumns.after(_BEFORE_MORE + more)


def _end(sheet: CostSheet) -> int:
    """Row below the sizes."""
    return FIRST + len(sheet.sizes)


def _sizes(page: Page, costing: Costing, rows: Rows, money: str) -> None:
    """Cost of a good pair by size, and of as many pairs as are asked for."""
    sheet, rejects = costing.sheet, costing.reject_percent
    columns = _columns(sheet)
    more = [line for line in columns if line not in _FIRST]
    page.title("Sizes", "Shaded pairs and shares may be changed. " + (
        f"Pairs cut for rejects: {costing.reject_pairs.words}." if rejects is not None else
        "What the layouts take is counted in proportion."))
    page.headings("style", "size", "good pairs", "spoiled, % of pairs cut", "pairs cut",
                  *(f"{line}, a pair" for line in _FIRST), f"good pair, {sheet.currency}",
                  f"all pairs, {sheet.currency}", "pairs cut, as charged, fixed", "times the charges",
                  *(f"{line}, a pair" for line in more), *(headings(sheet.currency) if costing.standards else ()))
    costs = [letter for line, letter in columns.items() if line != SPOILAGE and line not in WHOLE]
    first_of: dict[str, int] = {}
    for i, size in enumerate(sheet.sizes):
        row = FIRST + i
        cut, good = float(size.pairs.cut), float(size.pairs.good)
        page.text(row, 1, size.style)
        page.text(row, 2, size.size)
        page.number(row, 3, good, "#,##0.##", open_to=COUNT)
        if rejects is None:
            page.number(row, 4, 100.0 * float(1 - size.pairs.good / size.pairs.cut) if cut else 0.0, "0.##",
                        open_to=SHARE)
            page.formula(row, 5, f"IF(D{row}>=100,M{row},C{row}/(1-D{row}/100))", "#,##0.##")
        else:
            if size.style in first_of:
                page.formula(row, 4, f"D{first_of[size.style]}", "0.##", open_to=SHARE)
            else:
                page.number(row, 4, float(rejects[size.style]), "0.##", open_to=SHARE)
            first_of.setdefault(size.style, row)
            page.formula(row, 5, _pairs_cut(row, costing.reject_pairs, *_rows_of_style(sheet, size.style)), "#,##0.##")
        for line, letter in columns.items():
            if line != SPOILAGE:
                pairs = f"C{row}" if line in WHOLE else f"E{row}"
                page.formula(row, _number(letter), f"IF({pairs}=0,0,{rows.charged(0, row, ChargeKind(line))}/{pairs})",
                             money)
        own = "+".join(f"{letter}{row}" for letter in costs)
        page.formula(row, 10, f"IF(C{row}=0,0,({own})*(E{row}/C{row}-1))", money)
        page.formula(row, 11, f"IF(C{row}=0,0,L{row}/C{row})", money)
        page.formula(row, 12, rows.charged(0, row), money)
        page.number(row, 13, cut, "#,##0.##")
        page.formula(row, 14, f"IF(M{row}=0,1,E{row}/M{row})", "0.####")
    end = _end(sheet)
    page.text(end, 1, "all", bold=True)
    if not sheet.sizes:
        return
    for column, letter in ((3, "C"), (5, "E"), (13, "M")):
        page.formula(end, column, f"SUM({letter}{FIRST}:{letter}{end - 1})", "#,##0.##", bold=True)
    for letter in columns.values():
        spread = f"SUMPRODUCT({letter}{FIRST}:{letter}{end - 1},C{FIRST}:C{end - 1})"
        page.formula(end, _number(letter), f"IF(C{end}=0,0,{spread}/C{end})", money, bold=True)
    page.formula(end, 11, f"IF(C{end}=0,0,L{end}/C{end})", money, bold=True)
    page.formula(end, 12, f"SUM(L{FIRST}:L{end - 1})", money, bold=True)
    if costing.standards and costing.standard is not None:
        fill_sizes(page, sheet, costing.standard.estimate.standard, _BEFORE_MORE + len(more) + 1,
                   _standard_columns(costing), rows, money, own_rate=rejects is None)


def _rows_of_style(sheet: CostSheet, style: str) -> tuple[int, int]:
    """First and last row of the sizes of a style; they follow each other."""
    mine = [FIRST + i for i, size in enumerate(sheet.sizes) if size.style == style]
    return mine[0], mine[-1]


def _pairs_cut(row: int, rule: RejectPairs, first: int, last: int) -> str:
    """Pairs to cut of a size, as `nest.pieces.quantities` has them; sizes of its style stand in rows first to last."""
    if rule is RejectPairs.NONE:
        return f"C{row}"
    if rule is RejectPairs.BY_SIZE:
        return f"ROUNDUP(ROUND(C{row}/(1-D{row}/100),9),0)"
    pairs = f"C${first}:C${last}"
    more = f"(ROUNDUP(ROUND(SUM({pairs})/(1-D{row}/100),9),0)-SUM({pairs}))"
    theirs, mine = f"MOD({more}*{pairs},SUM({pairs}))", f"MOD({more}*C{row},SUM({pairs}))"
    larger = f"({pairs}>C{row})+({pairs}=C{row})*(ROW({pairs})<ROW(C{row}))"
    before = f"SUMPRODUCT(({theirs}>{mine})+({theirs}={mine})*({larger}))"
    left = f"{more}-SUMPRODUCT(INT({more}*{pairs}/SUM({pairs})))"
    return f"IF(SUM({pairs})=0,0,C{row}+INT({more}*C{row}/SUM({pairs}))+IF({before}<{left},1,0))"


def _candidates(page: Page, costing: Costing, rows: Rows, money: str) -> None:
    """A good pair with each candidate, by size; their prices and breaks stand with the others."""
    sheet, end = costing.sheet, _end(costing.sheet)
    page.title("Candidates", "A good pair with other materials. Fixed: what a pair takes of them, by estimate.")
    others = [one.sheet.title for one in costing.candidates]
    page.headings("style", "size", f"as planned, {sheet.currency}", *others,
                  *((f"standard cost, {sheet.currency}", *(f"standard cost, {name}" for name in others))
                    if costing.standards else ()))
    if not costing.candidates:
        page.text(FIRST, 1, "none named")
        return
    for row in range(FIRST, end + 1):
        whole = row == end
        if not whole:
            page.text(row, 1, sheet.sizes[row - FIRST].style)
            page.text(row, 2, sheet.sizes[row - FIRST].size)
        else:
            page.text(row, 1, "all", bold=True)
        page.formula(row, 3, f"Sizes!K{row}", money, bold=whole)
        for number in range(1, len(costing.candidates) + 1):
            amount = rows.charged(number, None if whole else row)
            page.formula(row, 3 + number, f"IF(Sizes!C{row}=0,0,{amount}/Sizes!C{row})", money, bold=whole)
    page.text(end + 1, 1, "dearer by")
    for number in range(1, len(costing.candidates) + 1):
        letter = _letter(3 + number)
        page.formula(end + 1, 3 + number, f"{letter}{end}-$C{end}", money)
    if costing.standards and sheet.sizes:
        fill_candidates(page, 4 + len(others), sheet, costing.standards, _standard_columns(costing), rows, money)


def _letter(column: int) -> str:
    from openpyxl.utils import get_column_letter

    return get_column_letter(column)


def _trim(page: Page, costing: Costing, money: str) -> None:
    """What is trimmed off, and what it costs of a pair cut."""
    sheet = costing.sheet
    page.title("Trim-off", "Share of what is cut that is thrown away after crimping, and its cost for a pair cut.")
    currency = sheet.currency
    page.headings("style", "size", "leather, share, fixed", "avoidable, share, fixed", "reinforcement, share, fixed",
                  f"leather, {currency}", f"avoidable of it, {currency}", f"reinforcement, {currency}")
    numbers = {(row.style, row.size): FIRST + i for i, row in enumerate(sheet.sizes)}
    row = FIRST
    for share in costing.trim:
        at = numbers.get((share.style, share.size))
        if at is None:
            continue
        page.text(row, 1, share.style)
        page.text(row, 2, share.size)
        page.number(row, 3, share.leather, "0.0%")
        if share.avoidable is not None:
            page.number(row, 4, share.avoidable, "0.0%")
            page.formula(row, 7, f"D{row}*Sizes!F{at}", money)
        page.number(row, 5, share.reinforcement, "0.0%")
        page.formula(row, 6, f"C{row}*Sizes!F{at}", money)
        page.formula(row, 8, f"E{row}*Sizes!G{at}", money)
        row += 1
    if row == FIRST:
        page.text(row, 1, "not known")


def _summary(page: Page, costing: Costing, rows: Rows, money: str) -> str:
    """The order in a few lines, the candidates, a chart, and what there is to say; returns the last cell to print."""
    sheet, end = costing.sheet, _end(costing.sheet)
    page.title(f"Cost of {sheet.title}" if sheet.title else "Cost", "Shaded cells on the other sheets may be changed.")
    page.headings("", sheet.currency)
    page.text(FIRST, 1, "good pairs")
    page.text(FIRST + 1, 1, "all pairs")
    page.text(FIRST + 2, 1, "a good pair", bold=True)
    if sheet.sizes:
        page.formula(FIRST, 2, f"Sizes!C{end}", "#,##0.##")
        page.formula(FIRST + 1, 2, f"Sizes!L{end}", money)
        page.formula(FIRST + 2, 2, f"Sizes!K{end}", money, bold=True)
    row = FIRST + 3
    columns = _columns(sheet)
    for k, (line, letter) in enumerate(columns.items()):
        page.text(row + k, 1, f"  {line}")
        if sheet.sizes:
            page.formula(row + k, 2, f"Sizes!{letter}{end}", money)
    if sheet.sizes:
        structure_chart(page, row, row + len(columns) - 1, "E3", sheet.currency)
    row = max(row + len(columns), FIRST + 14) + 1
    if costing.standards and costing.standard is not None and sheet.sizes:
        row = fill_summary(page, costing.standard, end, _standard_columns(costing), row, money)
    if costing.candidates and sheet.sizes:
        page.text(row, 1, "as planned, and with other materials", bold=True)
        page.text(row, 2, "a good pair", bold=True, over_figures=True)
        page.text(row, 3, "all pairs", bold=True, over_figures=True)
        if costing.standards:
            page.text(row, 4, "standard", bold=True, over_figures=True)
        for number, name in enumerate(("as planned", *(one.sheet.title for one in costing.candidates))):
            row += 1
            page.text(row, 1, name)
            page.formula(row, 2, f"Candidates!{_letter(3 + number)}{end}", money)
            page.formula(row, 3, rows.charged(number), money)
            if costing.standards and costing.standards[number] is not None:
                page.formula(row, 4, f"Candidates!{_letter(4 + len(costing.candidates) + number)}{end}", money)
        row += 2
    notes = [
        "Amounts are exact and shown rounded; the program's cost sheet is rounded so that its parts add up.",
        "Fixed, whatever is changed here: what a pair cut takes of each material but for millimetres, shares of "
        "trim-off, and what-ifs that were placed.",
        *sheet.notes, *(note for one in costing.candidates for note in one.sheet.notes),
        *(costing.what_if.notes if costing.what_if else ()),
    ]
    for note in dict.fromkeys(notes):
        page.note(row, note, _NOTE_COLUMNS)
        row += 1
    return f"{_letter(_NOTE_COLUMNS)}{row}"
