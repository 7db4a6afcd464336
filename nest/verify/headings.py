"""The direction rule in the judge's own words, so that a slip in the rules the search goes by is found here.

Stretch at σ: a heading lies *across* when it is within the tolerance of σ + 90°, at *bias* when it is within the
tolerance of σ ± 45° and the style has leave for it. A half turn is the same, unless the goods are one-way. Where the
stretch is unknown no heading is allowed, or with leave for bias every one, as bias.
"""

import math

from nest.rules import Rules
from nest.verify.verdict import Rule

HEADING_SLACK_DEG = 1e-6
"""Rounding left to headings at the very edge of the tolerance."""

_ACROSS = (90.0,)
_BIAS = (45.0, 135.0)


def beyond_deg(heading: float, stretch: float | None, rules: Rules, one_way: bool, offsets: tuple[float, ...]) -> float:
    """Degrees by which a heading misses the tolerance about the nearest of the stretch plus these offsets.

    Unknown stretch, None, is missed by any heading, infinitely far.
    """
    if stretch is None or not math.isfinite(heading - stretch):
        return math.inf
    turn = 360.0 if one_way else 180.0
    off = min(abs(math.remainder(heading - stretch - offset, turn)) for offset in offsets)
    return off - rules.tolerance_deg


def heading_fault(heading: float, stretch: float | None, rules: Rules, one_way: bool) -> tuple[float, Rule]:
    """Degrees beyond what is allowed, 0 or less where the heading is allowed, and the rule that breaks if it is not."""
    if stretch is None and rules.bias_leave and math.isfinite(heading):
        return 0.0, Rule.DIRECTION
    offsets = _ACROSS + (_BIAS if rules.bias_leave else ())
    beyond = beyond_deg(heading, stretch, rules, one_way, offsets)
    half_turn = one_way and beyond_deg(heading, stretch, rules, False, offsets) <= HEADING_SLACK_DEG
    return beyond, Rule.ONE_WAY if half_turn else Rule.DIRECTION


def is_wrong(beyond: float) -> bool:
    """Whether a heading this many degrees beyond the tolerance is wrong; what is no number is."""
    return not beyond <= HEADING_SLACK_DEG


def at_bias(heading: float, stretch: float | None, rules: Rules, one_way: bool) -> bool:
    """Whether a heading that is allowed needs its leave for bias."""
    return is_wrong(beyond_deg(heading, stretch, rules, one_way, _ACROSS))
