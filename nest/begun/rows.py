"""Which rows of an order a plan meets: pairs of each style and size are handed to its rows by urgency."""

from collections import Counter, defaultdict
from dataclasses import dataclass

from nest.begun.needs import needed
from nest.pieces.piece import Foot, Role
from nest.plan import CutLine, DueRow, HideLayout, Lay, Plan
from nest.urgency import good_pairs, met_by_row


@dataclass(frozen=True, slots=True)
class RowMet:
    """One row of the order: pairs wanted, and how many of them the plan meets once rejects are taken off.

    due : ISO 8601, "" for none; priority : 1 is the first, 0 for none.
    """

    style: str
    size: str
    due: str
    priority: int
    pairs: int
    met: int

    @property
    def short(self) -> int:
        """Pairs missing."""
        return self.pairs - self.met


def rows_met(plan: Plan) -> tuple[RowMet, ...]:
    """Every row of the order, in its sequence; a style and size without rows is one.

    A pair counts once both vamps are placed, by the rules of its style paired, and both reinforcements where it is
    backed. Fewer cut than are to be cut means as many fewer good ones in proportion, rounded to the safe side.
    """
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    paired: dict[tuple, Counter[Foot]] = defaultdict(Counter)
    alone: dict[tuple, Counter[Foot]] = defaultdict(Counter)
    groups: list[tuple[HideLayout | Lay, int]] = [(layout, 1) for layout in plan.layouts]
    groups += [(lay, lay.plies) for lay in plan.lays]
    for group, plies in groups:
        for one in group.placed:
            if (piece := pieces.get(one.piece_id)) is not None:
                (paired if one.pair else alone)[piece.style, piece.size, piece.role][piece.foot] += plies
    found = []
    for line in plan.order:
        cut = line.pairs_to_cut - _pairs_missing(plan, line, pieces.values(), paired, alone)
        rows = line.rows or (DueRow("", 0, line.pairs_wanted),)
        met = met_by_row(good_pairs(cut, line.pairs_wanted, line.pairs_to_cut), rows)
        found += [
            RowMet(line.style, line.size, row.due, row.priority, row.pairs, number)
            for row, number in zip(rows, met, strict=True)
        ]
    return tuple(found)


def _pairs_missing(plan: Plan, line: CutLine, pieces, paired, alone) -> int:
    """Pairs to cut of which a vamp or a reinforcement is missing."""
    style = next((one for one in plan.styles if one.name == line.style), None)
    if style is None:
        return line.pairs_to_cut
    either = any((one.style, one.size, one.foot) == (line.style, line.size, Foot.EITHER) for one in pieces)
    feet = {Foot.EITHER: 2} if either else {Foot.LEFT: 1, Foot.RIGHT: 1}
    most = 0
    for role in (Role.VAMP, Role.REINFORCEMENT) if style.roll else (Role.VAMP,):
        key = line.style, line.size, role
        need = needed(
            plan.begun, line.style, line.size, pairs_wanted=line.pairs_wanted, pairs_to_cut=line.pairs_to_cut,
            either=either, backing=role is Role.REINFORCEMENT,
        )
        bound = role is Role.VAMP and (style.rules.pairs_from_one_hide or style.rules.pairs_same_class)
        for foot, each in feet.items():
            # One that takes the place of a spoiled one may be alone: its partner is there already.
            single = min(alone[key][foot], need.alone[foot]) if bound else alone[key][foot]
            lacking = each * need.pairs + need.alone[foot] - paired[key][foot] - single
            most = max(most, -(-lacking // each))
    return min(most, line.pairs_to_cut)
