"""Steps that several commands share: read, place, judge and write, show."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nest.accounts import account
from nest.atomic import atomic_folder
from nest.cli.progress import Watch
from nest.cli.result import plan_result
from nest.cli.screen import Screen
from nest.cli.tables import summary_table
from nest.cutplan.cautions import CAUTIONS
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.job.read import read_job
from nest.output import PLAN_FILE, write_outputs
from nest.plan import Plan
from nest.planfile import read_plan
from nest.report.tables import Table
from nest.verify import Verdict, verify

if TYPE_CHECKING:
    from nest.planning.run import Engine


def read_for_writing(job: Path, out: Path, outside: bool = False) -> Job:
    """The job, read whole, once its output folder is known to be fit too; its files may lie `outside` its folder.

    Raises
    ------
    InputProblems
        As `nest.job.read.read_job`.
    PlanProblem
        As `try_folder`.
    """
    loaded = read_job(job, outside=outside)
    try_folder(out)
    return loaded


def read_saved(path: Path) -> Plan:
    """The plan in this file, or in this folder of an earlier run; errors as `nest.planfile.read_plan`."""
    return read_plan(path / PLAN_FILE if path.is_dir() else path)


def read_to_judge(path: Path) -> Plan:
    """A saved plan as `read_saved`, or that of one hide or lay from its cutting drawing (.dxf).

    A drawing knows no order, so every size of it counts as more than was wanted.
    """
    if path.suffix.casefold() != ".dxf":
        return read_saved(path)
    from nest.cutplan.readback import read_cut_dxf

    return read_cut_dxf(path)


def try_folder(out: Path) -> None:
    """Refuse an output folder that cannot be written, before time is spent on a plan; nothing is left in it.

    Raises
    ------
    PlanProblem
        If it is a file, holds files that no earlier run wrote, or cannot be made.
    """

    class OnlyTried(Exception):
        """Ends the trial."""

    try:
        with suppress(OnlyTried), atomic_folder(out, marker=PLAN_FILE):
            raise OnlyTried
    except OSError as error:
        raise PlanProblem(f"the folder {out} cannot be written ({error.strerror}); choose another") from error


def seconds_for(job: Job, seconds: float | None, passes: int | None) -> float | None:
    """Seconds for placing: as asked, else as the job says; None where passes alone limit it."""
    return job.settings.seconds if seconds is None and passes is None else seconds


def placed(
    job: Job, seconds: float | None, passes: int | None, seed: int | None, cancelled: Callable[[], bool], watch: Watch,
    engine: "Engine | None" = None,
) -> Plan:
    """The plan for a job within these limits; errors as `nest.planning.make.make_plan`."""
    from nest.planning.make import make_plan  # the search's libraries take a second to load

    return make_plan(
        job, seconds=seconds, passes=passes, seed=seed, cancelled=cancelled, listener=watch.heard,
        engine=engine,
    )


def judged_and_written(
    plan: Plan, out: Path, watch: Watch, dxf: str | None, figures: bool, tables: Sequence[Table] = ()
) -> tuple[dict[str, Any], Verdict]:
    """Judge, account and write a plan, with `tables` beside; returns what it comes to, and the verdict.

    Raises
    ------
    PlanProblem
        As `nest.accounts.account` and `nest.output.write_outputs`.
    """
    watch.stage("checking the plan")
    verdict = verify(plan)
    watch.stage("accounting")
    accounts = account(plan)
    watch.stage("writing drawings and pictures" if figures else "writing drawings")
    if dxf is not None:
        plan = replace(plan, settings=replace(plan.settings, dxf_version=dxf))
    write_outputs(plan, accounts, verdict, out, figures=figures, tables=tables)
    return plan_result(plan, accounts, verdict, out), verdict


def show_written(screen: Screen, data: dict[str, Any], verdict: Verdict, said: tuple[str, ...] = ()) -> None:
    """Show what was written, with cautions, what is wrong, and every note that was not `said` before."""
    screen.say(*(note for note in data["notes"] if note not in said))
    screen.say(*(finding.sentence for finding in (*verdict.wrong, *verdict.over)))
    screen.result(data, summary_table(data))
    show_cautions(screen)


def show_cautions(screen: Screen) -> None:
    """Say the usual cautions wherever files for a cutting table were written."""
    screen.say(*(f"Caution: {line}" for line in CAUTIONS))
