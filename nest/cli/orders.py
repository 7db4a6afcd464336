"""The commands `orders ...`: orders taken, planned from the stock, cut, and finished."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import ledger as shared
from nest.cli import options
from nest.cli.helpgroup import group_of
from nest.cli.orders_day import close, plans, release, used, write
from nest.cli.orders_plan import plan
from nest.cli.screen import Screen
from nest.text import count_words

if TYPE_CHECKING:
    from nest.ledger.rows import LineRow
    from nest.report.tables import Table


def take(
    orders: Annotated[Path, typer.Argument(metavar="LIST",
                                           help="The orders: order, style, size, pairs, due, priority; CSV or XLSX.")],
    job: shared.JobToUse = shared.JOB,
    ledger: shared.LedgerAddress = shared.LEDGER,
    by: shared.By = "",
    outside: options.Outside = False,
    quiet: options.Quiet = False,
) -> None:
    """Book a list of orders, new ones and changed ones. The list states each of its orders whole."""
    from nest.ledger.lists import read_orders
    from nest.ledger.orders import take_orders

    lines, said = read_orders(orders, shared.job_of(job, outside=outside))
    with shared.begun(ledger) as opened:
        taken = take_orders(opened, lines, by=shared.who(by))
    Screen(quiet).say(
        *said, f"{count_words(taken.orders, 'new order')}, {count_words(taken.lines, 'new line')}, "
        f"{count_words(taken.changed, 'line')} changed.",
    )


def list_orders(
    until: Annotated[str, typer.Option("--until", metavar="DATE", help="Only what is due by this day.")] = "",
    *,
    order: Annotated[str, typer.Option("--order", metavar="ORDER", help="One order, line by line.")] = "",
    lines: Annotated[bool, typer.Option("--lines", help="Line by line, in place of order by order.")] = False,
    unfinished: Annotated[bool, typer.Option("--open", help="Only what is not finished.")] = False,
    out: shared.OutFile = None,
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """List orders, the most urgent first: pairs wanted, planned, cut, spoiled, finished and short."""
    from nest.ledger.orders import check_orders
    from nest.ledger.rows import line_rows

    day = shared.day_of(until, "--until") if until else ""
    opened = shared.opened(ledger)
    with opened.reading() as connection:
        if order:
            check_orders(connection, (order,))
        rows = line_rows(connection, order=order, until=day)
    if lines or order:
        table = lines_table([row for row in rows if not unfinished or row.finished < row.wanted])
    else:
        table = orders_table(rows, unfinished=unfinished)
    short = sum(row.short for row in rows)
    words = f"{count_words(short, 'pair')} short.", *shared.said_of_lacking(shared.lacking_now(opened))
    shared.listed(Screen(quiet, as_json), table, words, out)


def lines_table(rows: "list[LineRow]") -> "Table":
    """Order lines as a list."""
    from nest.report.tables import Table

    header = ("order", "style", "size", "due", "priority", "wanted", "planned", "cut", "spoiled", "finished", "short")
    return Table("order lines", header, tuple(
        (row.order_no, row.style, row.size, row.due, row.priority or None, row.wanted, row.planned, row.cut,
         row.spoiled, row.finished, row.short) for row in rows
    ))


def orders_table(rows: "list[LineRow]", *, unfinished: bool = False) -> "Table":
    """Orders as a list, a row each; only the `unfinished`, if asked."""
    from nest.ledger.summary import orders_summed
    from nest.report.tables import Table

    header = ("order", "due", "wanted", "planned", "cut", "spoiled", "finished", "short")
    return Table("orders", header, tuple(
        (name, one.due, one.wanted, one.planned, one.cut, one.spoiled, one.finished, one.short)
        for name, one in orders_summed(rows, unfinished=unfinished).items()
    ))


group = group_of("orders", "Orders with due dates: taken, planned from the stock, and closed.", {
    "take": (take, "orders.xlsx"),
    "list": (list_orders, "--until 2026-12-04"),
    "plan": (plan, "--until 2026-12-04 --out out"),
    "plans": (plans, ""),
    "close": (close, "--cut cut.csv --spoiled spoiled.csv"),
    "release": (release, "P0007 --why 'two hides too few'"),
    "write": (write, "P0007 --out out"),
    "used": (used, "--by lot"),
})
