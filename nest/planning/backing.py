"""Reinforcements alone, for vamps that are cut or planned already."""

import time
from collections.abc import Callable, Mapping
from dataclasses import replace

from nest.job.job import Job
from nest.pieces.piece import Role
from nest.pieces.quantities import CutLine
from nest.placement.budget import Budget
from nest.plan import Plan
from nest.planning.rolls import reinforcements
from nest.planning.run import Engine, run_of
from nest.planning.stages import pieces_ordered, plan_rolls, planned_style
from nest.planning.watch import PlanProgress, Watch


def plan_reinforcements(
    job: Job, pairs: Mapping[tuple[str, str], int], *, seconds: float | None = None, passes: int | None = None,
    seed: int | None = None, cancelled: Callable[[], bool] = lambda: False,
    listener: Callable[[PlanProgress], None] | None = None, engine: Engine | None = None,
) -> Plan:
    """A plan of lays without hides and without an order: reinforcements for these `pairs` of each style and size.

    Other parameters as of `nest.planning.make.make_plan`. Raises InputProblems if pieces cannot be made from a style.
    """
    begin = time.monotonic()
    quantities = tuple(CutLine(style, size, number, number) for (style, size), number in pairs.items())
    warnings = list(job.warnings)
    pieces = tuple(piece for piece in pieces_ordered(job, quantities, warnings) if piece.role is Role.REINFORCEMENT)
    needed = reinforcements(quantities, pieces)
    budget = Budget(seconds, passes, cancelled, begin)
    watch = Watch(listener, sum(needed.values()), begin)
    run = run_of(job.settings, budget, watch, seed=seed, engine=engine or Engine.fresh())
    rules = {style.name: style.rules for style in job.styles}
    lays = plan_rolls(job, needed, rules, run, warnings)
    return Plan(
        name=job.name, styles=tuple(planned_style(job, style, quantities) for style in job.styles), order=(),
        pieces=pieces, leathers=job.leathers, hides=(), rolls=job.rolls,
        settings=replace(job.settings, seed=run.seed), layouts=(),
        lays=lays, warnings=tuple(dict.fromkeys((*warnings, *run.failed))),
    )
