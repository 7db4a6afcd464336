"""What a job costs before anything is placed: by the lattices of each piece, as the quick estimate has it.

Leather for a pair is that of `nest.perpair`, to the last digit what `nest.estimate` says: the parallelogram, and the
edge model for the hides in stock, else for mean area and unfit ground as the leather states them, else of usual sides;
styles of one leather share its hides. It is charged at the prices of the hides in stock, each class and each price of
its own by its share of their measured area, or at the leather's own.

Reinforcement for a pair: its parallelogram, without half turns off a one-way roll, ÷ usable width of the roll, with end
losses as of one ply as long as the roll; rows on the roll, as `nest.estimate` counts them, would jump where a
millimetre changes how many lie side by side, and what-ifs price millimetres. Cutting: cut lines at the table's speed
and one lift of the tool a piece, one ply deep, without travel.
"""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from geometry.lattice import densest_double_lattice, densest_translation_lattice
from geometry.polygon import area, edge_lengths
from geometry.processors import processor_cores
from nest.accounts.charges import (
    Charge,
    ChargeKind,
    Pairs,
    complete,
    material_of,
    press_charge,
    scrap_charge,
    setup_charge,
    unit_mm2,
    work_charge,
)
from nest.accounts.sheet import CostSheet, cost_sheet
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.job.rates import said
from nest.perpair.measures import interlock
from nest.perpair.shared import Demand, shared
from nest.perpair.use import KnownGround, LeatherUse, ground_of, leather_use, mean_hide_mm2
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import ordered_quantities, reject_percents
from nest.pieces.remembered import Make
from nest.pieces.style import Style
from nest.stock.material import Hide, Leather, Roll
from nest.stock.prices import hide_price
from nest.units import MM2_PER_DM2, MM2_PER_M2

Cell = Callable[[np.ndarray, float], tuple[float, float]]
"""`cell(ring, gap)`: area that holds two pieces in the best double lattice, and in the best one without turns, mm²."""


def lattice_cell(ring: np.ndarray, gap: float) -> tuple[float, float]:
    """The parallelograms of the best double lattice and of the best lattice by translations alone."""
    both = 2.0 * area(ring)
    return both / densest_double_lattice(ring, gap).density, both / densest_translation_lattice(ring, gap).density


GroundOf = Callable[[Leather, Sequence[Hide], Style, float], KnownGround]
"""`ground(leather, hides, style, edge margin in mm)`: what is known of a leather for one style."""


class GroundMemory:
    """Ground that the patterns of a job find on its hides, worked out once; for the job and for changes of it.

    A change of a millimetre is costed on the ground that the job's own pattern finds: it tells less than the outlines
    made simpler for looking at ground take.
    """

    def __init__(self, job: Job):
        self._own = {style.name: style for style in job.styles}
        self._known: dict[tuple, KnownGround] = {}

    def __call__(self, leather: Leather, hides: Sequence[Hide], style: Style, margin_mm: float) -> KnownGround:
        """The ground, as `nest.perpair.use.ground_of` has it of the job's own pattern under the rules of `style`."""
        own = replace(self._own[style.name], rules=style.rules)
        if not hides:
            return ground_of(leather, hides, own, margin_mm)
        key = style.name, style.rules, leather.one_way, margin_mm, tuple(hide.hide_id for hide in hides)
        if key not in self._known:
            self._known[key] = ground_of(leather, hides, own, margin_mm)
        return self._known[key]


@dataclass(frozen=True, slots=True)
class PairEstimate:
    """What one pair of a style and size takes: leather in mm², reinforcement off its roll in mm; for a pair cut.

    alone, use : where its style has the hides to itself, and where styles of one leather share them.
    """

    style: str
    size: str
    use: LeatherUse
    backing_mm2: float
    roll_mm: float
    cut_mm: float
    """Length of all cut lines of the pair."""
    cuts: int
    alone: LeatherUse
    ground: KnownGround

    @property
    def key(self) -> tuple[str, str]:
        """Style and size."""
        return self.style, self.size

    @property
    def leather_mm2(self) -> float:
        """Leather for the pair."""
        return self.use.material_mm2


