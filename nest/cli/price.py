"""The commands of the costing clerk: `price`, `whatif` and `compare`."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import options
from nest.cli.codes import Exit, code_of
from nest.cli.limits import show_limits
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nest.accounts.areas import MaterialUse
    from nest.accounts.standard import StandardBeside
    from nest.job.job import Job
    from nest.pieces.piece import Part
    from nest.plan import Plan
    from nest.report.workbook import Costing
    from nest.whatif import WhatIf

Workbook = Annotated[
    Path | None, typer.Option("--out", "-o", metavar="FILE.xlsx", show_default=False,
                              help="New workbook to write, with formulas to change prices and pairs in."),
]
Seeds = Annotated[int, typer.Option(min=1, max=50, metavar="N", help="How many seeds to place with.")]
Passes = Annotated[
    int, typer.Option(min=1, metavar="N", help="Search passes of each placement; more is slower and surer."),
]


def register(app: typer.Typer) -> None:
    """Add the commands to the others."""
    app.command(epilog="Example: vampyield price demo_data/job.toml -o costing.xlsx")(price)
    app.command(epilog="Example: vampyield whatif demo_data/job.toml --part toe --place --seeds 3")(whatif)
    app.command(epilog="Example: vampyield compare out/plan.json out-2/plan.json")(compare)


def price(
    what: Annotated[
        Path, typer.Argument(metavar="JOB|PLAN", show_default=False,
                             help="A job file, costed by estimate; or a saved plan, or its folder, costed as placed."),
    ],
    *,
    out: Workbook = None,
    what_ifs: Annotated[
        bool, typer.Option("--what-ifs", help="Of a job, the price of a millimetre too, for the workbook."),
    ] = False,
    trace: Annotated[bool, typer.Option("--trace", help="Name the layout or estimate behind every figure.")] = False,
    why: Annotated[
        tuple[str, str] | None, typer.Option("--why", metavar="A B", show_default=False,
                                             help="Why B is dearer than A: two sizes, styles, or other jobs or plans."),
    ] = None,
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
    code, searched, here, plan = Exit.DONE, (), "by estimate", None
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
    standard = book.standard and book.standard.estimate.standard
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

    data, tables, lines, currency = {}, (), (), sheet.currency
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


def whatif(
    job: options.JobFile,
    *,
    out: Workbook = None,
    part: Annotated[
        list[str] | None, typer.Option("--part", metavar="PART", show_default=False,
                                       help="toe, side or back; may be given more than once. All by default."),
    ] = None,
    place: Annotated[
        bool, typer.Option("--place", help="Place the job again for every change: slow, with an error to each price."),
    ] = False,
    rules: Annotated[
        bool, typer.Option("--rules", help="Price the rules too: tolerance, bias, pairs, flaws (with --place), gap."),
    ] = False,
    plan: Annotated[
        list[Path] | None, typer.Option("--plan", metavar="PLAN", show_default=False,
                                        help="With --outcomes: the plan that was pressed; may be given again."),
    ] = None,
    outcomes: Annotated[
        list[Path] | None, typer.Option("--outcomes", metavar="LIST", show_default=False,
                                        help="Find tolerance and class limit of least cost per good pair, by this list "
                                             "of outcomes of --plan; may be given again."),
    ] = None,
    seeds: Seeds = 3,
    passes: Passes = 40,
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """What one millimetre of toe, side and back allowance costs, a pair, by size, for the order; and each rule.

    The job is costed at -2, -1, +1 and +2 mm: by estimate, or with --place by placing it with the same seeds, which
    takes as many plans as there are changes and seeds. Ctrl-C once shows what is finished by then.
    """
    from functools import partial

    from nest.accounts.estimate import GroundMemory, pair_estimates
    from nest.accounts.standard import job_standard
    from nest.cli.costing_result import what_if_result
    from nest.cli.costing_steps import by_estimate, by_placing, new_file, seeds_of, watched
    from nest.cli.costing_tables import what_if_tables
    from nest.job.read import read_job
    from nest.pieces.remembered import PieceMemory
    from nest.whatif import REST_TO_STOCK, allowance_changes, rule_changes, what_if
    from nest.whatif.changes import gap_changes

    parts, screen = _parts(part or ()), Screen(quiet, as_json)
    new_file(out)
    loaded = read_job(job, outside=outside)
    screen.say(*loaded.warnings)
    if plan or outcomes:
        show_limits(screen, loaded, plan or (), outcomes or ())
        return
    chosen = (rule_changes(loaded) if place else gap_changes(loaded)) if rules else ()
    with watched(screen) as (cancelled, watch, tell):
        if place:
            changes, run_seeds = allowance_changes(loaded, parts), seeds_of(loaded, seeds)
            cost = by_placing(passes, cancelled, watch)
        else:
            make = PieceMemory()
            ground = GroundMemory(loaded, make)
            changes, run_seeds, cost = allowance_changes(loaded, parts), (0,), by_estimate(loaded, ground, make)
        found = what_if(loaded, changes, chosen, run_seeds, cost, cancelled=cancelled, tell=tell)
    if found is None:
        screen.complain("Stopped before anything was finished.")
        raise typer.Exit(Exit.STOPPED)
    how = f"placed again, {len(found.seeds)} seeds, passes {passes}" if place else "by estimate"
    data = what_if_result(found, how)
    data["notes"] += [REST_TO_STOCK] if place else []
    if out is not None:
        standard = None if place else job_standard(
            loaded, ground=ground, estimates=partial(pair_estimates, make=make))
        _write_what_ifs(out, loaded, found, standard)
    screen.say(*dict.fromkeys(data["notes"]))
    screen.result(data, *what_if_tables(data), f"A good pair costs {data['good_pair_now']} {data['currency']} now.",
                  *([f"Written to {out}."] if out else []))
    raise typer.Exit(Exit.DONE if found.complete else Exit.STOPPED)


def _parts(names: "Sequence[str]") -> "tuple[Part, ...]":
    """The parts of these names; all without any."""
    from nest.errors import PlanProblem
    from nest.pieces.piece import Part

    if unknown := [name for name in names if name not in list(Part)]:
        raise PlanProblem(f"{unknown[0]!r} is no part of an outline; use one of {', '.join(Part)}.")
    return tuple(map(Part, names)) or tuple(Part)


def _write_what_ifs(out: Path, job: "Job", found: "WhatIf", standard: "StandardBeside | None") -> None:
    """The workbook of what-ifs; `standard` of those by estimate alone."""
    from nest.pieces.quantities import reject_percents
    from nest.report.workbook import Costing, write_costing_workbook

    rejects = None if standard is None else reject_percents(job.styles)
    write_costing_workbook(
        Costing(found.now, (), (), found, job.leathers, job.rolls, rejects, job.settings.reject_pairs, standard), out
    )


def compare(
    before: Annotated[Path, typer.Argument(metavar="PLAN_A", help="A saved plan, or its folder.", show_default=False)],
    after: Annotated[Path, typer.Argument(metavar="PLAN_B", help="The plan to compare with it.", show_default=False)],
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """What changed from one plan to another in yield, consumption and cost, cause by cause; the causes add up."""
    from nest.accounts.compare import compare as compared
    from nest.accounts.sheet import plan_sheet
    from nest.accounts.standard import standard_beside
    from nest.cli import steps
    from nest.cli.costing_result import comparison_result
    from nest.cli.costing_tables import comparison_tables
    from nest.cli.standard import standard_result
    from nest.report.searched import search_said
    from nest.whatif import quick_uses

    plans = steps.read_saved(before), steps.read_saved(after)
    sides = [(plan, quick_uses(plan)) for plan in plans]
    found = compared(*sides)
    data = comparison_result(found, (str(before), str(after)))
    said = []
    for name, (plan, uses) in zip(("before", "after"), sides, strict=True):
        beside = standard_beside(plan, uses, plan_sheet(plan, uses))
        data[name]["standard"] = beside and standard_result(beside)["rows"][-1]
        data[name]["search"] = list(search_said(plan, uses).sentences)
        said += [f"{data[name]['plan']}: {sentence}" for sentence in data[name]["search"]]
    screen = Screen(quiet, as_json)
    screen.say(*data["notes"])
    screen.result(data, *comparison_tables(data), *said)
