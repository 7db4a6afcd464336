"""What is still to be placed of an order of which the cutting has begun, and which old layouts still serve it."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import fsum

from geometry.polygon import area
from nest.begun.needs import Need, needed
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import CutLine
from nest.pieces.rejects import RejectRates
from nest.plan import Begun, HideLayout, Lay, Placed, Plan
from nest.planning.wants import SIDES, Want
from nest.planning.wants import Unit as PlacedUnit
from nest.rules import Rules
from nest.urgency import Tiers, last_of, times

UnitKey = tuple[str, str, Foot | None]
"""Style, size, and the foot of a vamp that may lie alone; None for a pair from one hide."""


@dataclass(frozen=True, slots=True, eq=False)
class Kinds:
    """The vamps that units are made of, and the rules of their styles."""

    vamps: Mapping[tuple[str, str], Mapping[Foot, Piece]]
    rules: Mapping[str, Rules]
    urgency: Mapping[tuple[str, str], Tiers] = field(default_factory=dict)
    """Pairs to cut of the whole order by rank."""
    rates: Mapping[str, RejectRates | None] = field(default_factory=dict)
    """Reject rates by class and deviation, by style."""

    @classmethod
    def of(
        cls, pieces: Iterable[Piece], rules: Mapping[str, Rules],
        urgency: Mapping[tuple[str, str], Tiers] | None = None, rates: Mapping[str, RejectRates | None] | None = None,
    ) -> "Kinds":
        """Sorted by style and size, left before right."""
        vamps: dict[tuple[str, str], dict[Foot, Piece]] = defaultdict(dict)
        for piece in sorted(pieces, key=lambda piece: SIDES[piece.foot]):
            if piece.role is Role.VAMP:
                vamps[piece.style, piece.size][piece.foot] = piece
        return cls(dict(vamps), rules, urgency or {}, rates or {})

    def either(self, style: str, size: str) -> bool:
        """Whether one outline serves both feet."""
        return Foot.EITHER in self.vamps[style, size]

    def pieces_of(self, unit: UnitKey) -> tuple[Piece, ...]:
        """The pieces of a unit."""
        style, size, foot = unit
        feet = self.vamps[style, size]
        if foot is not None:
            return (feet[foot],)
        return (feet[Foot.EITHER],) * 2 if Foot.EITHER in feet else (feet[Foot.LEFT], feet[Foot.RIGHT])

    def wants(self, rest: Mapping[UnitKey, int]) -> tuple[Want, ...]:
        """The units as wants, in their sequence; those of none are left out. What is cut serves the most urgent rows.
        """
        found = []
        for unit, count in rest.items():
            if count > 0:
                pieces = self.pieces_of(unit)
                whole = fsum(area(piece.cut_outline) for piece in pieces)
                each = 2 if pieces[0].foot is Foot.EITHER and len(pieces) == 1 else 1
                tiers = last_of(times(self.urgency.get(unit[:2], ()), each), count)
                found.append(Want(unit[0], unit[1], pieces, count, self.rules[unit[0]], whole, tiers,
                                  self.rates.get(unit[0])))
        return tuple(found)


def vamps_left(
    quantities: Sequence[CutLine], begun: Begun, layouts: Iterable[HideLayout], kinds: Kinds,
    pieces: Mapping[str, Piece],
) -> dict[UnitKey, int]:
    """Units still to be placed when what lies on `layouts` is cut."""
    paired: dict[tuple[str, str], Counter[Foot]] = defaultdict(Counter)
    alone: dict[tuple[str, str], Counter[Foot]] = defaultdict(Counter)
    for layout in layouts:
        for one in layout.placed:
            piece = pieces[one.piece_id]
            (paired if one.pair else alone)[piece.style, piece.size][piece.foot] += 1
    rest: dict[UnitKey, int] = {}
    for line in quantities:
        key = line.style, line.size
        either, rule = kinds.either(*key), kinds.rules[line.style]
        need = needed(begun, *key, pairs_wanted=line.pairs_wanted, pairs_to_cut=line.pairs_to_cut, either=either)
        each = 2 if either else 1
        feet = (Foot.EITHER,) if either else (Foot.LEFT, Foot.RIGHT)
        if rule.pairs_from_one_hide:
            pairs = min(paired[key][foot] // each for foot in feet)
            rest[*key, None] = max(0, need.pairs - pairs)
            over = each * max(0, pairs - need.pairs)
            for foot in feet:
                rest[*key, foot] = max(0, need.alone[foot] - alone[key][foot] - over)
        else:
            for foot in feet:
                # Where pairs share a class, one that found no partner serves only in place of a spoiled one.
                single = alone[key][foot]
                single = min(single, need.alone[foot]) if rule.pairs_same_class else single
                rest[*key, foot] = max(0, each * need.pairs + need.alone[foot] - paired[key][foot] - single)
    return rest


def reinforcements_left(
    quantities: Sequence[CutLine], begun: Begun, lays: Iterable[Lay], pieces: Iterable[Piece]
) -> dict[Piece, int]:
    """Reinforcements still to be placed when these lays are cut."""
    cut: Counter[str] = Counter()
    for lay in lays:
        for one in lay.placed:
            cut[one.piece_id] += lay.plies
    lines = {(line.style, line.size): line for line in quantities}
    left = {}
    for piece in pieces:
        line = lines.get((piece.style, piece.size))
        if piece.role is not Role.REINFORCEMENT or line is None:
            continue
        either = piece.foot is Foot.EITHER
        need: Need = needed(
            begun, piece.style, piece.size, pairs_wanted=line.pairs_wanted, pairs_to_cut=line.pairs_to_cut,
            either=either, backing=True,
        )
        number = (2 if either else 1) * need.pairs + need.alone[piece.foot] - cut[piece.piece_id]
        if number > 0:
            left[piece] = number
    return left


def kept(
    before: Plan, hides: Iterable[str], styles: Iterable[str], rest: Mapping[UnitKey, int], kinds: Kinds
) -> tuple[tuple[HideLayout, ...], dict[UnitKey, int]]:
    """Old layouts of these hides as far as they still serve, the fullest first; and what is left of the rest then.

    styles : those whose pieces and rules are what they were.
    """
    hides, styles, left = set(hides), set(styles), dict(rest)
    pieces = {piece.piece_id: piece for piece in before.pieces}
    rough = {piece.piece_id: area(piece.cut_outline) for piece in before.pieces}
    mine = [layout for layout in before.layouts if layout.hide_id in hides and layout.placed]
    found = {}
    for layout in sorted(mine, key=lambda layout: -fsum(rough[one.piece_id] for one in layout.placed)):
        groups: dict[tuple, list[Placed]] = {}
        for spot, one in enumerate(layout.placed):
            piece = pieces[one.piece_id]
            if piece.style in styles:
                together = one.pair and kinds.rules[piece.style].pairs_from_one_hide
                groups.setdefault((one.pair, "pair") if together else (spot, "alone"), []).append(one)
        serves: set[int] = set()
        for (_, how), group in groups.items():
            piece = pieces[group[0].piece_id]
            unit = (piece.style, piece.size, None if how == "pair" else piece.foot)
            if left.get(unit, 0) > 0:
                left[unit] -= 1
                serves.update(map(id, group))
        placed = tuple(one for one in layout.placed if id(one) in serves)
        if placed:
            found[layout.hide_id] = HideLayout(layout.hide_id, placed)
    return tuple(found[layout.hide_id] for layout in mine if layout.hide_id in found), left


def units_on(
    layout: HideLayout, wants: Sequence[Want], kinds: Kinds, pieces: Mapping[str, Piece]
) -> tuple[PlacedUnit, ...]:
    """What lies on a hide as units of the wants, pairs by their numbers."""
    at = {(want.style, want.size, None if len(want.pieces) > 1 else want.pieces[0].foot): w
          for w, want in enumerate(wants)}
    units = []
    pairs: dict[tuple, list[Placed]] = defaultdict(list)
    for one in layout.placed:
        piece = pieces[one.piece_id]
        if one.pair and kinds.rules[piece.style].pairs_from_one_hide:
            pairs[one.pair, piece.style, piece.size].append(one)
        else:
            units.append(PlacedUnit(at[piece.style, piece.size, piece.foot], (one.pose,)))
    for (_, style, size), mine in pairs.items():
        mine.sort(key=lambda one: SIDES[pieces[one.piece_id].foot])
        units.append(PlacedUnit(at[style, size, None], tuple(one.pose for one in mine)))
    return tuple(units)


def held_on(
    layouts: Sequence[HideLayout], kinds: Kinds, pieces: Mapping[str, Piece]
) -> Callable[[Sequence[Want]], dict[str, tuple[PlacedUnit, ...]]]:
    """A function that says which units of some wants, those of one leather, lie on these layouts."""

    def held(wants: Sequence[Want]) -> dict[str, tuple[PlacedUnit, ...]]:
        styles = {want.style for want in wants}
        return {
            one.hide_id: units_on(one, wants, kinds, pieces) for one in layouts
            if pieces[one.placed[0].piece_id].style in styles
        }

    return held
