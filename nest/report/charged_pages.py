"""Pages of the costing workbook that money comes from: prices, price breaks, and every charge with its source.

A charge is quantity × price less the break that is reached, as in `nest.accounts.charges`; quantities follow the pairs
on the page "Sizes". Sheet 0 is the job or plan as it is, then come its candidates, then the standard costs of each.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from nest.accounts.charges import ADDED, WHOLE, Charge, ChargeKind, unit_mm2
from nest.accounts.sheet import CostSheet
from nest.report.cells import COUNT, CREDIT, FIRST, MONEY, PERCENT, SHARE, Page
from nest.stock.material import Leather, Roll

KINDS = tuple(ChargeKind)
SPARE_BREAKS = 3
"""Empty rows for more breaks of each leather and roll."""

_ON = {ChargeKind.OVERHEAD: "of all costs", ChargeKind.MARGIN: "of the price"}
"""What the percentages are of that are on everything, in words."""

_PRICE, _QUANTITY = "#,##0.00####", "#,##0.0000"


@dataclass(frozen=True, slots=True)
class Rows:
    """Where things stand: row of each price on "Materials", row of each stock of each sheet on "Breaks".

    last, own : last row of "Charges", and of those of sheet 0.
    moves : last row of "Figures", what millimetres move; 0 where there is nothing.
    added : by price row, the leather or roll that freight or duty is on, "" for the rest.
    standards : number of the first sheet that is a standard cost, None where none is.
    times_column : column of "Sizes" with what the quantities of a standard cost are multiplied by.
    """

    prices: Mapping[tuple, int]
    breaks: Mapping[tuple[int, ChargeKind, str], int]
    last: int
    own: int
    moves: int = 0
    added: Mapping[int, str] = field(default_factory=dict)
    standards: int | None = None
    times_column: str = ""

    def off(self, charge: Charge, sheet: int = 0) -> str:
        """Percent off this charge, as a formula."""
        row = self.breaks.get((sheet, charge.kind, charge.stock))
        return "0" if row is None or charge.own_price else f"Breaks!$E${row}"

    def times(self, charge: Charge) -> str:
        """What freight, duty, overhead and margin make of a charge, as factors of a formula."""
        found = ""
        for (kind, *_), row in self.prices.items():
            on = self.added.get(row)
            if kind in ADDED and on in ("", charge.stock) and (on or kind in WHOLE):
                found += f"*(1+Materials!$E${row})"
        return found

    def quantity(self, row: int, sheet: int, size_row: int) -> str:
        """What is charged in a row of "Charges": it follows the pairs cut, and the millimetres on "What-ifs".

        A candidate, or a standard cost, takes as many times more as the job itself does.
        """
        standard = self.standards is not None and sheet >= self.standards
        as_pairs = f"H{row}*Sizes!${self.times_column if standard else 'N'}${size_row}"
        if not self.moves:
            return as_pairs
        if sheet:
            # Rows of sheet 0 alone: a sum over its own row would go round in a circle.
            mine = f"$B${FIRST}:$B${self.own},B{row},$F${FIRST}:$F${self.own},F{row}"
            now, before = (f"SUMIFS(${letter}${FIRST}:${letter}${self.own},{mine})" for letter in "MH")
            before = f"({before}*Sizes!$N${size_row})"
            return f"IF({before}=0,{as_pairs},{as_pairs}*{now}/{before})"
        more = (f"SUMIFS(Figures!$G${FIRST}:$G${self.moves},Figures!$H${FIRST}:$H${self.moves},B{row},"
                f"Figures!$I${FIRST}:$I${self.moves},J{row})")
        return f"(H{row}+{more}*Sizes!$M${size_row})*Sizes!$N${size_row}"

    def charged(self, sheet: int, size_row: int | str | None = None, kind: ChargeKind | None = None) -> str:
        """Sum of a sheet's amounts, of one size or all, of one kind or all, as a formula."""
        words = f"SUMIFS(Charges!$P${FIRST}:$P${self.last},Charges!$A${FIRST}:$A${self.last},{sheet}"
        if size_row is not None:
            words += f",Charges!$B${FIRST}:$B${self.last},{size_row}"
        if kind is not None:
            words += f",Charges!$F${FIRST}:$F${self.last},{KINDS.index(kind) + 1}"
        return words + ")"


