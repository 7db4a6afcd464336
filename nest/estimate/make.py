"""The quick estimate of a job: material by style and size, each line with the method that gave it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, fsum

from nest.job.job import Job
from nest.perpair.measures import RollRows, roll_rows
from nest.perpair.needs import leather_needs
from nest.perpair.use import LeatherUse
from nest.pieces.make import pieces_of_lines
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import CutLine, ordered_quantities
from nest.stock.material import Roll


@dataclass(frozen=True, slots=True)
class RollUse:
    """Reinforcement for one pair: area of both pieces, length of roll, outlines side by side, and the method.

    end_mm : length that the ragged ends of a lay take beyond that.
    long_mm : length of one outline as it lies; no lay is shorter.
    """

    length_mm: float
    across: float
    density: float
    end_mm: float
    long_mm: float
    method: str


@dataclass(frozen=True, slots=True)
class SizeEstimate:
    """One style and size: pairs, pieces, and material of a pair; None where it is not known or nothing is wanted.

    left, right, either : vamps to cut; as many reinforcements where the style is `backed`.
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
    backed: bool

    @property
    def on_roll(self) -> RollUse:
        """What a pair takes of a roll that is wide enough."""
        assert self.roll is not None
        return self.roll


@dataclass(frozen=True, slots=True)
class RollTotal:
    """One roll: length for all pieces in one lay, with its ragged end and end losses; what the roll holds.

    length_mm : None where some size is too wide for the roll.
    unknown : style and size of each that is.
    """

    roll_id: str
    length_mm: float | None
    held_mm: float
    unknown: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class LeatherTotal:
    """One leather: area for all pairs to cut, mean area of a hide, and how many hides that is on the mean.

    material_mm2 : None where the leather of some size cannot be estimated.
    unknown : styles of which that is so.
    """

    leather: str
    material_mm2: float | None
    hide_mm2: float
    unknown: tuple[str, ...] = ()

    @property
    def hides(self) -> int | None:
        """Hides by their mean yield, rounded up; how much hides differ is left out."""
        return None if self.material_mm2 is None else ceil(self.material_mm2 / self.hide_mm2 - 1e-9)


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
    model of `nest.perpair.yield_model` the second, from what the vamp of the base size reaches on the job's hides of
    that leather if it has any, else from their mean area; the share of unfit ground the third, from the hides, else as
    the leather states it, else flat. Styles of one leather share its hides (`nest.perpair.shared`), and pay by rough
    area for those they lie on together, as in the account of a plan. Rolls: rows of the reinforcement over the width.

    Raises
    ------
    InputProblems
        Every piece that cannot be made.
    PlanProblem
        If nothing is ordered.
    """
    quantities = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    pieces: list[Piece] = []
    warnings = list(job.warnings)
    for _, made, said in pieces_of_lines(job.styles, quantities):
        pieces += made
        warnings += said
    needs = leather_needs(job, quantities, pieces)
    warnings += [note for need in needs for note in need.notes]
    uses = {(one.style, one.size): one.use for need in needs for one in need.sizes}
    rows = _rows(job, quantities, pieces, warnings)
    feet = {(piece.style, piece.size): piece.foot for piece in pieces if piece.role is Role.VAMP}
    sizes = []
    for style in job.styles:
        for line in quantities:
            if line.style == style.name:
                key, pair = (line.style, line.size), line.pairs_to_cut
                single = feet[key] is Foot.EITHER
                sizes.append(SizeEstimate(
                    *key, line.pairs_wanted, pair, 0 if single else pair, 0 if single else pair,
                    2 * pair if single else 0, uses[key], _roll_use(rows.get(key)), key in rows,
                ))
    leathers = tuple(
        LeatherTotal(need.leather, need.material_mm2, need.hide_mm2,
                     tuple(dict.fromkeys(one.style for one in need.unknown))) for need in needs
    )
    return QuickEstimate(job.name, tuple(sizes), leathers, _roll_totals(job, sizes), tuple(dict.fromkeys(warnings)))


def _rows(
    job: Job, quantities: Sequence[CutLine], pieces: Sequence[Piece], warnings: list[str]
) -> dict[tuple[str, str], RollRows | None]:
    """Rows of each reinforcement on its roll, by style and size; `warnings` grows by those that are too wide."""
    rows: dict[tuple[str, str], RollRows | None] = {}
    for style in job.styles:
        backs = [piece for piece in pieces if piece.style == style.name and piece.role is Role.REINFORCEMENT
                 and piece.foot is not Foot.RIGHT]
        roll = next((one for one in job.rolls if one.roll_id == style.roll), None)
        if roll is None or not backs:
            continue
        within = replace(roll, selvedge_mm=roll.selvedge_mm + job.settings.strip_room_mm)
        found = roll_rows(backs, within, style.rules, job.settings.roll_apart_mm)
        rows |= {(style.name, back.size): one for back, one in zip(backs, found, strict=True)}
        wide = [back.size for back, one in zip(backs, found, strict=True) if one is None]
        if wide:
            warnings.append(
                f"style {style.name}: the reinforcement of size {', '.join(wide)} is wider than roll {roll.roll_id} at "
                f"every heading tried; use a wider roll"
            )
    return rows


def _roll_use(rows: RollRows | None) -> RollUse | None:
    if rows is None:
        return None
    lattice = rows.lattice
    return RollUse(
        2.0 * rows.advance_mm, lattice.across,
        lattice.density * lattice.advance / rows.advance_mm, rows.end_mm, rows.long_mm, rows.method,
    )


def _roll_totals(job: Job, sizes: Sequence[SizeEstimate]) -> tuple[RollTotal, ...]:
    by_style = {style.name: style.roll for style in job.styles}
    totals = []
    for roll in job.rolls:
        mine = [one for one in sizes if one.backed and by_style[one.style] == roll.roll_id]
        wide = tuple((one.style, one.size) for one in mine if one.roll is None)
        if mine:
            totals.append(RollTotal(roll.roll_id, None if wide else _lay_length(roll, mine), roll.length_mm, wide))
    return tuple(totals)


def _lay_length(roll: Roll, mine: Sequence[SizeEstimate]) -> float:
    """All pieces in one lay: their advances, its ragged end and both end losses."""
    advances = fsum(one.pairs_to_cut * one.on_roll.length_mm for one in mine)
    ragged = max(one.on_roll.end_mm for one in mine)
    return max(advances + ragged, max(one.on_roll.long_mm for one in mine)) + 2.0 * roll.end_loss_mm
