"""Standard cost: what a good pair costs whatever hides it happens to lie on; and why a plan's pair costs otherwise.

Standard cost of a good pair: what the estimate says it takes, at the mean price of the hides in stock by area, with
rejects at their rate, without rounding to whole pairs, and without whole hides (`nest.accounts.estimate`). It grows
steadily from size to size, and is what quotations rest on. The cost of a plan is what the hides it opens cost.

The difference has names. For one style and size the cost of a good pair is a sum of products:

    pairs cut a good pair × (leather a pair cut × price of the leather less break
                             + reinforcement a pair cut × price less break + everything else a pair cut)

with freight and duty in the prices, all of it times what overhead and margin add. Leather a pair cut of the plan = the
estimate on the stock × (on the hides used ÷ on the stock) × (as placed ÷ on the hides used) × (charged ÷ as placed).
What each factor changes is its share by the Shapley value, as in `nest.accounts.compare`; the shares add up exactly.
*As placed* charges the least used hide of each leather only for what its pieces take at the yield of the others; where
there is no other, at the yield of the estimate.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from math import fsum, sqrt

from geometry.precision import GeometryError
from nest.accounts.areas import MaterialUse
from nest.accounts.asjob import as_job, ground_of_plan
from nest.accounts.beside import least_used
from nest.accounts.charges import WHOLE, Charge, ChargeKind, times, unit_mm2
from nest.accounts.compare import shapley
from nest.accounts.estimate import Cell, Estimates, GroundOf, JobEstimate, estimate_job, lattice_cell
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.accounts.pair_charges import PairEstimate
from nest.accounts.sheet import CostSheet
from nest.errors import InputProblems, PlanProblem
from nest.job.job import Job
from nest.perpair.needs import interval_percent
from nest.perpair.use import ground_of
from nest.pieces.piece import Role
from nest.plan import Plan

Key = tuple[str, str]


class Reason(StrEnum):
    """Why a pair of a plan does not cost what it costs by the standard."""

    MIX = "mix of hides"
    """The hides used are dearer or cheaper, better or worse than the mean of the stock."""
    BREAKS = "price breaks"
    """Whole hides and lays reach another break than what the pairs take."""
    PART_USED = "part-used hides"
    REJECTS = "rounding of rejects"
    """Whole pairs are cut for rejects, in sizes that they happen to fall on; and pairs over the order."""
    SEARCH = "search cut short"
    """Layouts less dense than the estimate expects of these hides; below zero where they are denser."""
    LAYS = "lays as spread"
    REST = "time, scrap and set-up as planned"


_REASONS = tuple(Reason)


@dataclass(frozen=True, slots=True)
class StandardRow:
    """One style and size ("" for all of a style, of the order): a good pair by the standard and in the plan.

    good : pairs that the plan gives. reasons : as in Reason, of a good pair; they add up to plan − standard.
    standard_all, plan_all, reasons_all : the same of all good pairs; sizes add up to styles and to the order.
    error : half the 95 % interval of the standard cost of a good pair; None where it is a guess.
    """

    style: str
    size: str
    good: Fraction
    standard: Decimal | None
    plan: Decimal | None
    reasons: tuple[Decimal, ...] | None
    standard_all: Decimal
    plan_all: Decimal
    reasons_all: tuple[Decimal, ...]
    error: Decimal | None

    def reason(self, reason: Reason) -> Decimal | None:
        """What one reason adds to a good pair."""
        return None if self.reasons is None else self.reasons[_REASONS.index(reason)]


@dataclass(frozen=True, slots=True)
class StandardBeside:
    """The standard cost beside that of a plan, by size, by style, then of the order."""

    currency: str
    rows: tuple[StandardRow, ...]
    estimate: JobEstimate
    error_percent: Mapping[str, float]
    """By leather: half the 95 % interval of what pairs take of it."""

    @property
    def order(self) -> StandardRow:
        """The order's row."""
        return self.rows[-1]

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Reasons that make a difference anywhere."""
        return tuple(
            reason for i, reason in enumerate(_REASONS)
            if any(row.reasons_all[i] or (row.reasons and row.reasons[i]) for row in self.rows)
        )


def job_standard(
    job: Job, cell: Cell = lattice_cell, title: str = "estimate", ground: GroundOf = ground_of,
    estimates: Estimates | None = None,
) -> StandardBeside:
    """The standard cost of a job beside its estimate, `.estimate.sheet`, which rounds rejects to whole pairs.

    Arguments and errors as `nest.accounts.estimate.estimate_job`.
    """
    found = estimate_job(job, cell, title, ground, estimates=estimates)
    why = {}
    for row in found.sheet.sizes:
        key = row.style, row.size
        if row.pairs.good:
            now, then = _Makeup.of(found.standard, key), _Makeup.of(found.sheet, key)
            mine = _reasons(now, then, now.area, then.area)
            # Styles that share hides take a trifle more or less of everything where pairs are rounded.
            trifles = (Reason.SEARCH, Reason.REST)
            mine[Reason.REJECTS] += sum(mine[reason] for reason in trifles)
            why[key] = mine | dict.fromkeys(trifles, Fraction(0))
    errors = standard_errors(job, found)
    return StandardBeside(job.settings.currency, _rows(found.sheet, found, why, errors), found, errors)


def plan_standard(plan: Plan, cell: Cell = lattice_cell) -> JobEstimate | None:
    """The estimate behind the standard cost of a plan's job; None where none can be made of its pieces and hides."""
    try:
        return estimate_job(as_job(plan), cell, plan.name, ground_of_plan(plan), made=plan.pieces)
    except (PlanProblem, InputProblems, GeometryError):
        return None


