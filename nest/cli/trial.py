"""The command `trial`: what a crimping trial says about allowances, and the job revised after it."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nest.job.job import Job
    from nest.trial import TriedPiece

Table = Annotated[Path, typer.Argument(metavar="TRIAL",
                                       help="One row a piece: size, piece, toe_mm, side_mm (or left_mm, right_mm), "
                                            "back_mm, widening_percent, rejected, reason.")]


def trial(
    job: options.JobFile,
    *,
    table: Table,
    out: options.OutFolder,
    k: options.Deviations = 2.0,
    sure: Annotated[float | None, typer.Option("--sure", min=0.5, max=0.999, metavar="SHARE",
                                               help="In place of --k: how sure 95 % of all pieces keep the trim (0.9 "
                                                    "for 90 %).")] = None,
    toe_left: options.Left = None,
    side_left: options.Left = None,
    back_left: options.Left = None,
    plan: Annotated[Path | None, typer.Option("--plan", metavar="PLAN",
                                              help="The plan whose list of outcomes TRIAL is: hide, piece, outcome, "
                                                   "trim.")] = None,
    place: Annotated[bool, typer.Option("--place", help="Place both jobs to tell the saving; slow.")] = False,
    seeds: options.Seeds = 3,
    passes: options.PlacementPasses = 40,
    record: options.Record = None,
    day: options.Day = "",
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Revise allowances after a crimping trial, and say what it saves; the old job stays as it is.

    Trim is what is left beyond the template line after crimping, below 0 where the piece does not reach it. The trim
    wanted is the style's least allowance at each part, unless --toe-left, --side-left or --back-left says otherwise.
    OUT holds the revised job with its files, ready to run, the new pieces, and what the trial found.
    """
    from nest.cli import steps
    from nest.cli.costing_result import savings_result, trial_result
    from nest.cli.costing_steps import by_estimate, by_placing, seeds_of, watched
    from nest.cli.costing_tables import trial_tables
    from nest.errors import PlanProblem
    from nest.trial import Safety, jobs_to_compare, revise
    from nest.trial.jobtext import revised_text
    from nest.trialfiles import JOB_FILE, TRIAL_FILE, write_revision
    from nest.whatif import REST_TO_STOCK
    from nest.whatif.saving import savings

    screen = Screen(quiet, as_json)
    if out.resolve() == job.resolve().parent:
        raise PlanProblem(f"{out} is the folder of the job itself; name another, so that the old job stays")
    if table.resolve().is_relative_to(out.resolve()):
        raise PlanProblem(f"{table} lies in {out}, which is to hold the results; name another folder")
    loaded = steps.read_job(job)
    steps.try_folder(out, TRIAL_FILE)
    pieces, said = _measured(table, loaded, plan)
    screen.say(*loaded.warnings, *said)
    safety = Safety(k) if sure is None else Safety(None, confidence=sure)
    revisions = revise(loaded, pieces, safety, options.wanted_left(toe_left, side_left, back_left))
    text = revised_text(job.read_text(encoding="utf-8-sig"), revisions)
    with watched(screen) as (cancelled, watch, tell):
        cost = by_placing(passes, cancelled, watch) if place else by_estimate(loaded)
        saved = savings(
            jobs_to_compare(loaded, revisions), [one.style.name for one in revisions], cost,
            seeds_of(loaded, seeds if place else 1), cancelled=cancelled, tell=tell)
    data: dict[str, Any] = {
        "styles": trial_result(revisions, safety.words()), "currency": loaded.settings.currency,
        "how": f"placed again, passes {passes}" if place else "by estimate", "saving": savings_result(saved),
        "folder": str(out),
    }
    screen.say(*([REST_TO_STOCK] if place else []))
    if record is not None:  # before OUT is written: the record may hold other figures of these pieces
        screen.say(_recorded(record, day, loaded, table, pieces, plan))
    write_revision(loaded, revisions, job, text, out)
    _say_shortages(screen, data["styles"])
    screen.say(*(f"{one['style']}: {note}" for one in data["styles"] for note in one["notes"]))
    screen.result(data, *trial_tables(data), f"The revised job is {out / JOB_FILE}; prove it by another trial.")
    steps.show_cautions(screen)
    raise typer.Exit(Exit.STOPPED if cancelled() else Exit.DONE)


def _measured(table: Path, job: "Job", plan: Path | None) -> "tuple[tuple[TriedPiece, ...], tuple[str, ...]]":
    """The pieces of a trial's table, or of the list of outcomes of a plan; and what was repaired or left out."""
    from nest.cli import steps
    from nest.errors import PlanProblem
    from nest.outcomes import is_outcome_list
    from nest.trial import read_trial, read_trial_outcomes

    if plan is not None:
        return read_trial_outcomes(table, job, *steps.read_saved_again(plan))
    if is_outcome_list(table):
        raise PlanProblem(f"{table} is a list of outcomes; name the plan they came from with --plan.")
    return read_trial(table, job)


def _recorded(
    record: Path, day: str, job: "Job", table: Path, pieces: "Sequence[TriedPiece]", plan: Path | None
) -> str:
    """Add what was measured to the record of trim; a sentence about it."""
    from nest.cli import steps
    from nest.cli.drift import recorded
    from nest.drift import of_outcomes, of_trial
    from nest.outcomes import read_outcomes

    pressed = options.pressed_on(day)
    if plan is None:
        return recorded(record, of_trial(job, pieces, pressed))
    cut, again = steps.read_saved_again(plan)
    return recorded(record, of_outcomes(cut, read_outcomes(cut, table, again), pressed))


def _say_shortages(screen: Screen, styles: list[dict[str, Any]]) -> None:
    for one in styles:
        for row in one["shortages"]:
            screen.say(f"SHORT: {one['style']}, size {row['size']}, {row['part']}: a piece was {row['short_mm']:.1f} "
                       "mm short of the template line; it would be spoiled.")
