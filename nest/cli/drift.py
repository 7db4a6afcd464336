"""The command `drift`: what a record of trim says over weeks, and which allowances should follow it."""

from collections.abc import Sequence
from math import fsum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import options
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from nest.drift import Advice, Drift, Measured
    from nest.job.job import Job

DRIFT_FILE = "allowances.csv"
"""A folder that holds it was written by an earlier `drift`."""



def drift(
    records: Annotated[list[Path], typer.Argument(metavar="RECORD ...",
                                                  help="Records that outcomes and trial wrote with --record.")],
    *,
    job: Annotated[Path, typer.Option("--job", metavar="JOB", help="The job whose allowances are looked at.")],
    k: options.Deviations = 2.0,
    toe_left: options.Left = None,
    side_left: options.Left = None,
    back_left: options.Left = None,
    into: options.Into = None,
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="OUT",
                                             help="Folder for the advice as CSV and the chart of the weeks.")] = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """How trim left drifts by size, side, week and lot, and which allowances should change, with what that saves.

    An allowance changes only where the 95 % interval of what it should be supports that; cannot tell is an answer.
    """
    from nest.cli import steps
    from nest.drift import advised, drift_of, read_record, revisions_of, with_more
    from nest.errors import PlanProblem
    from nest.newjob import check_new_job

    screen = Screen(quiet, as_json)
    if into is not None:
        check_new_job(job, into)
    loaded = steps.read_job(job)
    rows: tuple[Measured, ...] = ()
    for one in records:
        rows, _, _ = with_more(rows, read_record(one))
    found = drift_of(rows, loaded)
    if not found.parts:
        raise PlanProblem("the record holds no trim of a style of the job on the leather that it has; see its columns.")
    if out is not None:
        steps.try_folder(out, DRIFT_FILE)
    advice = advised(found, loaded, k, options.wanted_left(toe_left, side_left, back_left))
    revisions = revisions_of(loaded, advice)
    data = _result(found, advice) | _saved(loaded, revisions)
    said = [*found.notes, *_said(data, bool(revisions))]
    if out is not None:
        _write(out, data, found, advice)
        data["folder"] = str(out)
    if into is not None:
        said.append(_written(job, into, revisions))
    screen.result(data, *_tables(data), *said)


def recorded(path: Path, rows: "Sequence[Measured]") -> str:
    """Add rows to the record at `path`, which begins with them if there is none; a sentence about it."""
    from nest.atomic import check_file
    from nest.drift import read_record, with_more
    from nest.report.drift import write_record

    check_file(path)
    whole, added, again = with_more(read_record(path) if path.exists() else (), rows)
    if added:
        write_record(whole, path)
    return f"{path}: {added} rows added, {again} were there already, {len(whole)} in all."


def _result(found: "Drift", advice: "tuple[Advice, ...]") -> dict[str, Any]:
    """All of it as plain data, mm."""
    keys = ("style", "size", "part", "pieces", "mean_mm", "mean_low_mm", "mean_high_mm", "low_mm", "wanted_mm",
            "change_low_mm", "change_high_mm", "now_mm", "new_mm", "conclusion")
    rows = [{key: _plain(getattr(one, key)) for key in keys} for one in advice]
    effects = [
        {"leather": part.leather, "part": str(part.part), "what": one.what, "style": one.style,
         "value_mm": round(one.value, 4), "low_mm": round(one.low, 4), "high_mm": round(one.high, 4),
         "p": round(one.p, 4), "told": one.told}
        for part in found.parts for one in part.effects
    ]
    lots = [
        {"leather": part.leather, "part": str(part.part), "lot": lot, "pieces": pieces, "value_mm": round(one.mean, 4),
         "low_mm": round(one.interval[0], 4), "high_mm": round(one.interval[1], 4)}
        for part in found.parts for lot, pieces, one in part.lots if len(part.lots) > 1
    ]
    return {"allowances": rows, "effects": effects, "lots": lots, "notes": list(found.notes)}


def _plain(value):
    return round(value, 3) if isinstance(value, float) else str(value) if not isinstance(value, int) else value