def standard_beside(
    plan: Plan, uses: Sequence[MaterialUse], sheet: CostSheet, cell: Cell = lattice_cell
) -> StandardBeside | None:
    """The standard cost beside the cost sheet of a plan; None where there is no estimate of it.

    Parameters
    ----------
    uses : what its hides and lays give, `nest.accounts.areas`; sheet : its cost sheet
    """
    found = plan_standard(plan, cell)
    if found is None:
        return None
    on_used, unused = _on_hides_used(plan, uses, cell), _left_of_part_used(plan, uses, found)
    why = {}
    for row in sheet.sizes:
        key = row.style, row.size
        if row.pairs.good and row.pairs.cut and key in found.takes:
            now = _Makeup.of(found.standard, key)
            then = _Makeup.of(sheet, key)
            mixed = Fraction(on_used[key].leather_mm2) if key in on_used else now.area
            why[key] = _reasons(now, then, mixed, then.area - unused.get(key, Fraction(0)) / row.pairs.cut)
    errors = standard_errors(as_job(plan), found)
    return StandardBeside(sheet.currency, _rows(sheet, found, why, errors), found, errors)


def standard_errors(job: Job, found: JobEstimate) -> dict[str, float]:
    """Half the 95 % interval of what the order's pairs take of each leather, percent."""
    errors = {}
    for leather in job.leathers:
        styles = {style.name for style in job.styles if style.leather == leather.name}
        mine = [one for one in found.takes.values() if one.style in styles]
        if mine:
            hides = any(hide.leather == leather.name for hide in job.hides)
            taken = fsum(float(found.standard.row(*one.key).pairs.cut) * one.leather_mm2 for one in mine)
            errors[leather.name] = interval_percent(
                hides, len({one.ground.fit for one in mine}), taken / mine[0].ground.hide_mm2
            )
    return errors


def pair_error(sheet: CostSheet, errors: Mapping[str, float], style: str = "", size: str = "") -> Decimal | None:
    """Half the 95 % interval of a good pair of the standard cost: errors of the leathers are independent."""
    row = sheet.row(style, size)
    if not row.pairs.good:
        return None
    by_leather: dict[str, Fraction] = {}
    factor = times(sheet.charges)  # what is added in percent is as unsure as the leather under it
    for charge in sheet.charges:
        if charge.kind is ChargeKind.LEATHER and style in ("", charge.style) and size in ("", charge.size):
            by_leather[charge.stock] = by_leather.get(charge.stock, Fraction(0)) + factor(charge) * charge.exact
    squares = fsum((float(amount) * errors[name] / 100.0) ** 2 for name, amount in by_leather.items())
    return rounded(Fraction(sqrt(squares)) / row.pairs.good, minor_digits(sheet.currency))


