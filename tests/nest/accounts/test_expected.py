"""Good pairs by where the vamps lie, where the job has rates by class and deviation. All data are invented."""

from dataclasses import replace
from fractions import Fraction

import pytest
from shapely.geometry import box
from tiny_plans import box_plan, hide, in_pairs, spots, style, zone

from nest.accounts.expected import good_shares, plan_pairs, reject_rates_placed
from nest.pieces.rejects import RejectRates
from nest.plan import CutLine, HideLayout
from nest.planfile import plan_from_text, plan_text
from nest.whatif import quick_uses

RATES = RejectRates((5.0, 10.0), ((1, (2.0, 4.0)), (2, (10.0, 20.0))))
ZONES = (zone("butt", 1, 90.0, box(0, 0, 1000, 250)), zone("belly", 2, 84.0, box(0, 250, 1000, 500)))


def on_two_classes():
    """Two pairs on class 1 and across, two on class 2 and 6° off; five pairs wanted of four cut."""
    places = in_pairs(["V38"] * 8, [*spots(4), *spots(4, first=(120.0, 320.0))])
    return box_plan(
        styles=(style(rates=RATES),), order=(CutLine("box", "38", 5, 5),), lays=(),
        hides=(hide(zones=ZONES),), layouts=(HideLayout("H1", places),),
    )


def test_each_vamp_has_the_rate_of_its_ground():
    """Class 1 across 2 %, class 2 at 6° 20 %: of eight vamps 8 − 4 × 0.02 − 4 × 0.2 come out well."""
    plan = on_two_classes()
    assert reject_rates_placed(plan, plan.layouts[0]) == pytest.approx([0.02] * 4 + [0.2] * 4)
    assert good_shares(plan)["box", "38"] == pytest.approx(0.89)
    pairs = plan_pairs(plan, quick_uses(plan))["box", "38"]
    assert (pairs.cut, pairs.good) == (4, 4 * Fraction("0.89"))


def test_a_plan_keeps_its_rates():
    """They are written and read back; a plan without them counts as before."""
    plan = on_two_classes()
    assert plan_from_text(plan_text(plan)).styles[0].rates == RATES
    plain = replace(plan, styles=(style(),))
    assert good_shares(plain) == {} and plan_pairs(plain, quick_uses(plain))["box", "38"].good == 4


def test_a_style_without_rates_lies_beside_one_with_them():
    """Of two styles one has rates: its vamps have theirs, the other's have none and count by the order."""
    plan = on_two_classes()
    other = replace(plan.pieces[0], piece_id="W38", style="plain")
    placed = tuple(replace(one, piece_id="W38") if i < 4 else one for i, one in enumerate(plan.layouts[0].placed))
    plan = replace(
        plan, styles=(style("plain"), *plan.styles), pieces=(other, *plan.pieces),
        order=(CutLine("plain", "38", 1, 2), *plan.order), layouts=(HideLayout("H1", placed),))
    assert reject_rates_placed(plan, plan.layouts[0]) == [None] * 4 + [pytest.approx(0.2)] * 4
    assert good_shares(plan) == {("box", "38"): pytest.approx(0.8)}
    found = plan_pairs(plan, quick_uses(plan))
    assert {key: pairs.good for key, pairs in found.items()} == {("box", "38"): 2 * Fraction("0.8"), ("plain", "38"): 1}
