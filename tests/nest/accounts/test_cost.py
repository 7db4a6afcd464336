"""Money of rectangular plans, every figure worked out by hand."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from tiny_plans import box_plan, hide, rectangle_lattice, roll, two_sizes

from nest.accounts import account
from nest.accounts.charges import ChargeKind
from nest.accounts.expected import good_pairs
from nest.accounts.sheet import LINES
from nest.errors import PlanProblem
from nest.job.job import Settings
from nest.plan import CutLine
from nest.stock.material import Leather
from nest.stock.prices import hide_price


def cost_of(plan):
    """Cost of a rectangular plan."""
    return account(plan, lattice=rectangle_lattice).cost


def shown_of(cost):
    """Leather, reinforcement and all of it as shown."""
    kinds = cost.by_kind
    return [str(amount) for amount in (kinds[ChargeKind.LEATHER], kinds[ChargeKind.REINFORCEMENT], cost.total)]


def test_materials():
    """Half a square metre at 30.00 and 0.898 m at 3.20 are 15.00 and 2.8736, 17.87 together."""
    cost = cost_of(box_plan())
    leather, backing = cost.materials
    assert (leather.of, leather.quantity, leather.unit, leather.price) == ("H1", Fraction("0.5"), "m2", 30)
    assert (backing.of, backing.quantity, backing.unit) == ("L1", Fraction("0.898"), "m")
    assert backing.exact == Fraction("2.8736")
    assert shown_of(cost) == ["15.00", "2.87", "17.87"]
    assert cost.currency == "EUR"


def test_price_of_a_hide():
    """Its own price goes before the price of its class, and that before the leather's."""
    calf = Leather("calf", Decimal("30"), "m2", ((2, Decimal("24")),))
    assert hide_price(hide(), calf) == (30, "m2")
    assert hide_price(hide(quality=2), calf) == (24, "m2")
    own = hide(quality=2, price=Decimal("27.5"))
    assert hide_price(own, calf) == (Decimal("27.5"), "m2")
    assert hide_price(replace(own, price_unit="ft2"), calf) == (Decimal("27.5"), "ft2")


@pytest.mark.parametrize(
    ("unit", "price", "shown"),
    [
        # 4¼ ft² = 4.25 × 9.290304 dm² = 39.483792 dm² = 0.39483792 m².
        ("ft2", "0.10", "0.42"),  # 0.425: the half goes to even
        ("ft2", "0.30", "1.28"),  # 1.275
        ("dm2", "0.25", "9.87"),  # 9.870948
        ("m2", "25", "9.87"),
    ],
)
def test_measured_in_quarter_feet(unit, price, shown):
    """A hide measured as 4¼ ft² costs exactly that, and halves of a cent go to even."""
    plan = box_plan(hides=(hide(measured=4.25 * 304.8**2),), leathers=(Leather("calf", Decimal(price), unit),), lays=())
    assert shown_of(cost_of(plan))[0] == shown


def test_unknown_price_or_unit():
    """A leather without a price, or priced by an unknown unit, is refused in one sentence."""
    with pytest.raises(PlanProblem, match="no price"):
        cost_of(box_plan(leathers=()))
    with pytest.raises(PlanProblem, match="yd2"):
        cost_of(box_plan(leathers=(Leather("calf", Decimal("1"), "yd2"),)))
    own = replace(hide(price=Decimal(3)), price_unit="m2")
    with pytest.raises(PlanProblem, match="yd2"):
        cost_of(box_plan(hides=(own,), leathers=(Leather("calf", Decimal("1"), "yd2"),)))


def borne(row) -> dict[str, str]:
    """What a good pair bears, by line; lines of nothing are left out."""
    return {line: str(amount) for line, amount in zip(LINES, row.per_pair, strict=True) if amount}


def test_pair_without_rejects():
    """Two pairs for 17.8736: 8.94 a pair, 7.50 of it leather, and no spoilage."""
    size, by_style, order = cost_of(box_plan()).rows
    assert [(row.style, row.size) for row in (size, by_style, order)] == [("box", "38"), ("box", ""), ("", "")]
    for row in (size, by_style, order):
        assert borne(row) == {"leather": "7.50", "reinforcement": "1.44"}
        assert str(row.good_pair) == "8.94" and row.exact_pair == Fraction("8.9368")


def test_spoilage_is_a_line_of_its_own():
    """One good pair of two cut bears the cost of both: 17.8736, half of it spoilage."""
    row = cost_of(box_plan(order=(CutLine("box", "38", 1, 2),))).sizes[0]
    assert row.exact_pair == Fraction("17.8736") and str(row.good_pair) == "17.87"
    # 7.50 + 1.4368 + 8.9368: the one missing cent goes to the first of two equal remainders.
    assert borne(row) == {"leather": "7.50", "reinforcement": "1.44", "spoilage": "8.93"}


def test_good_pairs():
    """Good pairs are the share the order reckons with, at most those wanted."""
    assert good_pairs(Fraction(2), None) == 2
    assert good_pairs(Fraction(100), CutLine("box", "38", 90, 100)) == 90
    assert good_pairs(Fraction(50), CutLine("box", "38", 90, 100)) == 45
    assert good_pairs(Fraction(120), CutLine("box", "38", 90, 100)) == 90


def test_sizes_bear_the_hide_by_rough_area():
    """Of a hide at 15.00, a size with twice the rough area bears 10.00."""
    small, large = cost_of(two_sizes()).sizes
    assert [(row.size, str(row.amounts[0])) for row in (small, large)] == [("38", "5.00"), ("44", "10.00")]
    assert small.pairs.cut == large.pairs.cut == 1


def test_reinforcement_without_vamps_is_in_the_total_only():
    """With no vamp cut there is no pair to cost, but the roll is still charged."""
    cost = cost_of(box_plan(layouts=()))
    assert str(cost.total) == "2.87" and cost.order.good_pair is None and cost.sizes[0].pairs.cut == 0


def test_currency_without_minor_unit():
    """Amounts in a currency without decimals are whole, and still add up."""
    cost = cost_of(box_plan(settings=Settings(currency="JPY")))
    assert shown_of(cost) == ["15", "3", "18"]


def test_plies_and_end_losses_are_paid_for():
    """Three plies of 409 + 40 mm are 1.347 m; without end losses 1.227 m."""
    lay = replace(box_plan().lays[0], plies=3)
    assert cost_of(box_plan(lays=(lay,))).materials[1].quantity == Fraction("1.347")
    assert cost_of(box_plan(lays=(lay,), rolls=(roll(end_loss_mm=0.0),))).materials[1].quantity == Fraction("1.227")
