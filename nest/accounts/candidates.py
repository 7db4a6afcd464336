"""The same layouts or estimate at the price of other materials, side by side.

A plan keeps its layouts: a candidate leather is charged by its own price of the class of each hide, and a
candidate roll by its own price a metre. Where a candidate comes in hides of another mean area, the area is changed
as the textbook form has it for the edge waste (`nest.accounts.classical`); where a roll has another usable width, its
length in proportion. What the candidate's own flaws and stretch would change is not known before it is placed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from nest.accounts.areas import MaterialUse
from nest.accounts.charges import plan_charges, plan_pairs
from nest.accounts.classical import edge_term_percent
from nest.accounts.estimate import Cell, GroundOf, estimate_sheet, known_hide_mm2, lattice_cell
from nest.accounts.sheet import CostSheet, cost_sheet
from nest.errors import PlanProblem
from nest.job.job import Job, Style
from nest.perpair.use import Ground, ground_of
from nest.pieces.piece import Role
from nest.plan import Plan
from nest.stock.material import Hide, Leather, Roll


@dataclass(frozen=True, slots=True)
class Candidate:
    """The cost sheet with one material in place of another."""

    replaced: str
    name: str
    sheet: CostSheet

    def dearer(self, now: CostSheet) -> Fraction | None:
        """How much a good pair of the order costs more than in the sheet `now`, exactly."""
        if self.sheet.order.exact_pair is None or now.order.exact_pair is None:
            return None
        return self.sheet.order.exact_pair - now.order.exact_pair


def plan_sheet(plan: Plan, uses: Sequence[MaterialUse], seconds: Mapping[str, float] | None = None) -> CostSheet:
    """The cost sheet of a plan as placed; arguments as `nest.accounts.charges.plan_charges`."""
    charges = plan_charges(plan, uses, seconds)
    return cost_sheet(charges, plan_pairs(plan, uses), plan.settings.currency, plan.name)


def plan_candidates(
    plan: Plan, uses: Sequence[MaterialUse], seconds: Mapping[str, float] | None = None
) -> tuple[Candidate, ...]:
    """The plan's own layouts costed with each candidate its settings name."""
    found = []
    for name, other in plan.settings.costing.candidates:
        leathers = {leather.name: leather for leather in plan.leathers}
        rolls = {roll.roll_id: roll for roll in plan.rolls}
        if name in leathers and other in leathers:
            changed, changed_uses, notes = _other_leather(plan, uses, leathers[name], leathers[other])
        elif name in rolls and other in rolls:
            changed, changed_uses, notes = _other_roll(plan, uses, rolls[name], rolls[other])
        else:
            raise PlanProblem(f"the plan names {other} for {name}, of which it does not hold both; plan again.")
        charges = plan_charges(changed, changed_uses, seconds)
        sheet = cost_sheet(charges, plan_pairs(plan, uses), plan.settings.currency, f"{other} for {name}", notes)
        found.append(Candidate(name, other, sheet))
    return tuple(found)


def job_candidates(job: Job, cell: Cell = lattice_cell, ground: GroundOf = ground_of) -> tuple[Candidate, ...]:
    """The estimate of a job with each candidate its settings name.

    A leather of which neither hides nor a mean area are known is reckoned with the hides of the one it replaces. One of
    which figures are known is set beside the hides it replaces: they tell what those figures change.
    """
    found = []
    known = {leather.name: leather for leather in job.leathers}
    own = {style.name: style.leather for style in job.styles}

    def beside(leather: Leather, hides: Sequence[Hide], style: Style, margin_mm: float) -> Ground:
        told = ground(leather, hides, style, margin_mm)
        now = known[own[style.name]]
        replaced = [hide for hide in job.hides if hide.leather == now.name]
        if hides or not replaced or leather.name == now.name:
            return told
        return replace(told, beside=ground(now, replaced, style, margin_mm))

    for name, other in job.settings.costing.candidates:
        styles = tuple(
            replace(style, leather=other if style.leather == name else style.leather,
                    roll=other if style.roll == name else style.roll)
            for style in job.styles
        )
        changed, notes = replace(job, styles=styles), ()
        area = known_hide_mm2(job, known[name]) if other in known else None
        if area is not None and known_hide_mm2(job, known[other]) is None:
            # What is not known of the other leather is as of the one it replaces, hides in stock and all.
            like = known[other]
            if any(hide.leather == name for hide in job.hides) and like.unfit_share is None:
                lent = tuple(replace(hide, leather=other, price=None) for hide in job.hides if hide.leather == name)
                changed = replace(changed, hides=(*job.hides, *lent))
            else:
                like = replace(like, mean_hide_mm2=area,
                               unfit_share=like.unfit_share or known[name].unfit_share)
            changed = replace(changed, leathers=tuple(like if one.name == other else one for one in job.leathers))
            notes = (f"{other}: the mean area of its hides is not stated; that of {name} is reckoned with.",)
        sheet = estimate_sheet(changed, cell, f"{other} for {name}", beside)
        found.append(Candidate(name, other, replace(sheet, notes=(*sheet.notes, *notes))))
    return tuple(found)


