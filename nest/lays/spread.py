"""How the plies of a lay lie on each other."""

from enum import StrEnum


class Spread(StrEnum):
    """Faces of the plies."""

    FACE_UP = "face-up"
    """All the same face up: a lay holds a left and a mirrored right outline for every pair."""
    FACE_TO_FACE = "face-to-face"
    """Every second ply turned over: one outline gives a left piece and, from the ply that faces it, a right one."""

    @property
    def plies_together(self) -> int:
        """Plies that one pair in a lay's ratio needs."""
        return 2 if self is Spread.FACE_TO_FACE else 1
