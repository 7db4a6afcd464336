"""The judge of headings: every zone under the net area must allow them."""

import math
from dataclasses import replace

import pytest
from judged import only
from shapely.geometry import box
from tiny_plans import HIDE_LENGTH, HIDE_WIDTH, box_plan, in_pairs, moved, roll, spots, with_hide, with_rules, zone

from nest.job.job import Settings
from nest.plan import HideLayout
from nest.rules import Rules
from nest.stock.material import RollStretch
from nest.verify import Rule, verify
from nest.verify.headings import at_bias, heading_fault, is_wrong


@pytest.mark.parametrize(("turn", "beyond"), [(15.0, 5.0), (10.5, 0.5), (-10.5, 0.5), (90.0, 80.0), (45.0, 35.0),
                                              (165.0, 5.0), (190.5, 0.5)])
def test_direction_beyond_tolerance(turn, beyond):
    """A heading more than 10° off across is found with the excess; half turns count as none."""
    centres = spots(4, first=(150.0, 150.0), pitch=(240.0, 0.0))
    plan = box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 4, centres)),),
                    settings=Settings(hide_gap_mm=0.0))
    plan = moved(plan, 3, dy=200.0, turn_deg=turn)
    finding = only(plan, Rule.DIRECTION)
    assert finding.unit == "deg" and finding.amount == pytest.approx(beyond) and finding.spots == (3,)


@pytest.mark.parametrize("turn", [0.0, 10.0, -10.0, 180.0, 170.0])
def test_direction_within_tolerance(turn):
    """Headings up to the tolerance either way, and half turns of them, are allowed."""
    plan = moved(box_plan(), 3, dy=200.0, turn_deg=turn)
    assert verify(plan).ok


def test_direction_is_judged_zone_by_zone():
    """Every zone with more than 0.1 % of the net area must allow the heading; less does not count."""
    def split(at):
        zones = [zone("a", outline=box(0, 0, at, HIDE_WIDTH)),
                 zone("b", stretch_deg=60.0, outline=box(at, 0, HIDE_LENGTH, HIDE_WIDTH))]
        return with_hide(box_plan(), zones=tuple(zones))

    # The net area of the last piece is x 710..910; the second zone takes what lies beyond the border.
    assert only(split(909.7), Rule.DIRECTION).amount == pytest.approx(20.0)
    assert verify(split(909.9)).ok
    # A zone that only meets the trim-off band (910..922) does not count.
    assert verify(split(912.0)).ok


def test_unknown_stretch():
    """Nothing but, with leave, bias: whatever the heading each piece there is wrong, with leave it counts at bias. Up
    to a thousandth of the net area may lie there; 100 of 200 mm are half of it."""
    def split(at, plan):
        zones = [zone("a", outline=box(0, 0, at, HIDE_WIDTH)),
                 zone("b", stretch_deg=None, outline=box(at, 0, HIDE_LENGTH, HIDE_WIDTH))]
        return with_hide(plan, zones=tuple(zones))

    finding = only(split(810.0, box_plan()), Rule.DIRECTION)
    assert (finding.unit, finding.spots) == ("%", (3,)) and finding.amount == pytest.approx(50.0)
    assert "50.00% of its net area on unknown stretch" in finding.sentence and "leave for bias" in finding.sentence
    assert verify(split(909.9, box_plan())).ok
    with_leave = verify(split(810.0, with_rules(box_plan(), bias_leave=True)))
    assert with_leave.ok and with_leave.checks.bias == 1
    askew = with_rules(moved(box_plan(), 3, dy=200.0, turn_deg=27.0), bias_leave=True)
    assert verify(with_hide(askew, zones=(zone(stretch_deg=None),))).checks.bias == 4
    # Where half of it lies on known ground its heading must be allowed there: 27° is 18° off 45°.
    finding = only(split(810.0, askew), Rule.DIRECTION)
    assert finding.unit == "deg" and finding.amount == pytest.approx(8.0)


def test_one_way_goods():
    """On one-way leather and rolls a half turn is wrong, and the finding says so rather than direction."""
    one_way = (replace(box_plan().leathers[0], one_way=True),)
    # Stretch at 90° and one way: toes point to 180°.
    heads = [replace(p, pose=replace(p.pose, heading_deg=180.0)) for p in box_plan().layouts[0].placed]
    plan = box_plan(leathers=one_way, layouts=(HideLayout("H1", tuple(heads)),))
    assert verify(plan).ok
    assert only(moved(plan, 1, turn_deg=180.0), Rule.ONE_WAY).amount == pytest.approx(170.0)
    back = box_plan(rolls=(roll(one_way=True),))
    assert {f.rule for f in verify(back).findings} == {Rule.ONE_WAY}
    assert [f.where for f in verify(back).findings] == ["L1", "L1"]


