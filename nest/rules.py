"""Which directions and which ground a piece may have on a material."""

from dataclasses import dataclass
from enum import StrEnum


class Heading(StrEnum):
    """How a heading lies to the stretch of the ground."""

    ACROSS = "across"
    BIAS = "bias"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class Rules:
    """Rules of one style on its materials; a material's `one_way` flag comes with the material.

    tolerance_deg : largest deviation from *across* (and from bias, where it has leave).
    bias_leave : whether headings at 45° to the stretch are allowed too.
    net_quality : worst zone class the net area may lie in (1 is the best class).
    trim_quality : worst zone class the trim-off band may lie in; None for any ground, zoned or not.
    flaws_under_trim : whether the trim-off band may cover flaws marked coverable.
    pairs_from_one_hide, pairs_same_class : both pieces of a pair from one hide, from ground of one class.
    """

    tolerance_deg: float = 10.0
    bias_leave: bool = False
    net_quality: int = 1
    trim_quality: int | None = None
    flaws_under_trim: bool = True
    pairs_from_one_hide: bool = True
    pairs_same_class: bool = True


ZONE_SHARE = 1e-3
"""A zone counts when it holds more than this share of a piece's net area."""

HEADING_SLACK_DEG = 1e-6
"""Rounding left to headings at the very edge of the tolerance."""


def deviation_deg(heading_deg: float, target_deg: float, one_way: bool = False) -> float:
    """Smallest angle between a heading and a target direction, degrees; half turns are equal unless `one_way`."""
    period = 360.0 if one_way else 180.0
    difference = (heading_deg - target_deg) % period
    return min(difference, period - difference)


def deviation_from_across_deg(heading_deg: float, stretch_deg: float, one_way: bool = False) -> float:
    """Smallest angle between a heading and *across* the stretch direction.

    On one-way goods toes point towards stretch + 90°, never the other way.
    """
    return deviation_deg(heading_deg, stretch_deg + 90.0, one_way)


def judge_heading(heading_deg: float, stretch_deg: float | None, rules: Rules, one_way: bool = False) -> Heading:
    """Say how a heading lies to ground with this stretch direction under `rules`.

    Where the stretch is unknown (None) nothing is across; with leave every heading counts as bias.
    """
    if stretch_deg is None:
        return Heading.BIAS if rules.bias_leave else Heading.WRONG
    limit = rules.tolerance_deg + HEADING_SLACK_DEG
    if deviation_from_across_deg(heading_deg, stretch_deg, one_way) <= limit:
        return Heading.ACROSS
    if rules.bias_leave:
        for offset_deg in (45.0, 135.0):
            if deviation_deg(heading_deg, stretch_deg + offset_deg, one_way) <= limit:
                return Heading.BIAS
    return Heading.WRONG
