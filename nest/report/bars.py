"""Where the parts of a bar begin, and where their numbers stand."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

_WITHIN = 0.045
"""A part of at least this share of the bar has room for its number."""

_APART = 0.035
"""Numbers below the bar stand this far from each other, as shares of it."""

_DARK = 2
"""This many first parts are dark, so that their numbers are pale."""


@dataclass(frozen=True, slots=True)
class BarPlace:
    """Where a part begins and its number stands, as shares of the bar; small parts have theirs `below` it."""

    left: float
    label: float
    below: bool
    dark: bool


def bar_places(parts: Sequence[float]) -> list[BarPlace]:
    """Places for parts, shares of a whole, one after another: every one is labelled, and no two numbers meet."""
    lefts = [fsum(parts[:i]) for i in range(len(parts))]
    middles = [left + part / 2.0 for left, part in zip(lefts, parts, strict=True)]
    small = [i for i, part in enumerate(parts) if 0.0 < part < _WITHIN]
    at = dict(enumerate(middles))
    for before, i in zip([None, *small], small, strict=False):
        at[i] = max(middles[i], _APART / 2.0 if before is None else at[before] + _APART)
    room = 1.0 - _APART / 2.0
    for i in reversed(small):
        at[i] = min(at[i], room)
        room = at[i] - _APART
    return [BarPlace(left, at[i], i in small, i < _DARK) for i, left in enumerate(lefts)]
