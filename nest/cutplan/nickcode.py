"""The code of the nicks: an even number of them tells the size, an odd number the style.

Nicks stand in groups: near each other within a group, wider apart between groups. A *word* is the number of nicks
group by group, (2, 1) for two and then one. Words of a kind all have an even number of nicks, or all an odd one, so
one nick that is missed, or seen twice, makes no other word of the kind: it is noticed, and counted again. (That a
parity check finds every single error is textbook knowledge: R. W. Hamming, Error Detecting and Error Correcting
Codes, Bell System Technical Journal 29, 1950; the code itself is our own.)

A size has the same word in every job: it depends on the last digit of its number, with words of their own for halves
and thirds, so that people learn it. Sizes ten steps apart share a word. A style's word depends on its place among the
styles that are cut from the same leather or roll; where there is one alone, it carries none.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import combinations, islice, pairwise
from typing import Protocol

from nest.pieces.piece import Piece, Role
from nest.pieces.sizing import CHILDREN_SIZES, number_in

Word = tuple[int, ...]
StyleNumbers = Mapping[tuple[str, Role], int]
"""Place of a style, from 1, among those cut from the same material; 0 or left out where it is alone there."""

FIRST_DIGIT = 6
"""The last digit with the shortest word."""

MONDOPOINT_FROM, MONDOPOINT_STEP_MM = 100, 5
"""From this number on a size is a length in mm; its digit counts steps of this length."""

_MOST_AT_A_GLANCE = 3
_FRACTIONS = (Fraction(1, 2), Fraction(1, 3), Fraction(2, 3))


class OfMaterials(Protocol):
    """A style of a job or a plan."""

    @property
    def name(self) -> str:
        """Its own name."""

    @property
    def leather(self) -> str:
        """Name of its leather."""

    @property
    def roll(self) -> str:
        """Name of its roll, or ""."""


@dataclass(frozen=True, slots=True)
class NickCode:
    """Words of one piece; empty where it carries none."""

    size: Word = ()
    style: Word = ()


def code_of(piece: Piece, numbers: StyleNumbers) -> NickCode:
    """The words of a piece."""
    number = numbers.get((piece.style, piece.role), 0)
    return NickCode(size_word(piece.size) or (), style_word(number) if number else ())


def style_numbers(styles: Iterable[OfMaterials]) -> dict[tuple[str, Role], int]:
    """Number of each style among those of its leather, as a vamp, and of its roll, as a reinforcement."""
    sharing: dict[tuple[str, Role], list[str]] = {}
    for style in styles:
        for role, material in ((Role.VAMP, style.leather), (Role.REINFORCEMENT, style.roll)):
            sharing.setdefault((material, role), []).append(style.name)
    return {
        (name, role): place if len(names) > 1 else 0
        for (_, role), names in sharing.items() for place, name in enumerate(names, start=1)
    }


def size_word(size: str) -> Word | None:
    """The word of a size; None for one that is no whole, half or third number.

    An English children's size counts back from 13, so that it goes on into the adult's: 13C has the word of a 0.
    """
    text = size.strip()
    bare = text.strip("Cc").strip()
    number = number_in(bare)
    if number is None:
        return None
    if number >= MONDOPOINT_FROM:
        number /= MONDOPOINT_STEP_MM
    elif bare != text:
        number -= CHILDREN_SIZES
    number = number.limit_denominator(3)  # a third written with two decimals
    whole, part = divmod(number, 1)
    at = (int(whole) - FIRST_DIGIT) % 10
    if part == 0:
        return ([*_words(2), *_words(4)])[at]
    return _words(6)[at + 10 * _FRACTIONS.index(part)]


def style_word(number: int) -> Word:
    """The word of the style of this number, from 1."""
    return next(islice((word for nicks in range(1, 99, 2) for word in _words(nicks)), number - 1, None))


def spelled(word: Word) -> str:
    """A word in figures, (2, 1) as "2-1", and as it looks: "||_|"."""
    return f"{'-'.join(map(str, word))} ({'_'.join('|' * group for group in word)})"


@cache
def _words(nicks: int) -> tuple[Word, ...]:
    """All words of this many nicks: first those of groups small enough to read at a glance, then by few groups."""
    found = []
    for groups in range(1, nicks + 1):
        for cuts in combinations(range(1, nicks), groups - 1):
            ends = (0, *cuts, nicks)
            found.append(tuple(b - a for a, b in pairwise(ends)))
    return tuple(sorted(found, key=lambda word: (max(word) > _MOST_AT_A_GLANCE, len(word), word)))