@dataclass(frozen=True, slots=True)
class _Makeup:
    """The numbers behind a good pair.

    cut : pairs cut for it. area, length, rest : mm², metres, and all other money of a pair cut.
    price, roll_price : before breaks, freight and duty in them; paid, roll_paid : the share that is left after breaks.
    times : what overhead and margin make of it.
    """

    cut: Fraction
    area: Fraction
    price: Fraction
    paid: Fraction
    length: Fraction
    roll_price: Fraction
    roll_paid: Fraction
    rest: Fraction
    times: Fraction

    @classmethod
    def of(cls, sheet: CostSheet, key: Key) -> "_Makeup":
        """Of the charges of one style and size."""
        pairs = sheet.row(*key).pairs
        mine = [charge for charge in sheet.charges if charge.key == key]
        on_rolls = {charge.stock for charge in mine if charge.kind is ChargeKind.REINFORCEMENT}
        groups: dict[str, list[Charge]] = {"leather": [], "roll": [], "rest": [], "whole": []}
        for charge in mine:
            name = charge.stock or charge.on
            group = "rest" if not name else "roll" if name in on_rolls else "leather"
            groups["whole" if charge.kind in WHOLE else group].append(charge)
        sums = {name: sum((one.exact for one in group), Fraction(0)) for name, group in groups.items()}
        area = sum((one.quantity * unit_mm2(one.unit) for one in groups["leather"] if one.stock), Fraction(0))
        length = sum((one.quantity for one in groups["roll"] if one.stock), Fraction(0))
        costs = sums["leather"] + sums["roll"] + sums["rest"]
        return cls(
            pairs.cut / pairs.good, area / pairs.cut, *_prices(groups["leather"], area), length / pairs.cut,
            *_prices(groups["roll"], length), sums["rest"] / pairs.cut,
            1 + sums["whole"] / costs if costs else Fraction(1),
        )


def _prices(charges: Sequence[Charge], quantity: Fraction) -> tuple[Fraction, Fraction]:
    """Price before breaks with what is added to it, and the share of it that is left after breaks."""
    listed = sum((one.quantity * one.price for one in charges if one.stock), Fraction(0))
    paid = sum((one.exact for one in charges if one.stock), Fraction(0))
    added = sum((one.exact for one in charges), Fraction(0)) / paid if paid else Fraction(1)
    return added * listed / quantity if quantity else Fraction(0), paid / listed if listed else Fraction(1)


def _reasons(now: _Makeup, then: _Makeup, on_used: Fraction, placed: Fraction) -> dict[Reason, Fraction]:
    """What each reason adds to a good pair, from the standard to the plan; `on_used` and `placed` in mm² a pair cut."""
    found = dict.fromkeys(Reason, Fraction(0))

    def share(players: Sequence[Reason], value: Callable[[set[Reason]], Fraction]) -> None:
        amounts = shapley(lambda chosen: value({players[i] for i in chosen}), len(players))
        for player, amount in zip(players, amounts, strict=True):
            found[player] += amount

    def side(name: str, reason: Reason, changed: set[Reason]) -> Fraction:
        return Fraction(getattr(then if reason in changed else now, name))

    def leather(changed: set[Reason]) -> Fraction:
        taken = on_used if Reason.MIX in changed else now.area
        taken *= placed / on_used if Reason.SEARCH in changed else 1
        taken *= then.area / placed if Reason.PART_USED in changed else 1
        return (side("cut", Reason.REJECTS, changed) * taken * side("price", Reason.MIX, changed)
                * side("paid", Reason.BREAKS, changed))

    def backing(changed: set[Reason]) -> Fraction:
        return (side("cut", Reason.REJECTS, changed) * side("length", Reason.LAYS, changed)
                * side("roll_price", Reason.MIX, changed) * side("roll_paid", Reason.BREAKS, changed))

    share((Reason.REJECTS, Reason.MIX, Reason.SEARCH, Reason.PART_USED, Reason.BREAKS), leather)
    share((Reason.REJECTS, Reason.LAYS, Reason.MIX, Reason.BREAKS), backing)
    share((Reason.REJECTS, Reason.REST),
          lambda changed: side("cut", Reason.REJECTS, changed) * side("rest", Reason.REST, changed))
    return {reason: then.times * amount for reason, amount in found.items()}


