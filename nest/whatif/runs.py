"""The runs behind a what-if: the job as it is and every change of it, with the same seeds, costed one after another."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely

from geometry.polygon import area
from nest.accounts.areas import MaterialUse, Measure, hide_use, lay_use
from nest.accounts.sheet import CostSheet, plan_sheet
from nest.job.job import Job
from nest.pieces.piece import Role
from nest.plan import Plan

Cost = Callable[[Job, int], CostSheet]
"""`cost(job, seed)`: places the job with this seed and costs it, or estimates it."""

AS_IT_IS = "as it is"


@dataclass(slots=True)
class Costed:
    """Cost sheets by name of the change, then by seed.

    complete : false if the runs were broken off. enough : whether the answer was known before the last seed.
    """

    sheets: dict[str, dict[int, CostSheet]] = field(default_factory=dict)
    complete: bool = True
    enough: bool = False


def cost_all(
    jobs: Mapping[str, Job], seeds: Sequence[int], cost: Cost, *, cancelled: Callable[[], bool] = lambda: False,
    tell: Callable[[str, int, int], None] | None = None, enough: Callable[[Costed], bool] = lambda found: False,
) -> Costed:
    """Cost every job with every seed, seed after seed, so that a run stopped early has whole seeds to show.

    A run during which `cancelled` turned true is left out, for its plan is not what the seed would have given.
    `tell(name, done, total)` is called before each run; seeds stop after the first that leaves `enough(found)`.
    """
    found = Costed()
    total = len(jobs) * len(seeds)
    for done, (seed, name) in enumerate((seed, name) for seed in seeds for name in jobs):
        if done and done % len(jobs) == 0 and enough(found):
            found.enough = True
            break
        if tell is not None:
            tell(name, done, total)
        sheet = None if cancelled() else cost(jobs[name], seed)
        if sheet is None or cancelled():
            found.complete = False
            break
        found.sheets.setdefault(name, {})[seed] = sheet
    return found


REST_TO_STOCK = (
    "Of each leather the hide that is used least is charged up to its last cut line; the rest is taken to go back "
    "into stock."
)


def plan_cost(place: Callable[[Job, int], Plan]) -> Cost:
    """Cost by placing, all charges in it.

    Leather by `used_ground`: charged by whole hides, a millimetre would cost nothing until it costs a hide.
    """

    def cost(job: Job, seed: int) -> CostSheet:
        plan = place(job, seed)
        return plan_sheet(plan, used_ground(plan))

    return cost


def used_ground(plan: Plan) -> tuple[MaterialUse, ...]:
    """Uses of which the least filled hide of each leather is charged up to its last cut line only.

    The planner draws the pieces of its part-used hide together towards least x; what lies beyond them goes back
    into stock. Its share of the outline is its share of the area paid for.
    """
    leather = {hide.hide_id: hide.leather for hide in plan.hides}
    uses = list(quick_uses(plan))
    least: dict[str, int] = {}
    for i, use in enumerate(uses):
        if use.role is Role.VAMP:
            name = leather[use.material_id]
            if name not in least or _fill(use) < _fill(uses[least[name]]):
                least[name] = i
    for i in least.values():
        uses[i] = _up_to_last_cut(plan, uses[i])
    return tuple(uses)


def _fill(use: MaterialUse) -> float:
    return use.account.rough_mm2 / use.account.material_mm2


def _up_to_last_cut(plan: Plan, use: MaterialUse) -> MaterialUse:
    hide = next(one for one in plan.hides if one.hide_id == use.material_id)
    layout = next(one for one in plan.layouts if one.hide_id == use.material_id)
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    reach = max(float(one.pose.apply(pieces[one.piece_id].cut_outline)[:, 0].max()) for one in layout.placed)
    low, bottom, _, top = hide.outline.bounds
    used = shapely.intersection(hide.outline, shapely.box(low, bottom, reach, top)).area
    left = use.account.material_mm2 - used
    account = replace(use.account, material_mm2=used, edge_mm2=use.account.edge_mm2 - left)
    return replace(use, account=account, paid_mm2=use.paid_mm2 * used / use.account.material_mm2)


def quick_uses(plan: Plan) -> tuple[MaterialUse, ...]:
    """What each hide and lay of a plan is paid for and what lies on it; its waste is not split up."""
    measures = {
        piece.piece_id: Measure(piece, area(piece.cut_outline), area(piece.net_outline), 1.0) for piece in plan.pieces
    }
    hides = {hide.hide_id: hide for hide in plan.hides}
    rolls = {roll.roll_id: roll for roll in plan.rolls}
    uses = [hide_use(hides[one.hide_id], one, measures, 0.0) for one in plan.layouts if one.placed]
    return (*uses, *(lay_use(rolls[lay.roll_id], lay, measures) for lay in plan.lays if lay.placed))
