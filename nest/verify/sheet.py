"""The pieces on one hide or one ply of a lay, as polygons where they lie."""

from dataclasses import dataclass

import numpy as np
import shapely

from nest.pieces.piece import Piece
from nest.plan import Placed
from nest.verify.verdict import Finding, Rule


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """`cut` and `net` are arrays of polygons; `spots[i]` is the index in the plan's layout of `placed[i]`."""

    where: str
    placed: tuple[Placed, ...]
    pieces: tuple[Piece, ...]
    spots: tuple[int, ...]
    cut: np.ndarray
    net: np.ndarray

    def finding(self, rule: Rule, index: tuple[int, ...], amount: float, unit: str, text: str) -> Finding:
        """A finding about the pieces at these indices; `text` is what follows their names."""
        ids = tuple(self.pieces[i].piece_id for i in index)
        spots = tuple(self.spots[i] for i in index)
        names = " and ".join(f"{name} (no. {spot + 1})" for name, spot in zip(ids, spots, strict=True))
        return Finding(self.where, rule, ids, spots, float(amount), unit, f"{self.where}: {names} {text}.")


def lay_out(where: str, placed: tuple[Placed, ...], spots: tuple[int, ...], pieces: dict[str, Piece]) -> Sheet:
    """The sheet of these placements, all of known pieces; `spots` are their indices in the plan's layout."""
    known = tuple(pieces[one.piece_id] for one in placed)
    cut = [shapely.Polygon(one.pose.apply(piece.cut_outline)) for one, piece in zip(placed, known, strict=True)]
    net = [shapely.Polygon(one.pose.apply(piece.net_outline)) for one, piece in zip(placed, known, strict=True)]
    return Sheet(where, placed, known, spots, np.array(cut, dtype=object), np.array(net, dtype=object))
