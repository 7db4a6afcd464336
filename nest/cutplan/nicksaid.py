"""What is said of nicks: how they are read, what they mean, and which pieces they do not tell apart."""

from collections.abc import Iterable, Sequence

import numpy as np

from nest.cutplan.marks import NEAR_MM, ROOM, WIDE_MM, marks_of, widest_band_mm
from nest.cutplan.nickcode import NickCode, StyleNumbers, code_of, size_word, spelled, style_numbers
from nest.cutplan.sizes import by_number
from nest.pieces.piece import Piece, Role
from nest.plan import Placed, Plan

_KEEP_APART = (
    "lift and tie these stack by stack, and write style, size and foot on each stack from the labels of the drawing"
)


def nick_words(pieces: Iterable[Piece], numbers: StyleNumbers) -> list[str]:
    """How to read the nicks of these pieces, the size and style of every word, then what nicks do not tell."""
    pieces = tuple(dict.fromkeys(pieces))
    made = [(piece, marks_of(piece, code_of(piece, numbers))) for piece in pieces]
    sizes = {piece.size: None for piece, marks in made if marks.size}
    styles = {piece.style: code_of(piece, numbers).style for piece, marks in made if marks.style}
    told = []
    if sizes:
        told += [
            f"Nicks beside the toe, read backwards along the edge: {NEAR_MM:g} mm apart in a group, {WIDE_MM:g} mm "
            "between groups.",
            f"Toe ahead, {_face_up(pieces)}: left of the axis an even number tells the size"
            + (", right of it an odd number the style" if styles else "")
            + "; on right pieces the other side. Else count again.",
            "Size nicks: " + "; ".join(f"{size} = {spelled(word)}" for size in by_number(sizes)
                                       if (word := size_word(size)) is not None) + ".",
        ]
    if styles:
        told.append("Style nicks: " + "; ".join(f"{name} = {spelled(word)}" for name, word in styles.items()) + ".")
    return [*(told or ["No size nicks."]), *not_told(pieces, numbers)]


def nicks_on(plan: Plan, placed: Iterable[Placed]) -> tuple[str, ...]:
    """The same for what is placed on one material of a plan."""
    pieces = (plan.piece(piece_id) for piece_id in dict.fromkeys(one.piece_id for one in placed))
    return tuple(nick_words(pieces, style_numbers(plan.styles)))


def plan_not_told(plan: Plan) -> tuple[str, ...]:
    """Which pieces that are still to be cut no nicks tell apart on their material, and what to do."""
    numbers = style_numbers(plan.styles)
    said: dict[str, None] = {}
    for part in plan.groups_to_cut:
        used = {one.piece_id for one in part.placed}
        said |= dict.fromkeys(not_told([piece for piece in plan.pieces if piece.piece_id in used], numbers))
    return tuple(said)


def not_told(pieces: Sequence[Piece], numbers: StyleNumbers) -> list[str]:
    """One sentence for what pieces of one material carry no nicks or the same; none where all can be told apart.

    A size or style that lies there alone need not be known from another.
    """
    many_sizes = len({piece.size for piece in pieces}) > 1
    many_styles = len({piece.style for piece in pieces}) > 1
    codes = {piece.piece_id: code_of(piece, numbers) for piece in pieces}
    bare: dict[tuple[str, str, Role], list[Piece]] = {}
    for piece in pieces:
        marks, code = marks_of(piece, codes[piece.piece_id]), codes[piece.piece_id]
        if many_sizes and not marks.size:
            bare.setdefault(("size", piece.style, piece.role), []).append(piece)
        if many_styles and code.style and not marks.style:
            bare.setdefault(("style", piece.style, piece.role), []).append(piece)
    said = [_bare_words(what, style, role, mine) for (what, style, role), mine in bare.items()]
    return said + _alike_words(pieces, codes)


def _bare_words(what: str, style: str, role: Role, pieces: Sequence[Piece]) -> str:
    """Pieces of one style without nicks for size or style, why, and the remedy."""
    sizes = list(dict.fromkeys(piece.size for piece in pieces))
    named = f"{role} of {style}, size{'s' if len(sizes) > 1 else ''} {', '.join(by_number(sizes))}"
    if what == "size" and any(size_word(size) is None for size in sizes):
        return f"No {what} nicks: {named}: not a whole, half or third number; {_KEEP_APART}."
    widest, needed = min(map(widest_band_mm, pieces)), ROOM[role].band_mm
    short = max(0.1, float(np.ceil((needed - widest) * 10.0)) / 10.0)
    remedy = f"an inset {short:g} mm smaller" if role is Role.REINFORCEMENT else f"{short:g} mm more trim"
    why = f"the trim-off band is {widest:.1f} mm at most" if widest < needed else "the trim-off band is too short"
    return f"No {what} nicks: {named}: {why}, {needed:g} mm are needed; {_KEEP_APART}, or give {remedy} at the toe."


def _alike_words(pieces: Sequence[Piece], codes: dict[str, NickCode]) -> list[str]:
    """Different pieces of one material and foot with the same words, and by how much their lengths differ."""
    groups: dict[tuple[Role, str, NickCode], list[Piece]] = {}
    for piece in pieces:
        code = codes[piece.piece_id]
        if code.size:
            groups.setdefault((piece.role, piece.foot, code), []).append(piece)
    said: dict[str, None] = {}
    for (role, _, _), mine in groups.items():
        if len(mine) > 1:
            lengths = sorted(float(np.ptp(np.asarray(piece.cut_outline)[:, 0])) for piece in mine)
            names = ", ".join(f"{piece.style} {piece.size}" for piece in mine)
            said[
                f"The same nicks: {role} of {names}: known by length alone, at least {np.diff(lengths).min():.0f} mm "
                f"apart; {_KEEP_APART}."
            ] = None
    return list(said)


def _face_up(pieces: Iterable[Piece]) -> str:
    vamps = {piece.role is Role.VAMP for piece in pieces}
    if len(vamps) != 1:
        return "face up"
    return "grain up" if vamps == {True} else "the way up it was spread"
