"""What is to be cut, in units: a pair that must come from one hide, or a single piece where it need not."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np

from geometry.polygon import area, polygon
from geometry.pose import Pose
from geometry.precision import COORDINATE_GRID_MM
from geometry.thinning import thin_outwards
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import CutLine
from nest.pieces.rejects import RejectRates
from nest.placement.choose import replaced, replacements
from nest.placement.problem import Item, Kind
from nest.rules import Rules
from nest.urgency import Tiers, times

SIDES = {Foot.LEFT: -1, Foot.EITHER: 0, Foot.RIGHT: 1}

CORE_THIN_MM = 0.3
"""Net outlines are solved with fewer corners, up to this much too large."""


@dataclass(frozen=True, slots=True, eq=False)
class Want:
    """Units of one style and size: `count` times the `pieces`, which belong together on one hide."""

    style: str
    size: str
    pieces: tuple[Piece, ...]
    """(left, right), (either, either), or one alone where a pair may come from two hides."""
    count: int
    rules: Rules
    area_mm2: float
    """Rough area of one unit."""
    tiers: Tiers = ()
    """The units by urgency, `count` in all; empty where all of the order are alike."""
    rates: RejectRates | None = None
    """Reject rates by class and deviation, where the job has them."""

    @property
    def same_class(self) -> bool:
        """Whether the pieces of a unit must come from ground of one class."""
        return len(self.pieces) > 1 and self.rules.pairs_same_class

    @property
    def distinct(self) -> tuple[Piece, ...]:
        """The pieces that differ: one for (either, either)."""
        return tuple(dict.fromkeys(self.pieces))


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit where it lies: index of its want, and the pose of each of the want's pieces."""

    want: int
    poses: tuple[Pose, ...]


def vamp_wants(
    quantities: Iterable[CutLine], pieces: Iterable[Piece], rules: Mapping[str, Rules],
    urgency: Mapping[tuple[str, str], Tiers] | None = None, rates: Mapping[str, RejectRates | None] | None = None,
) -> tuple[Want, ...]:
    """Wants of the vamps of an order, in its sequence; those of no pairs are left out.

    urgency : pairs to cut by rank, of each style and size; all are alike without it.
    rates : reject rates by class and deviation, by style.
    """
    feet: dict[tuple[str, str], list[Piece]] = {}
    for piece in pieces:
        if piece.role is Role.VAMP:
            feet.setdefault((piece.style, piece.size), []).append(piece)
    wants = []
    for line in quantities:
        of_size = sorted(feet[line.style, line.size], key=lambda piece: SIDES[piece.foot])
        rule, pairs, one_outline = rules[line.style], line.pairs_to_cut, len(of_size) == 1
        if rule.pairs_from_one_hide:
            units = [(tuple(of_size * 2 if one_outline else of_size), pairs)]
        else:
            units = [((piece,), 2 * pairs if one_outline else pairs) for piece in of_size]
        for unit, count in units:
            if count > 0:
                whole = fsum(area(piece.cut_outline) for piece in unit)
                rank = times((urgency or {}).get((line.style, line.size), ()), count // pairs)
                wants.append(Want(line.style, line.size, unit, count, rule, whole, rank,
                                  (rates or {}).get(line.style)))
    return tuple(wants)


def kind_of(
    piece: Piece, headings_deg: Sequence[float], limit: int, family: str = "", worth: float | None = None
) -> Kind:
    """The piece as the solver sees it."""
    side = SIDES[piece.foot] if family else 0
    return Kind(piece.piece_id, piece.cut_outline, solved_core(piece), tuple(headings_deg), limit, family, side, worth)


def solved_core(piece: Piece) -> np.ndarray:
    """The net outline with fewer corners, never smaller, within the cut outline."""
    thinned = thin_outwards(piece.net_outline, CORE_THIN_MM)
    return thinned if polygon(piece.cut_outline).covers(polygon(thinned)) else piece.net_outline


def on_coordinate_grid(pose: Pose) -> Pose:
    """The pose rounded to the coordinate grid, its heading to a millionth of a degree in [0, 360)."""
    return Pose(
        round(round(pose.x / COORDINATE_GRID_MM) * COORDINATE_GRID_MM, 4),
        round(round(pose.y / COORDINATE_GRID_MM) * COORDINATE_GRID_MM, 4), round(pose.heading_deg, 6) % 360.0,
    )


class Recasts:
    """Which units may be cut as a smaller size of their style, in the very place.

    Within a style all kinds have the same headings on any one material, so what fits into a larger piece, net in net
    and rough in rough, fits wherever that lies.
    """

    def __init__(self, wants: Sequence[Want]):
        self._wants = wants
        self._tables: dict[tuple[str, Foot], tuple[list[Piece], list[Kind], dict]] = {}
        groups: dict[tuple[str, Foot], list[Piece]] = {}
        for want in wants:
            for piece in want.distinct:
                groups.setdefault((piece.style, piece.foot), []).append(piece)
        for key, pieces in groups.items():
            kinds = [kind_of(piece, (0.0,), 1) for piece in pieces]
            self._tables[key] = pieces, kinds, replacements(kinds)

    def possible(self, want: int) -> tuple[int, ...]:
        """Indices of the wants a unit of this want may be cut as, itself first."""
        mine = self._wants[want]
        others = [
            j for j, other in enumerate(self._wants)
            if j != want and other.style == mine.style and self._fits(mine, other)
        ]
        return (want, *others)

    def recast(self, unit: Unit, want: int) -> Unit:
        """The unit cut as another want, in its place."""
        mine, other = self._wants[unit.want], self._wants[want]
        if want == unit.want:
            return unit
        poses = []
        for old, new, pose in zip(mine.pieces, other.pieces, unit.poses, strict=True):
            pieces, _, table = self._tables[old.style, old.foot]
            item = replaced(Item(pieces.index(old), pose), pieces.index(new), table)
            poses.append(on_coordinate_grid(item.pose))
        return Unit(want, tuple(poses))

    def _fits(self, mine: Want, other: Want) -> bool:
        if [piece.foot for piece in mine.pieces] != [piece.foot for piece in other.pieces]:
            return False
        for old, new in zip(mine.pieces, other.pieces, strict=True):
            pieces, _, table = self._tables[old.style, old.foot]
            if (pieces.index(old), pieces.index(new)) not in table:
                return False
        return True
