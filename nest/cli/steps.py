"""Steps that several commands share: read, place, judge and write, show."""

import webbrowser
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from shutil import make_archive
from tempfile import TemporaryDirectory
from typing import Any, NoReturn

import typer

from nest.accounts import Accounts, account
from nest.atomic import atomic_folder
from nest.begun.written import cut_list, spoiled_list
from nest.cli.codes import Exit, code_of
from nest.cli.progress import Watch, shown_progress
from nest.cli.result import plan_result, verdict_words
from nest.cli.screen import Screen
from nest.cli.searching import Search, searching
from nest.cli.shortfall import brief_purchase, purchase_result, purchase_said
from nest.cli.tables import summary_table
from nest.cutplan.cautions import CAUTIONS, NOT_VERIFIED_WARNING
from nest.cutplan.reach import table_notes
from nest.cutplan.stamp import time_now
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.job.read import read_job
from nest.output import DRAWINGS, PLAN_FILE, write_outputs, write_registered
from nest.plan import Begun, Plan
from nest.planfile import read_plan
from nest.report.tables import Table
from nest.verify import Verdict, broken, verify


@dataclass(frozen=True, slots=True)
class ToJudge:
    """A plan to judge; for a drawing, whether the plan it belongs to passed its checks, and what to say of it."""

    plan: Plan
    passed: bool = True
    said: tuple[str, ...] = ()


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
    """The plan in this file, or in this folder of an earlier run, to be used as it is.

    Raises
    ------
    PlanProblem, InputProblems
        As `nest.planfile.read_plan`; and if ids in it lead nowhere, or an outline cannot be used.
    """
    plan = _read(path)
    for finding in broken(plan):
        raise PlanProblem(f"{path}: the plan cannot be used, see it all by the command verify: {finding.sentence}")
    return plan


def read_saved_again(path: Path) -> tuple[Plan, tuple[Plan, ...]]:
    """The same, and what was cut again of it; raises as `nest.cutagain.read_cut_again` too."""
    from nest.cutagain import read_cut_again
    from nest.output import PLAN_FILE

    plan = read_saved(path)
    return plan, read_cut_again(plan, path / PLAN_FILE if path.is_dir() else path)


def for_table(plan: Plan, table: Path | None) -> Plan:
    """The plan for the table in this file, where one is named; raises as `nest.job.tablefile.read_table_file`."""
    if table is None:
        return plan
    from nest.job.tablefile import read_table_file

    return replace(plan, settings=replace(plan.settings, table=read_table_file(table)))


def _read(path: Path) -> Plan:
    return read_plan(path / PLAN_FILE if path.is_dir() else path)


def read_to_judge(path: Path, plan: Path | None = None) -> ToJudge:
    """A saved plan whatever is wrong in it, or that of one hide or lay from its cutting drawing (.dxf).

    A drawing is held against the plan it was written from: `plan`, or the one in the folder above its folder
    `drawings`. It knows no order, so every size of it counts as more than was wanted.

    Raises
    ------
    InputProblems
        As `nest.cutplan.readback.read_cut_dxf`.
    PlanProblem
        The same; and as `read_saved`.
    """
    if path.suffix.casefold() != ".dxf":
        if plan is not None:
            raise PlanProblem(f"{path}: only a cutting drawing (.dxf) is held against a plan; leave --plan out")
        return ToJudge(_read(path))
    from nest.cutplan.readback import read_cut_dxf

    beside = path.absolute().parent.parent / PLAN_FILE
    if plan is None and path.absolute().parent.name == DRAWINGS and beside.is_file():
        plan = beside
    if plan is None:
        read, passed = read_cut_dxf(path), True
        words = f"{path.name} is as it was written, by its own check sums; no plan was at hand to hold it against"
    else:
        whole = read_saved(plan)
        passed = verify(whole).ok
        read = read_cut_dxf(path, whole, "" if passed else NOT_VERIFIED_WARNING)
        words = f"{path.name} is as it was written, and holds what {plan} calls for, entity for entity"
    said = tuple(note for note in read.warnings if note != NOT_VERIFIED_WARNING)
    passed = passed and NOT_VERIFIED_WARNING not in read.warnings
    return ToJudge(read, passed, (f"{words}. Other files beside it (HP-GL, SVG, PDF) are not read.", *said))


def try_folder(out: Path, marker: str = PLAN_FILE) -> None:
    """Refuse an output folder that cannot be written, before time is spent; nothing is left in it.

    An earlier run is known by the file `marker`.

    Raises
    ------
    PlanProblem
        If it is a file, holds files that no earlier run wrote, or cannot be made; or SOURCE_DATE_EPOCH is no time.
    """

    time_now()  # a malformed time in the environment is refused now, not when all is done

    class OnlyTried(Exception):
        """Ends the trial."""

    try:
        with suppress(OnlyTried), atomic_folder(out, marker=marker):
            raise OnlyTried
    except OSError as error:
        raise PlanProblem(f"the folder {out} cannot be written ({error.strerror}); choose another") from error


