"""Page of the costing workbook with prices of millimetres and rules, and the page of figures behind it."""

from nest.accounts.money import minor_digits
from nest.accounts.sheet import CostSheet
from nest.report.cells import FIRST, Page, money_format
from nest.report.charged_pages import Rows, price_key
from nest.whatif.prices import AllowancePrice, RulePrice, WhatIf


def fill_what_ifs(page: Page, figures: Page, sheet: CostSheet, found: WhatIf, rows: Rows) -> None:
    """Prices of allowances, times as many mm as are asked for; prices of rules."""
    currency, digits = sheet.currency, minor_digits(sheet.currency)
    money, fine = money_format(digits), money_format(digits + 2)
    prices = (*found.allowances, *found.rules)
    page.title("What-ifs", "Shaded millimetres may be changed: more allowance is above 0, less below. Valid near 0.")
    page.headings("style", "part", "mm", f"a mm, a pair, {currency}", "± (95 %), fixed", f"a pair, {currency}",
                  f"the order, {currency}", "pairs a year", f"a year, {currency}", "")
    figures.title("Figures", "What-ifs by estimate: more that a pair cut takes of each material, priced here.")
    figures.headings("what-if row", "style", "size", "material", "more a pair cut, fixed", f"amount, {currency}")
    line = FIRST
    last = FIRST + max(1, sum(len(one.takes) for one in prices)) - 1
    for row, price in enumerate(prices, start=FIRST):
        mm = isinstance(price, AllowancePrice)
        page.text(row, 1, price.style if mm else price.name)
        if mm:
            page.text(row, 2, str(price.part))
            page.number(row, 3, 1.0, "0.0", open_to_change=True)
        if price.pair.half_width is not None:
            page.number(row, 5, price.pair.half_width, fine)
        line = _figures(figures, line, row, price, sheet, rows, money)
        times = f"C{row}*" if mm else ""
        if price.takes:
            amount = f"SUMIFS(Figures!$F${FIRST}:$F${last},Figures!$A${FIRST}:$A${last},{row})"
            of = [i for i, size in enumerate(sheet.sizes) if not mm or size.style == price.style]
            good = f"SUM(Sizes!$C${FIRST + of[0]}:$C${FIRST + of[-1]})"
            page.formula(row, 4, f"IF({good}=0,0,{amount}/{good})", fine)
            page.formula(row, 7, f"{times}{amount}", money)
        else:
            page.number(row, 4, price.pair.value, fine)
            page.formula(row, 7, f"{times}{price.order.value!r}", money)
        page.formula(row, 6, f"{times}D{row}", fine)
        if mm and price.pairs_a_year is not None:
            page.number(row, 8, price.pairs_a_year, "#,##0", open_to_change=True)
            page.formula(row, 9, f"H{row}*F{row}", money)
        page.text(row, 10, "by estimate" if price.takes else "fixed: at the prices and pairs of the job")
    if not prices:
        page.text(FIRST, 1, "none was found")


def _figures(
    page: Page, line: int, at: int, price: AllowancePrice | RulePrice, sheet: CostSheet, rows: Rows, money: str
) -> int:
    """What one what-if takes of each material, from row `line` on; returns the row below."""
    sizes = {(row.style, row.size): FIRST + i for i, row in enumerate(sheet.sizes)}
    for charge in price.takes:
        page.number(line, 1, at, "0")
        page.text(line, 2, charge.style)
        page.text(line, 3, charge.size)
        page.text(line, 4, charge.material)
        page.number(line, 5, float(charge.quantity), "0.00000000")
        page.formula(line, 6, f"E{line}*Sizes!$E${sizes[charge.key]}*Materials!$E${rows.prices[price_key(charge)]}"
                     f"*(1-{rows.off(charge)}/100){rows.times(charge)}", money)
        line += 1
    return line
