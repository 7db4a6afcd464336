"""The cost sheet as a workbook that reckons: change a price or a number of pairs, and the cost moves.

Shaded cells are meant to be changed: prices on "Materials", pairs on "Sizes", millimetres on "What-ifs". Everything
else is a formula or a figure of the layouts. Amounts in it are not rounded, only shown so; the cost sheet of the
program rounds as `nest.accounts.sheet` says. What a pair takes of each material stays as placed or estimated, however
many pairs are costed.
"""

from dataclasses import dataclass

from nest.accounts.candidates import Candidate
from nest.accounts.charges import Kind
from nest.accounts.money import minor_digits
from nest.accounts.sheet import LINES, CostSheet
from nest.accounts.trimshares import TrimShare
from nest.atomic import atomic_path
from nest.report.cells import Page, money_format
from nest.whatif.prices import WhatIf

SHEETS = ("Summary", "Sizes", "Materials", "Trim-off", "What-ifs", "Charges")
KINDS = tuple(Kind)
_FIRST = 4
"""Row of the first figures on every sheet: title, note and headings stand above."""


@dataclass(frozen=True, slots=True)
class Costing:
    """What a workbook shows: the sheet, and as far as there are any candidates, trim-off shares and what-ifs."""

    sheet: CostSheet
    candidates: tuple[Candidate, ...] = ()
    trim: tuple[TrimShare, ...] = ()
    what_if: WhatIf | None = None


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
    prices = _materials(pages["Materials"], costing.sheet, money)
    _charges(pages["Charges"], costing.sheet, prices, money)
    _sizes(pages["Sizes"], costing.sheet, money)
    _trim(pages["Trim-off"], costing, money)
    _what_ifs(pages["What-ifs"], costing, money, money_format(digits + 2))
    _summary(pages["Summary"], costing, money)
    for page in pages.values():
        page.set_up_print(_FIRST - 1)
    with atomic_path(path) as part:
        book.save(part)


def _last_charge(sheet: CostSheet) -> int:
    return _FIRST + max(len(sheet.charges), 1) - 1


def _materials(page: Page, sheet: CostSheet, money: str) -> dict[tuple, int]:
    """The price list; returns the row of each price."""
    page.title("Materials", "Shaded prices may be changed; quantities are those of the layouts or of the estimate.")
    page.headings("for", "material", "unit", "quantity", f"price, {sheet.currency}", f"amount, {sheet.currency}")
    rows: dict[tuple, int] = {}
    for charge in sheet.charges:
        rows.setdefault(_price_key(charge), _FIRST + len(rows))
    last = _last_charge(sheet)
    for (kind, material, unit, price), row in rows.items():
        page.text(row, 1, str(kind))
        page.text(row, 2, material)
        page.text(row, 3, unit)
        page.formula(row, 4, f"SUMIFS(Charges!$G${_FIRST}:$G${last},Charges!$K${_FIRST}:$K${last},{row})", "#,##0.0000")
        page.number(row, 5, float(price), "#,##0.00####", open_to_change=True)
        page.formula(row, 6, f"D{row}*E{row}", money)
    end = _FIRST + len(rows)
    page.text(end, 1, "all", bold=True)
    page.formula(end, 6, f"SUM(F{_FIRST}:F{end - 1})" if rows else "0", money, bold=True)
    return rows


def _price_key(charge) -> tuple:
    return charge.kind, charge.material, charge.unit, charge.price


def _charges(page: Page, sheet: CostSheet, prices: dict[tuple, int], money: str) -> None:
    """Every charge with its source, priced from the list."""
    page.title("Charges", "Figures of the other sheets are sums of these: who bears it, and which layout or estimate.")
    page.headings("size no.", "style", "size", "for", "kind no.", "source", "quantity", "unit", "price",
                  f"amount, {sheet.currency}", "price row")
    numbers = {(row.style, row.size): i for i, row in enumerate(sheet.sizes, start=1)}
    for i, charge in enumerate(sheet.charges):
        row = _FIRST + i
        page.number(row, 1, numbers[charge.style, charge.size], "0")
        page.text(row, 2, charge.style)
        page.text(row, 3, charge.size)
        page.text(row, 4, str(charge.kind))
        page.number(row, 5, KINDS.index(charge.kind) + 1, "0")
        page.text(row, 6, charge.source)
        page.number(row, 7, float(charge.quantity), "#,##0.000000")
        page.text(row, 8, charge.unit)
        page.formula(row, 9, f"Materials!$E${prices[_price_key(charge)]}", "#,##0.00####")
        page.formula(row, 10, f"G{row}*I{row}", money)
        page.number(row, 11, prices[_price_key(charge)], "0")


def _sizes(page: Page, sheet: CostSheet, money: str) -> None:
    """Cost of a good pair by size, and of as many pairs as are asked for."""
    page.title("Sizes", "Shaded numbers of pairs may be changed; what a pair takes stays as placed or estimated.")
    page.headings("style", "size", "pairs cut", "good pairs", "pairs to cost", *(f"{line}, a pair" for line in LINES),
                  f"good pair, {sheet.currency}", f"all pairs, {sheet.currency}")
    for i, size in enumerate(sheet.sizes):
        row = _FIRST + i
        page.text(row, 1, size.style)
        page.text(row, 2, size.size)
        page.number(row, 3, float(size.pairs.cut), "#,##0.0")
        page.number(row, 4, float(size.pairs.good), "#,##0.0")
        page.number(row, 5, float(size.pairs.good), "#,##0", open_to_change=True)
        for k in range(len(KINDS)):
            page.formula(row, 6 + k, f"IF(C{row}=0,0,{_charged(sheet, i + 1, k + 1)}/C{row})", money)
        page.formula(row, 10, f"IF(D{row}=0,0,SUM(F{row}:I{row})*(C{row}/D{row}-1))", money)
        page.formula(row, 11, f"SUM(F{row}:J{row})", money)
        page.formula(row, 12, f"K{row}*E{row}", money)
    end = _FIRST + len(sheet.sizes)
    page.text(end, 1, "all", bold=True)
    if not sheet.sizes:
        return
    for column in "CDE":
        page.formula(end, "ABCDE".index(column) + 1, f"SUM({column}{_FIRST}:{column}{end - 1})", "#,##0.0", bold=True)
    for column in range(6, 12):
        letter = "ABCDEFGHIJKL"[column - 1]
        spread = f"SUMPRODUCT({letter}{_FIRST}:{letter}{end - 1},E{_FIRST}:E{end - 1})"
        page.formula(end, column, f"IF(E{end}=0,0,{spread}/E{end})", money, bold=True)
    page.formula(end, 12, f"SUM(L{_FIRST}:L{end - 1})", money, bold=True)


