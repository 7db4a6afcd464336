"""Page of the costing workbook with prices of millimetres and rules, and the page of figures behind it.

Millimetres that are entered move every other page: a charge takes as much more as the slope of what a pair cut takes.
"""

from collections.abc import Sequence

from nest.accounts.money import minor_digits
from nest.accounts.sheet import CostSheet
from nest.report.cells import COUNT, FIRST, Page, money_format
from nest.report.charged_pages import Rows, price_key
from nest.report.workbook_charts import allowance_chart
from nest.whatif.prices import TOGETHER, AllowancePrice, RulePrice, WhatIf


def figures_end(found: WhatIf | None) -> int:
    """Last row of the page "Figures"; 0 where no millimetre moves anything."""
    count = sum(len(one.takes) for one in found.allowances + found.rules) if found is not None else 0
    return FIRST + count - 1 if count else 0


def fill_what_ifs(page: Page, figures: Page, sheet: CostSheet, found: WhatIf, rows: Rows) -> str:
    """Prices of allowances, times as many mm as are asked for; prices of rules. Returns the last cell to print."""
    currency, digits = sheet.currency, minor_digits(sheet.currency)
    money, fine = money_format(digits), money_format(digits + 2)
    prices: list[AllowancePrice | RulePrice] = [*found.allowances, *found.rules]
    page.title("What-ifs", "Shaded millimetres may be changed, within those that were tried: they move every page. "
               "More allowance is above 0, less below.")
    page.headings("style", "part", "mm more than now", f"a mm, a pair, {currency}", f"± of a mm, {currency}, fixed",
                  f"a pair, {currency}", f"± of it, {currency}", f"the order, {currency}", "pairs a year",
                  f"a year, {currency}", "valid from, mm", "to, mm", "")
    figures.title("Figures", "What-ifs by estimate: more that a pair cut takes of each material, priced here.")
    figures.headings("what-if row", "style", "size", "material", "more a pair cut, fixed", f"amount, {currency}",
                     "more now", "size row", "price row")
    line, last = FIRST, max(FIRST, rows.moves)
    for row, price in enumerate(prices, start=FIRST):
        style = price.style if isinstance(price, AllowancePrice) else ""
        page.text(row, 1, price.style if isinstance(price, AllowancePrice) else price.name)
        if isinstance(price, AllowancePrice):
            page.text(row, 2, str(price.part))
            # What was placed is a figure beside the sheet; what is estimated moves it.
            page.number(row, 3, 0.0 if price.takes else 1.0, "0.0", open_to=(price.steps_mm[0], price.steps_mm[-1]))
            page.number(row, 11, price.steps_mm[0], "0.0")
            page.number(row, 12, price.steps_mm[-1], "0.0")
        sure = price.pair.half_width
        if isinstance(price, AllowancePrice) and price.takes:
            sure = max(price.beside, sure or 0.0)
        if sure is not None:
            page.number(row, 5, sure, fine)
            page.formula(row, 7, _unsure(row, prices) if style else f"E{row}", fine)
        line = _figures(figures, line, row, price, sheet, rows, money)
        times = f"C{row}*" if style else ""
        if price.takes:
            amount = f"SUMIFS(Figures!$F${FIRST}:$F${last},Figures!$A${FIRST}:$A${last},{row})"
            of = [i for i, size in enumerate(sheet.sizes) if not style or size.style == style]
            good = f"SUM(Sizes!$C${FIRST + of[0]}:$C${FIRST + of[-1]})"
            page.formula(row, 4, f"IF({good}=0,0,{amount}/{good})", fine)
            page.formula(row, 8, f"{times}{amount}", money)
        else:
            page.number(row, 4, price.pair.value, fine)
            page.formula(row, 8, f"{times}{price.order.value!r}", money)
        page.formula(row, 6, f"{times}D{row}", fine)
        if isinstance(price, AllowancePrice) and price.pairs_a_year is not None:
            page.number(row, 9, price.pairs_a_year, "#,##0", open_to=COUNT)
            page.formula(row, 10, f"I{row}*F{row}", money)
        page.text(row, 13, "by estimate" if price.takes else "fixed: at the prices and pairs of the job")
    if not prices:
        page.text(FIRST, 1, "none was found")
    end = _together(page, found, FIRST + len(prices), fine, money)
    return _against(page, sheet, found, end + 1, money) if sheet.sizes else ""


