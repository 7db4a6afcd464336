"""The command `batch`: every job of a folder, on a cluster, resumed where it was stopped."""

from dataclasses import asdict, fields
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen
from nest.cli.workers import place_of_work
from nest.text import count_words

if TYPE_CHECKING:
    from nest.batch.jobs import BatchRow
    from nest.report.tables import Table

SUMMARY_FILE, SUMMARY_BOOK = "summary.csv", "summary.xlsx"

Jobs = Annotated[Path, typer.Argument(metavar="FOLDER",
                                      help="Folder with job files (*.toml), in it and in its direct subfolders.")]
Results = Annotated[Path, typer.Option("--out", "-o", metavar="OUT",
                                       help="Folder for the results, one folder a job; the same one resumes a batch "
                                            "that was stopped.")]


def batch(
    folder: Jobs,
    *,
    out: Results,
    seconds: options.Seconds = None,
    passes: options.Passes = None,
    seed: options.Seed = None,
    scheduler: options.Scheduler = None,
    certificates: options.Certificates = None,
    workers: Annotated[int, typer.Option(min=1, help="Worker processes here, where there is no scheduler.")] = 2,
    figures: options.Figures = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Run every job of a folder, several at a time, and write one summary table.

    Jobs that are finished are not run again unless a file in their folder or a limit has changed. Ctrl-C loses only the
    jobs that were being run. Every worker of a scheduler must see both folders under the same paths.
    """
    from nest.batch.jobs import BatchLimits, counted, find_jobs
    from nest.batch.run import run_batch
    from nest.report.tables import write_csv, write_workbook

    screen = Screen(quiet, as_json)
    where = place_of_work(screen.say, scheduler, None if scheduler else workers, certificates)
    jobs = find_jobs(folder, out)
    out.mkdir(parents=True, exist_ok=True)
    check_summary(out)
    limits = BatchLimits(seconds, passes, seed, figures)
    with _shown(screen, len(jobs)) as tell:
        rows = run_batch(jobs, limits, where=where, listener=tell, say=screen.say)
    table = summary_table(rows)
    write_csv(table, out / SUMMARY_FILE)
    write_workbook([table], out / SUMMARY_BOOK)
    counts = ", ".join(f"{number} {state}" for state, number in counted(rows).items())
    screen.result(
        {"jobs": [asdict(row) for row in rows], "counted": counted(rows), "summary": str(out / SUMMARY_FILE)},
        *(f"{row.name}: {words(row)}" for row in rows),
        f"{count_words(len(rows), 'job')}: {counts}. Summary in {out / SUMMARY_FILE}.",
    )
    raise typer.Exit(code_of_rows(rows))


def check_summary(out: Path) -> None:
    """Refuse a folder in which a summary of somebody else's would be written over, before time is spent.

    Raises
    ------
    PlanProblem
        If a summary is there that no earlier batch wrote, or a link or a folder has its name.
    """
    from nest.errors import PlanProblem

    paths = [out / SUMMARY_FILE, out / SUMMARY_BOOK]
    ours = False
    if paths[0].is_file():
        with open(paths[0], encoding="utf-8", errors="replace") as stream:
            ours = stream.readline(1000).strip() == ",".join(summary_table(()).header)
    for path in paths:
        if path.is_symlink() or path.is_dir() or (path.exists() and not ours):
            raise PlanProblem(f"{path} was not written by an earlier batch; its name is needed, rename it")


def code_of_rows(rows: "tuple[BatchRow, ...]") -> Exit:
    """The exit code of the worst job."""
    states = {row.state for row in rows}
    for state, code in (
        ("failed", Exit.FAULT), ("wrong", Exit.WRONG), ("refused", Exit.BAD_INPUT), ("short", Exit.SHORT),
    ):
        if state in states:
            return code
    return Exit.DONE


def words(row: "BatchRow") -> str:
    """One job in words."""
    if not row.finished:
        return f"{row.state}: {row.message}"
    share = "" if row.cutting_yield is None else f", cutting yield {row.cutting_yield:.1%}"
    tail = f"; {row.message}" if row.message else ""
    hides = count_words(row.hides_used or 0, "hide")
    return (f"{row.state}, {hides}, {row.leather_m2:.2f} m²{share}, {row.reinforcement_m:.2f} m, "
            f"{row.cost} {row.currency}{tail}")


def summary_table(rows: "tuple[BatchRow, ...]") -> "Table":
    """One row a job."""
    from nest.batch.jobs import BatchRow
    from nest.report.tables import Table

    header = tuple(field.name for field in fields(BatchRow))
    return Table("summary", header, tuple(tuple(getattr(row, name) for name in header) for row in rows))


def _shown(screen: Screen, total: int):
    """Progress over all jobs on one line, where standard error is a terminal; each row is printed as it comes."""
    from contextlib import contextmanager

    from nest.cli.progress import shown_progress

    @contextmanager
    def showing():
        with shown_progress(screen) as watch:
            done = 0

            def tell(row: "BatchRow", before: bool) -> None:
                nonlocal done
                done += 1
                placed = f"{done} of {total} done"
                watch.bar.update(watch.task, completed=done, total=total, stage="jobs", placed=placed, share=row.name,
                                 left="")
                again = " (finished before)" if before else ""
                screen.say(f"{done} of {total}: {row.name}, {row.state}{again}")

            yield tell

    return showing()
