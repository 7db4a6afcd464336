"""What an order needs when pieces of it were spoiled: pairs, and vamps that take the place of single spoiled ones."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from nest.pieces.piece import Foot
from nest.plan import Begun, Side, Spoiled


@dataclass(frozen=True, slots=True)
class Need:
    """What is needed of one style and size, cut or still to cut: whole pairs, and pieces beyond them by foot."""

    pairs: int
    alone: Counter[Foot]


def lost_pieces(spoiled: Iterable[Spoiled], *, either: bool) -> Counter[Foot]:
    """Pieces that were spoiled, by foot; `either` where one outline serves both feet."""
    lost: Counter[Foot] = Counter()
    for one in spoiled:
        if one.side is not Side.PAIR:
            lost[Foot(one.side)] += one.count
        elif either:
            lost[Foot.EITHER] += 2 * one.count
        else:
            lost.update({Foot.LEFT: one.count, Foot.RIGHT: one.count})
    return lost


def needed(
    begun: Begun, style: str, size: str, *, pairs_wanted: int, pairs_to_cut: int, either: bool, backing: bool = False
) -> Need:
    """Pairs to cut, and what was spoiled of them again: pairs as pairs, single vamps as single vamps.

    Where the rejects expected cover what is spoiled, only what goes beyond them is cut again.

    Parameters
    ----------
    either : whether one outline serves both feet
    backing : whether this is asked of reinforcements, of which only those lost with their vamps are cut again
    """
    mine = [one for one in begun.spoiled if (one.style, one.size) == (style, size) and (one.backed or not backing)]
    spare = pairs_to_cut - pairs_wanted if begun.rejects_cover else 0
    each = 2 if either else 1
    again = Counter({foot: max(0, number - each * spare) for foot, number in lost_pieces(mine, either=either).items()})
    feet = (Foot.EITHER,) if either else (Foot.LEFT, Foot.RIGHT)
    as_pairs = min(sum(one.count for one in mine if one.side is Side.PAIR), *(again[foot] // each for foot in feet))
    again.subtract({foot: each * as_pairs for foot in feet})
    return Need(pairs_to_cut + as_pairs, +again)
