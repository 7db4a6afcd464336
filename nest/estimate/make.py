"""The quick estimate of a job: material by style and size, each line with the method that gave it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from nest.errors import InputProblems
from nest.job.job import Job, Style
from nest.perpair.edge import FEW_PIECES
from nest.perpair.measures import RollRows, interlocks, roll_rows
from nest.perpair.use import LeatherUse, ground_of, leather_use, mean_hide_mm2
from nest.pieces.make import make_pieces
from nest.pieces.order import CutQuantity, ordered_quantities
from nest.pieces.piece import Foot, Piece, Role
from nest.stock.material import Roll


@dataclass(frozen=True, slots=True)
class RollUse:
    """Reinforcement for one pair: area of both pieces, length of roll, outlines side by side, and the method.

    end_mm : length that the ragged ends of a lay take beyond that.
    """

    pieces_mm2: float
    length_mm: float
    across: float
    density: float
    end_mm: float
    method: str


@dataclass(frozen=True, slots=True)
class SizeEstimate:
    """One style and size: pairs, pieces, and material of a pair; None where nothing can be cut or nothing is wanted.

    left, right, either : vamps to cut; as many reinforcements where the style is backed.
    """

    style: str
    size: str
    pairs_wanted: int
    pairs_to_cut: int
    left: int
    right: int
    either: int
    leather: LeatherUse | None
    roll: RollUse | None


@dataclass(frozen=True, slots=True)
class RollTotal:
    """One roll: length for all pieces in one lay, with its ragged end and end losses; what the roll holds."""

    roll_id: str
    length_mm: float
    held_mm: float


@dataclass(frozen=True, slots=True)
class LeatherTotal:
    """One leather: area for all pairs to cut, mean area of a hide, and so many hides on the mean."""

    leather: str
    material_mm2: float
    hide_mm2: float

    @property
    def hides(self) -> int:
        """Hides that the mean comes to, rounded up; no spread is reckoned with."""
        return ceil(self.material_mm2 / self.hide_mm2 - 1e-9)


@dataclass(frozen=True, slots=True)
class QuickEstimate:
    """The estimate of a job."""

    name: str
    sizes: tuple[SizeEstimate, ...]
    leathers: tuple[LeatherTotal, ...]
    rolls: tuple[RollTotal, ...]
    warnings: tuple[str, ...]


def quick_estimate(job: Job) -> QuickEstimate:
    """Estimate leather and reinforcement of an order without placing anything.

    Leather: each rough vamp in its densest lattice under the gap gives the parallelogram and the first waste; the edge
    model of `nest.perpair.edge` the second, from what the vamp of the base size reaches on the job's hides of that
    leather if it has any, else from their mean area; the share of unfit ground the third, from the hides, else as the
    leather states it, else flat. Rolls: rows of the reinforcement over the width.

    Raises
    ------
    InputProblems
        Every piece that cannot be made.
    PlanProblem
        If nothing is ordered.
    """
    quantities = ordered_quantities(job.order, job.styles)
    sizes: list[SizeEstimate] = []
    warnings = list(job.warnings)
    problems = []
    for style in job.styles:
        mine = [line for line in quantities if line.style == style.name]
        if not mine:
            continue
        try:
            pieces, said = make_pieces(style, [line.size for line in mine])
        except InputProblems as error:
            problems += error.problems
            continue
        warnings += said
        sizes += _of_style(job, style, mine, pieces, warnings)
    if problems:
        raise InputProblems(problems)
    return QuickEstimate(
        job.name, tuple(sizes), _leather_totals(job, sizes), _roll_totals(job, sizes), tuple(dict.fromkeys(warnings))
    )


def _of_style(
    job: Job, style: Style, mine: Sequence[CutQuantity], pieces: Sequence[Piece], warnings: list[str]
) -> list[SizeEstimate]:
    def one_of_each(role: Role) -> dict[str, Piece]:
        return {piece.size: piece for piece in pieces if piece.role is role and piece.foot is not Foot.RIGHT}

    vamps, backs = one_of_each(Role.VAMP), one_of_each(Role.REINFORCEMENT)
    leather = next(one for one in job.leathers if one.name == style.leather)
    hides = [hide for hide in job.hides if hide.leather == leather.name]
    ground = ground_of(leather, hides, style, job.settings.edge_room_mm, pieces)
    apart = job.settings.hide_apart_mm
    locked = dict(zip(vamps, interlocks(list(vamps.values()), apart, half_turns=not leather.one_way), strict=True))
    largest = max(one.rough_mm2 for one in locked.values())
    if (1.0 - ground.unfit_share) * ground.hide_mm2 < FEW_PIECES * largest:
        warnings.append(
            f"style {style.name}: on the mean a hide has fit ground for fewer than {FEW_PIECES:.0f} of its largest "
            f"vamps; its leather is a rough guess, so place the job before issuing by it"
        )
    rows: dict[str, RollRows | None] = {}
    roll = next((one for one in job.rolls if one.roll_id == style.roll), None)
    if roll is not None:
        within = replace(roll, selvedge_mm=roll.selvedge_mm + job.settings.strip_room_mm)
        found = roll_rows(list(backs.values()), within, style.rules, job.settings.roll_apart_mm)
        rows = dict(zip(backs, found, strict=True))
        wide = [size for size, one in rows.items() if one is None]
        if wide:
            warnings.append(
                f"style {style.name}: the reinforcement of size {', '.join(wide)} is wider than roll {roll.roll_id} at "
                f"every heading tried; use a wider roll"
            )
    estimates = []
    for line in mine:
        use = leather_use(locked[line.size], ground)
        if use is None:
            warnings.append(
                f"style {style.name}, size {line.size}: hides of {ground.hide_mm2 / 1e4:.0f} dm² are too small to "
                f"estimate from; place the job instead"
            )
        single = vamps[line.size].foot is Foot.EITHER
        pair = line.pairs_to_cut
        estimates.append(SizeEstimate(
            line.style, line.size, line.pairs_wanted, pair, 0 if single else pair, 0 if single else pair,
            2 * pair if single else 0, use, _roll_use(rows.get(line.size)),
        ))
    return estimates


def _roll_use(rows: RollRows | None) -> RollUse | None:
    if rows is None:
        return None
    lattice = rows.lattice
    return RollUse(
        2.0 * rows.piece_mm2, 2.0 * lattice.advance, lattice.across, lattice.density, lattice.end, rows.method
    )


def _leather_totals(job: Job, sizes: Sequence[SizeEstimate]) -> tuple[LeatherTotal, ...]:
    by_style = {style.name: style.leather for style in job.styles}
    totals = []
    for leather in job.leathers:
        material = sum(
            one.pairs_to_cut * one.leather.material_mm2
            for one in sizes if one.leather is not None and by_style[one.style] == leather.name
        )
        if material:
            hides = [hide for hide in job.hides if hide.leather == leather.name]
            totals.append(LeatherTotal(leather.name, material, mean_hide_mm2(leather, hides)))
    return tuple(totals)


def _roll_totals(job: Job, sizes: Sequence[SizeEstimate]) -> tuple[RollTotal, ...]:
    by_style = {style.name: style.roll for style in job.styles}
    totals = []
    for roll in job.rolls:
        mine = [one for one in sizes if one.roll is not None and by_style[one.style] == roll.roll_id]
        if mine:
            totals.append(RollTotal(roll.roll_id, _lay_length(roll, mine), roll.length_mm))
    return tuple(totals)


def _lay_length(roll: Roll, mine: Sequence[SizeEstimate]) -> float:
    """All pieces in one lay: their advances, its ragged ends and both end losses."""
    advances = sum(one.pairs_to_cut * one.roll.length_mm for one in mine)
    return advances + max(one.roll.end_mm for one in mine) + 2.0 * roll.end_loss_mm
