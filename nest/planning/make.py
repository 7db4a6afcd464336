"""Make a plan: grossed-up order, pieces, hides, rolls, pairs, bounds, and every warning on the way."""

import time
from collections.abc import Callable
from dataclasses import replace

from nest.job.job import Job
from nest.pieces.quantities import cut_quantities, ordered_quantities
from nest.placement.budget import Budget
from nest.plan import Plan
from nest.planning.ahead import ahead_of
from nest.planning.earlier import earlier_of
from nest.planning.rolls import reinforcements
from nest.planning.run import Engine, run_of
from nest.planning.saving import hide_issues
from nest.planning.searched import search_of
from nest.planning.stages import (
    bounds_of,
    hide_warnings,
    kept_for_rolls,
    layouts_of,
    pieces_ordered,
    plan_leathers,
    plan_rolls,
    planned_style,
    unpaired_warnings,
    urgency_of,
)
from nest.planning.wants import vamp_wants
from nest.planning.watch import PlanProgress, Watch


def make_plan(
    job: Job, *, seconds: float | None = None, passes: int | None = None, seed: int | None = None,
    cancelled: Callable[[], bool] = lambda: False, listener: Callable[[PlanProgress], None] | None = None,
    engine: Engine | None = None, begin_from: Plan | None = None,
) -> Plan:
    """Turn a job into a plan.

    The same job, seed and `passes`, without `seconds`, give the same plan. When `cancelled` turns true the plan
    holds what is placed by then, and says what is short.

    Parameters
    ----------
    seconds : about how long the whole plan may take; by default the job's own, unless `passes` is given
    passes : limit on the search passes of every single solve
    seed : by default the job's own
    begin_from : a plan to go on from; what it places for the job's order stays placed, on no more hides

    Raises
    ------
    InputProblems
        If pieces cannot be made from a style.
    PlanProblem
        If nothing is ordered, or the plan to go on from places nothing that the job asks for.
    """
    engine = engine or Engine.fresh()
    begin = time.monotonic()
    quantities = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    warnings = list(job.warnings)
    pieces = pieces_ordered(job, quantities, warnings)
    rules = {style.name: style.rules for style in job.styles}
    wants = vamp_wants(
        quantities, pieces, rules, urgency_of(job, quantities), {style.name: style.rates for style in job.styles}
    )
    needed = reinforcements(quantities, pieces)
    total = sum(len(want.pieces) * want.count for want in wants) + sum(needed.values())
    budget = Budget(seconds, passes, cancelled, begin)
    run = run_of(job.settings, budget, Watch(listener, total, begin), seed=seed, engine=engine)
    ahead = ahead_of(job, quantities, pieces, wants, rules)
    # The dear material first: what hides take too long is not taken from them again.
    begun = None if begin_from is None else earlier_of(begin_from, job, quantities, pieces, rules)
    hide_plans = plan_leathers(job, wants, run, 1.0 - kept_for_rolls(run) if needed else 1.0,
                               None if begun is None else begun.held, sheets_hold=begun is None)
    lays = plan_rolls(job, needed, rules, run, warnings)
    if begun is not None:
        lays = begun.shorter(lays)
    run.watch.tell("finish")
    search = search_of(run, ahead.expected)
    layouts = layouts_of(hide_plans, pieces, rules)
    warnings += run.failed + hide_warnings(job, hide_plans, run) + unpaired_warnings(layouts, pieces, rules)
    return Plan(
        name=job.name,
        styles=tuple(planned_style(job, style, quantities) for style in job.styles),
        order=cut_quantities(job.order, job.styles, job.settings.reject_pairs),
        pieces=pieces,
        leathers=job.leathers,
        hides=job.hides,
        rolls=job.rolls,
        settings=replace(job.settings, seed=run.seed),
        layouts=layouts,
        lays=lays,
        bounds=bounds_of(job, layouts, lays, pieces, quantities, rules, ahead.density, known=ahead.bounds),
        warnings=tuple(dict.fromkeys(warnings)),
        issues=hide_issues(job, hide_plans, ahead.bounds),
        search=search,
    )
