"""Room on one hide as a plan leaves it: the door to the exact search."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from geometry.pose import Pose
from nest.pieces.piece import Piece
from nest.room.answer import Answer, together
from nest.room.ground import RoomGround, ground_left
from nest.room.search import NOT_BOTH, Aim, room_for_one, room_for_two
from nest.room.seek import Seeker
from nest.room.shape import Shape
from nest.rules import Rules
from nest.stock.material import Hide

NEVER: Callable[[], bool] = partial(bool, 0)
ANYWHERE = Aim()


@dataclass(frozen=True, slots=True)
class Wanted:
    """One piece, or two that belong together on one hide, with the rules of their style.

    quality : class of ground that counts under each of them, where that is asked for; None for any.
    same_class : whether it must be the same under both.
    """

    pieces: tuple[Piece, ...]
    rules: Rules
    quality: int | None = None

    @property
    def same_class(self) -> bool:
        """Whether both pieces must lie on ground of one class."""
        return len(self.pieces) > 1 and self.rules.pairs_same_class


@dataclass(eq=False)
class HideLeft:
    """A hide as a plan leaves it: `cut` are the outlines placed on it, rings (n, 2) of mm where they lie."""

    hide: Hide
    one_way: bool
    margin_mm: float
    gap_mm: float
    cut: tuple[np.ndarray, ...] = ()
    shapes: dict[Piece, Shape] = field(default_factory=dict)
    """Pieces that were looked for; may be shared by all hides."""
    _grounds: dict[Rules, RoomGround] = field(default_factory=dict)
    _seekers: dict[tuple, Seeker] = field(default_factory=dict)
    _hards: dict[tuple, dict] = field(default_factory=dict)

    def put(self, rings: Sequence[np.ndarray]) -> "HideLeft":
        """The hide with more outlines cut from it."""
        return HideLeft(self.hide, self.one_way, self.margin_mm, self.gap_mm, (*self.cut, *rings), self.shapes)

    def room_for(self, wanted: Wanted, *, aim: Aim = ANYWHERE, stop: Callable[[], bool] = NEVER) -> Answer:
        """Poses for the pieces, beside all that is cut and at the gap from each other, or that there are none.

        What is found passes the judge (`nest.verify`); what an answer without poses proves is said by
        `nest.room.search`. Better ground is left for others where there is a choice.
        """
        ground = self.ground(wanted.rules)
        qualities: Sequence[int | None] = (wanted.quality,)
        if wanted.quality is None and wanted.same_class and len(ground.classes) > 1:
            qualities = ground.classes[::-1]
        if not ground.classes:
            return Answer(why="no zone is good enough")
        if wanted.quality is not None or len(qualities) > 1:
            # whatever the class: it costs little to ask, and mostly there is no more to ask
            alone = [
                room_for_one(self.seeker(piece, wanted.rules, None), aim, stop)
                for piece in dict.fromkeys(wanted.pieces)
            ]
            hopeless = next((one for one in alone if not one.found), None)
            if hopeless is not None:
                return hopeless
        answers = []
        for quality in qualities:
            seekers = [self.seeker(piece, wanted.rules, quality) for piece in wanted.pieces]
            if len(seekers) == 1:
                answers.append(room_for_one(seekers[0], aim, stop))
            else:
                answers.append(room_for_two(seekers[0], seekers[1], self.gap_mm, aim, stop))
            if answers[-1].found:
                break
        if len(answers) == 1 or any(one.why == NOT_BOTH for one in answers):
            return together(answers, NOT_BOTH if len(answers) > 1 else "")
        return together(answers, "each has room by itself, but not both on ground of one class")

    def placed(self, wanted: Wanted, poses: Sequence[Pose]) -> list[np.ndarray]:
        """The outlines that are cut when the pieces lie so."""
        return [pose.apply(piece.cut_outline) for piece, pose in zip(wanted.pieces, poses, strict=True)]

    def ground(self, rules: Rules) -> RoomGround:
        """The ground left for a style."""
        if rules not in self._grounds:
            self._grounds[rules] = ground_left(
                self.hide, rules, one_way=self.one_way, margin_mm=self.margin_mm, gap_mm=self.gap_mm, cut=self.cut
            )
        return self._grounds[rules]

    def seeker(self, piece: Piece, rules: Rules, quality: int | None) -> Seeker:
        """Positions of one piece, worked out when asked for; `quality` as in `Wanted`."""
        key = piece, rules, quality
        if key not in self._seekers:
            if piece not in self.shapes:
                self.shapes[piece] = Shape.of(piece)
            hards = self._hards.setdefault((piece, rules), {})
            self._seekers[key] = Seeker(self.ground(rules), self.shapes[piece], quality, hards)
        return self._seekers[key]
