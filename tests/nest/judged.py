"""Plans to be judged, and the one finding that a planted fault gives."""

from tiny_plans import ROUGH, box_plan, in_pairs, spots

from nest.plan import HideLayout
from nest.verify import verify

PITCH_X, PITCH_Y = ROUGH[0] + 1.0, ROUGH[1] + 1.0
"""Distances of centres at which the rectangular vamps keep the gap of 1 mm exactly."""


def tight_plan(**changes):
    """Four vamps in a block, exactly at the gap of 1 mm, the block exactly at the hide's lower left corner."""
    centres = spots(4, columns=2, first=(ROUGH[0] / 2, ROUGH[1] / 2), pitch=(PITCH_X, PITCH_Y))
    return box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 4, centres)),), **changes)


def only(plan, rule):
    """The single finding of the plan, which must be about `rule`."""
    findings = verify(plan).findings
    assert [finding.rule for finding in findings] == [rule], [finding.sentence for finding in findings]
    return findings[0]
