"""Used against planned, worked out by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest
from tiny_plans import box_plan, hide, in_pairs, slant_plan, spots

from nest.accounts.used import used_against_planned
from nest.plan import Begun, CutHide, CutLine, HideLayout, Side, Spoiled, UsedRoll


def two_hides():
    """Two pairs on each of two hides of 0.5 m² at 30 EUR a m²; eight reinforcements on one lay of two plies."""
    plan = box_plan()
    second = HideLayout("H2", in_pairs(["V38"] * 4, spots(4), first_pair=3))
    return replace(
        plan, order=(CutLine("box", "38", 4, 4),), hides=(hide("H1"), hide("H2")), layouts=(*plan.layouts, second),
        lays=(*plan.lays, replace(plan.lays[0], lay_id="L2")),
    )


def test_planned_and_used_by_hand():
    """One of two hides cut, measured 0.55 m², 0.9 m off the roll, one vamp spoiled: one pair finished.

    Planned: 2 hides, 100 dm², 2 × 2 × 449 mm = 1.796 m, 4 pairs, 30 + 1.796 × 3.20 = 35.7472 EUR, 8.9368 a pair.
    Used: 55 dm² at 0.30 = 16.50, 0.9 m at 3.20 = 2.88, together 19.38; dearer by 19.38 - 8.9368 = 10.44.
    """
    lost = (Spoiled("box", "38", Side.EITHER, 1),)
    begun = Begun((CutHide("H1", 550_000.0),), (UsedRoll("knit", 900.0),), spoiled=lost)
    size, style, order = used_against_planned(two_hides(), begun)
    for row in (size, style, order):
        assert row.planned.hides == pytest.approx(2.0) and row.used.hides == pytest.approx(1.0)
        assert row.planned.leather_mm2 == pytest.approx(1e6) and row.used.leather_mm2 == pytest.approx(550_000.0)
        assert row.planned.roll_mm == pytest.approx(1796.0) and row.used.roll_mm == pytest.approx(900.0)
        assert (row.used.vamps, row.spoiled, row.good) == (4, 1, 3)
        assert (row.planned.pairs, row.used.pairs) == (4, 1)
        assert float(row.planned.cost) == pytest.approx(35.7472) and float(row.used.cost) == pytest.approx(19.38)
        assert row.difference == Decimal("10.44")
        assert row.planned.leather_per_pair_mm2 == pytest.approx(250_000.0)
        assert row.used.leather_per_pair_mm2 == pytest.approx(550_000.0)


def test_a_spoiled_pair_is_one_pair_less():
    """Two vamps for either foot, or a left and a right; a left alone spoils its pair, two lefts both."""
    for plan, name, sides in ((box_plan(), "box", (Side.PAIR, Side.EITHER)),
                              (slant_plan(), "slant", (Side.PAIR, Side.LEFT, Side.RIGHT))):
        for side in sides:
            for count in (1, 2):
                begun = Begun((CutHide("H1"),), spoiled=(Spoiled(name, "38", side, count),))
                row = used_against_planned(plan, begun)[0]
                lost = count // 2 + count % 2 if side is Side.EITHER else count
                assert row.used.pairs == 2 - lost, (side, count)
                assert row.spoiled == count * (2 if side is Side.PAIR else 1)


def test_all_cut_as_planned_differs_by_nothing():
    """Everything cut, nothing measured, nothing spoiled: used is what was planned."""
    begun = Begun((CutHide("H1"), CutHide("H2")), (UsedRoll("knit"),))
    for row in used_against_planned(two_hides(), begun):
        assert row.planned == row.used and row.difference == 0


def test_nothing_cut_has_no_difference():
    """Before the first cut there is nothing to compare."""
    for row in used_against_planned(two_hides(), Begun()):
        assert row.used.leather_mm2 == 0.0 and row.difference is None