def planned_and_written(
    screen: Screen, job: Job, out: Path, search: Search, *, dxf: str | None, figures: bool, make: Callable[..., Plan],
    tables: Sequence[Table] = (), open_page: bool = False,
) -> NoReturn:
    """Let `make` plan within the limits, judge and write the plan, show the result, and end the command.

    `make` takes seconds, passes, seed, cancelled, listener and engine as `nest.planning.make.make_plan` does, and
    raises as it may.

    Raises
    ------
    PlanProblem
        As `judged_and_written`, `Search.where` and `searching`.
    """
    with searching(screen, out, search, job) as going:
        plan = going.planned(make)
        data, verdict = judged_and_written(plan, out, going.watch, dxf, figures, tables, going.cancelled)
    show_written(screen, data, verdict, job.warnings)
    shown_in_browser(screen, out, open_page)
    raise typer.Exit(Exit.STOPPED if going.cancelled() else code_of(verdict))


def judged_and_written(
    plan: Plan, out: Path, watch: Watch, dxf: str | None, figures: bool, tables: Sequence[Table] = (),
    cancelled: Callable[[], bool] = lambda: False, *, time: str = "",
) -> tuple[dict[str, Any], Verdict]:
    """Judge, account and write a plan, with `tables` beside; returns what it comes to, and the verdict.

    Raises
    ------
    PlanProblem
        As `nest.accounts.account` and `nest.output.write_outputs`.
    """
    watch.stage("checking the plan")
    verdict = verify(plan)
    bought = brief_purchase(plan, verdict, watch, cancelled)
    to_buy = purchase_said(bought, plan.settings.currency)
    watch.stage("writing drawings and pictures" if figures else "writing drawings")
    if dxf is not None:
        plan = replace(plan, settings=replace(plan.settings, dxf_version=dxf))
    made: list[Accounts] = []

    def accounts(seconds: Mapping[str, float]) -> Accounts:
        made.append(account(plan, seconds=seconds))
        return made[0]

    write_outputs(plan, accounts, verdict, out, figures=figures, tables=tables, time=time, to_buy=to_buy)
    data = plan_result(plan, made[0], verdict, out)
    data["to_buy"] = purchase_result(bought, plan.settings.currency) | {"words": to_buy}
    return data | {"notes": [*data["notes"], *table_notes(plan)]}, verdict


def writer_beside(folder: Path) -> Callable[[Plan, Begun], dict[str, Any]]:
    """A function that writes a plan with all its files, and lists of the day that say how far cutting has come, beside
    a folder, under a new name, and says where.

    It raises as `judged_and_written`.
    """

    def write(plan: Plan, begun: Begun) -> dict[str, Any]:
        number = 1
        while (out := folder.with_name(f"{folder.name}-desk-{number}")).exists():
            number += 1
        with shown_progress(Screen(quiet=True), None) as watch:
            _, verdict = judged_and_written(plan, out, watch, None, True, _lists(begun))
        return {"folder": str(out), "words": verdict_words(verdict), "ok": verdict.ok}

    return write


def _lists(begun: Begun) -> tuple[Table, ...]:
    """The lists of the day, once cutting has begun."""
    if not (begun.hides or begun.rolls or begun.withdrawn or begun.spoiled):
        return ()
    return Table("cut", *cut_list(begun)), Table("spoiled", *spoiled_list(begun))


def packed_hide(plan: Plan, hide_id: str, table: str) -> bytes:
    """Drawing, table files and sheet of one hide as a ZIP, for the table that a text describes, "" for the plan's own.

    Raises
    ------
    InputProblems
        Everything wrong with the text.
    PlanProblem
        As `nest.output.write_registered`.
    """
    with TemporaryDirectory() as folder:
        if table:
            described = Path(folder) / "table.toml"
            described.write_text(table, encoding="utf-8")
            plan = for_table(plan, described)
        layout = next((one for one in plan.layouts if one.hide_id == hide_id), None)
        if layout is None:
            raise PlanProblem(f"nothing lies on hide {hide_id}; there is nothing to write")
        out = write_registered(plan, layout, verify(plan), Path(folder) / "hide", ())
        return Path(make_archive(str(Path(folder) / "packed"), "zip", out)).read_bytes()


def show_written(screen: Screen, data: dict[str, Any], verdict: Verdict, said: tuple[str, ...] = ()) -> None:
    """Show what was written, with cautions, what is wrong, and every note that was not `said` before."""
    screen.say(*(note for note in data["notes"] if note not in said))
    over = verdict.over if verdict.checks.order_lines else ()  # a plan without an order has nothing to go beyond
    screen.say(*(finding.sentence for finding in (*verdict.wrong, *over)))
    screen.result(data, summary_table(data))
    show_cautions(screen)


def shown_in_browser(screen: Screen, out: Path, wanted: bool) -> None:
    """Open the page in this folder in a browser, where that is wanted; says so where there is none."""
    page = (out / "report.html").absolute()
    if wanted and not webbrowser.open(page.as_uri()):
        screen.complain(f"No browser could be opened; the page is {page}.")


def show_cautions(screen: Screen) -> None:
    """Say the usual cautions wherever files for a cutting table were written."""
    screen.say(*(f"Caution: {line}" for line in CAUTIONS))
