"""An earlier plan of a job that is gone on from: what of it serves, so that nothing is lost."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from nest.errors import PlanProblem
from nest.job.job import Job
from nest.pieces.piece import Piece
from nest.pieces.quantities import CutLine
from nest.plan import Lay, Plan
from nest.planning.reconcile import same_piece, unchanged_hides, unchanged_styles
from nest.planning.remaining import Kinds, held_on, kept
from nest.planning.stages import planned_style
from nest.planning.wants import Unit, Want, vamp_wants
from nest.rules import Rules


@dataclass(frozen=True, slots=True)
class Earlier:
    """What serves of an earlier plan: units on hides, by the wants of one leather, and lays."""

    held: Callable[[Sequence[Want]], Mapping[str, tuple[Unit, ...]]]
    lays: tuple[Lay, ...]

    def shorter(self, lays: Sequence[Lay]) -> tuple[Lay, ...]:
        """Roll by roll the earlier lays where they hold the same in no more length, else those given."""
        chosen: list[Lay] = []
        for roll in dict.fromkeys(lay.roll_id for lay in lays):
            new = [lay for lay in lays if lay.roll_id == roll]
            old = [lay for lay in self.lays if lay.roll_id == roll]
            chosen += old if _held(old) == _held(new) and _length(old) <= _length(new) else new
        return tuple(chosen)


def earlier_of(
    plan: Plan, job: Job, quantities: Sequence[CutLine], pieces: Sequence[Piece], rules: Mapping[str, Rules]
) -> Earlier:
    """What of a plan serves a job.

    Raises
    ------
    PlanProblem
        If cutting has begun, or nothing of it serves: hides, pieces and rules must be those of the job.
    """
    if plan.begun.hides or plan.begun.rolls or plan.begun.spoiled:
        raise PlanProblem("the plan to go on from has been begun to be cut; use `vampyield replan`")
    kinds = Kinds.of(pieces, rules)
    rest = Counter({
        (want.style, want.size, None if len(want.pieces) > 1 else want.pieces[0].foot): want.count
        for want in vamp_wants(quantities, pieces, rules)
    })
    known = {piece.piece_id: piece for piece in plan.pieces}
    alike = [
        known[piece.piece_id] if piece.piece_id in known and same_piece(piece, known[piece.piece_id]) else piece
        for piece in pieces
    ]
    same = unchanged_styles([planned_style(job, style, quantities) for style in job.styles], alike, plan)
    hides = unchanged_hides(job, plan, [hide.hide_id for hide in job.hides])
    layouts, _ = kept(plan, hides, same, rest, kinds)
    if not layouts:
        raise PlanProblem("the plan to go on from places nothing that this job asks for; give a plan of this job")
    rolls = {roll.roll_id: roll for roll in plan.rolls}
    fit = {roll.roll_id for roll in job.rolls if rolls.get(roll.roll_id) == roll}
    mine = {piece.piece_id for piece in pieces if piece.style in same}
    lays = tuple(
        lay for lay in plan.lays if lay.roll_id in fit and all(one.piece_id in mine for one in lay.placed)
        and plan.settings.roll_apart_mm == job.settings.roll_apart_mm
    )
    return Earlier(held_on(layouts, kinds, {piece.piece_id: piece for piece in pieces}), lays)


def _held(lays: Sequence[Lay]) -> Counter[str]:
    counts: Counter[str] = Counter()
    for lay in lays:
        for one in lay.placed:
            counts[one.piece_id] += lay.plies
    return counts


def _length(lays: Sequence[Lay]) -> float:
    return fsum(lay.plies * lay.length_mm for lay in lays)
