"""How far a plan has come, in the pairs and lengths that the ledger counts in: worked out from the plan and its lists.

What is booked when something happens is the difference between how the plan stood before and how it stands then. So a
list that is booked twice changes nothing the second time.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from nest.begun.needs import lost_pieces
from nest.begun.part import cut_part, length_used_mm, off_roll_mm
from nest.begun.spoiled import cut_vamps
from nest.pieces.piece import Foot, Piece, Role
from nest.plan import Begun, Plan

Group = tuple[str, str]
"""A style and a size."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Pairs by style and size still to cut, cut, and spoiled of these; length used off each roll and still held, mm.

    lacking : pairs of vamps, cut or still to cut, that have no reinforcement; of a plan of reinforcements alone, less
        than 0, the pairs that it lays.
    part : what is cut of the plan.
    open : whether anything is still to be cut.
    """

    to_cut: Counter[Group]
    cut: Counter[Group]
    spoiled: Counter[Group]
    used_mm: dict[str, float]
    held_mm: dict[str, float]
    lacking: dict[Group, int]
    part: Plan
    open: bool


def standing(plan: Plan, begun: Begun, *, given_up: bool = False) -> Standing:
    """How a plan stands; of one that is `given_up` nothing is still to be cut.

    Raises
    ------
    PlanProblem
        As `nest.begun.part.cut_part`.
    """
    part = cut_part(plan, begun)
    cut_feet = cut_vamps(part)
    cut = Counter({group: pairs_of(feet) for group, feet in cut_feet.items()})
    good = Counter({group: pairs_of(feet - _lost(plan, begun, group)) for group, feet in cut_feet.items()})
    gone = set(begun.withdrawn)
    done = set(begun.cut_hides)
    kept = replace(plan, layouts=tuple(
        layout for layout in plan.layouts
        if layout.hide_id in done or not (given_up or layout.hide_id in gone)
    ))
    in_all = Counter({group: pairs_of(feet) for group, feet in cut_vamps(kept).items()})
    lacking = _lacking(plan, part, in_all, begun, given_up=given_up)
    withdrawn_rolls = {one.roll_id for one in begun.rolls if one.withdrawn}
    touched = {one.roll_id for one in begun.rolls}
    used = {roll.roll_id: length_used_mm(part, roll) for roll in plan.rolls if roll.roll_id in touched}
    held = {}
    for roll in plan.rolls:
        planned = off_roll_mm(roll, plan.lays)
        closed = given_up or roll.roll_id in withdrawn_rolls
        held[roll.roll_id] = 0.0 if closed else max(0.0, planned - used.get(roll.roll_id, 0.0))
        if lays_done(plan, part, roll.roll_id):
            held[roll.roll_id] = 0.0
    still = in_all - cut
    hides_open = any(layout.placed and layout.hide_id not in done for layout in kept.layouts)
    still_open = not given_up and (hides_open or any(held.values()))
    return Standing(still, +cut, cut - good, used, held, lacking, part, still_open)


def _lacking(plan: Plan, part: Plan, vamps_of: Counter[Group], begun: Begun, *, given_up: bool) -> dict[Group, int]:
    """Pairs of vamps without a reinforcement; of a plan without vamps, the pairs of reinforcements with a minus."""
    withdrawn = {one.roll_id for one in begun.rolls if one.withdrawn}
    backed = {style.name for style in plan.styles if style.roll}
    feet: dict[Group, Counter[Foot]] = defaultdict(Counter)
    pieces = {piece.piece_id: piece for piece in plan.pieces if piece.role is Role.REINFORCEMENT}
    stays = [lay for lay in part.lays if given_up or lay.roll_id in withdrawn]
    stays += [lay for lay in plan.lays if not given_up and lay.roll_id not in withdrawn]
    for lay in stays:
        for one in lay.placed:
            if (piece := pieces.get(one.piece_id)) is not None:
                feet[piece.style, piece.size][piece.foot] += lay.plies
    laid = {group: pairs_of(mine) for group, mine in feet.items()}
    if not plan.layouts:
        return {group: -number for group, number in laid.items()}
    return {
        group: number - laid.get(group, 0) for group, number in vamps_of.items()
        if group[0] in backed and number > laid.get(group, 0)
    }


def lays_done(plan: Plan, part: Plan, roll_id: str) -> bool:
    """Whether every piece planned on a roll is cut."""
    planned, cut = (
        sum(len(lay.placed) * lay.plies for lay in one.lays if lay.roll_id == roll_id) for one in (plan, part)
    )
    return planned == cut


def pairs_of(feet: Counter[Foot]) -> int:
    """Whole pairs that these vamps make."""
    return min(feet[Foot.LEFT], feet[Foot.RIGHT]) + feet[Foot.EITHER] // 2


def _lost(plan: Plan, begun: Begun, group: Group) -> Counter[Foot]:
    either = Foot.EITHER in (piece.foot for piece in vamps(plan.pieces) if (piece.style, piece.size) == group)
    return lost_pieces((one for one in begun.spoiled if (one.style, one.size) == group), either=either)


def vamps(pieces: Iterable[Piece]) -> Iterable[Piece]:
    """The vamps among some pieces."""
    return (piece for piece in pieces if piece.role is Role.VAMP)