def _charged(sheet: CostSheet, size_number: int, kind_number: int) -> str:
    """The sum of what one size is charged for one kind."""
    last = _last_charge(sheet)
    return (f"SUMIFS(Charges!$J${_FIRST}:$J${last},Charges!$A${_FIRST}:$A${last},{size_number},"
            f"Charges!$E${_FIRST}:$E${last},{kind_number})")


def _trim(page: Page, costing: Costing, money: str) -> None:
    """What is trimmed off, and what it costs of a pair cut."""
    sheet = costing.sheet
    page.title("Trim-off", "Share of what is cut that is thrown away after crimping, and its cost for a pair cut.")
    currency = sheet.currency
    page.headings("style", "size", "leather, share", "avoidable, share", "reinforcement, share",
                  f"leather, {currency}", f"avoidable of it, {currency}", f"reinforcement, {currency}")
    numbers = {(row.style, row.size): i for i, row in enumerate(sheet.sizes, start=1)}
    row = _FIRST
    for share in costing.trim:
        number = numbers.get((share.style, share.size))
        if number is None:
            continue
        at = _FIRST + number - 1
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
    if row == _FIRST:
        page.text(row, 1, "not known")


def _what_ifs(page: Page, costing: Costing, money: str, fine: str) -> None:
    """Prices of allowances, times as many mm as are asked for; prices of rules."""
    found = costing.what_if
    page.title("What-ifs", "Shaded millimetres may be changed: more allowance is above 0, less below. Valid near 0.")
    currency = costing.sheet.currency
    page.headings("style", "part", "mm", f"a mm, a pair, {currency}", "± (95 %)", f"a pair, {currency}",
                  f"the order, {currency}", f"a year, {currency}")
    row = _FIRST
    for price in found.allowances if found else ():
        page.text(row, 1, price.style)
        page.text(row, 2, str(price.part))
        page.number(row, 3, 1.0, "0.0", open_to_change=True)
        page.number(row, 4, price.pair.value, fine)
        if price.pair.half_width is not None:
            page.number(row, 5, price.pair.half_width, fine)
        page.formula(row, 6, f"C{row}*D{row}", fine)
        page.formula(row, 7, f"C{row}*{price.order.value!r}", money)
        if price.year is not None:
            page.formula(row, 8, f"C{row}*{price.year.value!r}", money)
        row += 1
    for rule in found.rules if found else ():
        page.text(row, 1, rule.name)
        if rule.pair.half_width is not None:
            page.number(row, 5, rule.pair.half_width, fine)
        page.number(row, 6, rule.pair.value, fine)
        page.number(row, 7, rule.order.value, money)
        row += 1
    if row == _FIRST:
        page.text(row, 1, "not asked for")


def _summary(page: Page, costing: Costing, money: str) -> None:
    """The order in a few lines, the candidates, and what there is to say."""
    sheet = costing.sheet
    end = _FIRST + len(sheet.sizes)
    page.title(f"Cost of {sheet.title}" if sheet.title else "Cost", "Shaded cells on the other sheets may be changed.")
    page.headings("", sheet.currency)
    page.text(_FIRST, 1, "pairs to cost")
    page.text(_FIRST + 1, 1, "all pairs")
    page.text(_FIRST + 2, 1, "a good pair", bold=True)
    if sheet.sizes:
        page.formula(_FIRST, 2, f"Sizes!E{end}", "#,##0")
        page.formula(_FIRST + 1, 2, f"Sizes!L{end}", money)
        page.formula(_FIRST + 2, 2, f"Sizes!K{end}", money, bold=True)
    row = _FIRST + 3
    for k, line in enumerate(LINES):
        page.text(row + k, 1, f"  {line}")
        if sheet.sizes:
            page.formula(row + k, 2, f"Sizes!{'FGHIJ'[k]}{end}", money)
    row += len(LINES) + 1
    if costing.candidates:
        page.text(row, 1, "as planned, and with other materials", bold=True)
        page.text(row, 2, "a good pair", bold=True)
        page.text(row, 3, "all pairs", bold=True)
        for name, one in (("as planned", sheet), *((c.sheet.title, c.sheet) for c in costing.candidates)):
            row += 1
            page.text(row, 1, name)
            if one.order.exact_pair is not None:
                page.number(row, 2, float(one.order.exact_pair), money)
            page.number(row, 3, float(one.order.exact), money)
        row += 2
    notes = [
        "Amounts are exact and shown rounded; the program's cost sheet is rounded so that its parts add up.",
        *sheet.notes, *(note for one in costing.candidates for note in one.sheet.notes),
        *(costing.what_if.notes if costing.what_if else ()),
    ]
    for note in dict.fromkeys(notes):
        page.text(row, 1, note)
        row += 1