def _on_hides_used(plan: Plan, uses: Sequence[MaterialUse], cell: Cell) -> Mapping[Key, PairEstimate]:
    """What pairs take by estimate on the hides that the plan uses; empty where that cannot be estimated."""
    used = {use.material_id for use in uses if use.role is Role.VAMP}
    job = as_job(plan)
    if len(used) == len(job.hides):
        return {}
    less = replace(job, hides=tuple(hide for hide in job.hides if hide.hide_id in used))
    try:
        return estimate_job(less, cell, ground=ground_of_plan(plan), made=plan.pieces).takes
    except (PlanProblem, InputProblems, GeometryError):
        return {}


def _left_of_part_used(plan: Plan, uses: Sequence[MaterialUse], found: JobEstimate) -> dict[Key, Fraction]:
    """Leather charged for what the least used hide of each leather has left, by who pays for it, mm²."""
    leather_of = {hide.hide_id: hide.leather for hide in plan.hides}
    groups: dict[str, list[MaterialUse]] = {}
    for use in uses:
        if use.role is Role.VAMP:
            groups.setdefault(leather_of[use.material_id], []).append(use)
    left: dict[Key, Fraction] = {}
    for mine in groups.values():
        least, others = least_used(mine)
        if others:
            share = fsum(one.account.rough_mm2 for one in others) / fsum(one.paid_mm2 for one in others)
            needed = least.account.rough_mm2 / share
        else:
            needed = fsum(part.pieces / 2.0 * found.takes[part.style, part.size].leather_mm2 for part in least.sizes
                         if (part.style, part.size) in found.takes)
        for part in least.sizes:
            left[part.style, part.size] = Fraction(max(0.0, least.paid_mm2 - needed)) * Fraction(part.share)
    return left


def _rows(
    sheet: CostSheet, found: JobEstimate, why: Mapping[Key, Mapping[Reason, Fraction]], errors: Mapping[str, float]
) -> tuple[StandardRow, ...]:
    """Rows of sizes, of styles, of the order; only sizes of which the plan gives good pairs."""
    digits = minor_digits(sheet.currency)
    nil = rounded(Fraction(0), digits)
    good = {key: sheet.row(*key).pairs.good for key in why}
    price = {key: found.standard.row(*key).pair_price for key in why}
    whole = {key: sheet.row(*key).total for key in why}
    parts = [price[key] * good[key] for key in why]
    shown = dict(zip(why, apportioned(parts, rounded(sum(parts, Fraction(0)), digits), digits), strict=True))
    split = {key: apportioned([amount * good[key] for amount in why[key].values()], whole[key] - shown[key], digits)
             for key in why}
    groups = {key: [key] for key in why}
    groups |= {(style, ""): [key for key in why if key[0] == style] for style in dict.fromkeys(key[0] for key in why)}
    groups["", ""] = list(why)
    rows = []
    for name, keys in groups.items():
        pairs = sum((good[key] for key in keys), Fraction(0))
        all_of = [sum((split[key][i] for key in keys), nil) for i in range(len(Reason))]
        standard = plan = reasons = error = None
        if pairs:
            exact = [sum(why[key][reason] * good[key] for key in keys) / pairs for reason in Reason]
            standard = rounded(sum(price[key] * good[key] for key in keys) / pairs, digits)
            plan = rounded(sum(sheet.row(*key).exact for key in keys) / pairs, digits)
            reasons = apportioned(exact, plan - standard, digits)
            error = pair_error(found.standard, errors, *name)
        rows.append(StandardRow(
            *name, pairs, standard, plan, reasons, sum((shown[key] for key in keys), nil),
            sum((whole[key] for key in keys), nil), tuple(all_of), error,
        ))
    return tuple(rows)
