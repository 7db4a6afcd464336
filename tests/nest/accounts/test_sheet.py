"""The cost sheet: by hand on rectangles, and sums that hold to the last minor unit whatever the figures."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_plans import box_plan, hide, rectangle_lattice, roll, two_sizes

from nest.accounts import account
from nest.accounts.candidates import plan_candidates
from nest.accounts.charges import Charge, ChargeKind, Pairs
from nest.accounts.money import minor_digits
from nest.accounts.sheet import LINES, SPOILAGE, cost_sheet, plan_sheet
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.plan import CutLine
from nest.stock.material import Leather


def uses_of(plan):
    """What the hides and lays of a rectangular plan are paid for."""
    return account(plan, lattice=rectangle_lattice).uses


def sheet_of(plan, seconds=None):
    """Cost sheet of a rectangular plan."""
    return plan_sheet(plan, uses_of(plan), seconds)


def with_costing(**settings):
    """The two pairs of the rectangle, with settings of the cost sheet."""
    return box_plan(settings=Settings(costing=Costing(**settings)))


def amounts(row):
    """Amounts of a row by line."""
    return {line: str(amount) for line, amount in zip(LINES, row.amounts, strict=True) if amount}


def test_material_alone():
    """Half a square metre at 30.00 and 0.898 m at 3.20, as the order's cost has them: 17.87."""
    order = sheet_of(box_plan()).order
    assert amounts(order) == {"leather": "15.00", "reinforcement": "2.87"}
    assert str(order.total) == "17.87" and str(order.good_pair) == "8.94"
    assert order.exact == Fraction("17.8736")


def test_spoilage_is_a_line():
    """One good pair of two: each line is that of one pair, and the other pair is spoilage."""
    sheet = sheet_of(box_plan(order=(CutLine("box", "38", 1, 2),)))
    # 7.50 + 1.4368 + 8.9368 = 17.8736; the missing cent goes to the larger remainder, the first of equals.
    assert amounts(sheet.order) == {"leather": "7.50", "reinforcement": "1.44", "spoilage": "8.93"}
    assert dict(sheet.behind(sheet.order, SPOILAGE)) == {
        "layout of hide H1": Fraction("7.5"), "lay L1": Fraction("1.4368")
    }


def test_cutting_time():
    """A quarter of an hour for the hide and a tenth for the lay at 36.00 an hour: 9.00 and 3.60."""
    plan = with_costing(labour_per_hour=Decimal("36.00"))
    assert amounts(sheet_of(plan, {"H1": 900.0, "L1": 360.0}).order)["cutting"] == "12.60"
    assert "cutting" not in amounts(sheet_of(plan, {}).order)
    assert "cutting" not in amounts(sheet_of(box_plan(), {"H1": 900.0}).order)


def test_cutting_time_is_shared_by_cut_length():
    """Outlines of 2 × (224 + 124) and 2 × (448 + 124) mm: 696 and 1144 of 1840."""
    plan = replace(two_sizes(), settings=Settings(costing=Costing(labour_per_hour=Decimal(36))))
    small, large = sheet_of(plan, {"H1": 3600.0}).sizes
    cutting = LINES.index("cutting")
    assert float(small.amounts[cutting]) == pytest.approx(36 * 696 / 1840, abs=0.006)
    assert small.amounts[cutting] + large.amounts[cutting] == 36


def test_scrap_credit():
    """0.5 m² less four vamps of 0.027776 m² leave 0.388896 m² of scrap, at 2.50 a credit of 0.97."""
    row = sheet_of(with_costing(scrap_per_m2=Decimal("2.5"))).order
    assert amounts(row)["scrap credit"] == "-0.97"
    assert float(row.exact) == pytest.approx(17.8736 - 0.97224)


def test_price_breaks():
    """3 % off from 0.5 m², 50 % from 0.51: 14.55. A hide with its own price has none."""
    breaks = ((Decimal("0.5"), Decimal(3)), (Decimal("0.51"), Decimal(50)))
    plan = box_plan(leathers=(Leather("calf", Decimal(30), "m2", breaks=breaks),))
    assert amounts(sheet_of(plan).order)["leather"] == "14.55"
    plan = replace(plan, hides=(hide(price=Decimal(30)),))
    assert amounts(sheet_of(plan).order)["leather"] == "15.00"
    plan = box_plan(rolls=(roll(breaks=((Decimal("0.8"), Decimal("12.5")),)),))
    assert amounts(sheet_of(plan).order)["reinforcement"] == "2.51"  # 2.8736 × 7/8 = 2.5144