def _other_leather(plan: Plan, uses: Sequence[MaterialUse], now: Leather, other: Leather):
    """The plan with every hide of `now` as if of `other`, uses with their areas changed, and notes."""
    mine = {hide.hide_id for hide in plan.hides if hide.leather == now.name}
    hides = tuple(
        replace(hide, leather=other.name, price=None) if hide.hide_id in mine else hide for hide in plan.hides
    )
    notes, changed = [], []
    for use in uses:
        if use.role is Role.VAMP and use.material_id in mine and other.mean_hide_mm2:
            factor = _area_factor(use, other.mean_hide_mm2)
            use = replace(use, paid_mm2=use.paid_mm2 * factor)
        changed.append(use)
    if other.mean_hide_mm2:
        areas = [use.paid_mm2 for use in uses if use.material_id in mine]
        after = [use.paid_mm2 for use in changed if use.material_id in mine]
        if areas:
            notes.append(
                f"{other.name}: hides of {other.mean_hide_mm2 / 1e4:.0f} dm² instead of "
                f"{sum(areas) / len(areas) / 1e4:.0f} dm² are reckoned to take {sum(after) / sum(areas) - 1.0:+.1%} "
                "area."
            )
    else:
        notes.append(f"{other.name}: the mean area of its hides is not stated; the same area is charged.")
    return replace(plan, hides=hides), changed, notes


def _area_factor(use: MaterialUse, hide_mm2: float) -> float:
    """Area from hides of another size ÷ area from this one, by the edge term of the textbook form."""
    pieces = sum(part.pieces for part in use.sizes)
    rough = sum(part.rough_mm2 for part in use.sizes) / pieces
    now = use.account.rough_mm2 / use.paid_mm2
    then = now + (edge_term_percent(use.paid_mm2 / rough) - edge_term_percent(hide_mm2 / rough)) / 100.0
    if then <= 0.0:
        raise PlanProblem(f"hides of {hide_mm2 / 1e4:.0f} dm² leave no yield to estimate; correct mean_hide_dm2.")
    return now / then


def _other_roll(plan: Plan, uses: Sequence[MaterialUse], now: Roll, other: Roll):
    """The plan with every lay of `now` as if of `other`, uses with their lengths changed, and notes."""
    mine = {lay.lay_id for lay in plan.lays if lay.roll_id == now.roll_id}
    lays = tuple(replace(lay, roll_id=other.roll_id) if lay.lay_id in mine else lay for lay in plan.lays)
    factor = now.usable_width_mm / other.usable_width_mm
    changed = [
        replace(use, length_mm=use.length_mm * factor)
        if use.role is Role.REINFORCEMENT and use.material_id in mine else use
        for use in uses
    ]
    notes = []
    if factor != 1.0:
        notes.append(
            f"{other.roll_id}: {other.usable_width_mm:.0f} mm usable width instead of {now.usable_width_mm:.0f} mm; "
            "the length is changed in proportion."
        )
    return replace(plan, lays=lays), changed, notes
