"""Plan the rest of an order of which the cutting has begun: what is cut stays as it is, the rest is placed anew.

Old layouts of hides that are not cut are kept where they still serve, so that their cut sheets hold. What is missing
goes into the room they leave, then on other hides; where the least used hide can be done without, it is. Only if that
falls short are all hides that are not cut placed anew.
"""

import time
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import fsum

from nest.begun.part import cut_part
from nest.job.job import Job
from nest.pieces.piece import Piece, Role
from nest.pieces.quantities import CutLine, cut_quantities, ordered_quantities
from nest.placement.budget import Budget
from nest.plan import Begun, Bound, HideLayout, Lay, Placed, Plan, PlannedStyle
from nest.planning.ahead import expected_leathers
from nest.planning.bound import lattice_density
from nest.planning.grounds import class_under
from nest.planning.pairs import renumbered
from nest.planning.ranks import missed
from nest.planning.reconcile import (
    agreed_pieces,
    agreed_styles,
    rolls_left,
    stock_now,
    unchanged_hides,
    unchanged_styles,
)
from nest.planning.remaining import Kinds, UnitKey, held_on, kept, reinforcements_left, vamps_left
from nest.planning.run import Engine, Run, run_of
from nest.planning.searched import search_of
from nest.planning.stages import (
    bounds_of,
    hide_warnings,
    kept_for_rolls,
    layouts_of,
    pieces_ordered,
    plan_leathers,
    plan_rolls,
    unpaired_warnings,
    urgency_of,
)
from nest.planning.watch import PlanProgress, Watch
from nest.stock.material import Hide

FIRST_SHARE = 0.5
"""Share of the time for hides in which what is missing is placed beside layouts that are kept."""


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    """What is worked on; `job` has the hides and the lengths of rolls that may still be used."""

    job: Job
    before: Plan
    part: Plan
    styles: tuple[PlannedStyle, ...]
    pieces: Mapping[str, Piece]
    kinds: Kinds
    quantities: Sequence[CutLine]
    keep: bool


def replan(
    job: Job, before: Plan, begun: Begun, *, keep: bool = True, seconds: float | None = None, passes: int | None = None,
    seed: int | None = None, cancelled: Callable[[], bool] = lambda: False,
    listener: Callable[[PlanProgress], None] | None = None, engine: Engine | None = None,
) -> Plan:
    """The plan of a whole order as the job has it now: what is cut of the plan `before`, and the rest.

    Poses on hides and lays that are cut are those of the plan before; a pair number there changes only where
    its partner was not cut and lies on another hide. Withdrawn hides are not used. Pieces that were spoiled are cut
    again. With `keep` off nothing that is not cut is kept. Limits are those of `nest.planning.make.make_plan`.

    Raises
    ------
    InputProblems
        If pieces cannot be made from a style.
    PlanProblem
        If nothing is ordered, or the job makes pieces otherwise than they were cut.
    """
    engine = engine or Engine.fresh()
    begin = time.monotonic()
    part = cut_part(before, begun)
    quantities = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    warnings = list(job.warnings)
    made = agreed_pieces(pieces_ordered(job, quantities, warnings), part)
    hides, leathers, rolls = stock_now(job, part)
    styles = agreed_styles(job, part, quantities)
    rules = {style.name: style.rules for style in styles}
    pieces = {piece.piece_id: piece for piece in made}
    offered = replace(
        job, hides=tuple(hide for hide in hides if hide.hide_id not in begun.cut_hides), rolls=rolls_left(job, part)
    )
    rates = {style.name: style.rates for style in styles}
    kinds = Kinds.of(made, rules, urgency_of(job, quantities), rates)
    task = _Task(offered, before, part, styles, pieces, kinds, quantities, keep)
    rest = vamps_left(quantities, begun, part.layouts, task.kinds, pieces)
    needed = reinforcements_left(quantities, part.begun, part.lays, made)
    kept_lays, needed = _kept_lays(task, needed)
    total = sum(len(task.kinds.pieces_of(unit)) * count for unit, count in rest.items()) + sum(needed.values())
    budget = Budget(seconds, passes, cancelled, begin)
    run = run_of(job.settings, budget, Watch(listener, total, begin), seed=seed, engine=engine)
    expected = expected_leathers(job, quantities, made)
    kept_layouts, hide_plans = _plan_vamps(task, rest, run, 1.0 - kept_for_rolls(run) if needed else 1.0)
    run.watch.settled = sum(len(unit.poses) for _, plan in hide_plans for _, units in plan.placed for unit in units)
    lays = (*part.lays, *kept_lays, *_new_lays(task, needed, run, warnings, (*part.lays, *kept_lays)))
    run.watch.tell("finish")
    new = layouts_of(hide_plans, made, rules)
    layouts = renumbered((*part.layouts, *kept_layouts), new, pieces, rules, _level(hides, pieces))
    warnings += run.failed + hide_warnings(job, hide_plans, run)
    warnings += unpaired_warnings(layouts[len(part.layouts):], made, rules)
    plan = Plan(
        name=job.name,
        styles=styles,
        order=cut_quantities(job.order, job.styles, job.settings.reject_pairs),
        pieces=made,
        leathers=leathers,
        hides=hides,
        rolls=rolls,
        settings=replace(job.settings, seed=run.seed),
        layouts=layouts,
        lays=lays,
        begun=part.begun,
        search=search_of(run, expected),
    )
    warnings += what_changes(before, plan)
    return replace(
        plan, bounds=_bounds(task, plan, layouts[len(part.layouts):], rules), warnings=tuple(dict.fromkeys(warnings))
    )


