"""What a plan is short of: whole pairs, and single vamps, of each style and size ordered."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from geometry.polygon import area
from nest.begun.needs import needed
from nest.pieces.piece import Foot, Piece, Role
from nest.plan import CutLine, DueRow, Plan
from nest.rules import Rules
from nest.urgency import Tiers, last_of, ranks, tiers, times


@dataclass(frozen=True, slots=True)
class Short:
    """`count` units of one style and size are missing: pairs, or single vamps where there is one piece.

    apart : whether the two of a pair may come from two hides, though of one class.
    tiers : the units by urgency; empty where all of the order are alike.
    """

    style: str
    size: str
    leather: str
    pieces: tuple[Piece, ...]
    rules: Rules
    count: int
    apart: bool = False
    tiers: Tiers = ()

    @property
    def unit(self) -> str:
        """What one of them is called: "pair", "left vamp", "right vamp" or "vamp"."""
        if len(self.pieces) == 2:
            return "pair"
        foot = self.pieces[0].foot
        return "vamp" if foot is Foot.EITHER else f"{foot} vamp"

    @property
    def area_mm2(self) -> float:
        """Rough area of one unit."""
        return sum(area(piece.cut_outline) for piece in self.pieces)


def shorts(plan: Plan) -> tuple[Short, ...]:
    """Everything that vamps placed do not meet of the order, with what was spoiled; the sequence is the order's.

    Where the vamps of a style need not share a hide nor a class they are missing one by one; else in pairs, and one by
    one only in place of single spoiled ones.
    """
    vamps: dict[tuple[str, str], dict[Foot, Piece]] = defaultdict(dict)
    for piece in plan.pieces:
        if piece.role is Role.VAMP:
            vamps[piece.style, piece.size][piece.foot] = piece
    by_id = {piece.piece_id: piece for piece in plan.pieces}
    paired: dict[tuple[str, str], Counter[Foot]] = defaultdict(Counter)
    alone: dict[tuple[str, str], Counter[Foot]] = defaultdict(Counter)
    for layout in plan.layouts:
        for one in layout.placed:
            if (known := by_id.get(one.piece_id)) is not None:
                (paired if one.pair else alone)[known.style, known.size][known.foot] += 1
    styles = {style.name: style for style in plan.styles}
    rank = ranks(row for line in plan.order for row in _rows(line))
    found = []
    for line in plan.order:
        key = line.style, line.size
        if line.style not in styles or not vamps[key]:
            continue
        style, feet = styles[line.style], vamps[key]
        either = Foot.EITHER in feet
        need = needed(plan.begun, *key, pairs_wanted=line.pairs_wanted, pairs_to_cut=line.pairs_to_cut, either=either)
        pair = (feet[Foot.EITHER],) * 2 if either else tuple(feet[f] for f in (Foot.LEFT, Foot.RIGHT) if f in feet)
        for pieces, count in _missing(style.rules, pair, need.pairs, need.alone, paired[key], alone[key]):
            if count > 0:
                apart = len(pieces) == 2 and not style.rules.pairs_from_one_hide
                urgency = tiers(_rows(line), line.pairs_to_cut, rank) if len(rank) > 1 else ()
                each = 2 if either and len(pieces) == 1 else 1
                found.append(Short(
                    *key, style.leather, pieces, style.rules, count, apart, last_of(times(urgency, each), count)))
    return tuple(found)


def _rows(line: CutLine) -> tuple[DueRow, ...]:
    return line.rows or (DueRow("", 0, line.pairs_wanted),)


def _missing(
    rules: Rules, pair: tuple[Piece, ...], pairs: int, again: Counter, paired: Counter, alone: Counter
) -> Iterator[tuple[tuple[Piece, ...], int]]:
    feet = {piece.foot: piece for piece in pair}
    each = len(pair) // len(feet)
    if rules.pairs_from_one_hide or rules.pairs_same_class:
        whole = min(paired[foot] // each for foot in feet)
        yield pair, pairs - whole
        over = each * max(0, whole - pairs)
        yield from (((piece,), again[foot] - alone[foot] - over) for foot, piece in feet.items())
    else:
        yield from (((piece,), each * pairs + again[foot] - paired[foot] - alone[foot]) for foot, piece in feet.items())
