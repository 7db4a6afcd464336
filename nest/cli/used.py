"""The command `used`: used against planned, at the end of a day."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import options
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from nest.report.tables import Table


def used(
    plan: options.PlanFile,
    *,
    cut: options.CutList = None,
    spoiled: options.SpoiledList = None,
    against: Annotated[Path | None, typer.Option("--against", metavar="FIRST",
                                                 help="An earlier plan of the order to hold it against; by default the "
                                                      "same plan.")] = None,
    out: options.TablesFolder = None,
    ledger: Annotated[str, typer.Option("--ledger", metavar="LEDGER",
                                        help="Take what was cut and spoiled from this ledger, in place of the "
                                             "lists.")] = "",
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Used against planned at the day's end: hides, leather, rolls, spoiled pieces, pairs finished, money, by size."""
    from nest.begun.lists import read_begun
    from nest.cli import steps
    from nest.cli.fromledger import begun_of
    from nest.errors import PlanProblem
    from nest.report.tables import write_tables

    screen = Screen(quiet, as_json)
    found, again = steps.read_saved_again(plan)
    first = None if against is None else steps.read_saved(against)
    if ledger and (cut or spoiled):
        raise PlanProblem("name the ledger or the lists of what was cut and spoiled, not both.")
    said: tuple[str, ...] = ()
    if ledger:
        begun = begun_of(found, ledger)
    else:
        begun, said = read_begun(found, cut, spoiled, rejects_cover=found.begun.rejects_cover, again=again)
    table = used_so_far(found, begun, first)
    if out is not None:
        write_tables([table], out, "used-against-planned")
    screen.say(*said)
    rows = [dict(zip(table.header, map(_plain, row), strict=True)) for row in table.rows]
    screen.result({"plan": found.name, "rows": rows, "folder": None if out is None else str(out)}, shown(table))


def used_so_far(plan, begun, against=None) -> "Table":
    """What was used so far against what was planned, by size."""
    from nest.accounts.used import used_against_planned
    from nest.report.used import used_table

    return used_table(used_against_planned(plan, begun, against), plan.settings.currency)


def _plain(cell):
    """Money as text, as in every result; anything else as it is."""
    from decimal import Decimal

    return str(cell) if isinstance(cell, Decimal) else cell


def shown(table: "Table"):
    """The table for the screen: planned and used side by side under one heading."""
    from nest.cli.costing_tables import plain_table

    at = {name: i for i, name in enumerate(table.header)}
    money = table.header[-1].removeprefix("dearer_than_planned_")
    columns = (
        ("hides", "hides_planned", "hides_used"), ("leather\ndm²", "leather_dm2_planned", "leather_dm2_used"),
        ("rolls\nm", "roll_m_planned", "roll_m_used"), ("vamps\ngood", "vamps_good"), ("spoiled", "vamps_spoiled"),
        ("pairs", "pairs_expected", "pairs_finished"),
        ("dm² a\ngood pair", "leather_dm2_per_good_pair_planned", "leather_dm2_per_good_pair_used"),
        ("m a\ngood pair", "roll_m_per_good_pair_planned", "roll_m_per_good_pair_used"),
        (f"dearer\n{money}", table.header[-1]),
    )
    grid = plain_table("Used of planned", "", tuple(name for name, *_ in columns))
    for row in table.rows:
        cells = (" of ".join(_cell(row[at[name]]) for name in reversed(names)) for _, *names in columns)
        grid.add_row(f"{row[0]} {row[1]}" if row[0] != "all" else "order", *cells, end_section=row[1] == "all")
    return grid


def _cell(value) -> str:
    return "–" if value is None else f"{value:.2f}" if isinstance(value, float) else str(value)
