"""Reject rates by class of ground and deviation, worked out by hand."""

import pytest

from nest.pieces.rejects import RejectRates
from nest.pieces.sizing import size_key

RATES = RejectRates((5.0, 10.0), ((1, (1.0, 2.0)), (3, (4.0, 8.0)), (5, (9.0, 9.0))), bias_percent=7.0)


def test_a_class_that_is_not_named_has_the_rates_of_the_next_better_one():
    """Below the first named, those of the first."""
    assert [RATES.row(quality) for quality in (1, 2, 3, 4, 6)] == [
        (1.0, 2.0), (1.0, 2.0), (4.0, 8.0), (4.0, 8.0), (9.0, 9.0)]
    assert RejectRates((5.0,), ((2, (3.0,)), (4, (6.0,)))).row(1) == (3.0,)


def test_a_band_ends_where_it_is_stated():
    """At 5° the first band still holds, beyond the last end the last band does; bias has a rate of its own."""
    assert [RATES.at(1, deviation) for deviation in (0.0, 5.0, 5.1, 10.0, 25.0)] == [1.0, 1.0, 2.0, 2.0, 2.0]
    assert RATES.at(1, 0.0, bias=True) == 7.0
    assert RejectRates((5.0,), ((1, (3.0,)),)).at(1, 0.0, bias=True) == 3.0


@pytest.mark.parametrize(("quality", "tolerance", "ground", "percent"), [
    (1, 10.0, (), 1.5), (1, 4.0, (), 1.0), (1, 0.0, (), 1.0), (1, 20.0, (), (5.0 * 1.0 + 15.0 * 2.0) / 20.0),
    (3, 10.0, (), 6.0), (3, 10.0, ((1, 0.75), (3, 0.25)), 0.75 * 1.5 + 0.25 * 6.0),
    (3, 10.0, ((1, 0.5), (4, 0.5)), 1.5),
])
def test_what_is_expected_before_it_is_known_where_pieces_lie(quality, tolerance, ground, percent):
    """Deviations lie evenly within the tolerance; classes count by their share of fit ground, else the worst does."""
    rates = RejectRates(RATES.up_to_deg, RATES.percent, ground=ground)
    assert rates.expected(quality, tolerance) == pytest.approx(percent)


def test_a_class_that_the_style_does_not_take_counts_for_nothing():
    """On first class alone the rate is that of first class, however many fail on second; no class counts as first."""
    rates = RejectRates((5.0,), ((1, (1.0,)), (2, (3.0,))))
    assert [rates.expected(quality, 5.0) for quality in (0, 1, 2)] == [1.0, 1.0, 3.0]


def test_sizes_are_sorted_by_their_number_and_names_follow():
    """9 before 10, halves in between, names last by letters."""
    assert sorted(["S", "10", "½", "9½", "0", "0 1/3", "9", "M"], key=size_key) == [
        "0", "0 1/3", "9", "9½", "10", "M", "S", "½"]