def what_changes(before: Plan, plan: Plan) -> tuple[str, ...]:
    """Sentences for the planner: what is cut, what is still to cut, which cut sheets hold and which do not."""
    old = {layout.hide_id: layout for layout in before.layouts if layout.placed}
    to_cut = plan.layouts_to_cut
    same = [one.hide_id for one in to_cut if one.hide_id in old and _same_places(old[one.hide_id], one)]
    other = [one.hide_id for one in to_cut if one.hide_id not in same]
    done = set(plan.begun.cut_hides)
    void = [name for name in old if name not in done and name not in same]
    stock = {hide.hide_id for hide in plan.hides}
    gone = [hide.hide_id for hide in before.hides if hide.hide_id not in stock]
    said = (
        ("Already cut, not to be handed out again", (*(name for name in old if name in done), *plan.begun.lays)),
        ("Withdrawn or no longer in stock, not used", gone),
        ("Still to cut, by the sheets of the earlier plan", same),
        ("Still to cut, by new sheets", other),
        ("Lays still to cut", [lay.lay_id for lay in plan.lays_to_cut]),
        ("Sheets of the earlier plan that no longer hold", void),
    )
    return tuple(f"{what}: {', '.join(names)}." for what, names in said if names)


def _same_places(one: HideLayout, other: HideLayout) -> bool:
    """Whether the same pieces lie in the same places, in the same sequence, whatever their pairs are called."""
    return [(p.piece_id, p.pose) for p in one.placed] == [(p.piece_id, p.pose) for p in other.placed]


def _plan_vamps(task: _Task, rest: Mapping[UnitKey, int], run: Run, time_share: float):
    """Layouts that stay as they are, and what is placed anew: what is missing goes into the room that earlier layouts
    leave, then on other hides. For leathers that fall short that way everything is placed anew."""
    layouts = _kept_layouts(task, rest)
    whole = time_share * (FIRST_SHARE if layouts else 1.0)
    held = held_on(layouts, task.kinds, task.pieces)
    plans = plan_leathers(task.job, task.kinds.wants(rest), run, whole, held)
    leather_of = {style.name: style.leather for style in task.styles}
    for at, (wants, plan) in enumerate(plans):
        leather = leather_of[wants[0].style]
        mine = [one for one in layouts if _leather(task, one) == leather]
        if not any(plan.short) or not mine or run.cancelled():
            continue
        again = {unit: count for unit, count in rest.items() if leather_of[unit[0]] == leather}
        ((more, found),) = plan_leathers(task.job, task.kinds.wants(again), run, time_share)
        if missed(more, found.short) < missed(wants, plan.short):
            layouts, plans[at] = tuple(one for one in layouts if one not in mine), (more, found)
    same: set[str] = set()
    for at, (wants, plan) in enumerate(plans):
        before = held_on(layouts, task.kinds, task.pieces)(wants)
        placed = {seen.hide.hide_id: units for seen, units in plan.placed}
        stay = {hide_id for hide_id, units in placed.items() if set(before.get(hide_id, ())) == set(units)}
        same |= stay
        plans[at] = wants, replace(plan, placed=tuple(one for one in plan.placed if one[0].hide.hide_id not in stay))
    return tuple(one for one in layouts if one.hide_id in same), plans


