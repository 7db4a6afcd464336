"""Pieces made once in a run, for all who ask for the same."""

from collections.abc import Callable, Hashable, Sequence

from nest.pieces.make import make_pieces
from nest.pieces.piece import Piece
from nest.pieces.style import Style

Make = Callable[[Style, Sequence[str]], tuple[tuple[Piece, ...], tuple[str, ...]]]
"""`make(style, sizes)`, as `nest.pieces.make.make_pieces`."""


class PieceMemory:
    """`make_pieces` that remembers; rules, rejects, leather and the name of the roll change no piece."""

    def __init__(self) -> None:
        self._known: dict[tuple[Hashable, ...], tuple[tuple[Piece, ...], tuple[str, ...]]] = {}

    def __call__(self, style: Style, sizes: Sequence[str]) -> tuple[tuple[Piece, ...], tuple[str, ...]]:
        """The pieces and warnings, as `nest.pieces.make.make_pieces` gives them, errors included."""
        templates = tuple((one.size, one.outline.tobytes(), one.parts) for one in style.templates)
        key = (style.name, templates, style.grading, style.allowances, style.widening_percent,
               style.reinforcement_inset_mm, bool(style.roll), tuple(sizes))
        if key not in self._known:
            self._known[key] = make_pieces(style, sizes)
        return self._known[key]