@dataclass(frozen=True, slots=True)
class Foreign:
    """A currency that something is bought in: its rate, the day of it, and its row on the page "Rates"."""

    currency: str
    rate: Fraction
    day: str
    row: int


def rates_of(leathers: Sequence[Leather], rolls: Sequence[Roll]) -> dict[str, Foreign]:
    """By leather and roll, the currency its prices were given in, where that is not the job's own."""
    named = [(one.name, one) for one in leathers] + [(one.roll_id, one) for one in rolls]
    rows: dict[tuple, int] = {}
    found = {}
    for name, one in named:
        if one.currency:
            key = one.currency, one.rate, one.rate_date
            row = rows.setdefault(key, FIRST + len(rows))
            found[name] = Foreign(one.currency, Fraction(one.rate), one.rate_date, row)
    return found


def fill_rates(page: Page, rates: Mapping[str, Foreign], currency: str) -> None:
    """The rates of exchange, one row each."""
    page.title("Rates of exchange", "Shaded rates may be changed; prices on the page Materials follow them.")
    page.headings("currency", f"{currency} for 1", "as of", "bought in it")
    for row in sorted({one.row for one in rates.values()}):
        mine = {name: one for name, one in rates.items() if one.row == row}
        one = next(iter(mine.values()))
        page.text(row, 1, one.currency)
        page.number(row, 2, float(one.rate), "#,##0.00####", open_to=MONEY)
        page.text(row, 3, one.day)
        page.text(row, 4, ", ".join(mine))


def price_key(charge: Charge) -> tuple:
    """What has one price."""
    return charge.kind, charge.material, charge.unit, charge.price, charge.own_price


def rows_of(sheets: Sequence[CostSheet], moves: int = 0, standards: int | None = None, times_column: str = "") -> Rows:
    """Rows for these sheets, the first as it is, the others as their numbers say; the rest as of Rows."""
    priced = dict.fromkeys(price_key(charge) for sheet in sheets for charge in sheet.charges)
    prices = {key: FIRST + i for i, key in enumerate(sorted(priced, key=lambda key: KINDS.index(key[0])))}
    breaks: dict[tuple[int, ChargeKind, str], int] = {}
    for number, sheet in enumerate(sheets):
        for charge in sheet.charges:
            if charge.stock:
                breaks.setdefault((number, charge.kind, charge.stock), FIRST + len(breaks))
    count = sum(len(shown_charges(sheet)) for sheet in sheets)
    added = {prices[price_key(one)]: one.on for sheet in sheets for one in sheet.charges if one.kind in ADDED}
    own = FIRST + len(shown_charges(sheets[0])) - 1
    return Rows(prices, breaks, FIRST + max(count, 1) - 1, own, moves, added, standards, times_column)


