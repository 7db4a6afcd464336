"""The whole order placed anew with what a hand moved: other allowances, prices, rejects, rules, leather."""

from collections.abc import Callable
from dataclasses import replace

from nest.accounts.asjob import as_job
from nest.accounts.estimate import GroundMemory
from nest.edits.anew import check_limits
from nest.edits.commands import EditProblem, PlaceWith, SetPlan
from nest.edits.state import State, check_whole
from nest.errors import InputProblems, PlanProblem
from nest.job.job import Job
from nest.pieces.style import OrderLine
from nest.plan import CutLine, Plan
from nest.planning.make import make_plan
from nest.planning.run import Engine
from nest.planning.watch import PlanProgress
from nest.scenarios.moved import moved_job


def planned_with(
    state: State, command: PlaceWith, *, engine: Engine | None = None, cancelled: Callable[[], bool] = lambda: False,
    listener: Callable[[PlanProgress], None] | None = None,
) -> SetPlan:
    """The plan that a search comes to, as the command that sets it; hides that are banned stay so.

    Raises
    ------
    EditProblem
        If something is cut or held, a leather has no hides, or no pieces can be made so.
    """
    check_limits(command)
    check_whole(state)
    job = _job(state.plan)
    try:
        changed = moved_job(job, command.moved, GroundMemory(job)).job
    except PlanProblem as problem:
        raise EditProblem(str(problem)) from problem
    usable = tuple(hide for hide in job.hides if hide.hide_id not in state.plan.begun.withdrawn)
    for style in changed.styles:
        if all(hide.leather != style.leather for hide in usable):
            raise EditProblem(f"no hide of {style.leather} is in the plan; it can be priced, not placed.")
    prices = {hide.hide_id: hide for hide in changed.hides}
    hides = tuple(prices[hide.hide_id] for hide in state.plan.hides)
    changed = replace(changed, hides=tuple(prices[hide.hide_id] for hide in usable))
    try:
        made = make_plan(changed, seconds=command.seconds, passes=command.passes, seed=command.seed,
                         cancelled=cancelled, listener=listener, engine=engine)
    except (PlanProblem, InputProblems) as problem:
        raise EditProblem(f"it cannot be placed so: {problem}") from problem
    sizes = {style.name: style.base_size for style in state.plan.styles}
    styles = tuple(replace(style, base_size=sizes[style.name]) for style in made.styles)
    return SetPlan(replace(made, styles=styles, hides=hides, begun=state.plan.begun))


def _job(plan: Plan) -> Job:
    """The job of a plan, with the notes of its styles and the dates of its order."""
    job, notes = as_job(plan), {style.name: style.notes for style in plan.styles}
    styles = tuple(replace(style, notes=notes[style.name]) for style in job.styles)
    return replace(job, styles=styles, order=tuple(row for line in plan.order for row in _rows(line)))


def _rows(line: CutLine) -> tuple[OrderLine, ...]:
    if not line.rows:
        return (OrderLine(line.style, line.size, line.pairs_wanted),)
    return tuple(OrderLine(line.style, line.size, row.pairs, row.due, row.priority) for row in line.rows)
