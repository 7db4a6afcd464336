"""Small parts of wrong ground add up: the limit is on their sum under a piece, never on each by itself."""

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, box
from tiny_plans import HIDE_LENGTH, HIDE_WIDTH, box_plan, flaw, moved, with_hide, with_rules, zone

from nest.plan import Plan
from nest.planning.grounds import class_under
from nest.verify import Rule, verify

STRIPS = 500
WIDTH = 0.0098
"""A hairline: alone it may lie under a piece, five hundred of them are 2.5 % of it."""


def hairlines(count: int = STRIPS, width: float = WIDTH) -> MultiPolygon:
    """Thin strips across the first vamp, whose net area is x 20..220, y 20..120."""
    lefts = np.linspace(25.0, 210.0, count)
    return MultiPolygon([box(x, 10.0, x + width, 130.0) for x in lefts])


def strewn(count: int, what: str) -> Plan:
    """The rectangle's plan with as many hairlines of wrong ground under its first vamp."""
    strips, whole = hairlines(count), box(0, 0, HIDE_LENGTH, HIDE_WIDTH)
    rest = zone("rest", outline=whole.difference(strips))
    if what == "bare":
        return with_hide(box_plan(), zones=(rest,))
    if what == "poor":
        return with_hide(box_plan(), zones=(rest, zone("poor", 3, outline=strips)))
    if what == "poor, a zone each":
        poor = (zone(f"poor {i}", 3, outline=one) for i, one in enumerate(strips.geoms))
        return with_hide(box_plan(), zones=(rest, *poor))
    if what == "stretch, a zone each":
        astray = (zone(f"astray {i}", 1, 0.0, one) for i, one in enumerate(strips.geoms))
        return with_hide(box_plan(), zones=(rest, *astray))
    if what == "band":
        band = MultiPolygon([box(x, 121.0, x + WIDTH, 131.0) for x in np.linspace(10.0, 230.0, count)])
        good = zone("rest", 2, outline=whole.difference(band))
        plan = with_hide(box_plan(), zones=(good, zone("poor", 3, outline=band)))
        return with_rules(plan, net_quality=2, trim_quality=2)
    thin = hairlines(2 * count, 0.0009)
    return with_hide(box_plan(), flaws=tuple(flaw(one, f"F{i}") for i, one in enumerate(thin.geoms)))


@pytest.mark.parametrize(("what", "rule"), [
    ("bare", Rule.NET_CLASS), ("poor", Rule.NET_CLASS), ("poor, a zone each", Rule.NET_CLASS),
    ("stretch, a zone each", Rule.DIRECTION), ("band", Rule.TRIM_CLASS), ("flaws", Rule.NET_CLASS),
])
def test_small_parts_of_wrong_ground_add_up(what, rule):
    """Hundreds of hairlines of 0.0098 mm, none a finding alone, are one together; a few are none."""
    # That the piece then lies on another class than its partner follows from it.
    findings = [one for one in verify(strewn(STRIPS, what)).wrong if one.rule is not Rule.PAIR]
    assert [(one.rule, one.spots) for one in findings] == [(rule, (0,))], [one.sentence for one in findings][:3]
    assert verify(strewn(5, what)).ok


def test_classes_of_a_pair_go_by_the_sum_too():
    """Fifty strips of class 2, 0.04 % of a piece each, put it on class 2: its partner on class 1 makes no pair."""
    strips = [box(x, 10.0, x + 0.08, 130.0) for x in np.linspace(25.0, 210.0, 50)]
    whole = box(0, 0, HIDE_LENGTH, HIDE_WIDTH)
    zones = (zone("rest", outline=whole.difference(MultiPolygon(strips))),
             *(zone(f"second {i}", 2, outline=one) for i, one in enumerate(strips)))
    plan = with_rules(with_hide(box_plan(), zones=zones), net_quality=2)
    assert [one.rule for one in verify(plan).wrong] == [Rule.PAIR]
    assert verify(with_rules(plan, pairs_same_class=False)).ok
    # The search tells the class as the judge does, else it would make such pairs.
    net, placed = plan.pieces[0].net_outline, plan.layouts[0].placed
    assert [class_under(plan.hides[0])(one.pose.apply(net)) for one in placed] == [2, 1, 1, 1]


def test_small_parts_are_added_up_under_a_piece_that_leaves_the_hide_too():
    """Two hundredths of a millimetre beyond the edge, on hairlines of 2.5 %: both are said, each by its own amount."""
    plan = moved(strewn(STRIPS, "poor"), 0, dx=-8.02)
    found = {(one.rule, one.spots): one for one in verify(plan).wrong if one.rule is not Rule.PAIR}
    assert found.keys() == {(Rule.OUTSIDE, (0,)), (Rule.NET_CLASS, (0,))}
    assert found[Rule.NET_CLASS, (0,)].amount == pytest.approx(100.0 * STRIPS * WIDTH / 200.0, rel=0.1)
    assert {one.rule for one in verify(moved(strewn(5, "poor"), 0, dx=-30.0)).wrong} == {Rule.OUTSIDE}