def fill_materials(
    page: Page, sheets: Sequence[CostSheet], rows: Rows, money: str, rates: Mapping[str, Foreign]
) -> None:
    """The price list; a price in another currency, or in percent, stands as it was given beside what it comes to."""
    currency = sheets[0].currency
    stocks = {price_key(charge): charge.stock for sheet in sheets for charge in sheet.charges}
    page.title("Materials", "Shaded prices, rates and percentages may be changed; breaks stand on their own page.")
    page.headings("for", "material", "unit", "quantity, as planned", f"list price, {currency}",
                  f"amount, as planned, {currency}", "given in", "as given", "used")
    last = len(sheets) if rows.standards is None else rows.standards
    users: dict[tuple, dict[str, None]] = {}
    for number, sheet in enumerate(sheets):
        for charge in sheet.charges:
            mine = users.setdefault(price_key(charge), {})
            if number < last or not mine:
                mine[sheet.title if 0 < number < last else "standard cost" if number else "as planned"] = None
    for key, row in rows.prices.items():
        kind, material, unit, price, _ = key
        for column, words in enumerate((str(kind), _ON.get(kind, material), unit), start=1):
            page.text(row, column, words)
        for column, letter, form in ((4, "M", _QUANTITY), (6, "P", money)):
            page.formula(row, column, f"SUMIFS(Charges!${letter}${FIRST}:${letter}${rows.last},"
                         f"Charges!$A${FIRST}:$A${rows.last},0,Charges!$J${FIRST}:$J${rows.last},{row})", form)
        foreign = rates.get(stocks[key])
        if kind in ADDED:
            of_price = kind is ChargeKind.MARGIN
            page.formula(row, 5, f"H{row}/(100-H{row})" if of_price else f"H{row}/100", _PRICE)
            page.text(row, 7, "%")
            page.number(row, 8, float(100 * price / (1 + price) if of_price else 100 * price), "0.####",
                        open_to=SHARE if of_price else PERCENT)
        elif foreign is not None:
            page.formula(row, 5, f"H{row}*Rates!$B${foreign.row}", _PRICE)
            page.text(row, 7, foreign.currency)
            page.number(row, 8, float(price / foreign.rate), _PRICE, open_to=MONEY)
        else:
            page.number(row, 5, float(price), _PRICE, open_to=CREDIT if price < 0 else MONEY)
        who = users[key]
        page.text(row, 9, "everywhere" if len(who) == last > 1 else ", ".join(who))
    end = FIRST + len(rows.prices)
    page.text(end, 1, "all", bold=True)
    page.formula(end, 6, f"SUM(F{FIRST}:F{end - 1})" if rows.prices else "0", money, bold=True)


def fill_breaks(
    page: Page, sheets: Sequence[CostSheet], rows: Rows, leathers: Sequence[Leather], rolls: Sequence[Roll]
) -> None:
    """What is bought of each leather and roll and what that takes off; below it the breaks themselves."""
    page.title("Price breaks", "Shaded cells may be changed: from that quantity on that share is off all of it, but "
               "nothing off a hide with its own price.")
    page.headings("for", "leather, roll", "unit", "quantity bought", "% off")
    known = {(ChargeKind.LEATHER, one.name): (one.price_unit, one.breaks) for one in leathers}
    known |= {(ChargeKind.REINFORCEMENT, one.roll_id): ("m", one.breaks) for one in rolls}
    head = FIRST + len(rows.breaks) + 1
    page.text(head, 2, "leather, roll", bold=True)
    page.text(head, 4, "from quantity", bold=True, over_figures=True)
    page.text(head, 5, "% off", bold=True, over_figures=True)
    spans: dict[tuple[ChargeKind, str], tuple[int, int]] = {}
    row = head + 1
    for key in dict.fromkeys((kind, stock) for _, kind, stock in rows.breaks):
        unit, breaks = known.get(key, ("", ()))
        spans[key] = row, row + len(breaks) + SPARE_BREAKS - 1
        for start, off in (*breaks, *[(None, None)] * SPARE_BREAKS):
            page.text(row, 2, key[1])
            page.text(row, 3, unit)
            page.number(row, 4, None if start is None else float(start), "#,##0.###", open_to=COUNT)
            page.number(row, 5, None if off is None else float(off), "0.###", open_to=SHARE)
            row += 1
    for (number, kind, stock), at in rows.breaks.items():
        first, last = spans[kind, stock]
        standard = rows.standards is not None and number >= rows.standards
        title = "" if number in (0, rows.standards) else sheets[number].title
        page.text(at, 1, ", ".join(filter(None, ("standard cost" if standard else "", title))) or "as planned")
        page.text(at, 2, stock)
        page.text(at, 3, known.get((kind, stock), ("", ()))[0])
        page.formula(at, 4, f"SUMIFS(Charges!$Q${FIRST}:$Q${rows.last},Charges!$K${FIRST}:$K${rows.last},{at})",
                     _QUANTITY)
        starts, bought = f"$D${first}:$D${last}", f"ROUND($D{at},9)"
        reached = f"SUMPRODUCT(MAX(({starts}<={bought})*{starts}))"
        page.formula(at, 5, f"SUMIFS($E${first}:$E${last},{starts},{reached})", "0.###")


