"""The command `trial`: what a crimping trial says about allowances, and the job revised after it."""

import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.drift import Day, Record
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from nest.job.job import Job
    from nest.trial import StyleRevision, TriedPiece
    from nest.whatif.runs import Cost

TRIAL_FILE = "trial.csv"
"""What the trial found; a folder that holds it was written by an earlier trial."""

JOB_FILE = "job.toml"
MOST_LEFT = 100.0

_Left = Annotated[float | None, typer.Option(min=0.0, max=MOST_LEFT, metavar="MM", show_default=False)]


def register(app: typer.Typer) -> None:
    """Add the command to the others."""
    app.command(epilog="Example: vampyield trial demo_data/job.toml trial.csv --toe-left 3 -o revised")(trial)


def trial(
    job: options.JobFile,
    *,
    table: Annotated[
        Path, typer.Argument(metavar="TRIAL", show_default=False,
                             help="One row a piece: size, piece, toe_mm, side_mm (or left_mm, right_mm), back_mm, "
                                  "widening_percent, rejected, reason."),
    ],
    out: options.OutFolder,
    k: Annotated[
        float, typer.Option("--k", min=0.0, max=10.0, metavar="K", help="Safety: mean - K standard deviations."),
    ] = 2.0,
    sure: Annotated[
        float | None, typer.Option("--sure", min=0.5, max=0.999, metavar="SHARE", show_default=False,
                                   help="In place of --k: how sure 95 % of all pieces keep the trim (0.9 for 90 %).")
    ] = None,
    toe_left: _Left = None,
    side_left: _Left = None,
    back_left: _Left = None,
    plan: Annotated[
        Path | None, typer.Option("--plan", metavar="PLAN", show_default=False,
                                  help="The plan whose list of outcomes TRIAL is: hide, piece, outcome, trim."),
    ] = None,
    place: Annotated[bool, typer.Option("--place", help="Place both jobs to tell the saving; slow.")] = False,
    seeds: options.Seeds = 3,
    passes: options.PlacementPasses = 40,
    record: Record = None,
    day: Day = "",
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Revise allowances after a crimping trial, and say what it saves; the old job stays as it is.

    Trim is what is left beyond the template line after crimping, below 0 where the piece does not reach it. The trim
    wanted is the style's least allowance at each part, unless --toe-left, --side-left or --back-left says otherwise.
    OUT holds the revised job with its files, ready to run, the new pieces, and what the trial found.
    """
    from nest.cli import steps
    from nest.cli.costing_result import trial_result
    from nest.cli.costing_steps import by_estimate, by_placing, seeds_of, watched
    from nest.cli.costing_tables import trial_tables
    from nest.errors import PlanProblem
    from nest.pieces.piece import Part
    from nest.trial import Safety, revise
    from nest.trial.jobtext import revised_text
    from nest.whatif import REST_TO_STOCK

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
    left = {Part.TOE: toe_left, Part.SIDE: side_left, Part.BACK: back_left}
    revisions = revise(loaded, pieces, safety, {part: mm for part, mm in left.items() if mm is not None})
    text = revised_text(job.read_text(encoding="utf-8-sig"), revisions)
    with watched(screen) as (cancelled, watch, tell):
        cost = by_placing(passes, cancelled, watch) if place else by_estimate(loaded)
        saving = saving_of(loaded, revisions, cost, seeds_of(loaded, seeds if place else 1), cancelled, tell)
    data: dict[str, Any] = {
        "styles": trial_result(revisions, safety.words()), "currency": loaded.settings.currency,
        "how": f"placed again, passes {passes}" if place else "by estimate", "saving": saving, "folder": str(out),
    }
    screen.say(*([REST_TO_STOCK] if place else []))
    if record is not None:  # before OUT is written: the record may hold other figures of these pieces
        screen.say(_recorded(record, day, loaded, table, pieces, plan))
    _write(loaded, revisions, job, text, data, out)
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
    from nest.cli.drift import recorded, stated_day
    from nest.drift import of_outcomes, of_trial
    from nest.outcomes import read_outcomes

    pressed = stated_day(day)
    if plan is None:
        return recorded(record, of_trial(job, pieces, pressed))
    cut, again = steps.read_saved_again(plan)
    return recorded(record, of_outcomes(cut, read_outcomes(cut, table, again), pressed))


def _say_shortages(screen: Screen, styles: list[dict[str, Any]]) -> None:
    for one in styles:
        for row in one["shortages"]:
            screen.say(f"SHORT: {one['style']}, size {row['size']}, {row['part']}: a piece was {row['short_mm']:.1f} "
                       "mm short of the template line; it would be spoiled.")


def saving_of(
    job: "Job", revisions: tuple["StyleRevision", ...], cost: "Cost", seeds: tuple[int, ...],
    cancelled: "Callable[[], bool]" = lambda: False, tell: "Callable[[str, int, int], None] | None" = None,
) -> list[dict[str, Any]]:
    """What a good pair costs before and after, by style and for the order: new allowances alone, then with rejects."""
    from nest.cli.costing_result import estimated
    from nest.trial import revised_job
    from nest.whatif import cost_all, mean_difference

    jobs = {"before": job, "new allowances": revised_job(job, revisions, rejects=False)}
    whole = revised_job(job, revisions)
    if whole != jobs["new allowances"]:
        jobs["new allowances and reject rate"] = whole
    runs = cost_all(jobs, seeds, cost, cancelled=cancelled, tell=tell).sheets
    rows = []
    for name in [*jobs][1:]:
        for style in [*(one.style.name for one in revisions), ""]:
            wanted = sum(line.pairs for line in job.order if style in ("", line.style))
            sides = [
                {seed: float(row.exact_pair) for seed, sheet in runs.get(key, {}).items()
                 for row in (*sheet.styles, sheet.order) if row.style == style and row.exact_pair is not None}
                for key in ("before", name)
            ]
            gap, a_year = mean_difference(*sides), job.settings.costing.pairs_a_year(style, job.order)
            if gap is not None:
                both = sides[0].keys() & sides[1].keys()
                rows.append({
                    "what": f"{style or 'order'}, {name}", "style": style,
                    "before": sum(sides[0][seed] for seed in both) / len(both),
                    "after": sum(sides[1][seed] for seed in both) / len(both),
                    "pair": estimated(gap), "order": gap.value * wanted,
                    "year": gap.value * a_year if a_year else None,
                })
    return rows


def _write(job: "Job", revisions, path: Path, text: str, data: dict[str, Any], out: Path) -> None:
    """Write the revised job with the files it names, the new pieces, and what the trial found."""
    from nest.atomic import atomic_folder
    from nest.job.read import read_job
    from nest.piecefiles import write_piece_drawings
    from nest.pieces.make import pieces_of_lines
    from nest.report.tables import Table, write_csv
    from nest.trial import revised_job
    from nest.trial.jobfiles import files_of_job

    keys = ("size", "part", "pieces", "mean_mm", "own_sd_mm", "sd_mm", "worst_mm", "wanted_mm", "factor", "short",
            "lean", "now_mm", "new_mm")
    rows = [
        (one["style"], *(str(row[key]) if isinstance(row[key], bool) else row[key] for key in keys))
        for one in data["styles"] for row in one["parts"]
    ]
    revised = revised_job(job, revisions)
    pieces = [piece for _, made, _ in pieces_of_lines(revised.styles, revised.order) for piece in made]
    with atomic_folder(out, marker=TRIAL_FILE) as folder:
        for file in files_of_job(path):
            (folder / file).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path.resolve().parent / file, folder / file)
        (folder / JOB_FILE).write_text("# Revised after a crimping trial.\n" + text, encoding="utf-8", newline="")
        read_job(folder / JOB_FILE)
        write_csv(Table("trial", ("style", *keys), tuple(rows)), folder / TRIAL_FILE)
        (folder / "new-pieces").mkdir()
        write_piece_drawings(pieces, job, folder / "new-pieces", job.settings.dxf_version)
