"""Two plans side by side: causes by hand on rectangles, and sums that are exact whatever the figures."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import prod

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_plans import ALLOWANCE, NET, box_plan, hide, rectangle, rectangle_lattice, style, two_sizes, vamp

from nest.accounts import account
from nest.accounts.compare import Cause, compare, shapley
from nest.errors import PlanProblem
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.pieces.piece import Role
from nest.plan import CutLine, HideLayout
from nest.stock.material import Leather
from nest.whatif import quick_uses

BARE = box_plan(lays=(), styles=(style(roll=""),))
"""Two pairs on one hide for 15.00."""


def compared(before, after, seconds=(None, None)):
    """Compare two rectangular plans; amounts by cause where there are any."""
    sides = [(plan, account(plan, lattice=rectangle_lattice).uses) for plan in (before, after)]
    found = compare(*sides, seconds)
    assert sum((one.amount for one in found.causes), Decimal(0)) == found.change
    assert all(one.leather + one.reinforcement == one.amount for one in found.causes)
    assert found.change == found.after.cost - found.before.cost
    assert sum(amount for *_, amount in found.by_size) == found.change
    assert abs(sum(one.exact for one in found.causes) - Fraction(found.change)) <= Fraction(1, 100)
    assert all(abs(Fraction(one.amount) - one.exact) <= Fraction(2, 100) for one in found.causes)
    return found, {one.cause: str(one.amount) for one in found.causes if one.amount}


def test_nothing_changed():
    """A plan is as dear as itself."""
    found, causes = compared(box_plan(), box_plan())
    assert causes == {} and found.change == 0
    assert found.before == found.after and found.before.cutting_yield == pytest.approx(4 * 27_776 / 5e5)
    assert found.before.dm2_per_pair == pytest.approx(25.0)


def test_price_alone():
    """33 instead of 30 a m²: 1.50 on half a square metre, all of it price."""
    dearer = replace(BARE, leathers=(Leather("calf", Decimal(33), "m2"),))
    assert compared(BARE, dearer)[1] == {Cause.PRICE: "1.50"}


def classed(quality, price="24.00", **changes):
    """Two pairs on one hide of a class; class 1 at 30, class 2 at `price`."""
    leather = Leather("calf", Decimal(30), "m2", ((2, Decimal(price)),))
    return replace(BARE, leathers=(leather,), hides=(hide(quality=quality),), **changes)


def test_another_class_is_no_change_of_price():
    """Half a square metre of class 2 at 24 in place of class 1 at 30 is -3.00 of mix; no price has changed."""
    assert compared(classed(1), classed(2))[1] == {Cause.MIX: "-3.00"}
    assert compared(classed(2), classed(1))[1] == {Cause.MIX: "3.00"}
    assert compared(classed(2), classed(2, "26.00"))[1] == {Cause.PRICE: "1.00"}
    # Both: mix at old prices is -3, at new ones -2; the price of class 2 is +1 after the mix changed, 0 before.
    assert compared(classed(1), classed(2, "26.00"))[1] == {Cause.MIX: "-2.50", Cause.PRICE: "0.50"}


def test_own_prices_and_other_leathers_are_mix():
    """Another hide that has its own price, and another leather, change the mix; the same hide repriced, the price."""
    other = HideLayout("H2", BARE.layouts[0].placed)
    own = replace(BARE, hides=(hide("H2", price=Decimal(33)),), layouts=(other,))
    assert compared(BARE, own)[1] == {Cause.MIX: "1.50"}
    for price in (None, Decimal(35)):
        same = replace(own, hides=(hide("H2", price=price),))
        assert compared(own, same)[1] == {Cause.PRICE: "1.00" if price else "-1.50"}
    leathers = *BARE.leathers, Leather("kid", Decimal(40), "m2")
    before = replace(BARE, leathers=leathers)
    after = replace(before, hides=(replace(hide(), leather="kid"),))
    assert compared(before, after)[1] == {Cause.MIX: "5.00"}


def test_free_goods_have_a_price():
    """Leather for nothing is priced at nothing, not at what another plan pays for it."""
    assert compared(BARE, replace(BARE, leathers=(Leather("calf", Decimal(0), "m2"),)))[1] == {Cause.PRICE: "-15.00"}


def test_yield_alone():
    """A hide measured a tenth larger for the same pieces."""
    assert compared(BARE, replace(BARE, hides=(hide(measured=5.5e5),)))[1] == {Cause.YIELD: "1.50"}


def test_rejects_and_order():
    """One pair wanted of two cut, then two of two: the order doubles, and no pair is spare any more."""
    before = replace(BARE, order=(CutLine("box", "38", 1, 2),))
    # Of 15.00 the product 1 × 2 becomes 2 × 1: each order of change gives +15 −15 or −7.5 +7.5; the mean is 11.25.
    assert compared(before, BARE)[1] == {Cause.ORDER: "11.25", Cause.REJECTS: "-11.25"}


def test_twice_the_pairs_on_the_same_hide():
    """One pair for 15.00, then two: the order doubles, the yield too, and neither rejects nor pieces have changed."""
    one = replace(BARE, order=(CutLine("box", "38", 1, 1),),
                  layouts=(replace(BARE.layouts[0], placed=BARE.layouts[0].placed[:2]),))
    # Factors 1 to 2 and 1 to 1/2: the mean of both sequences is (15 + 7.5) / 2.
    assert compared(one, BARE)[1] == {Cause.ORDER: "11.25", Cause.YIELD: "-11.25"}


def test_allowance_against_yield():
    """A smaller allowance on the same hide at the same price: what allowance saves, yield takes."""
    small = rectangle(NET[0] + ALLOWANCE, NET[1] + ALLOWANCE)
    after = replace(BARE, pieces=(replace(vamp(), cut_outline=small),))
    found, causes = compared(BARE, after)
    assert found.change == 0 and set(causes) == {Cause.ALLOWANCE, Cause.YIELD}
    share = Fraction(212 * 112, 224 * 124)
    # Two factors, a → a s and 1 → 1/s: the mean of both sequences is (s − 1 + 1 − 1/s) / 2 of the cost.
    assert float(causes[Cause.ALLOWANCE]) == pytest.approx(float(15 * (share - 1 / share) / 2), abs=0.01)


def test_a_size_more_is_order_mix():
    """A size that only one plan has is order mix, whole; and so is one that is gone."""
    after = two_sizes()
    gone = replace(after, order=after.order[:1], layouts=tuple(
        replace(layout, placed=layout.placed[:2]) for layout in after.layouts
    ))
    found, causes = compared(gone, after)
    # The hide stays at 15.00: the size of 10.00 comes in, the other pays 10.00 less by a better yield.
    assert causes == {Cause.ORDER: "10.00", Cause.YIELD: "-10.00"} and found.change == 0
    assert compared(after, gone)[1] == {Cause.ORDER: "-10.00", Cause.YIELD: "10.00"}


def test_cutting_time_and_scrap_stand_apart():
    """An hour at 36.00 less of cutting, and a lower price for scrap."""
    plans = [replace(BARE, settings=Settings(costing=Costing(Decimal(36), Decimal(scrap)))) for scrap in ("2.5", "0")]
    found, causes = compared(*plans, ({"H1": 7200.0}, {"H1": 3600.0}))
    assert causes == {Cause.CUTTING: "-36.00", Cause.SCRAP: "0.97"}
    assert str(found.change) == "-35.03"


@pytest.mark.parametrize(("name", "values", "cause", "amount"), [
    ("freight_percent", ((("", Decimal(4)),), (("calf", Decimal(10)),)), Cause.FREIGHT, "0.90"),
    ("duty_percent", ((("calf", Decimal(20)),), (("", Decimal(6)),)), Cause.DUTY, "-2.10"),
    ("setup_per_hide", (Decimal(2), Decimal(7)), Cause.SETUP, "5.00"),
    ("press_s_per_pair", (Decimal(100), Decimal(150)), Cause.PRESS, "1.00"),
    ("overhead_percent", (Decimal(10), Decimal(30)), Cause.OVERHEAD, "3.00"),
    ("margin_percent", (Decimal(40), Decimal(25)), Cause.MARGIN, "-5.00"),
])
def test_what_is_added_to_material_is_its_own_cause(name, values, cause, amount):
    """With 15.00 of leather, one hide and two pairs, the cause is what the setting adds now less that of before."""
    pressed = Decimal(36) if cause is Cause.PRESS else None
    plans = [replace(BARE, settings=Settings(costing=Costing(press_per_hour=pressed, **{name: value})))
             for value in values]
    found = compare(*[(plan, quick_uses(plan)) for plan in plans])
    assert {one.cause: str(one.amount) for one in found.causes if one.amount} == {cause: amount}
    assert str(found.change) == amount
    assert {one.cause: one.exact for one in found.causes if one.exact} == {cause: Fraction(amount)}


def test_two_styles():
    """Plans of one style each are compared size by size; where a plan has two, styles are kept apart."""
    other = replace(
        BARE, styles=(style("case", roll=""),), order=(CutLine("case", "38", 2, 2),), pieces=(vamp(style="case"),)
    )
    found, causes = compared(BARE, other)
    assert causes == {} and any("case" in note for note in found.notes)
    found, causes = compared(replace(BARE, styles=(*BARE.styles, style("more"))), other)
    assert causes == {} and found.change == 0
    assert [(row[0], float(row[2])) for row in found.by_size] == [("box", -15.0), ("case", 15.0)]


def test_currencies_must_agree():
    """Amounts in two currencies are not compared."""
    with pytest.raises(PlanProblem, match="EUR and JPY"):
        compared(BARE, replace(BARE, settings=Settings(currency="JPY")))


def product_of(before, after):
    """The product of factors some of which have changed."""
    return lambda chosen: prod((after if i in chosen else before)[i] for i in range(len(before)))


fractions = st.fractions(min_value=0, max_value=100, max_denominator=1000)


@settings(deadline=None)
@given(st.integers(1, 5).flatmap(lambda n: st.tuples(*[st.lists(fractions, min_size=n, max_size=n)] * 2)))
def test_shapley_shares_add_up(two):
    """Shares add up exactly; a factor that does not change has none; the way back is the way there reversed."""
    before, after = two
    shares = shapley(product_of(before, after), len(before))
    assert sum(shares) == prod(after, start=Fraction(1)) - prod(before, start=Fraction(1))
    assert all(share == 0 for share, a, b in zip(shares, before, after, strict=True) if a == b)
    assert shapley(product_of(after, before), len(before)) == tuple(-share for share in shares)


def test_shapley_of_two_factors():
    """2 × 3 to 5 × 7: (5 − 2)(3 + 7)/2 = 15 and (7 − 3)(2 + 5)/2 = 14 (closed form for two factors)."""
    assert shapley(product_of([Fraction(2), Fraction(3)], [Fraction(5), Fraction(7)]), 2) == (15, 14)


amounts = st.decimals(min_value=1, max_value=100, places=2)


@settings(deadline=None)
@given(
    prices=st.tuples(amounts, amounts), measured=st.tuples(*[st.floats(4.9e5, 5.1e5)] * 2),
    wanted=st.tuples(*[st.integers(1, 2)] * 2), currency=st.sampled_from(["EUR", "JPY", "KWD"]),
)
def test_causes_add_up_to_the_last_minor_unit(prices, measured, wanted, currency):
    """Whatever changes at once, the causes shown add up to the change shown."""
    plans = [
        box_plan(
            leathers=(Leather("calf", price, "m2"),), hides=(hide(measured=area),),
            order=(CutLine("box", "38", pairs, 2),), settings=Settings(currency=currency),
        )
        for price, area, pairs in zip(prices, measured, wanted, strict=True)
    ]
    sides = [(plan, [replace(use, paid_mm2=area) if use.material_id == "H1" else use for use in USES])
             for plan, area in zip(plans, measured, strict=True)]
    found = compare(*sides)
    assert sum((one.amount for one in found.causes), Decimal(0)) == found.change


USES = account(box_plan(), lattice=rectangle_lattice).uses


def test_totals_by_hand():
    """Two pairs of half a square metre of leather; two plies of 409 mm with their ends on a roll of 320 mm: 0.29 m²."""
    found, _ = compared(box_plan(), replace(box_plan(), lays=()))
    before, after = found.before, found.after
    (used,) = (use for use in account(box_plan(), lattice=rectangle_lattice).uses if use.role is Role.REINFORCEMENT)
    assert (before.pairs_wanted, before.pairs_cut) == (2, 2)
    assert before.leather_m2 == after.leather_m2 == pytest.approx(0.5)
    assert before.reinforcement_m2 == pytest.approx(used.paid_mm2 / 1e6) and after.reinforcement_m2 == 0.0
    assert 0.2 < before.reinforcement_m2 < 0.35
    assert before.net_yield == after.net_yield and 0.0 < before.net_yield < before.cutting_yield
