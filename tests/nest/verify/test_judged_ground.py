"""The judge of the ground: flaws, classes, what the trim-off band may cover."""

import pytest
from judged import only
from shapely.geometry import MultiPolygon, Point, box
from tiny_plans import HIDE_LENGTH, HIDE_WIDTH, box_plan, flaw, with_hide, with_rules, zone

from nest.verify import Rule, verify


@pytest.mark.parametrize("onto", [0.1, 0.3, 40.0])
def test_net_area_on_a_flaw(onto):
    """Net area that reaches onto a flaw is found with its depth, whatever the flaw allows its band."""
    # Net area of the first piece: x 20..220, y 20..120.
    plan = with_hide(box_plan(), flaws=(flaw(box(60, 120 - onto, 180, 128)),))
    finding = only(plan, Rule.NET_FLAW)
    assert finding.spots == (0,) and finding.amount == pytest.approx(onto, abs=1e-4)


def test_pinhole_in_the_middle_of_the_net_area():
    """A pinhole wholly within the net area is found."""
    finding = only(with_hide(box_plan(), flaws=(flaw(Point(120, 70).buffer(0.3)),)), Rule.NET_FLAW)
    assert finding.amount == pytest.approx(50.0, abs=1e-6)


def test_trim_band_over_flaws():
    """The band may cover a flaw, unless it tears, may not be covered, or the style forbids it."""
    spot = box(60, 121, 180, 131.5)
    assert verify(with_hide(box_plan(), flaws=(flaw(spot),))).ok
    for plan in (
        with_hide(box_plan(), flaws=(flaw(spot, tears=True),)),
        with_hide(box_plan(), flaws=(flaw(spot, coverable=False),)),
        with_rules(with_hide(box_plan(), flaws=(flaw(spot),)), flaws_under_trim=False),
    ):
        # The cut line is at y = 132; the flaw's far edge, y = 121, lies 11 mm inside it.
        assert only(plan, Rule.TRIM_FLAW).amount == pytest.approx(11.0, abs=1e-4)
    # Half a millimetre within the cut line is found too; at the cut line it is not.
    assert only(with_hide(box_plan(), flaws=(flaw(box(60, 131.9, 180, 140), tears=True),)), Rule.TRIM_FLAW)
    assert verify(with_hide(box_plan(), flaws=(flaw(box(60, 132, 180, 140), tears=True),))).ok


def test_net_class():
    """Net area in a lower class is found with its depth; the band may lie there."""
    def plan(border):
        zones = (zone("good", outline=box(0, 0, HIDE_LENGTH, border)),
                 zone("low", 3, outline=box(0, border, HIDE_LENGTH, HIDE_WIDTH)))
        return with_hide(box_plan(), zones=zones)

    findings = verify(plan(119.9)).findings
    assert [f.rule for f in findings] == [Rule.NET_CLASS] * 4
    assert findings[0].amount == pytest.approx(0.1, abs=1e-4)
    assert verify(plan(120.0)).ok and verify(plan(125.0)).ok
    assert verify(with_rules(plan(80.0), net_quality=3)).ok


def test_trim_class():
    """With a class stated for the band, lower ground and ground without a zone are wrong under it."""
    zones = (zone("good", outline=box(0, 0, HIDE_LENGTH, 125)), zone("mid", 2, outline=box(0, 125, HIDE_LENGTH, 500)))
    plan = with_hide(box_plan(), zones=zones)
    assert verify(with_rules(plan, trim_quality=2)).ok
    findings = verify(with_rules(plan, trim_quality=1)).findings
    assert [f.rule for f in findings] == [Rule.TRIM_CLASS] * 4 and findings[0].amount == pytest.approx(7.0, abs=1e-4)
    bare = with_hide(box_plan(), zones=zones[:1])
    assert verify(bare).ok
    assert [f.rule for f in verify(with_rules(bare, trim_quality=2)).findings] == [Rule.TRIM_CLASS] * 4


def test_net_area_without_a_zone():
    """Net area outside every zone is wrong; a hairline between two zones, up to 0.01 mm, is not."""
    def plan(slit):
        zones = (zone("a", outline=box(0, 0, HIDE_LENGTH, 70)), zone("b", outline=box(0, 70 + slit, HIDE_LENGTH, 500)))
        return with_hide(box_plan(), zones=zones)

    assert verify(plan(0.005)).ok
    assert {f.rule for f in verify(plan(0.1)).findings} == {Rule.NET_UNZONED}
    assert {f.rule for f in verify(with_hide(box_plan(), zones=())).findings} == {Rule.NET_UNZONED}
    many = zone("parts", outline=MultiPolygon([box(0, 0, 465, 500), box(465.005, 0, 1000, 500)]))
    assert verify(with_hide(box_plan(), zones=(many,))).ok
