"""Pairs to cut: exact at the edges, never too few, never one too many."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_styles import style

from nest.errors import PlanProblem
from nest.pieces.quantities import (
    CutLine,
    RejectPairs,
    cut_quantities,
    handed_out,
    ordered_quantities,
    pairs_to_cut,
    reject_percent_to_use,
    reject_percents,
)
from nest.pieces.rejects import RejectRates
from nest.pieces.style import OrderLine
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
    found = cut_quantities(order, styles, RejectPairs.BY_SIZE)
    assert found == (CutLine("ankle", "38", 90, 100), CutLine("derby", "38", 8, 10))


def test_unknown_style_is_a_key_error():
    """An order for a style that is not there names it."""
    with pytest.raises(KeyError, match="brogue"):
        cut_quantities((OrderLine("brogue", "38", 1),), (style(),), RejectPairs.POOLED)


def test_pooled_rejects_are_rounded_up_once():
    """Thirty pairs in six sizes at 3 % are 31 to cut, not 36; the extra pair goes to the largest size. None: 30."""
    order = tuple(OrderLine("ankle", size, pairs) for size, pairs in zip(
        ("37", "38", "39", "40", "41", "42"), (3, 6, 8, 7, 4, 2), strict=True))
    styles = (style(reject_percent=3.0),)
    cut = {rule: [line.pairs_to_cut for line in cut_quantities(order, styles, rule)] for rule in RejectPairs}
    assert cut[RejectPairs.POOLED] == [3, 6, 9, 7, 4, 2]
    assert cut[RejectPairs.BY_SIZE] == [4, 7, 9, 8, 5, 3]
    assert cut[RejectPairs.NONE] == [3, 6, 8, 7, 4, 2]


def test_styles_are_pooled_apart():
    """Each style has the pairs of its own rejects, wherever its lines stand in the order."""
    styles = (style(reject_percent=10.0), style(name="derby", reject_percent=50.0))
    order = (OrderLine("ankle", "38", 9), OrderLine("derby", "38", 3), OrderLine("ankle", "39", 9))
    assert cut_quantities(order, styles, RejectPairs.POOLED) == (
        CutLine("ankle", "38", 9, 10), CutLine("derby", "38", 3, 6), CutLine("ankle", "39", 9, 10))


def test_largest_remainder_on_the_seats_of_1792():
    """120 seats for the fifteen states of the census of 1790, as Hamilton's bill had them.

    Source: Balinski and Young, Fair Representation (1982), chapter 3; populations and seats from memory.
    """
    people = (630_560, 475_327, 432_879, 353_523, 331_589, 278_514, 236_841, 206_236, 179_570, 141_822, 85_533, 70_835,
              68_705, 68_446, 55_540)
    assert handed_out(120, people) == (21, 16, 14, 12, 11, 9, 8, 7, 6, 5, 3, 2, 2, 2, 2)


@given(st.integers(0, 500), st.lists(st.integers(0, 400), min_size=1, max_size=12))
def test_what_is_handed_out_adds_up_and_keeps_quota(number, shares):
    """The parts add up exactly; each is its quota rounded down or up, and a share of nothing gets nothing."""
    whole = sum(shares)
    if not whole:
        shares, whole = [1] * len(shares), len(shares)
    given_out = handed_out(number, shares)
    assert sum(given_out) == number
    for part, share in zip(given_out, shares, strict=True):
        quota = Fraction(number * share, whole)
        assert quota - 1 < part < quota + 1
    # A smaller remainder is never rounded up before a larger one.
    rest = [Fraction(number * share, whole) % 1 for share in shares]
    up = [part > number * share // whole for part, share in zip(given_out, shares, strict=True)]
    assert not any(up[i] and not up[j] and rest[i] < rest[j] for i in range(len(shares)) for j in range(len(shares)))


def test_ties_go_to_the_larger_share_and_then_to_the_first():
    """Of equal remainders the larger share is served first; of equal shares the one that comes first."""
    assert handed_out(1, (1, 1, 1)) == (1, 0, 0)
    assert handed_out(2, (1, 3)) == (0, 2)
    assert handed_out(0, ()) == ()


@pytest.mark.parametrize(("number", "shares", "said"), [(-1, (1,), "below zero"), (1, (-1, 2), "below zero"),
                                                        (1, (0, 0), "a share to hand out 1 by")])
def test_nonsense_is_not_handed_out(number, shares, said):
    """Numbers below zero, and something to hand out to nobody, are errors."""
    with pytest.raises(ValueError, match=said):
        handed_out(number, shares)


@given(st.lists(st.integers(0, 200), min_size=1, max_size=10), st.integers(0, 300))
def test_pooled_covers_the_style_with_no_pair_too_many(pairs, per_mille):
    """The good pairs expected of all sizes together are those wanted; of one pair fewer they are not."""
    order = [OrderLine("ankle", str(30 + i), n) for i, n in enumerate(pairs)]
    found = cut_quantities(order, (style(reject_percent=per_mille / 10.0),), RejectPairs.POOLED)
    cut, good = sum(line.pairs_to_cut for line in found), 1 - Fraction(per_mille, 1000)
    assert cut * good >= sum(pairs) and (not cut or (cut - 1) * good < sum(pairs))
    assert all(line.pairs_to_cut >= line.pairs_wanted for line in found)


def test_rows_are_kept_where_any_has_a_due_date_or_a_priority():
    """Either is enough; an order without both has no rows."""
    def rows(**urgency):
        (line,) = cut_quantities([OrderLine("ankle", "38", 4, **urgency)], [style()], RejectPairs.NONE)
        return [(row.due, row.priority, row.pairs) for row in line.rows]

    assert rows() == [] and rows(due="2026-03-31") == [("2026-03-31", 0, 4)] and rows(priority=1) == [("", 1, 4)]


def test_sizes_of_which_nothing_is_cut_are_left_out():
    """One pair of another size is enough; an order of no pairs at all is refused."""
    order = [OrderLine("ankle", "38", 0), OrderLine("ankle", "39", 1)]
    assert ordered_quantities(order, [style()], RejectPairs.NONE) == (CutLine("ankle", "39", 1, 1),)
    for nothing in (order[:1], []):
        with pytest.raises(PlanProblem, match="the order holds no pairs; add sizes with pairs to the order"):
            ordered_quantities(nothing, [style()], RejectPairs.POOLED)


def test_an_expected_reject_rate_has_three_decimals():
    """Rates by class and deviation go before the style's own rate, which is taken as written."""
    rates = RejectRates((10.0,), ((1, (2.34567,)),))
    styles = style(rates=rates), style(name="derby", reject_percent=2.34567)
    assert reject_percents(styles) == {"ankle": 2.346, "derby": 2.34567}