def _saved(job: "Job", revisions) -> dict[str, Any]:
    """What a good pair costs before and after, by estimate; nothing where no allowance changes."""
    from nest.cli.costing_result import savings_result
    from nest.cli.costing_steps import by_estimate, seeds_of
    from nest.trial import jobs_to_compare
    from nest.whatif.saving import savings

    saved = savings(
        jobs_to_compare(job, revisions), [one.style.name for one in revisions], by_estimate(job), seeds_of(job, 1),
    ) if revisions else ()
    return {"saving": savings_result(saved), "currency": job.settings.currency, "how": "by estimate"}


_WHAT = {"size": "a size", "side": "left less right", "week": "a week", "lot": "spread of lots"}


def _said(data: dict[str, Any], changed: bool) -> list[str]:
    said = []
    for one in data["effects"]:
        if one["told"]:
            whose = f", {one['style']}" if one["style"] else ""
            sign = "" if one["what"] == "lot" else "+"
            said.append(f"Trim at the {one['part']}{whose}: {one['value_mm']:{sign}.2f} mm {_WHAT[one['what']]} "
                        f"({one['low_mm']:{sign}.2f} to {one['high_mm']:{sign}.2f}).")
    if not said:
        said.append("No drift by size, side, week or lot can be told beyond doubt.")
    if not changed:
        said.append("No allowance should change on this evidence.")
    whole = next((row for row in data["saving"] if not row["style"]), None)
    if whole is not None:
        what = "saves" if whole["order"] < 0.0 else "costs"
        money = f"{abs(whole['order']):,.2f} {data['currency']} on this order"
        years = [row["year"] for row in data["saving"] if row["style"]]
        if None not in years:
            year = fsum(years)
            what, money = "saves" if year < 0.0 else "costs", f"{abs(year):,.0f} {data['currency']} a year"
        said.append(f"To follow the advice {what} {money}, by estimate."
                    + (" State pairs_per_year in [costing] for a year." if None in years else ""))
    return said


def _tables(data: dict[str, Any]) -> list:
    from rich.text import Text

    from nest.cli.costing_tables import plain_table, saving_table

    tables = []
    advice = plain_table("Trim left at today's allowances, mm; sides: at the widest place, widening taken off", "",
                         ("pieces", "mean (95 %)", "low end", "wanted", "allowance", "advised", ""))
    for row in data["allowances"]:
        advice.add_row(
            Text(f"{row['style']} {row['size']}, {row['part']}"), str(row["pieces"]),
            f"{row['mean_mm']:.1f} ({row['mean_low_mm']:.1f} to {row['mean_high_mm']:.1f})", f"{row['low_mm']:.1f}",
            f"{row['wanted_mm']:.1f}", f"{row['now_mm']:.1f}", f"{row['new_mm']:.1f}", row["conclusion"],
        )
    tables.append(advice)
    effects = plain_table("How it differs, mm", "", ("by", "estimate", "95 % interval", "so?"))
    for one in data["effects"]:
        effects.add_row(
            Text(f"{one['style'] or one['leather']}, {one['part']}"), _WHAT[one["what"]], f"{one['value_mm']:.2f}",
            f"{one['low_mm']:.2f} to {one['high_mm']:.2f}", "yes" if one["told"] else "cannot tell")
    if data["effects"]:
        tables.append(effects)
    if data["saving"]:
        tables.append(saving_table(data))
    return tables


def _write(out: Path, data: dict[str, Any], found: "Drift", advice: "tuple[Advice, ...]") -> None:
    from nest.atomic import atomic_folder
    from nest.report.drift import write_drift_chart
    from nest.report.tables import Table, write_csv

    with atomic_folder(out, marker=DRIFT_FILE) as folder:
        for name, rows in (("allowances", data["allowances"]), ("effects", data["effects"]), ("lots", data["lots"])):
            if rows:
                cells = tuple(tuple(str(one) if isinstance(one, bool) else one for one in row.values()) for row in rows)
                write_csv(Table(name, tuple(rows[0]), cells), folder / f"{name}.csv")
        write_drift_chart(folder, found, advice)


def _written(job: Path, into: Path, revisions) -> str:
    """Write the new job; a sentence about it."""
    from nest.errors import PlanProblem
    from nest.job.read import read_job
    from nest.newjob import write_new_job
    from nest.trial.jobtext import revised_text

    if not revisions:
        raise PlanProblem("no allowance changes on this evidence, and nothing was written.")
    text = revised_text(job.read_text(encoding="utf-8-sig"), revisions)
    write_new_job(text, into)
    read_job(into)
    return f"{into} has the allowances advised; prove them by a trial."