Estimates = Callable[[Job, Style, Sequence[str], Cell, dict[str, None], GroundOf], list[PairEstimate]]
"""As `pair_estimates`, the first six of its arguments."""


@dataclass(frozen=True, slots=True)
class PricedShare:
    """Hides of one price: their share of the measured area of all, 0..1, and what they are charged at."""

    share: Fraction
    material: str
    price: Fraction
    unit: str
    own_price: bool


def priced_shares(leather: Leather, hides: Sequence[Hide]) -> tuple[PricedShare, ...]:
    """Prices of a leather by the hides given, each with its share of their measured area; its own price without any."""
    if not hides:
        return (PricedShare(Fraction(1), leather.name, Fraction(leather.price), leather.price_unit, False),)
    whole = sum(Fraction(hide.measured_area_mm2) for hide in hides)
    shares: dict[tuple, Fraction] = {}
    for hide in hides:
        price, unit = hide_price(hide, leather)
        key = material_of(hide), Fraction(price), unit, hide.price is not None
        shares[key] = shares.get(key, Fraction(0)) + Fraction(hide.measured_area_mm2) / whole
    return tuple(PricedShare(share, *key) for key, share in shares.items())


@dataclass(frozen=True, slots=True)
class JobEstimate:
    """A job costed by estimate.

    sheet : whole pairs cut for rejects, as the order's plan will have them.
    standard : the standard cost: rejects at their rate, no pair rounded; see `nest.accounts.standard`.
    takes : what a pair of each style and size takes, by the standard.
    """

    sheet: CostSheet
    standard: CostSheet
    takes: Mapping[tuple[str, str], PairEstimate]


def estimate_sheet(
    job: Job, cell: Cell = lattice_cell, title: str = "estimate", ground: GroundOf = ground_of,
    priced_as: Mapping[str, Sequence[Hide]] | None = None, estimates: Estimates | None = None,
) -> CostSheet:
    """Cost sheet of a job by estimate, with whole pairs cut for rejects; arguments and errors as `estimate_job`."""
    return estimate_job(job, cell, title, ground, priced_as, estimates=estimates).sheet


def estimate_job(
    job: Job, cell: Cell = lattice_cell, title: str = "estimate", ground: GroundOf = ground_of,
    priced_as: Mapping[str, Sequence[Hide]] | None = None, made: Sequence[Piece] = (),
    estimates: Estimates | None = None,
) -> JobEstimate:
    """Cost a job by estimate.

    priced_as : by style, hides whose classes its leather is priced by where none of it is in stock.
    made : pieces of every style and size that is ordered, where they are made already.
    estimates : what the pairs of a style take; by default `pair_estimates`.

    Raises
    ------
    InputProblems
        If pieces cannot be made from a style.
    PlanProblem
        If nothing is ordered, or the edge model leaves no yield.
    """
    lines = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    notes: dict[str, None] = {}
    alone: dict[tuple[str, str], PairEstimate] = {}
    for style in job.styles:
        sizes = [line.size for line in lines if line.style == style.name]
        if estimates is None:
            mine = [piece for piece in made if piece.style == style.name]
            found = pair_estimates(job, style, sizes, cell, notes, ground, mine)
        else:
            found = estimates(job, style, sizes, cell, notes, ground)
        alone |= {one.key: one for one in found}
    notes |= dict.fromkeys(said(job.leathers, job.rolls, job.settings.currency))
    if job.settings.costing.labour_per_hour:
        notes["Cutting time is that of cut lines and lifts, one ply deep; travel is not known before placing."] = None
    keys = sorted((line.style, line.size) for line in lines)
    cut = {(line.style, line.size): Fraction(line.pairs_to_cut) for line in lines}
    rates = reject_percents(job.styles)
    sheets = []
    for good_share in (None, {name: 1 - Fraction(str(rate)) / 100 for name, rate in rates.items()}):
        pairs = {}
        for line in lines:
            key, wanted = (line.style, line.size), Fraction(line.pairs_wanted)
            pairs[key] = Pairs(cut[key] if good_share is None else wanted / good_share[line.style], wanted)
        takes = _sharing_hides(job, pairs, alone)
        charges = complete([
            *_leather_charges(job, pairs, takes, priced_as or {}), *_roll_charges(job, pairs, takes),
            *_work_charges(job, pairs, takes),
        ], job.leathers, job.rolls, job.settings)
        sheets.append(cost_sheet(charges, {key: pairs[key] for key in keys}, job.settings.currency, title, [*notes]))
    return JobEstimate(*sheets, takes)