def test_candidates_side_by_side():
    """Another leather by the price of the hide's class, another roll by its price and width."""
    kid = Leather("kid", Decimal(4), "ft2", ((2, Decimal("3.5")),))
    felt = roll(roll_id="felt", width_mm=660.0, price_per_m=Decimal(5))
    costing = Costing(candidates=(("calf", "kid"), ("knit", "felt")))
    plan = box_plan(settings=Settings(costing=costing), hides=(hide(quality=2),), rolls=(roll(), felt))
    plan = replace(plan, leathers=(*plan.leathers, kid))
    now = sheet_of(plan)
    kids, felts = plan_candidates(plan, uses_of(plan))
    # 0.5 m² = 5.381955 ft²; at 3.50 18.836843. The roll is 640 mm wide, twice what it was: 0.449 m at 5.00.
    assert float(kids.sheet.order.exact) == pytest.approx(5.381955208 * 3.5 + 2.8736, abs=1e-8)
    assert felts.sheet.order.exact == Fraction("15") + Fraction("2.245")
    assert kids.dearer(now) == (kids.sheet.order.exact - now.order.exact) / 2
    assert any("mean area" in note for note in kids.sheet.notes)
    assert any("estimate of felt" in note for note in felts.sheet.notes)


def test_scrap_of_a_candidate_follows_its_area():
    """A leather of which a pair takes more leaves the more as scrap; the edge model says how much more."""
    small = Leather("small", Decimal(30), "m2", mean_hide_mm2=3e5, unfit_share=0.2)
    plan = box_plan(settings=Settings(costing=Costing(scrap_per_m2=Decimal(2), candidates=(("calf", "small"),))))
    plan = replace(plan, leathers=(*plan.leathers, small))
    (found,) = plan_candidates(plan, uses_of(plan))
    area = sum(one.quantity for one in found.sheet.charges if one.kind is ChargeKind.LEATHER)
    scrap = sum(one.quantity for one in found.sheet.charges if one.kind is ChargeKind.SCRAP)
    assert area > Fraction("0.55")
    assert float(area - scrap) == pytest.approx(4 * 0.027776)


def test_every_amount_is_traced():
    """What is behind an amount adds up to it exactly, and names the layouts."""
    plan = with_costing(labour_per_hour=Decimal(36), scrap_per_m2=Decimal(1))
    sheet = sheet_of(plan, {"H1": 1000.0, "L1": 77.0})
    for row in (*sheet.sizes, *sheet.styles, sheet.order):
        parts = [amount for line in LINES for _, amount in sheet.behind(row, line)]
        assert sum(parts) == row.exact
    assert {name for name, _ in sheet.behind(sheet.order, "cutting")} == {"layout of hide H1", "lay L1"}
    with pytest.raises(KeyError):
        sheet.row("box", "99")


money = st.fractions(min_value=0, max_value=10**6, max_denominator=10**6)
pair_counts = st.tuples(st.integers(0, 60), st.integers(0, 40)).map(lambda two: Pairs(
    Fraction(sum(two), 2), Fraction(min(two), 2)
))


@settings(deadline=None)
@given(
    rows=st.dictionaries(
        st.tuples(st.sampled_from("ab"), st.sampled_from(["37", "38", "39", "40"])),
        st.tuples(pair_counts, st.lists(st.tuples(st.sampled_from(ChargeKind), money), max_size=6)), max_size=7,
    ),
    currency=st.sampled_from(["EUR", "JPY", "KWD"]),
)
def test_sums_hold_to_the_last_minor_unit(rows, currency):
    """Lines add up to totals, sizes to styles, styles to the order, and the order's total is its exact one, rounded."""
    charges = [
        Charge(*key, kind, "x", amount, "", Fraction(-1 if kind is ChargeKind.SCRAP else 1), "x")
        for key, (_, parts) in rows.items() for kind, amount in parts
    ]
    sheet = cost_sheet(charges, {key: pairs for key, (pairs, _) in rows.items()}, currency)
    unit = Fraction(1, 10 ** minor_digits(currency))
    every = (*sheet.sizes, *sheet.styles, sheet.order)
    for row in every:
        assert sum(row.amounts, Decimal(0)) == row.total
        if row.good_pair is not None:
            assert sum(row.per_pair, Decimal(0)) == row.good_pair
            assert abs(Fraction(row.good_pair) - row.exact_pair) <= unit / 2
    for i in range(len(LINES)):
        assert sum((row.amounts[i] for row in sheet.sizes), Decimal(0)) == sheet.order.amounts[i]
        assert sum((row.amounts[i] for row in sheet.styles), Decimal(0)) == sheet.order.amounts[i]
    assert sum((row.total for row in sheet.sizes), Decimal(0)) == sheet.order.total
    assert abs(Fraction(sheet.order.total) - sheet.order.exact) <= unit / 2
    assert sheet.order.exact == sum(charge.exact for charge in charges)
    for row in sheet.sizes:
        assert abs(Fraction(row.total) - row.exact) < len(LINES) * 2 * unit
