"""The same layouts or estimate with other materials, side by side, by one rule for both.

What a pair takes of another material is what `nest.accounts.estimate` says of it. A job is estimated with it. A plan
keeps its layouts: what each size was charged is changed in the ratio of the two estimates, so that a plan and its job
find the same leather cheaper, unless the layouts say otherwise of the leather that is cut.

A candidate leather in stock is charged at the prices of its hides; one that is not, at its prices of the classes of the
hides it replaces. What its own flaws and stretch would change beyond the estimate is not known before it is placed.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from nest.accounts.areas import MaterialUse
from nest.accounts.asjob import as_job, ground_of_plan
from nest.accounts.charges import Charge, ChargeKind, complete, plan_charges, unit_mm2
from nest.accounts.estimate import Cell, GroundOf, estimate_job, known_hide_mm2, lattice_cell, pair_estimates
from nest.accounts.expected import plan_pairs
from nest.accounts.pair_charges import PairEstimate, priced_shares
from nest.accounts.sheet import CostSheet, cost_sheet
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.perpair.use import KnownGround, ground_of
from nest.pieces.piece import Role
from nest.pieces.style import Style
from nest.plan import Plan
from nest.stock.material import Hide, Leather
from nest.units import MM2_PER_M2

Sizes = Mapping[tuple[str, str], PairEstimate]


@dataclass(frozen=True, slots=True)
class Candidate:
    """The cost sheet with one material in place of another.

    standard : the standard cost with it; None where there is no estimate of that.
    """

    replaced: str
    name: str
    sheet: CostSheet
    standard: CostSheet | None = None

    def dearer(self, now: CostSheet) -> Fraction | None:
        """How much a good pair of the order costs more than in the sheet `now`, exactly."""
        return _dearer(self.sheet, now)

    def standard_dearer(self, now: CostSheet | None) -> Fraction | None:
        """The same by the standard cost, `now` the standard cost without the candidate."""
        return _dearer(self.standard, now)


def _dearer(then: CostSheet | None, now: CostSheet | None) -> Fraction | None:
    if then is None or now is None or then.order.exact_pair is None or now.order.exact_pair is None:
        return None
    return then.order.exact_pair - now.order.exact_pair


@dataclass(frozen=True, slots=True)
class Changed:
    """A job with one material in place of another.

    priced_as : by style that is changed, hides by whose classes the candidate is priced if none of it is in stock.
    """

    job: Job
    ground: GroundOf
    priced_as: Mapping[str, tuple[Hide, ...]]
    notes: tuple[str, ...]


def job_candidates(job: Job, cell: Cell = lattice_cell, ground: GroundOf = ground_of) -> tuple[Candidate, ...]:
    """The estimate of a job with each candidate its settings name."""
    found = []
    for name, other in job.settings.costing.candidates:
        changed = with_material(job, name, other, ground)
        told = estimate_job(changed.job, cell, f"{other} for {name}", changed.ground, changed.priced_as)
        notes = *told.sheet.notes, *changed.notes
        found.append(Candidate(name, other, replace(told.sheet, notes=notes), told.standard))
    return tuple(found)


def plan_candidates(
    plan: Plan, uses: Sequence[MaterialUse], seconds: Mapping[str, float] | None = None, cell: Cell = lattice_cell
) -> tuple[Candidate, ...]:
    """The plan's own layouts costed with each candidate its settings name.

    Raises
    ------
    PlanProblem
        If the plan does not hold a material or its candidate.
    """
    candidates = plan.settings.costing.candidates
    if not candidates:
        return ()
    for name, other in candidates:
        if not any({name, other} <= names for names in (
            {one.name for one in plan.leathers}, {one.roll_id for one in plan.rolls}
        )):
            raise PlanProblem(f"the plan names {other} for {name}, of which it does not hold both; plan again.")
    charges, pairs = plan_charges(plan, uses, seconds), plan_pairs(plan, uses)
    job, ground = as_job(plan), ground_of_plan(plan)
    now = _estimates(job, plan, cell, ground, {})
    found = []
    for name, other in candidates:
        changed = with_material(job, name, other, ground)
        notes: dict[str, None] = {}
        then = _estimates(changed.job, plan, cell, changed.ground, notes)
        leathers = {one.name: one for one in plan.leathers}
        if other in leathers:
            swapped = _other_leather(plan, charges, name, leathers[other], now, then)
        else:
            swapped = _other_roll(plan, charges, name, other, now, then)
        said = [note for note in notes if note.startswith(other)]
        said.append(f"{other}: a pair takes what it does in the plan, changed as the estimate of {other} stands to "
                    f"that of {name}.")
        sheet = cost_sheet(
            complete(swapped, plan.leathers, plan.rolls, plan.settings), pairs, plan.settings.currency,
            f"{other} for {name}", [*said, *changed.notes],
        )
        found.append(Candidate(name, other, sheet, _standard(changed, cell, sheet.title, then)))
    return tuple(found)


def _standard(changed: Changed, cell: Cell, title: str, takes: Sizes) -> CostSheet | None:
    """The standard cost of a changed job of which it is known what pairs take; None where that is not known of all."""
    wanted = {(line.style, line.size) for line in changed.job.order if line.pairs}
    if not wanted or not wanted <= takes.keys():
        return None

    def known(
        job: Job, style: Style, sizes: Sequence[str], cell: Cell, notes: dict[str, None], ground: GroundOf
    ) -> list[PairEstimate]:
        return [takes[style.name, size] for size in sizes]

    return estimate_job(changed.job, cell, title, priced_as=changed.priced_as, estimates=known).standard


def with_material(job: Job, name: str, other: str, ground: GroundOf) -> Changed:
    """The job with every style that uses `name` on `other`.

    A leather of which neither hides nor a mean area are known is costed with the hides of the one it replaces. One of
    which figures are known is set beside the hides it replaces: they tell what those figures change.
    """
    known = {leather.name: leather for leather in job.leathers}
    own = {style.name: style.leather for style in job.styles}
    styles = tuple(
        replace(style, leather=other if style.leather == name else style.leather,
                roll=other if style.roll == name else style.roll)
        for style in job.styles
    )
    replaced = tuple(hide for hide in job.hides if hide.leather == name)
    lent = tuple(replace(hide, leather=other, price=None, price_unit="") for hide in replaced)
    changed = replace(job, styles=styles)
    notes: tuple[str, ...] = ()
    area = known_hide_mm2(job, known[name]) if other in known else None
    if area is not None and known_hide_mm2(job, known[other]) is None:
        # What is not known of the other leather is as of the one it replaces, hides in stock and all.
        like = known[other]
        if replaced and like.unfit_share is None:
            changed = replace(changed, hides=(*job.hides, *lent))
        else:
            like = replace(like, mean_hide_mm2=area, unfit_share=like.unfit_share or known[name].unfit_share)
        changed = replace(changed, leathers=tuple(like if one.name == other else one for one in job.leathers))
        notes = (f"{other}: the mean area of its hides is not stated; that of {name} is used.",)

    def beside(leather: Leather, hides: Sequence[Hide], style: Style, margin_mm: float) -> KnownGround:
        told = ground(leather, hides, style, margin_mm)
        mine = [hide for hide in job.hides if hide.leather == own[style.name]]
        if hides or not mine or leather.name == own[style.name]:
            return told
        return replace(told, beside=ground(known[own[style.name]], mine, style, margin_mm))

    return Changed(changed, beside, {style: lent for style, leather in own.items() if leather == name}, notes)


def _estimates(job: Job, plan: Plan, cell: Cell, ground: GroundOf, notes: dict[str, None]) -> Sizes:
    """What a pair of every style and size of a plan takes, by estimate; none of a style that leaves no yield."""
    found: dict[tuple[str, str], PairEstimate] = {}
    for style in job.styles:
        made = [piece for piece in plan.pieces if piece.style == style.name]
        sizes = [*dict.fromkeys(piece.size for piece in made if piece.role is Role.VAMP)]
        try:
            estimates = pair_estimates(job, style, sizes, cell, notes, ground, made)
        except PlanProblem:
            words = f"{style.leather}: no yield of {style.name} can be estimated; as much is charged as is planned."
            notes[words] = None
            continue
        found |= {(one.style, one.size): one for one in estimates}
    return found


def _other_leather(
    plan: Plan, charges: Sequence[Charge], name: str, other: Leather, now: Sizes, then: Sizes
) -> list[Charge]:
    """The charges with `other` wherever `name` was charged, and the scrap that it leaves."""
    hides = {hide.hide_id: hide for hide in plan.hides}
    stock = [hide for hide in plan.hides if hide.leather == other.name]
    more: dict[tuple[tuple[str, str], str], Fraction] = {}
    found = []
    for charge in charges:
        if charge.kind is not ChargeKind.LEATHER or charge.stock != name:
            found.append(charge)
            continue
        ratio = _ratio(charge, now, then, lambda one: one.leather_mm2)
        area = charge.quantity * unit_mm2(charge.unit)
        more[charge.key, charge.of] = (ratio - 1) * area
        like = stock or [replace(hides[charge.of], leather=other.name, price=None, price_unit="")]
        found += [
            replace(charge, quantity=ratio * area * part.share / unit_mm2(part.unit), unit=part.unit, price=part.price,
                    material=part.material, stock=other.name, own_price=part.own_price)
            for part in priced_shares(other, like)
        ]
    return [
        replace(one, quantity=one.quantity + more.get((one.key, one.of), Fraction(0)) / Fraction(MM2_PER_M2))
        if one.kind is ChargeKind.SCRAP else one
        for one in found
    ]


def _other_roll(plan: Plan, charges: Sequence[Charge], name: str, other: str, now: Sizes, then: Sizes) -> list[Charge]:
    """The charges with the roll `other` wherever `name` was charged."""
    price = next(Fraction(roll.price_per_m) for roll in plan.rolls if roll.roll_id == other)
    return [
        replace(one, quantity=one.quantity * _ratio(one, now, then, lambda pair: pair.roll_mm), price=price,
                material=other, stock=other)
        if one.kind is ChargeKind.REINFORCEMENT and one.stock == name else one
        for one in charges
    ]


def _ratio(charge: Charge, now: Sizes, then: Sizes, of: Callable[[PairEstimate], float]) -> Fraction:
    """How much more of the other material a pair takes, by estimate; as much where there is none."""
    if charge.key not in now or charge.key not in then or not of(now[charge.key]):
        return Fraction(1)
    return Fraction(of(then[charge.key])) / Fraction(of(now[charge.key]))
