"""Pairs to cut: exact at the edges, never too few, never one too many."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_styles import style

from nest.job.job import OrderLine
from nest.pieces.order import CutQuantity, cut_quantities, pairs_to_cut, reject_percent_to_use
from nest.rules import Rules


@pytest.mark.parametrize(
    ("wanted", "reject", "cut"),
    [(100, 0.0, 100), (90, 10.0, 100), (91, 10.0, 102), (1, 0.1, 2), (0, 5.0, 0), (97, 3.0, 100), (999, 0.1, 1000),
     (420, 4.0, 438), (1, 99.0, 100)],
)
def test_by_hand(wanted, reject, cut):
    """wanted ÷ (1 − reject), rounded up; where it comes out whole, not one more."""
    assert pairs_to_cut(wanted, reject) == cut


@given(st.integers(0, 100_000), st.integers(0, 999))
def test_least_number_that_covers(wanted, per_mille):
    """The good share of the pairs cut covers those wanted, and of one pair fewer it does not."""
    cut = pairs_to_cut(wanted, per_mille / 10.0)
    good = 1 - Fraction(per_mille, 1000)
    assert cut * good >= wanted
    assert cut == 0 or (cut - 1) * good < wanted


@pytest.mark.parametrize("reject", [-1.0, 100.0, 150.0, float("nan")])
def test_a_share_that_is_none_is_refused(reject):
    """A reject share below 0 or of all is an error in the input."""
    with pytest.raises(ValueError, match="reject share from 0 to below 100 %"):
        pairs_to_cut(10, reject)


def test_negative_pairs_are_refused():
    """Nobody wants fewer than no pairs."""
    with pytest.raises(ValueError, match="not below zero, found -1"):
        pairs_to_cut(-1, 0.0)


def test_share_of_the_worst_class_the_net_area_may_lie_in():
    """Class 3 is not admitted at net quality 2; a class without its own share has the general one."""
    by_quality = ((1, 2.0), (2, 6.0), (3, 15.0))
    assert reject_percent_to_use(4.0, by_quality, 1) == 2.0
    assert reject_percent_to_use(4.0, by_quality, 2) == 6.0
    assert reject_percent_to_use(4.0, by_quality[:1], 2) == 4.0
    assert reject_percent_to_use(4.0, (), 3) == 4.0


def test_order_is_grossed_up_by_style_and_size():
    """Lines keep their sequence, equal lines are added before rounding up, each style has its own share."""
    styles = (style(reject_percent=10.0), style(name="derby", reject_percent=0.0, rules=Rules(net_quality=2),
                                                reject_percent_by_quality=((2, 20.0),)))
    order = (OrderLine("ankle", "38", 45), OrderLine("derby", "38", 8), OrderLine("ankle", "38", 45))
    assert cut_quantities(order, styles) == (CutQuantity("ankle", "38", 90, 100), CutQuantity("derby", "38", 8, 10))


def test_unknown_style_is_a_key_error():
    """An order for a style that is not there names it."""
    with pytest.raises(KeyError, match="brogue"):
        cut_quantities((OrderLine("brogue", "38", 1),), (style(),))
