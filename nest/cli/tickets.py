"""The command that writes the paper which goes with vamps from cutting to trimming."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.box import SIMPLE_HEAD
from rich.table import Table

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from nest.plan import Plan


def register(app: typer.Typer) -> None:
    """Add the command to the others."""
    app.command(epilog="Example: vampyield tickets out --out paper")(tickets)


def tickets(
    plan: options.PlanFile,
    out: options.OutFolder,
    crimping: Annotated[
        Path | None, typer.Option("--crimping", metavar="FILE", show_default=False,
                                  help="A file (TOML) with the keys of [crimping] of a job file; by default what the "
                                       "plan keeps of its job."),
    ] = None,
    time: options.Time = "",
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Write a ticket for each batch of a style: pieces, bonding to trimming, boxes for what became of each vamp."""
    from nest.cli import steps
    from nest.output import BATCHES_FILE, write_tickets
    from nest.tickets import batches_of

    screen = Screen(quiet, as_json)
    whole = _stated(steps.read_saved(plan), crimping)
    steps.try_folder(out, marker=BATCHES_FILE)
    verdict = steps.verify(whole)
    write_tickets(whole, verdict, out, time=time)
    data: dict[str, Any] = {
        "batches": [
            {"batch": batch.name, "style": batch.style, "pairs": batch.pairs, "vamps": len(batch.vamps),
             "hides": list(batch.hides)} for batch in batches_of(whole)
        ],
        "ok": verdict.ok, "folder": str(out),
    }
    screen.result(data, _batches_table(data), f"Written to {out}.")
    steps.show_cautions(screen)
    raise typer.Exit(Exit.DONE if verdict.ok else Exit.WRONG)


def _stated(plan: "Plan", crimping: Path | None) -> "Plan":
    """The plan with what this file states of its styles, where one is named."""
    if crimping is None:
        return plan
    from nest.job.crimping import read_crimping_file

    stated = read_crimping_file(crimping, [style.name for style in plan.styles])
    return replace(plan, styles=tuple(replace(style, crimping=stated[style.name]) for style in plan.styles))


def _batches_table(data: dict[str, Any]) -> Table:
    table = Table(title="Batches", title_justify="left", box=SIMPLE_HEAD)
    for heading, right in (("batch", False), ("pairs", True), ("vamps", True), ("from hides", False)):
        table.add_column(heading, justify="right" if right else "left")
    for one in data["batches"]:
        table.add_row(one["batch"], f"{one['pairs']:g}", str(one["vamps"]), ", ".join(one["hides"]))
    return table
