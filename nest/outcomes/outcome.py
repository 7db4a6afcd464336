"""What the press made of one piece."""

from dataclasses import dataclass
from enum import StrEnum

from geometry.pose import Pose
from nest.pieces.piece import Part, Piece


class Reason(StrEnum):
    """What came of a piece: good, or why it did not come out well."""

    GOOD = "good"
    PLEATS = "pleats"
    """Folds that do not lie down; the fibre is too weak."""
    MARKS = "marks"
    """Grease or water has come up, or the press shows."""
    BONDING = "bonding"
    """The reinforcement does not hold."""
    CRACK = "crack"
    SHORT = "short"
    """The piece does not reach the template line somewhere."""
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Outcome:
    """One piece of a plan after the press.

    number : of the piece on its hide, as on the label of its drawing.
    pair : of the plan; 0 for a piece without a partner.
    reason : None where it is not known.
    trim_mm : trim left by part where it was measured; of two sides the lesser.
    backed : whether the reinforcement was lost with the vamp, if that was lost.
    day : ISO 8601 date of pressing, "" where the list does not say.
    """

    hide_id: str
    number: int
    piece: Piece
    pose: Pose
    pair: int
    reason: Reason | None
    trim_mm: tuple[tuple[Part, float], ...] = ()
    widening_percent: float | None = None
    backed: bool = True
    day: str = ""

    @property
    def failed(self) -> bool | None:
        """Whether the piece is lost; None where that is not known."""
        return None if self.reason is None else self.reason is not Reason.GOOD
