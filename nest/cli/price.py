"""The command `price`: the cost sheet of a job by estimate, or of a plan as placed."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import options
from nest.cli.codes import Exit, code_of
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.table import Table

    from nest.accounts.areas import MaterialUse
    from nest.accounts.handbook import HandbookLine
    from nest.job.job import Job
    from nest.plan import Plan
    from nest.report.workbook import Costing


def price(
    what: Annotated[Path, typer.Argument(metavar="JOB|PLAN",
                                         help="A job file, costed by estimate; or a saved plan, or its folder, costed "
                                              "as placed.")],
    *,
    out: options.Workbook = None,
    what_ifs: Annotated[bool, typer.Option("--what-ifs",
                                           help="Of a job, the price of a millimetre too, for the workbook.")] = False,
    trace: Annotated[bool, typer.Option("--trace", help="Name the layout or estimate behind every figure.")] = False,
    why: Annotated[tuple[str, str] | None, typer.Option("--why", metavar="A B",
                                                        help="Why B is dearer than A: two sizes, styles, or other jobs "
                                                             "or plans.")] = None,
    handbook: Annotated[
        bool, typer.Option("--handbook", help="The handbook's parallelogram and its wastes beside this, in money."),
    ] = False,
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Cost sheet: what a good pair costs by line and size, and with other materials side by side.

    A plan is costed as placed. A job is costed before anything is placed, by the lattices of each piece and the
    edge model of the quick estimate, so that both say the same leather. Beside both stands the standard cost, which
    does not depend on the hides that pairs happen to lie on; quotations rest on it.
    """
    from dataclasses import replace

    from nest.cli.costing_result import sheet_result
    from nest.cli.costing_steps import new_file
    from nest.cli.costing_tables import sheet_tables
    from nest.cli.standard import standard_result, standard_tables
    from nest.job.read import read_job
    from nest.report.workbook import write_costing_workbook

    screen = Screen(quiet, as_json)
    new_file(out)
    code, here, plan = Exit.DONE, "by estimate", None
    searched: tuple[str, ...] = ()
    if what.suffix.lower() == ".toml":
        job = read_job(what, outside=outside)
        screen.say(*job.warnings)
        book = _of_job(job, trim=as_json or out is not None, what_ifs=what_ifs)
    else:
        from nest.cli import steps  # page, paper and judge, which a job needs none of, take a while to load
        from nest.report.searched import search_said

        plan, here = steps.read_saved(what), "in this plan"
        code = code_of(steps.verify(plan))
        book, uses = _of_plan(plan)
        searched = search_said(plan, uses).sentences
    standard = None if book.standard is None else book.standard.estimate.standard
    data = sheet_result(book.sheet, book.candidates, book.trim, trace, standard) | {
        "standard": standard_result(book.standard), "search": list(searched),
    }
    tables = *sheet_tables(data), *standard_tables(data["standard"], data["currency"], here)
    lines, more, shown = _views(book.standard, book.sheet, plan, why, handbook or out is not None, outside)
    data |= more
    if out is not None:
        write_costing_workbook(replace(book, handbook=lines), out)
    tables += shown if handbook else shown[:1 if why else 0]
    screen.say(*data["notes"])
    screen.result(data, *tables, *searched, *([f"Written to {out}."] if out else []))
    raise typer.Exit(code)


def _of_job(job: "Job", *, trim: bool, what_ifs: bool) -> "Costing":
    """A job costed by estimate; with `trim` its trim-off shares, with `what_ifs` the price of a millimetre."""
    from functools import partial

    from nest.accounts.candidates import job_candidates
    from nest.accounts.estimate import GroundMemory, pair_estimates
    from nest.accounts.standard import job_standard
    from nest.accounts.trimshares import job_trim_shares
    from nest.cli.costing_steps import by_estimate
    from nest.pieces.quantities import reject_percents
    from nest.pieces.remembered import PieceMemory
    from nest.report.workbook import Costing
    from nest.whatif import allowance_changes, what_if

    make = PieceMemory()
    ground = GroundMemory(job, make)
    estimates = partial(pair_estimates, make=make)
    standard = job_standard(job, title=f"{job.name}, by estimate", ground=ground, estimates=estimates)
    return Costing(
        standard.estimate.sheet, job_candidates(job, ground=ground), job_trim_shares(job, make) if trim else (),
        what_if(job, allowance_changes(job), (), (0,), by_estimate(job, ground, make)) if what_ifs else None,
        job.leathers, job.rolls, reject_percents(job.styles), job.settings.reject_pairs, standard,
    )


def _of_plan(plan: "Plan") -> tuple["Costing", "Sequence[MaterialUse]"]:
    """A plan costed as placed, and what it uses."""
    from nest.accounts.candidates import plan_candidates
    from nest.accounts.sheet import plan_sheet
    from nest.accounts.standard import standard_beside
    from nest.accounts.trimshares import plan_trim_shares
    from nest.cutplan.work import priced_seconds
    from nest.report.workbook import Costing
    from nest.whatif import quick_uses

    uses, seconds = quick_uses(plan), priced_seconds(plan)
    sheet = plan_sheet(plan, uses, seconds)
    return Costing(
        sheet, plan_candidates(plan, uses, seconds), plan_trim_shares(plan), None, plan.leathers, plan.rolls,
        standard=standard_beside(plan, uses, sheet),
    ), uses


def _views(standard, sheet, plan, why, handbook: bool, outside: bool):
    """Lines of the handbook; data and tables of why one pair is dearer, and of the handbook."""
    from nest.accounts.handbook import handbook as handbook_lines
    from nest.accounts.handbook import of_estimate
    from nest.cli.why import handbook_result, handbook_table, reasons_table, why_of, why_result, why_table
    from nest.errors import PlanProblem

    data: dict[str, Any] = {}
    tables: tuple[Table, ...] = ()
    lines: tuple[HandbookLine, ...] = ()
    currency = sheet.currency
    if why is not None:
        if standard is None:
            raise PlanProblem("there is no estimate of the standard cost of this plan; give its job.")
        data["why"] = why_result(why_of(why, standard.estimate, outside))
        tables = (why_table(data["why"], currency),)
    if handbook and (plan is not None or standard is not None):
        from nest.accounts import account

        rows = of_estimate(standard.estimate) if plan is None else account(plan).classical
        lines = handbook_lines(rows, sheet if plan is not None else standard.estimate.standard)
        data["handbook"] = handbook_result(lines)
        here = "the standard cost" if plan is None else "this plan"
        tables += handbook_table(data["handbook"], currency, here), reasons_table(data["handbook"])
    return lines, data, tables
