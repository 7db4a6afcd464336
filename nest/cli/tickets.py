"""The command `tickets`: the paper that goes with vamps from cutting to trimming."""

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
    from nest.timetable import Timetable


def tickets(
    plan: options.PlanFile,
    out: options.OutFolder,
    crimping: Annotated[Path | None, typer.Option("--crimping", metavar="FILE",
                                                  help="A file (TOML) with the keys of [crimping] of a job file; by "
                                                       "default what the plan keeps of its job.")] = None,
    shifts: Annotated[Path | None, typer.Option("--shifts", metavar="SHIFTS",
                                                help="A file (TOML) of shifts and stations: adds a timetable, charts, "
                                                     "and hours on the tickets.")] = None,
    time: options.Time = "",
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Write a ticket for each batch of a style: pieces, bonding to trimming, boxes for what became of each vamp.

    With --shifts the batches go through their stations so that the last is through as early as can be. Tickets then
    bear their hours, and a table says by when each hide must be cut.
    """
    from functools import partial

    from nest.cli import steps
    from nest.output import BATCHES_FILE, write_tickets
    from nest.tickets import batches_of

    screen = Screen(quiet, as_json)
    whole = _stated(steps.read_saved(plan), crimping)
    steps.try_folder(out, marker=BATCHES_FILE)
    verdict, batches = steps.verify(whole), batches_of(whole)
    data: dict[str, Any] = {
        "batches": [
            {"batch": batch.name, "style": batch.style, "pairs": batch.pairs, "vamps": len(batch.vamps),
             "hides": list(batch.hides)} for batch in batches
        ],
        "ok": verdict.ok, "folder": str(out),
    }
    said: list[str | Table] = [_batches_table(data)]
    if shifts is None:
        write_tickets(whole, verdict, out, time=time)
    else:
        from nest.cli.progress import shown_progress
        from nest.job.shifts import read_shifts
        from nest.timetable import planned_of, proof_words, timetable_of, write_timetable

        calendar = read_shifts(shifts, [style.name for style in whole.styles])
        with shown_progress(screen) as watch:
            watch.stage("timing the batches")
            table = timetable_of(whole, batches, calendar)
        write_tickets(whole, verdict, out, time=time, planned=planned_of(whole, table),
                      more=partial(write_timetable, whole, table))
        data |= _timed(table)
        said += [_timed_table(data), _hides_table(data), f"{proof_words(table)}"]
    screen.result(data, *said, f"Written to {out}.")
    steps.show_cautions(screen)
    raise typer.Exit(Exit.DONE if verdict.ok else Exit.WRONG)


def _timed(table: "Timetable") -> dict[str, Any]:
    """A timetable as data."""
    from nest.timetable import by_need

    return {
        "slots": [{"batch": slot.batch.name, "step": slot.does, "machine": slot.machine,
                   "begin": slot.begin.isoformat(timespec="minutes"), "end": slot.end.isoformat(timespec="minutes")}
                  for slot in table.slots],
        "hides": [{"hide": hide.hide_id, "cut_by": hide.by.isoformat(timespec="minutes"), "batch": hide.batch.name}
                  for hide in by_need(table)],
        "end": table.end.isoformat(timespec="minutes"), "proved": table.proved, "gap_min": table.gap_min,
    }


def _timed_table(data: dict[str, Any]) -> Table:
    """A row a batch: when it begins at each station."""
    steps = [step for step in ("bond", "soften", "crimp", "check", "trim")
             if any(slot["step"] == step for slot in data["slots"])]
    table = Table(title="Timetable: from when on", title_justify="left", box=SIMPLE_HEAD)
    for heading in ("batch", *steps, "through"):
        table.add_column(heading)
    found: dict[str, dict[str, Any]] = {}
    for slot in data["slots"]:  # by their beginning, so the batch that is first at work stands first
        found.setdefault(slot["batch"], {})[slot["step"]] = slot
    for batch, mine in found.items():
        begins = (_short(mine[step]["begin"]) if step in mine else "" for step in steps)
        table.add_row(batch, *begins, _short(mine["trim"]["end"]))
    return table


def _hides_table(data: dict[str, Any]) -> Table:
    table = Table(title="Hides, by when they are needed", title_justify="left", box=SIMPLE_HEAD)
    for heading in ("hide", "cut by", "for batch"):
        table.add_column(heading)
    for hide in data["hides"]:
        table.add_row(hide["hide"], _short(hide["cut_by"]), hide["batch"])
    return table


def _short(time: str) -> str:
    """A time for people: "Mon 2 Mar 06:40"."""
    from datetime import datetime

    from nest.timetable import said

    return said(datetime.fromisoformat(time))


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
