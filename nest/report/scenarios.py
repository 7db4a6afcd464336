"""Scenarios as one table: of figures for a CSV file and a page of a workbook."""

from nest.accounts.money import minor_digits
from nest.report.books import save_book
from nest.report.cells import FIRST, Page, money_format
from nest.report.tables import Table, write_csv
from nest.scenarios import Scenarios

_WORDS = {"leathers": "leather", "rolls": "roll", "allowances": "allowances", "quantities": "quantity",
          "rules": "rules"}


def section_word(section: str) -> str:
    """Heading of the choices of one section."""
    return _WORDS[section]


def scenarios_table(found: Scenarios) -> Table:
    """A row a scenario, cheapest first; money of a good pair to a hundredth of the minor unit, of a year to a whole."""
    digits = minor_digits(found.currency)
    styles = styles_of(found)
    years = any(one.saving for one in found.ranked)
    placed = any(one.placed is not None for one in found.ranked)
    money_of = [
        "good pair", "± (95 %)", "dearer than the first", "± (95 %) of that",
        *(styles if len(styles) > 1 else ()), *((*(f"saved a year, {style}" for style in styles),) if years else ()),
        *(("placed, good pair",) if placed else ()),
    ]
    header = ["rank", *map(section_word, found.sections), *(f"{name}, {found.currency}" for name in money_of),
              *(("placed, pairs short",) if placed else ())]
    rows = []
    for rank, one in enumerate(found.ranked, start=1):
        run = one.costed

        def money(value):
            return None if value is None else round(float(value), digits + 2)

        row = [rank, *run.scenario.names, money(run.pair), money(run.half_width), money(one.dearer),
               money(one.dearer_error)]
        row += [money(run.by_style.get(style)) for style in styles] if len(styles) > 1 else []
        if years:
            row += [None if style not in one.saving else round(one.saving[style]) for style in styles]
        if placed:
            row += [money(one.placed), one.short if one.placed is not None else None]
        rows.append(tuple(row))
    return Table("scenarios", tuple(header), tuple(rows))


def styles_of(found: Scenarios) -> tuple[str, ...]:
    """Every style that is costed, in the order of the first scenario."""
    return tuple(dict.fromkeys(style for one in found.ranked for style in one.costed.by_style))


def write_scenarios(found: Scenarios, path) -> None:
    """Write the table to `path`, atomically: a workbook if it ends in .xlsx, else CSV.

    Raises
    ------
    PlanProblem
        If its folder does not exist.
    """
    table = scenarios_table(found)
    if str(path).lower().endswith(".xlsx"):
        _write_book(found, table, path)
    else:
        write_csv(table, path)


def _write_book(found: Scenarios, table: Table, path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    sheet.title = "Scenarios"
    page = Page(sheet)
    page.title("Scenarios", f"Standard cost by estimate in {found.currency}, cheapest first. Savings are beside the "
               "job as it is.")
    page.headings(*table.header)
    fine = money_format(minor_digits(found.currency) + 2)
    last_name = 1 + len(found.sections)
    for row, cells in enumerate(table.rows, start=FIRST):
        for column, (name, cell) in enumerate(zip(table.header, cells, strict=True), start=1):
            if 1 < column <= last_name:
                page.text(row, column, str(cell))
            elif cell is not None and not isinstance(cell, str):
                whole = column == 1 or name.startswith("saved") or name.endswith("short")
                page.number(row, column, cell, "#,##0" if whole else fine)
    row = FIRST + len(table.rows) + 1
    for words in (*found.notes, *(f"{', '.join(names)}: {why}" for names, why in found.failed)):
        page.text(row, 1, words, italic=True, wide=False)
        row += 1
    page.set_up(FIRST - 1)
    save_book(book, path)