def _kept_layouts(task: _Task, rest: Mapping[UnitKey, int]) -> tuple[HideLayout, ...]:
    """Old layouts of hides that are not cut, as far as they still serve."""
    if not task.keep:
        return ()
    hides = unchanged_hides(task.job, task.before, [hide.hide_id for hide in task.job.hides])
    styles = unchanged_styles(task.styles, task.pieces.values(), task.before)
    return kept(task.before, hides, styles, rest, task.kinds)[0]


def _leather(task: _Task, layout: HideLayout) -> str:
    return next(hide.leather for hide in task.job.hides if hide.hide_id == layout.hide_id)


def _kept_lays(task: _Task, needed: Mapping[Piece, int]) -> tuple[tuple[Lay, ...], dict[Piece, int]]:
    """Lays of the plan before that are exactly what is needed of their roll, and what is needed beside them."""
    left = dict(needed)
    if not task.keep or task.job.settings.roll_apart_mm != task.before.settings.roll_apart_mm:
        return (), left
    same = set(unchanged_styles(task.styles, task.pieces.values(), task.before))
    roll_of = {style.name: style.roll for style in task.styles}
    old = {roll.roll_id: roll for roll in task.before.rolls}
    cut = {lay.lay_id for lay in task.part.lays}
    found: list[Lay] = []
    for roll in task.job.rolls:
        mine = {piece: number for piece, number in needed.items() if roll_of[piece.style] == roll.roll_id}
        lays = [lay for lay in task.before.lays if lay.roll_id == roll.roll_id and lay.lay_id not in cut]
        held: Counter[str] = Counter()
        for lay in lays:
            for one in lay.placed:
                held[one.piece_id] += lay.plies
        was = replace(old[roll.roll_id], length_mm=roll.length_mm) if roll.roll_id in old else None
        length = fsum(lay.plies * (lay.length_mm + 2.0 * roll.end_loss_mm) for lay in lays)
        serves = {piece.piece_id: number for piece, number in mine.items()} == dict(held)
        if was == roll and serves and length <= roll.length_mm and all(piece.style in same for piece in mine):
            found += lays
            left = {piece: number for piece, number in left.items() if piece not in mine}
    return tuple(found), left


def _new_lays(
    task: _Task, needed: Mapping[Piece, int], run: Run, warnings: list[str], known: Sequence[Lay]
) -> list[Lay]:
    """Lays for what is needed on what is left of the rolls, numbered on; a warning says what finds no roll."""
    roll_of = {style.name: style.roll for style in task.styles}
    racks = {roll.roll_id for roll in task.job.rolls}
    lost: dict[str, int] = defaultdict(int)
    for piece, number in needed.items():
        if roll_of[piece.style] not in racks:
            lost[roll_of[piece.style]] += number
    warnings += [
        f"roll {name}: it is withdrawn or used up; {number} reinforcement{' is' if number == 1 else 's are'} left out"
        for name, number in lost.items()
    ]
    fit = {piece: number for piece, number in needed.items() if roll_of[piece.style] in racks}
    rules = {style.name: style.rules for style in task.styles}
    lays: list[Lay] = []
    taken = {lay.lay_id for lay in known}
    for lay in plan_rolls(task.job, fit, rules, run, warnings) if fit else ():
        number = 1
        while (name := f"{lay.roll_id}, lay {number}") in taken:
            number += 1
        taken.add(name)
        lays.append(replace(lay, lay_id=name))
    return lays


def _level(hides: Sequence[Hide], pieces: Mapping[str, Piece]) -> Callable[[str, Placed], int]:
    """Class of the ground under a piece on a hide, by its id."""
    stock = {hide.hide_id: hide for hide in hides}
    class_at = cache(lambda hide_id: class_under(stock[hide_id]))
    return lambda hide_id, one: class_at(hide_id)(one.pose.apply(pieces[one.piece_id].net_outline))


def _bounds(task: _Task, plan: Plan, layouts: Sequence[HideLayout], rules) -> tuple[Bound, ...]:
    """Bounds of everything in the plan; those of what is cut are the earlier plan's."""
    known = {bound.material_id: bound for bound in task.part.bounds}
    lays = [lay for lay in plan.lays if lay.lay_id not in known and lay.placed]
    ordered = {(line.style, line.size) for line in task.quantities}
    pieces = [
        piece for piece in plan.pieces if piece.role is Role.REINFORCEMENT or (piece.style, piece.size) in ordered
    ]
    stock = replace(task.job, leathers=plan.leathers, hides=plan.hides, rolls=plan.rolls)
    made = bounds_of(stock, layouts, lays, pieces, task.quantities, rules, lattice_density())
    return (*known.values(), *made)
