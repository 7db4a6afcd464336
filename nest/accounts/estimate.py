"""What a job costs before anything is placed: by the lattices of each piece, as the quick estimate has it.

Leather for a pair is that of `nest.perpair`, to the last digit what `nest.estimate` says: the parallelogram, and the
edge model for the hides in stock, else for mean area and unfit ground as the leather states them, else of usual sides;
styles of one leather share its hides.

Reinforcement for a pair: its parallelogram, without half turns off a one-way roll, ÷ usable width of the roll, with end
losses as of one ply as long as the roll; rows on the roll, as `nest.estimate` counts them, would jump where a
millimetre changes how many lie side by side, and what-ifs price millimetres. Cutting: cut lines at the table's speed
and one lift of the tool a piece, one ply deep, without travel. `pair_charges.py` puts prices to all of it.
"""

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from geometry.lattice import densest_double_lattice, densest_translation_lattice
from geometry.polygon import area, edge_lengths
from geometry.processors import for_all
from nest.accounts.charges import Pairs, complete
from nest.accounts.pair_charges import PairEstimate, PairsOf, TakenOf, pair_charges
from nest.accounts.sheet import CostSheet, cost_sheet
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.job.rates import said
from nest.perpair.measures import interlock
from nest.perpair.shared import Demand, shared
from nest.perpair.use import KnownGround, ground_of, leather_use, mean_hide_mm2
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import ordered_quantities, reject_percents
from nest.pieces.remembered import Make
from nest.pieces.style import Style
from nest.stock.material import Hide, Leather, Roll
from nest.units import MM2_PER_DM2

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
    made simpler for looking at ground take. `make` may be a memory of pieces that the estimate is asked with too: then
    no size is made twice.
    """

    def __init__(self, job: Job, make: Make | None = None):
        self._own, self._job, self._make = {style.name: style for style in job.styles}, job, make
        self._known: dict[tuple[Hashable, ...], KnownGround] = {}

    def __call__(self, leather: Leather, hides: Sequence[Hide], style: Style, margin_mm: float) -> KnownGround:
        """The ground, as `nest.perpair.use.ground_of` has it of the job's own pattern under the rules of `style`."""
        own = replace(self._own[style.name], rules=style.rules)
        if not hides:
            return ground_of(leather, hides, own, margin_mm)
        key = style.name, style.rules, leather.one_way, margin_mm, tuple(hide.hide_id for hide in hides)
        if key not in self._known:
            made: Sequence[Piece] = ()
            if self._make:
                ordered = [size for name, size in whole_pairs(self._job) if name == style.name]
                made = self._make(own, ordered)[0] if own.grading.base_size in ordered else ()
            self._known[key] = ground_of(leather, hides, own, margin_mm, made)
        return self._known[key]


Estimates = Callable[[Job, Style, Sequence[str], Cell, dict[str, None], GroundOf], list[PairEstimate]]
"""As `pair_estimates`, the first six of its arguments."""


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
    alone, notes = _each_alone(job, cell, ground, (), estimates)
    return _sheet(job, whole_pairs(job), alone, title, notes, priced_as)[0]


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
    alone, notes = _each_alone(job, cell, ground, made, estimates)
    sheet, _ = _sheet(job, whole_pairs(job), alone, title, notes, priced_as)
    return JobEstimate(sheet, *_sheet(job, pairs_at_rate(job), alone, title, notes, priced_as))


def whole_pairs(job: Job) -> dict[tuple[str, str], Pairs]:
    """Pairs of each style and size as they are cut, whole pairs for rejects among them; those ordered are good."""
    lines = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    return {(line.style, line.size): Pairs(Fraction(line.pairs_to_cut), Fraction(line.pairs_wanted)) for line in lines}


def pairs_at_rate(job: Job) -> dict[tuple[str, str], Pairs]:
    """The same with rejects at their rate, no pair rounded."""
    good = {name: 1 - Fraction(str(rate)) / 100 for name, rate in reject_percents(job.styles).items()}
    return {key: Pairs(pairs.good / good[key[0]], pairs.good) for key, pairs in whole_pairs(job).items()}


def _each_alone(
    job: Job, cell: Cell, ground: GroundOf, made: Sequence[Piece], estimates: Estimates | None
) -> tuple[dict[tuple[str, str], PairEstimate], dict[str, None]]:
    """What pairs take where each style has its hides to itself, by style and size; and notes."""
    notes: dict[str, None] = {}
    found: list[PairEstimate] = []
    ordered = whole_pairs(job)
    for style in job.styles:
        sizes = [size for name, size in ordered if name == style.name]
        if estimates is None:
            mine = [piece for piece in made if piece.style == style.name]
            found += pair_estimates(job, style, sizes, cell, notes, ground, mine)
        else:
            found += estimates(job, style, sizes, cell, notes, ground)
    notes |= dict.fromkeys(said(job.leathers, job.rolls, job.settings.currency))
    if job.settings.costing.labour_per_hour:
        notes["Cutting time is that of cut lines and lifts, one ply deep; travel is not known before placing."] = None
    return {one.key: one for one in found}, notes


def _sheet(
    job: Job, pairs: Mapping[tuple[str, str], Pairs], alone: Mapping[tuple[str, str], PairEstimate], title: str,
    notes: Mapping[str, None], priced_as: Mapping[str, Sequence[Hide]] | None,
) -> tuple[CostSheet, Mapping[tuple[str, str], PairEstimate]]:
    """Cost sheet of these pairs, and what each takes where styles share hides."""
    takes = _sharing_hides(job, pairs, alone)
    charges = complete(pair_charges(job, pairs, takes, priced_as or {}), job.leathers, job.rolls, job.settings)
    in_order = {key: pairs[key] for key in sorted(pairs)}
    return cost_sheet(charges, in_order, job.settings.currency, title, [*notes]), takes


def _sharing_hides(job: Job, pairs: PairsOf, found: TakenOf) -> dict[tuple[str, str], PairEstimate]:
    """The estimates where styles of one leather lie on hides together."""
    leathers, changed = {style.name: style.leather for style in job.styles}, dict(found)
    for leather in dict.fromkeys(leathers.values()):
        mine = [key for key in found if leathers[key[0]] == leather]
        uses = shared([Demand(key[0], float(pairs[key].cut), found[key].alone, found[key].ground) for key in mine])
        changed |= {key: replace(found[key], use=use) for key, use in zip(mine, uses, strict=True)}
    return changed


def pair_estimates(
    job: Job, style: Style, sizes: Sequence[str], cell: Cell = lattice_cell, notes: dict[str, None] | None = None,
    ground: GroundOf = ground_of, made: Sequence[Piece] = (), *, make: Make = make_pieces,
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
        return _pair(job, by_role[size, Role.VAMP], by_role.get((size, Role.REINFORCEMENT)), leather, roll, known, cell)

    return for_all(of, sizes)


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
    return PairEstimate(vamp.style, vamp.size, use, held_backing, length, cut, cuts, use, ground)
