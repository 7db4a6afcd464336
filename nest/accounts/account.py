"""All accounts of a plan in one call."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from geometry.lattice import densest_double_lattice, densest_translation_lattice
from geometry.nofit import inner_fit_polygon
from geometry.polygon import area
from nest.accounts.areas import AreaAccount, MaterialUse, Measure, hide_use, lay_use, measure
from nest.accounts.classical import Estimate, estimates
from nest.accounts.consumption import Consumption, consumption
from nest.accounts.faults import InnerFit, fault_mm2, lost_to_faults
from nest.accounts.sheet import CostSheet, plan_sheet
from nest.accounts.standard import StandardBeside, standard_beside
from nest.accounts.trimcost import TrimCost, trim_costs
from nest.accounts.trimshares import plan_trim_shares
from nest.errors import PlanProblem
from nest.job.rates import said
from nest.pieces.piece import Role
from nest.plan import Plan


class Dense(Protocol):
    """A lattice, of which its density is asked."""

    @property
    def density(self) -> float:
        """Area of the outlines ÷ area they take."""


Lattice = Callable[..., Dense]
"""`lattice(ring, gap=mm)` gives something with a `density`, as `geometry.lattice.densest_double_lattice` does."""


MEASURE_SLACK = 0.02
"""A hide measured this much more or less than its digitised outline is worth a note."""


@dataclass(frozen=True, slots=True)
class Accounts:
    """Everything a report says about area and money. Only hides and lays with something on them are in it.

    uses : one for each hide, then one for each lay, in the plan's order.
    leather, reinforcement : all hides, all lays, added up.
    leather_consumption, reinforcement_consumption : by size, by style, for the order; see Consumption.
    trim : by size and for the order. classical : by size.
    standard : the standard cost beside that of the plan; None where there is no estimate of its pieces.
    notes : what the figures leave out or assume, for the reader.
    """

    uses: tuple[MaterialUse, ...]
    leather: AreaAccount
    reinforcement: AreaAccount
    leather_consumption: tuple[Consumption, ...]
    reinforcement_consumption: tuple[Consumption, ...]
    cost: CostSheet
    trim: tuple[TrimCost, ...]
    classical: tuple[Estimate, ...]
    notes: tuple[str, ...]
    standard: StandardBeside | None = None


def account(
    plan: Plan, *, lattice: Lattice = densest_double_lattice, straight: Lattice = densest_translation_lattice,
    inner_fit: InnerFit = inner_fit_polygon, seconds: Mapping[str, float] | None = None,
) -> Accounts:
    """Account for a plan that has passed its checks.

    lattice, straight : what pieces interlock in, on one-way goods without half turns.
    seconds : cutting time, as `nest.accounts.charges.plan_charges` takes it.

    Raises
    ------
    PlanProblem
        If a measure is 0 that must not be, or the plan names a style, hide, roll, leather or piece that it does not
        hold.
    """
    try:
        return _accounts(plan, lattice, straight, inner_fit, seconds)
    except KeyError as error:
        raise PlanProblem(f"the plan names {error}, which it does not hold; verify the plan first.") from error
    except ZeroDivisionError as error:
        raise PlanProblem("a measure in the plan is 0 and must not be; verify the plan first.") from error


def _accounts(
    plan: Plan, lattice: Lattice, straight: Lattice, inner_fit: InnerFit, seconds: Mapping[str, float] | None
) -> Accounts:
    """The accounts; KeyError where the plan names what it does not hold."""
    lattice, straight = _remembered(lattice), _remembered(straight)
    measures = _measures(plan, lattice, straight)
    hides, rolls = {one.hide_id: one for one in plan.hides}, {one.roll_id: one for one in plan.rolls}
    uses = []
    for layout in plan.layouts:
        if layout.placed:
            hide = hides[layout.hide_id]
            cuts = [one.pose.apply(measures[one.piece_id].piece.cut_outline) for one in layout.placed]
            fault = fault_mm2(lost_to_faults(plan, hide, inner_fit), cuts)
            uses.append(hide_use(hide, layout, measures, fault))
    uses += [lay_use(rolls[lay.roll_id], lay, measures) for lay in plan.lays if lay.placed]
    by_role = {role: [use for use in uses if use.role is role] for role in Role}
    leather_rows = consumption(uses, Role.VAMP)
    cost = plan_sheet(plan, uses, seconds)
    trim = trim_costs(cost, plan_trim_shares(plan))
    return Accounts(
        uses=tuple(uses),
        leather=AreaAccount.total(use.account for use in by_role[Role.VAMP]),
        reinforcement=AreaAccount.total(use.account for use in by_role[Role.REINFORCEMENT]),
        leather_consumption=leather_rows,
        reinforcement_consumption=consumption(uses, Role.REINFORCEMENT),
        cost=cost,
        trim=trim,
        classical=estimates(leather_rows, uses, measures),
        notes=_notes(plan, uses, trim),
        standard=standard_beside(
            plan, uses, cost,
            lambda ring, gap: (
                2.0 * area(ring) / lattice(ring, gap=gap).density, 2.0 * area(ring) / straight(ring, gap=gap).density
            ),
        ),
    )


def _remembered(lattice: Lattice) -> Lattice:
    """The lattice, worked out once for each outline and gap."""
    known: dict[tuple[bytes, float], Dense] = {}

    def one(ring: np.ndarray, gap: float) -> Dense:
        ring = np.asarray(ring)
        key = ring.tobytes(), gap
        if key not in known:
            known[key] = lattice(ring, gap=gap)
        return known[key]

    return one


def _measures(plan: Plan, lattice: Lattice, straight: Lattice) -> dict[str, Measure]:
    """Measures of every piece that is placed; a right piece interlocks as its left one does."""
    leathers = {one.name for one in plan.leathers if one.one_way}
    rolls = {one.roll_id for one in plan.rolls if one.one_way}
    one_way = {(style.name, Role.VAMP) for style in plan.styles if style.leather in leathers}
    one_way |= {(style.name, Role.REINFORCEMENT) for style in plan.styles if style.roll in rolls}
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    placed = dict.fromkeys(one.piece_id for group in plan.groups for one in group.placed)
    gaps = {Role.VAMP: plan.settings.hide_apart_mm, Role.REINFORCEMENT: plan.settings.roll_apart_mm}
    densities: dict[tuple[str, str, Role], float] = {}
    measures = {}
    for piece in (pieces[piece_id] for piece_id in placed):
        key = piece.style, piece.size, piece.role
        if key not in densities:
            densest = straight if (piece.style, piece.role) in one_way else lattice
            densities[key] = float(densest(piece.cut_outline, gap=gaps[piece.role]).density)
        measures[piece.piece_id] = measure(piece, densities[key])
    return measures


def _notes(plan: Plan, uses: list[MaterialUse], trim: tuple[TrimCost, ...]) -> tuple[str, ...]:
    notes = [*said(plan.leathers, plan.rolls, plan.settings.currency)]
    capped = [use.material_id for use in uses if use.account.interlock_capped_mm2 > 0.0]
    if capped:
        notes.append(
            f"On {', '.join(capped)} the cuts leave less than each size's best lattice would: interlock waste is "
            "capped by what is left."
        )
    lacking = sorted({row.style for row in trim if row.style and row.avoidable is None})
    if lacking:
        notes.append(f"The avoidable trim-off of {', '.join(lacking)} is not known: the plan holds no templates.")
    for use in uses:
        excess = use.paid_mm2 / use.account.material_mm2 - 1.0
        if use.role is Role.VAMP and abs(excess) > MEASURE_SLACK:
            notes.append(
                f"Hide {use.material_id} is paid for {excess:+.1%} against its digitised outline; check which is right."
            )
    return tuple(notes)