def _unsure(row: int, prices: Sequence[AllowancePrice | RulePrice]) -> str:
    """How far a pair may lie beside what is said of the millimetres in a row; further where several parts are moved."""
    price = prices[row - FIRST]
    mine = [at for at, one in enumerate(prices, start=FIRST)
            if isinstance(one, AllowancePrice) and isinstance(price, AllowancePrice) and one.style == price.style
            and one.takes]
    if row not in mine:
        return f"ABS(C{row})*E{row}"
    moved = "+".join(f"(C{at}<>0)" for at in mine)
    return f"ABS(C{row})*E{row}*IF({moved}>1,{TOGETHER:g},1)"


def _together(page: Page, found: WhatIf, row: int, fine: str, money: str) -> int:
    """All millimetres of each style together, from row `row` on; returns the row below.

    The parts of a style err the same way where its lattice bends, so that what they are unsure of adds up.
    """
    for style in dict.fromkeys(price.style for price in found.allowances if price.takes):
        mine = [at for at, one in enumerate(found.allowances, start=FIRST) if one.style == style]
        if len(mine) < 2:
            continue
        page.text(row, 1, style, bold=True)
        page.text(row, 2, "together", bold=True)
        years = found.allowances[mine[0] - FIRST].pairs_a_year is not None
        for letter, form in (("F", fine), ("G", fine), ("H", money), *((("J", money),) if years else ())):
            page.formula(row, " ABCDEFGHIJ".index(letter), "+".join(f"{letter}{at}" for at in mine), form, bold=True)
        row += 1
    return row


def _against(page: Page, sheet: CostSheet, found: WhatIf, head: int, money: str) -> str:
    """A good pair of each style at every step of each allowance, and a chart of it; returns the last cell to print."""
    prices = [price for price in found.allowances if price.takes]
    if not prices:
        return ""
    steps = sorted({step for price in prices for step in price.steps_mm})
    page.text(head, 1, f"a good pair of the style, {sheet.currency}, at mm more than now", bold=True, wide=False)
    for k, step in enumerate(steps):
        page.number(head + 1, 3 + k, step, "+0;-0;0")
    for i, price in enumerate(prices):
        row, at = head + 2 + i, FIRST + found.allowances.index(price)
        mine = [FIRST + n for n, size in enumerate(sheet.sizes) if size.style == price.style]
        good, cost = (f"SUM(Sizes!${letter}${mine[0]}:${letter}${mine[-1]})" for letter in "CL")
        page.text(row, 1, price.style)
        page.text(row, 2, str(price.part))
        for k in range(len(steps)):
            letter = "CDEFGHIJKLMNOP"[k]
            page.formula(row, 3 + k, f"IF({good}=0,0,{cost}/{good}+D{at}*({letter}${head + 1}-C{at}))", money)
    rows = range(head + 2, head + 2 + len(prices))
    allowance_chart(page, head + 1, rows, (3, 2 + len(steps)), f"A{rows[-1] + 2}", sheet.currency)
    return f"M{rows[-1] + 23}"


def _figures(
    page: Page, line: int, at: int, price: AllowancePrice | RulePrice, sheet: CostSheet, rows: Rows, money: str
) -> int:
    """What one what-if takes of each material, from row `line` on; returns the row below."""
    sizes = {(row.style, row.size): FIRST + i for i, row in enumerate(sheet.sizes)}
    mm = f"'What-ifs'!$C${at}" if isinstance(price, AllowancePrice) else "0"
    for charge in price.takes:
        row = rows.prices[price_key(charge)]
        page.number(line, 1, at, "0")
        page.text(line, 2, charge.style)
        page.text(line, 3, charge.size)
        page.text(line, 4, charge.material)
        page.number(line, 5, float(charge.quantity), "0.00000000")
        page.formula(line, 6, f"E{line}*Sizes!$E${sizes[charge.key]}*Materials!$E${row}"
                     f"*(1-{rows.off(charge)}/100){rows.times(charge)}", money)
        page.formula(line, 7, f"E{line}*{mm}", "0.00000000")
        page.number(line, 8, sizes[charge.key], "0")
        page.number(line, 9, row, "0")
        line += 1
    return line
