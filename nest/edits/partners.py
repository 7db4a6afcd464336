"""Pairs after a change: what lost its partner, or may no longer be one, is joined anew to what is alone."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

import numpy as np

from nest.pieces.piece import Foot, Piece, Role
from nest.plan import HideLayout, Plan
from nest.planning.grounds import class_under
from nest.planning.pairs import nearest_pairs
from nest.rules import Rules

Spot = tuple[int, int]
"""Index of a layout, and of a piece on it."""


def rejoined(plan: Plan, touched: Iterable[str]) -> tuple[HideLayout, ...]:
    """The layouts with pairs put right on the hides that were touched; all other pairs keep their numbers."""
    touched = set(touched)
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    rules = {style.name: style.rules for style in plan.styles}
    hides = {hide.hide_id: hide for hide in plan.hides}
    pairs = {(at, spot): one.pair for at, layout in enumerate(plan.layouts) for spot, one in enumerate(layout.placed)}
    mine = {key for key in pairs if plan.layouts[key[0]].hide_id in touched}
    levels = _levels(plan, pairs, pieces, rules, hides)
    together: dict[int, list[Spot]] = defaultdict(list)
    for key, pair in pairs.items():
        together[pair].append(key)
    for pair, members in together.items():
        if pair and mine.intersection(members) and not (
            len(members) == 2 and _may_pair(plan, members[0], members[1], pieces, rules, levels)
        ):
            pairs |= dict.fromkeys(members, 0)
    cut = set(plan.begun.cut_hides)
    alone: dict[tuple, dict[Foot, list[Spot]]] = defaultdict(lambda: defaultdict(list))
    for key, pair in pairs.items():
        layout = plan.layouts[key[0]]
        piece = pieces[layout.placed[key[1]].piece_id]
        if not pair and piece.role is Role.VAMP and layout.hide_id not in cut:
            place = key[0] if rules[piece.style].pairs_from_one_hide else -1
            alone[piece.style, piece.size, levels[key], place][piece.foot].append(key)
    number = max(pairs.values(), default=0)
    for feet in alone.values():
        for members in _nearest(plan, feet):
            if any(member in mine for member in members):
                number += 1
                for member in members:
                    pairs[member] = number
    return tuple(
        layout if all(one.pair == pairs[at, spot] for spot, one in enumerate(layout.placed)) else
        replace(layout, placed=tuple(replace(one, pair=pairs[at, spot]) for spot, one in enumerate(layout.placed)))
        for at, layout in enumerate(plan.layouts)
    )


def _levels(plan: Plan, spots: Iterable[Spot], pieces, rules: Mapping[str, Rules], hides) -> dict[Spot, int]:
    """Class of the ground under each piece where its partner must share it, else 0."""
    class_at: dict[str, Callable[[np.ndarray], int]] = {}
    found = {}
    for at, spot in spots:
        layout = plan.layouts[at]
        one = layout.placed[spot]
        piece = pieces[one.piece_id]
        if rules[piece.style].pairs_same_class:
            under = class_at.setdefault(layout.hide_id, class_under(hides[layout.hide_id]))
            found[at, spot] = under(one.pose.apply(piece.net_outline))
        else:
            found[at, spot] = 0
    return found


def _may_pair(plan: Plan, a: Spot, b: Spot, pieces: Mapping[str, Piece], rules, levels) -> bool:
    one, other = (pieces[plan.layouts[at].placed[spot].piece_id] for at, spot in (a, b))
    feet = {one.foot, other.foot}
    alike = (one.style, one.size) == (other.style, other.size)
    together = a[0] == b[0] or not rules[one.style].pairs_from_one_hide
    return alike and feet in ({Foot.LEFT, Foot.RIGHT}, {Foot.EITHER}) and together and levels[a] == levels[b]


def _nearest(plan: Plan, feet: Mapping[Foot, list[Spot]]):
    """Partners among pieces that are alone, the nearest first."""
    places = {
        foot: np.array([[plan.layouts[at].placed[spot].pose.x, plan.layouts[at].placed[spot].pose.y]
                        for at, spot in keys], dtype=np.float64).reshape(-1, 2)
        for foot, keys in feet.items()
    }
    empty = np.empty((0, 2))
    for i, j in nearest_pairs(places.get(Foot.LEFT, empty), places.get(Foot.RIGHT, empty)):
        yield feet[Foot.LEFT][i], feet[Foot.RIGHT][j]
    for i, j in nearest_pairs(places.get(Foot.EITHER, empty)):
        yield feet[Foot.EITHER][i], feet[Foot.EITHER][j]