def fill_charges(page: Page, sheets: Sequence[CostSheet], rows: Rows, leathers: Sequence[Leather], money: str) -> None:
    """Every charge with its source; its quantity follows the pairs, its price the lists."""
    page.title("Charges", "Everything else is a sum of these: who bears it, and which layout or estimate is behind it. "
               "Fixed: what a pair cut takes.")
    page.headings("sheet no.", "size row", "style", "size", "for", "kind no.", "source", "quantity, fixed", "unit",
                  "price row", "break row", "in the break's unit, fixed", "quantity", "list price", "% off",
                  f"amount, {sheets[0].currency}", "bought", "leather or roll")
    units = {leather.name: leather.price_unit for leather in leathers}
    sizes = {(one.style, one.size): FIRST + i for i, one in enumerate(sheets[0].sizes)}
    row = FIRST
    for number, sheet in enumerate(sheets):
        block = {"first": row}
        for charge in shown_charges(sheet):
            price, at = rows.prices[price_key(charge)], rows.breaks.get((number, charge.kind, charge.stock), 0)
            factor = 1.0
            if charge.kind is ChargeKind.LEATHER and units.get(charge.stock, charge.unit) != charge.unit:
                factor = float(unit_mm2(charge.unit) / unit_mm2(units[charge.stock]))
            page.number(row, 1, number, "0")
            size_row = sizes.get(charge.key, 0)
            page.number(row, 2, size_row, "0")
            for column, words in ((3, charge.style), (4, charge.size), (5, str(charge.kind)), (7, charge.source),
                                  (9, charge.unit)):
                page.text(row, column, words)
            page.number(row, 6, KINDS.index(charge.kind) + 1, "0")
            page.number(row, 8, float(charge.quantity), "#,##0.000000")
            page.number(row, 10, price, "0")
            page.number(row, 11, at, "0")
            page.number(row, 12, factor, "0.######")
            if charge.kind in ADDED:
                span = block["first"], block.setdefault(charge.kind, row) - 1
                page.formula(row, 13, _added_to(charge, row, *span), "#,##0.000000")
            elif size_row:
                page.formula(row, 13, rows.quantity(row, number, size_row), "#,##0.000000")
            else:  # ordered, but not in the plan: it counts towards the breaks of the standard cost
                page.formula(row, 13, f"H{row}", "#,##0.000000")
            page.formula(row, 14, f"Materials!$E${price}", _PRICE)
            page.formula(row, 15, rows.off(charge, number), "0.###")
            page.formula(row, 16, f"M{row}*N{row}*(1-O{row}/100)", money)
            page.formula(row, 17, f"M{row}*L{row}", "#,##0.000000")
            page.text(row, 18, charge.stock or charge.on)
            row += 1


def shown_charges(sheet: CostSheet) -> list[Charge]:
    """The charges of a sheet; what is added in percent stands once for each size and what it is on."""
    found: dict[tuple, Charge] = {}
    for i, charge in enumerate(sheet.charges):
        key = (charge.key, charge.kind, charge.on, charge.price) if charge.kind in ADDED else (i,)
        mine = found.get(key)
        found[key] = charge if mine is None else replace(mine, quantity=mine.quantity + charge.quantity)
    return list(found.values())


def _added_to(charge: Charge, row: int, first: int, last: int) -> str:
    """Money that freight, duty, overhead or margin in `row` is on: amounts of its size before it, as a formula."""
    amounts, whose, on = (f"${letter}${first}:${letter}${last}" for letter in "PBR")
    return f"SUMIFS({amounts},{whose},$B{row}" + (f",{on},$R{row})" if charge.on else ")")
