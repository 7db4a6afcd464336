"""Which pieces are a pair: those that lie near each other stretch alike; pairs are numbered over the plan."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import count

import numpy as np

from nest.pieces.piece import Foot, Piece, Role
from nest.plan import HideLayout, Placed
from nest.rules import Rules


def nearest_pairs(first: np.ndarray, second: np.ndarray | None = None) -> list[tuple[int, int]]:
    """Pair points that lie near each other: the nearest two first, then the nearest two of those left.

    Parameters
    ----------
    first, second : (n, 2) and (m, 2) arrays
        Each of `first` with one of `second`; without `second`, those of `first` among themselves.
    """
    apart = np.linalg.norm(first[:, None] - (first if second is None else second)[None], axis=2)
    if second is None:
        apart[np.tril_indices(len(first))] = np.inf
    pairs = []
    for flat in np.argsort(apart, axis=None, kind="stable"):
        i, j = (int(index) for index in np.unravel_index(flat, apart.shape))
        if not np.isfinite(apart[i, j]):
            continue
        pairs.append((i, j))
        apart[i, :] = apart[:, j] = np.inf
        if second is None:
            apart[j, :] = apart[:, i] = np.inf
    return sorted(pairs)


def numbered(
    layouts: Sequence[HideLayout], pieces: Mapping[str, Piece], rules: Mapping[str, Rules],
    levels: Sequence[Sequence[int]],
) -> tuple[HideLayout, ...]:
    """The layouts with every vamp numbered by its pair, from 1; what finds no partner keeps 0.

    Within a hide first; across hides where a style's rules let a pair come from two.

    Parameters
    ----------
    levels : for each layout, the class of the ground under each of its pieces
        Pairs are made within one class where `pairs_same_class` says so.
    """
    pairs = [[0] * len(layout.placed) for layout in layouts]
    heaps: dict[tuple, dict[Foot, list[tuple[int, int]]]] = defaultdict(lambda: defaultdict(list))
    for at, layout in enumerate(layouts):
        for spot, placed in enumerate(layout.placed):
            piece = pieces[placed.piece_id]
            if piece.role is Role.VAMP:
                level = levels[at][spot] if rules[piece.style].pairs_same_class else 0
                heaps[at, piece.style, piece.size, level][piece.foot].append((at, spot))
    numbers = count(1)
    loose: dict[tuple, dict[Foot, list[tuple[int, int]]]] = defaultdict(lambda: defaultdict(list))
    for (_, *key), feet in heaps.items():
        for members in _within_hide(feet, layouts):
            number = next(numbers)
            for at, spot in members:
                pairs[at][spot] = number
        if not rules[key[0]].pairs_from_one_hide:
            for foot, spots in feet.items():
                loose[tuple(key)][foot] += [(at, spot) for at, spot in spots if not pairs[at][spot]]
    for feet in loose.values():
        either = feet[Foot.EITHER]
        across = [*zip(feet[Foot.LEFT], feet[Foot.RIGHT], strict=False), *zip(either[::2], either[1::2], strict=False)]
        for members in across:
            number = next(numbers)
            for at, spot in members:
                pairs[at][spot] = number
    return tuple(
        HideLayout(layout.hide_id, tuple(
            Placed(placed.piece_id, placed.pose, pair) for placed, pair in zip(layout.placed, mine, strict=True)
        ))
        for layout, mine in zip(layouts, pairs, strict=True)
    )


def renumbered(
    old: Sequence[HideLayout], new: Sequence[HideLayout], pieces: Mapping[str, Piece], rules: Mapping[str, Rules],
    level: Callable[[str, Placed], int],
) -> tuple[HideLayout, ...]:
    """Layouts of an earlier plan and new ones beside them as one plan, pairs numbered on.

    Pairs of the earlier plan keep their numbers. A piece whose partner is gone is given another one that is alone: a
    new one first, else one that lost its own; if there is none, it is alone. That is so for styles
    whose pairs may come from two hides: else the partner is on the same hide.

    level : class of the ground under a piece on a hide, by its id
    """
    count_old = Counter(one.pair for layout in old for one in layout.placed if one.pair)
    high = max(count_old, default=0)
    layouts = [
        *old,
        *(replace(layout, placed=tuple(replace(one, pair=one.pair and one.pair + high) for one in layout.placed))
          for layout in new),
    ]
    spots = [(at, spot) for at, layout in enumerate(layouts) for spot in range(len(layout.placed))]
    number = {(at, spot): layouts[at].placed[spot].pair for at, spot in spots}
    widows = [key for key in spots if key[0] < len(old) and count_old[number[key]] == 1]
    alone = [key for key in spots if key[0] >= len(old) and not number[key]]

    def kind(key: tuple[int, int]) -> tuple[Piece, int]:
        layout = layouts[key[0]]
        piece = pieces[layout.placed[key[1]].piece_id]
        same_class = rules[piece.style].pairs_same_class
        return piece, level(layout.hide_id, layout.placed[key[1]]) if same_class else 0

    while widows:
        first = widows.pop(0)
        mine, rank = kind(first)
        partner = None
        if not rules[mine.style].pairs_from_one_hide:
            others = ((key, *kind(key)) for key in (*alone, *widows))
            partner = next((key for key, piece, other in others if other == rank and _match(mine, piece)), None)
        if partner is None:
            number[first] = 0
        else:
            number[partner] = number[first]
            (alone if partner in alone else widows).remove(partner)
    return tuple(
        HideLayout(layout.hide_id, tuple(replace(one, pair=number[at, spot]) for spot, one in enumerate(layout.placed)))
        for at, layout in enumerate(layouts)
    )


def _match(a: Piece, b: Piece) -> bool:
    """Whether two pieces make a pair."""
    feet = {a.foot, b.foot}
    return (a.style, a.size) == (b.style, b.size) and feet in ({Foot.LEFT, Foot.RIGHT}, {Foot.EITHER})


def _within_hide(feet: Mapping[Foot, list], layouts) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    spots = {
        foot: np.array([(layouts[at].placed[s].pose.x, layouts[at].placed[s].pose.y) for at, s in members])
        for foot, members in feet.items()
    }
    left, right, either = (spots.get(foot, np.empty((0, 2))) for foot in (Foot.LEFT, Foot.RIGHT, Foot.EITHER))
    for i, j in nearest_pairs(left, right):
        yield feet[Foot.LEFT][i], feet[Foot.RIGHT][j]
    for i, j in nearest_pairs(either):
        yield feet[Foot.EITHER][i], feet[Foot.EITHER][j]