def _sharing_hides(job: Job, pairs, found: Mapping[tuple[str, str], PairEstimate]):
    """The estimates where styles of one leather lie on hides together."""
    leathers, changed = {style.name: style.leather for style in job.styles}, dict(found)
    for leather in dict.fromkeys(leathers.values()):
        mine = [key for key in found if leathers[key[0]] == leather]
        uses = shared([Demand(key[0], float(pairs[key].cut), found[key].alone, found[key].ground) for key in mine])
        changed |= {key: replace(found[key], use=use) for key, use in zip(mine, uses, strict=True)}
    return changed


def pair_estimates(
    job: Job, style: Style, sizes: Sequence[str], cell: Cell = lattice_cell, notes: dict[str, None] | None = None,
    ground: GroundOf = ground_of, made: Sequence[Piece] = (), make: Make = make_pieces,
) -> list[PairEstimate]:
    """Estimates of each size of one style that has its hides to itself, of pieces `made` if they are.

    `notes` grows by what they leave out.
    """
    if not sizes:
        return []
    notes = {} if notes is None else notes
    leather = next(one for one in job.leathers if one.name == style.leather)
    roll = next((one for one in job.rolls if one.roll_id == style.roll), None)
    hides = [hide for hide in job.hides if hide.leather == leather.name]
    known = ground(leather, hides, style, job.settings.edge_room_mm)
    notes[f"{leather.name}, {style.name}: edge model for hides of {known.hide_mm2 / MM2_PER_DM2:.0f} dm²; "
          f"{known.method}."] = None
    pieces = made or make(style, sizes)[0]
    by_role: dict[tuple[str, Role], Piece] = {
        (piece.size, piece.role): piece for piece in reversed(pieces) if piece.foot is not Foot.RIGHT
    }

    def of(size: str) -> PairEstimate:
        return _pair(
            job, by_role[size, Role.VAMP], by_role.get((size, Role.REINFORCEMENT)), leather, roll, known, cell
        )

    with ThreadPoolExecutor(processor_cores()) as pool:
        return list(pool.map(of, sizes))


def known_hide_mm2(job: Job, leather: Leather) -> float | None:
    """Mean area of the hides of a leather in stock, or as stated; None if neither is known."""
    hides = [hide for hide in job.hides if hide.leather == leather.name]
    return mean_hide_mm2(leather, hides) if hides or leather.mean_hide_mm2 else None


def _pair(
    job: Job, vamp: Piece, backing: Piece | None, leather: Leather, roll: Roll | None, ground: KnownGround, cell: Cell
) -> PairEstimate:
    rough = area(vamp.cut_outline)
    turned, straight = (2.0 * rough / held for held in cell(vamp.cut_outline, job.settings.hide_apart_mm))
    locked = interlock(vamp, straight, None if leather.one_way else turned)
    use = leather_use(locked, ground)
    if use is None:
        raise PlanProblem(
            f"no yield can be estimated for pieces of {rough / MM2_PER_DM2:.1f} dm² on hides of "
            f"{ground.hide_mm2 / MM2_PER_DM2:.0f} dm²; place the job instead."
        )
    cut, cuts = 2.0 * float(edge_lengths(vamp.cut_outline).sum()), 2
    held_backing = length = 0.0
    if backing is not None and roll is not None:
        turned, straight = cell(backing.cut_outline, job.settings.roll_apart_mm)
        held_backing = straight if roll.one_way else min(turned, straight)
        length = held_backing / roll.usable_width_mm
        length *= roll.length_mm / (roll.length_mm - 2.0 * roll.end_loss_mm)
        cut, cuts = cut + 2.0 * float(edge_lengths(backing.cut_outline).sum()), 4
    return PairEstimate(
        vamp.style, vamp.size, use, held_backing, length, cut, cuts, use, ground,
    )