def test_roll_direction():
    """On a roll that stretches along its length, pieces along it lie wrong by the right angle less the tolerance."""
    findings = verify(box_plan(rolls=(roll(stretch=RollStretch.LENGTH),))).findings
    assert [(f.rule, f.where) for f in findings] == [(Rule.DIRECTION, "L1")] * 2
    assert findings[0].amount == pytest.approx(80.0)


def test_bias_needs_leave_and_is_counted():
    """At 45° a piece is wrong without leave; with leave it is allowed and counted."""
    plan = moved(box_plan(), 3, dx=-30.0, dy=220.0, turn_deg=45.0)
    only(plan, Rule.DIRECTION)
    allowed = verify(with_rules(plan, bias_leave=True))
    assert allowed.ok and allowed.checks.bias == 1
    between = moved(plan, 3, turn_deg=-22.0)
    # 23° off across, 22° off bias: the nearer of the two is 12° too far.
    assert only(with_rules(between, bias_leave=True), Rule.DIRECTION).amount == pytest.approx(12.0)


PLAIN, LEAVE = Rules(), Rules(bias_leave=True)


@pytest.mark.parametrize(("heading", "stretch", "rules", "one_way", "beyond", "rule"), [
    # Across on one-way goods is 180°; within 10° of 0° the toe points the other way, elsewhere the heading is wrong.
    (180.0, 90.0, PLAIN, True, -10.0, None), (191.0, 90.0, PLAIN, True, 1.0, Rule.DIRECTION),
    (0.0, 90.0, PLAIN, True, 170.0, Rule.ONE_WAY), (-10.0, 90.0, PLAIN, True, 160.0, Rule.ONE_WAY),
    (10.0 + 0.9e-6, 90.0, PLAIN, True, 160.0, Rule.ONE_WAY), (10.0 + 1.1e-6, 90.0, PLAIN, True, 160.0, Rule.DIRECTION),
    (45.0, 90.0, PLAIN, True, 125.0, Rule.DIRECTION), (225.0, 90.0, PLAIN, True, 35.0, Rule.DIRECTION),
    # With leave 135° and 225° are right too, and 45° and 315° half a turn off.
    (135.0, 90.0, LEAVE, True, -10.0, None), (225.0, 90.0, LEAVE, True, -10.0, None),
    (45.0, 90.0, LEAVE, True, 80.0, Rule.ONE_WAY), (315.0, 90.0, LEAVE, True, 80.0, Rule.ONE_WAY),
    (90.0, 90.0, LEAVE, True, 35.0, Rule.DIRECTION),
    # Goods that are not one-way know no half turn.
    (0.0, 90.0, PLAIN, False, -10.0, None), (45.0, 90.0, PLAIN, False, 35.0, Rule.DIRECTION),
    (45.0, 90.0, LEAVE, False, -10.0, None), (315.0, 90.0, LEAVE, False, -10.0, None),
    (112.0, 0.0, LEAVE, False, 12.0, Rule.DIRECTION), (57.0, 0.0, Rules(12.0, True), False, 0.0, None),
    # Where the stretch is unknown every heading is at bias, with leave; what is no number is wrong everywhere.
    (33.0, None, LEAVE, True, 0.0, None), (33.0, None, PLAIN, True, math.inf, Rule.DIRECTION),
    (math.nan, None, LEAVE, False, math.inf, Rule.DIRECTION), (math.inf, 90.0, LEAVE, True, math.inf, Rule.DIRECTION),
    (0.0, math.nan, PLAIN, True, math.inf, Rule.DIRECTION), (1.7e308, -1.7e308, PLAIN, True, math.inf, Rule.DIRECTION),
])
def test_a_wrong_heading_breaks_one_rule_by_its_degrees(heading, stretch, rules, one_way, beyond, rule):
    """Degrees count from the nearest allowed heading; only half a turn from one breaks the one-way rule."""
    found, broken = heading_fault(heading, stretch, rules, one_way)
    assert found == pytest.approx(beyond, abs=2e-6) and is_wrong(found) is (rule is not None)
    assert rule in (broken, None)


@pytest.mark.parametrize(("heading", "one_way", "bias"), [
    (10.0, False, False), (10.0 + 0.9e-6, False, False), (10.0 + 1.1e-6, False, True), (45.0, False, True),
    (180.0, True, False), (0.0, True, True), (math.nan, False, True),
])
def test_what_is_not_across_is_at_bias(heading, one_way, bias):
    """Bias leave on stretch at 90° allows 10° either way, and rounding."""
    assert at_bias(heading, 90.0, LEAVE, one_way) is bias
