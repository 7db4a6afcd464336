"""Rounding of money: halves to even, and parts that add up to what is shown."""

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nest.accounts.money import apportioned, minor_digits, rounded


@pytest.mark.parametrize(
    ("amount", "shown"),
    [("0.125", "0.12"), ("0.135", "0.14"), ("0.145", "0.14"), ("2.675", "2.68"), ("-0.125", "-0.12"), ("1", "1.00")],
)
def test_halves_go_to_even(amount, shown):
    """A half minor unit goes to the even neighbour, exactly as the decimal module rounds."""
    found = rounded(Fraction(amount), 2)
    assert str(found) == shown
    assert found == Decimal(amount).quantize(Decimal("0.01"), ROUND_HALF_EVEN)


def test_minor_units():
    """Digits after the point by currency (ISO 4217, from memory)."""
    assert [minor_digits(code) for code in ("EUR", "usd", "JPY", "KWD")] == [2, 2, 0, 3]
    assert str(rounded(Fraction("17.5"), 0)) == "18" and minor_digits("XXQ") == 2


def test_three_thirds():
    """One unit split in three: the unit that is missing goes to the first of equals."""
    thirds = apportioned([Fraction(1, 3)] * 3, Decimal("1.00"), 2)
    assert [str(one) for one in thirds] == ["0.34", "0.33", "0.33"]


@pytest.mark.parametrize(("parts", "total", "shown"), [
    (["1.005", "2.001"], "2.99", ["1.00", "1.99"]),  # too much by one: off the smaller remainder
    (["1.001", "2.005", "3.001"], "5.99", ["1.00", "2.00", "2.99"]),  # of equals off the last
    (["0", "0.006", "0.004"], "0.03", ["0.00", "0.02", "0.01"]),  # round and round, and nothing stays nothing
    (["0", "0"], "0.01", ["0.01", "0.00"]), (["0.5"], "0.50", ["0.50"]),
])
def test_what_is_missing_or_too_much_by_hand(parts, total, shown):
    """Units that are missing go to the largest remainders, what is too much comes off the smallest."""
    assert [str(one) for one in apportioned(list(map(Fraction, parts)), Decimal(total), 2)] == shown


amounts = st.lists(st.fractions(0, 10_000, max_denominator=10**6), min_size=1, max_size=12)


@given(amounts, st.sampled_from([0, 2, 3]))
def test_parts_add_up_to_the_total_shown(parts, digits):
    """Whatever the parts, what is shown adds up, and no part is off by a whole minor unit."""
    total = rounded(sum(parts), digits)
    shown = apportioned(parts, total, digits)
    assert sum(shown) == total
    assert all(abs(Fraction(one) - part) < Fraction(1, 10**digits) for one, part in zip(shown, parts, strict=True))
    assert all(one >= 0 for one in shown)


@given(amounts, amounts)
def test_parts_of_parts_add_up_too(first, second):
    """Two groups apportioned to one total, then each group's parts to its own: everything still adds up."""
    total = rounded(sum(first) + sum(second), 2)
    groups = apportioned([sum(first), sum(second)], total, 2)
    for parts, group in zip((first, second), groups, strict=True):
        assert sum(apportioned(parts, group, 2)) == group