def _leather_charges(job: Job, pairs, found, priced_as) -> list[Charge]:
    charges, styles = [], {style.name: style for style in job.styles}
    scrap = job.settings.costing.scrap_per_m2
    leathers = {leather.name: leather for leather in job.leathers}
    for key, number in pairs.items():
        one, leather = found[key], leathers[styles[key[0]].leather]
        hides = [hide for hide in job.hides if hide.leather == leather.name] or priced_as.get(key[0], ())
        source = (f"estimate: {one.use.parallelogram_mm2 / MM2_PER_DM2:.2f} dm² parallelogram, "
                  f"{one.leather_mm2 / MM2_PER_DM2:.2f} dm² with waste, a pair of {key[0]} {key[1]}")
        taken = number.cut * Fraction(one.leather_mm2)
        charges += [
            Charge(*key, ChargeKind.LEATHER, source, taken * part.share / unit_mm2(part.unit), part.unit, part.price,
                   part.material, leather.name, part.own_price)
            for part in priced_shares(leather, hides)
        ]
        if scrap:
            left = number.cut * Fraction(one.leather_mm2 - one.use.rough_mm2) / Fraction(MM2_PER_M2)
            charges.append(scrap_charge(key, source, left, scrap))
    return charges


def _roll_charges(job: Job, pairs, found) -> list[Charge]:
    charges, styles = [], {style.name: style for style in job.styles}
    rolls = {roll.roll_id: roll for roll in job.rolls}
    for key, number in pairs.items():
        roll = rolls.get(styles[key[0]].roll)
        if roll is None:
            continue
        source = (f"estimate: {found[key].backing_mm2 / MM2_PER_DM2:.2f} dm² parallelogram over "
                  f"{roll.usable_width_mm:.0f} mm, a pair of {key[0]} {key[1]}")
        quantity = number.cut * Fraction(found[key].roll_mm) / 1000
        charges.append(Charge(*key, ChargeKind.REINFORCEMENT, source, quantity, "m", Fraction(roll.price_per_m),
                              roll.roll_id, roll.roll_id, role=Role.REINFORCEMENT))
    return charges


def _work_charges(job: Job, pairs, found) -> list[Charge]:
    """Cutting, set-up and pressing; a pair its part of a hide, and of a lay as long as its roll."""
    costing, table = job.settings.costing, job.settings.table
    rolls = {style.name: next((roll for roll in job.rolls if roll.roll_id == style.roll), None) for style in job.styles}
    charges = []
    for key, number in pairs.items():
        one, roll = found[key], rolls[key[0]]
        source = f"estimate: {one.cut_mm / 1000.0:.2f} m of cut lines, a pair of {key[0]} {key[1]}"
        if costing.labour_per_hour:
            seconds = Fraction(one.cut_mm / table.cut_mm_s + one.cuts * table.lift_s)
            charges.append(work_charge(key, source, number.cut * seconds / 3600, costing.labour_per_hour))
        if costing.setup_per_hide:
            hides = number.cut * Fraction(one.leather_mm2) / Fraction(one.ground.hide_mm2)
            charges.append(setup_charge(key, source, hides, costing.setup_per_hide, Role.VAMP))
        if costing.setup_per_lay and roll is not None:
            lays = number.cut * Fraction(one.roll_mm) / Fraction(roll.length_mm)
            charges.append(setup_charge(key, source, lays, costing.setup_per_lay, Role.REINFORCEMENT))
        if costing.press_per_hour and costing.press_s_per_pair:
            charges.append(press_charge(key, source, number.cut, costing))
    return charges
