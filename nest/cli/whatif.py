"""The command `whatif`: what a millimetre of allowance, a rule or a limit costs."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.limits import show_limits
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nest.accounts.standard import StandardBeside
    from nest.job.job import Job
    from nest.pieces.piece import Part
    from nest.whatif import WhatIf


def whatif(
    job: options.JobFile,
    *,
    out: options.Workbook = None,
    part: Annotated[list[str] | None, typer.Option("--part", metavar="PART",
                                                   help="toe, side or back; may be given more than once. All by "
                                                        "default.")] = None,
    place: Annotated[
        bool, typer.Option("--place", help="Place the job again for every change: slow, with an error to each price."),
    ] = False,
    rules: Annotated[
        bool, typer.Option("--rules", help="Price the rules too: tolerance, bias, pairs, flaws (with --place), gap."),
    ] = False,
    plan: Annotated[list[Path] | None, typer.Option("--plan", metavar="PLAN",
                                                    help="With --outcomes: the plan that was pressed; may be given "
                                                         "again.")] = None,
    outcomes: Annotated[list[Path] | None, typer.Option("--outcomes", metavar="LIST",
                                                        help="Find tolerance and class limit of least cost per good "
                                                             "pair, by this list of outcomes of --plan; may be given "
                                                             "again.")] = None,
    seeds: options.Seeds = 3,
    passes: options.PlacementPasses = 40,
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
