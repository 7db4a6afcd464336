"""The commands for an order of which the cutting has begun: plan the rest again, and used against planned."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import options
from nest.cli.screen import Screen
from nest.cli.searching import NO_LIMITS, Search, with_search_options

if TYPE_CHECKING:
    from nest.report.tables import Table

USED_FILE = "used-against-planned.csv"
"""A folder that holds it was written by an earlier `used`."""

CutList = Annotated[
    Path | None, typer.Option("--cut", metavar="CUT", show_default=False,
                              help="What was cut, CSV or XLSX: material,state (cut, uncut, withdrawn),used,unit."),
]
SpoiledList = Annotated[
    Path | None, typer.Option("--spoiled", metavar="SPOILED", show_default=False,
                              help="All that was spoiled so far, CSV or XLSX: style,size,side,pieces,reinforcement; "
                                   "or hide,piece,outcome."),
]


def register(app: typer.Typer) -> None:
    """Add the commands to the others."""
    app.command(epilog="Example: vampyield replan job.toml --plan out --cut cut.csv --spoiled spoiled.csv --out out-2")(
        with_search_options(replan)
    )
    app.command(epilog="Example: vampyield used out --cut cut.csv --spoiled spoiled.csv --out evening")(used)


def replan(
    job: options.JobFile,
    *,
    plan: Annotated[
        Path, typer.Option("--plan", metavar="PLAN", show_default=False,
                           help="The plan that is being cut: plan.json, or the folder that holds it."),
    ],
    out: options.OutFolder,
    cut: CutList = None,
    spoiled: SpoiledList = None,
    withdrawn: Annotated[
        list[str] | None, typer.Option("--withdrawn", metavar="ID", show_default=False,
                                       help="A hide not to be used; may be given again."),
    ] = None,
    within_rejects: Annotated[
        bool, typer.Option("--within-rejects", help="Cut spoiled pieces again only beyond the rejects expected."),
    ] = False,
    anew: Annotated[
        bool, typer.Option("--anew", help="Keep no layout of a hide that is not cut; else those that still serve."),
    ] = False,
    search: Search = NO_LIMITS,
    outside: options.Outside = False,
    dxf: options.Dxf = None,
    figures: options.Figures = True,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Plan the rest again once cutting has begun: what is cut stays, the rest follows the job as it is now.

    Change order and hide index of the job first: hides no longer listed are not used, new ones are. To cut one
    bad piece again from the same hide, see the command recut.
    """
    from functools import partial

    from nest.begun.lists import read_begun
    from nest.cli import steps
    from nest.planning.replan import replan as plan_again  # the search's libraries take a second to load

    screen = Screen(quiet, as_json)
    before, again = steps.read_saved_again(plan)
    loaded = steps.read_for_writing(job, out, outside)
    begun, said = read_begun(
        before, cut, spoiled, withdrawn=tuple(withdrawn or ()), rejects_cover=within_rejects or
        before.begun.rejects_cover, again=again,
    )
    screen.say(*loaded.warnings, *said)
    steps.planned_and_written(
        screen, loaded, out, search, dxf=dxf, figures=figures,
        make=partial(plan_again, loaded, before, begun, keep=not anew),
        tables=(_used(before, begun),) if begun.hides or begun.rolls else (),
    )


def used(
    plan: options.PlanFile,
    *,
    cut: CutList = None,
    spoiled: SpoiledList = None,
    against: Annotated[
        Path | None, typer.Option("--against", metavar="FIRST", show_default=False,
                                  help="An earlier plan of the order to hold it against; by default the same plan."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", metavar="OUT", show_default=False,
                                  help="Folder for the table as CSV and workbook."),
    ] = None,
    ledger: Annotated[
        str, typer.Option("--ledger", metavar="LEDGER", show_default=False,
                          help="Take what was cut and spoiled from this ledger, in place of the lists."),
    ] = "",
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Used against planned at the day's end: hides, leather, rolls, spoiled pieces, pairs finished, money, by size."""
    from nest.atomic import atomic_folder
    from nest.begun.lists import read_begun
    from nest.cli import steps
    from nest.cli.fromledger import begun_of
    from nest.errors import PlanProblem
    from nest.report.tables import write_csv, write_workbook

    screen = Screen(quiet, as_json)
    found, again = steps.read_saved_again(plan)
    first = None if against is None else steps.read_saved(against)
    if ledger and (cut or spoiled):
        raise PlanProblem("name the ledger or the lists of what was cut and spoiled, not both.")
    if ledger:
        begun, said = begun_of(found, ledger), ()
    else:
        begun, said = read_begun(
            found, cut, spoiled, rejects_cover=found.begun.rejects_cover, again=again
        )
    table = _used(found, begun, first)
    if out is not None:
        with atomic_folder(out, marker=USED_FILE) as part:
            write_csv(table, part / USED_FILE)
            write_workbook([table], part / USED_FILE.replace(".csv", ".xlsx"))
    screen.say(*said)
    rows = [dict(zip(table.header, map(_plain, row), strict=True)) for row in table.rows]
    screen.result({"plan": found.name, "rows": rows, "folder": None if out is None else str(out)}, shown(table))


def _used(plan, begun, against=None) -> "Table":
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
