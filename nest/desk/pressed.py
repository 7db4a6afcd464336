"""Outcomes ticked off at the desk: of one piece for its page, and all of them as a list that `outcomes` reads."""

import csv
import io

from nest.edits import State
from nest.edits.commands import Pressed
from nest.pieces.piece import Foot
from nest.report.tables import harmless

HEADER = ("hide", "piece", "style", "size", "side", "outcome", "toe_mm", "side_mm", "back_mm", "date", "reinforcement")


def pressed_told(state: State, hide_id: str) -> dict[int, dict]:
    """What the press made of the pieces of a hide, by number."""
    return {one.numbers[0]: {"outcome": one.outcome, "toe_mm": one.toe_mm, "side_mm": one.side_mm,
                             "back_mm": one.back_mm, "day": one.day} for one in state.pressed if one.hide == hide_id}


def outcomes_csv(state: State) -> str:
    """All outcomes of the desk, by hide and number."""
    pieces = {piece.piece_id: piece for piece in state.plan.pieces}
    lying = {
        (layout.hide_id, layout.number(at)): pieces[one.piece_id]
        for layout in state.plan.layouts for at, one in enumerate(layout.placed)
    }
    written = io.StringIO(newline="")
    writer = csv.writer(written)
    writer.writerow(HEADER)
    for one in sorted(state.pressed, key=lambda one: (one.hide, one.numbers)):
        writer.writerow([harmless(cell) for cell in _row(one, lying[one.hide, one.numbers[0]])])
    return written.getvalue()


def _row(one: Pressed, piece) -> tuple:
    side = "" if piece.foot is Foot.EITHER else str(piece.foot)
    return (one.hide, one.numbers[0], piece.style, piece.size, side, one.outcome, one.toe_mm, one.side_mm, one.back_mm,
            one.day, "" if one.backed else "kept")
