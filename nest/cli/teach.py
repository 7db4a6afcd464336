"""The command `teach`: what outcomes say about ground, heading, lots and reinforcement."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import options
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nest.stock.material import Hide
    from nest.teaching import Seen, Taught

RATES_FILE = "rates.csv"
"""A folder that holds it was written by an earlier `teach`."""


def teach(
    lists: Annotated[list[Path], typer.Argument(metavar="PLAN OUTCOMES ...",
                                                help="A plan, or its folder, and its list of outcomes; then others "
                                                     "likewise.")],
    job: Annotated[Path | None, typer.Option("--job", metavar="JOB", help="The job to write rates into.")] = None,
    into: options.Into = None,
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="OUT",
                                             help="Folder for the rates as CSV, the map and the chart.")] = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Reject rates by class, zone, distance from the edge, heading, flaws, lot and reinforcement, with intervals.

    Rates of a level are all else equal, and drawn to those of the others the more the fewer pieces there are. Where
    levels cannot be told apart it says so; what is claimed to differ does so with 95 % for all claims together.
    """
    from nest.cli import steps
    from nest.errors import PlanProblem
    from nest.newjob import check_new_job
    from nest.teaching import rates_of_styles, taught_of

    screen = Screen(quiet, as_json)
    if len(lists) % 2:
        raise PlanProblem("name a plan and its list of outcomes, then the next plan and its list.")
    if (into is None) != (job is None):
        raise PlanProblem("--job and --into belong together: the job, and the new one to write beside it.")
    if into is not None and job is not None:
        check_new_job(job, into)
    loaded = None if job is None else steps.read_job(job)
    pieces, hides = read_lists(lists)
    found = taught_of(pieces)
    rates = rates_of_styles(found, pieces)
    data = _result(found, pieces)
    said = _said(found)
    if out is not None:
        steps.try_folder(out, RATES_FILE)
        _write(out, data, [hides[name] for name in dict.fromkeys(one.hide_id for one in pieces)], pieces, found)
        data["folder"] = str(out)
    if loaded is not None and job is not None and into is not None:
        said.append(_written(loaded, job, into, rates, found))
        data["rates_written"] = sorted(rates)
    screen.result(data, _table(data), *said)


def read_lists(lists: "Sequence[Path]") -> "tuple[list[Seen], dict[str, Hide]]":
    """Pieces of plans and their lists, one after the other, and the hides by id; hides of two plans are two.

    Raises
    ------
    PlanProblem
        If the lists give the outcome of no piece.
    """
    from nest.cli import steps
    from nest.errors import PlanProblem
    from nest.outcomes import read_outcomes
    from nest.teaching import seen_pieces

    pieces: list[Seen] = []
    hides: dict[str, Hide] = {}
    for i in range(0, len(lists), 2):
        plan, again = steps.read_saved_again(lists[i])
        name = f"{i // 2 + 1}·"
        pieces += [_of_plan(one, name) for one in seen_pieces(plan, read_outcomes(plan, lists[i + 1], again))]
        hides |= {name + hide.hide_id: _of_plan(hide, name) for hide in plan.hides}
    if not pieces:
        raise PlanProblem("the lists give the outcome of no piece; fill in the outcome of each.")
    return pieces, hides


def _of_plan(one, name: str):
    from dataclasses import replace

    return replace(one, hide_id=name + one.hide_id)


def _result(found: "Taught", pieces: "list[Seen]") -> dict[str, Any]:
    """All of it as plain data: shares as percentages."""
    from collections import Counter

    def level(factor: str, one, told: bool, p: float | None) -> dict[str, Any]:
        return {
            "factor": factor, "level": one.level, "pieces": one.tried, "failed": one.failed,
            "percent": round(100.0 * one.mean, 2), "low": round(100.0 * one.low, 2),
            "high": round(100.0 * one.high, 2), "told": told, "p": None if p is None else round(p, 4),
        }

    rows = [level(one.name, each, one.told, one.p) for one in found.factors for each in one.levels]
    return {
        "pieces": len(pieces), "reasons": dict(Counter(str(one.reason) for one in pieces).most_common()),
        "rows": [*rows, level("all", found.overall, False, None)],
    }


def _said(found: "Taught") -> list[str]:
    told = [one.name for one in found.factors if one.told]
    untold = [one.name for one in found.factors if one.p is not None and not one.told]
    alike = [one.name for one in found.factors if one.p is None]
    said = [f"Rates differ by {', '.join(told)}." if told else "No difference can be told beyond doubt."]
    if untold:
        said.append(f"Cannot tell: {', '.join(untold)}.")
    if alike:
        said.append(f"All pieces are alike in {', '.join(alike)}: nothing can be learned of that.")
    return said


def _table(data: dict[str, Any]):
    from nest.cli.costing_tables import plain_table

    grid = plain_table("Reject rates, all else equal", "", ("failed", "of", "%", "95 % interval", "differ?"))
    last = ""
    for row in data["rows"]:
        first = row["factor"] != last
        last = row["factor"]
        name = row["level"] if row["factor"] == "all" else f"{row['factor']}: {row['level']}"
        verdict = "" if not first or row["factor"] == "all" else "yes" if row["told"] else "cannot tell"
        grid.add_row(name, str(row["failed"]), str(row["pieces"]), f"{row['percent']:.1f}",
                     f"{row['low']:.1f} to {row['high']:.1f}", verdict)
    return grid


def _write(out: Path, data: dict[str, Any], hides, pieces: "list[Seen]", found: "Taught") -> None:
    from nest.atomic import atomic_folder
    from nest.report.tables import Table, write_csv
    from nest.report.teaching import write_teaching_figures

    header = ("factor", "level", "pieces", "failed", "percent", "low", "high", "told", "p")
    rows = tuple(tuple(str(row[key]) if key == "told" else row[key] for key in header) for row in data["rows"])
    with atomic_folder(out, marker=RATES_FILE) as folder:
        write_csv(Table("rates", header, rows), folder / RATES_FILE)
        write_teaching_figures(folder, hides, pieces, found)


def _written(loaded, job: Path, into: Path, rates, found: "Taught") -> str:
    """Write the new job; a sentence about it."""
    from nest.errors import PlanProblem
    from nest.job.read import read_job
    from nest.newjob import write_new_job
    from nest.teaching.jobtext import with_rates
    from nest.teaching.rejects import LEAST_PIECES

    names = {style.name for style in loaded.styles}
    mine = {style: one for style, one in rates.items() if style in names}
    if not mine:
        raise PlanProblem(f"no style of the job has {LEAST_PIECES} pieces of which the outcome is known; "
                          "its rates stay as they are, and nothing was written.")
    apart = [name for name in ("class", "deviation", "bias") if found.told(name)]
    how = f"by {', '.join(apart)}" if apart else "one rate a style, for no class or deviation can be told apart"
    note = f"Reject rates {how}; {found.overall.failed} of {found.overall.tried} pieces failed."
    text = with_rates(job.read_text(encoding="utf-8-sig"), mine, note)
    write_new_job(text, into)
    read_job(into)
    return f"{into} has reject rates {how}."
