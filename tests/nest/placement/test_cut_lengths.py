"""Cutting stock: published optima, proved both ways, and small cases."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.placement import cut_lengths
from nest.placement.cut_lengths import fewest_stocks

CHVATAL = (100, {45: 97, 36: 610, 31: 395, 14: 211})
"""V. Chvátal (1983), Linear Programming, chapter on cutting stock (attribution from memory): 453 rolls."""

PAPER = (5600, {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12, 2100: 14,
                2140: 16, 2150: 18, 2200: 20})
"""A paper-roll example of an encyclopaedia (from memory): 73 rolls, waste 0.401 %."""


@pytest.mark.parametrize("patterns", [5000, 0], ids=["all patterns", "column generation"])
@pytest.mark.parametrize(("case", "optimum"), [(CHVATAL, 453), (PAPER, 73)], ids=["Chvátal", "paper rolls"])
def test_published_optima_are_met_and_proved(monkeypatch, case, optimum, patterns):
    """453 and 73 rolls, by choosing among all patterns and by column generation alike."""
    monkeypatch.setattr(cut_lengths, "MOST_PATTERNS", patterns)
    stock, wanted = case
    cuts = fewest_stocks(stock, list(wanted), list(wanted.values()))
    assert cuts.proved and cuts.stocks == cuts.bound == optimum
    assert_sound(cuts, stock, list(wanted), list(wanted.values()))


def assert_sound(cuts, stock, lengths, wanted):
    """Every pattern fits, and together they give what is wanted."""
    for pattern in cuts.patterns:
        assert sum(n * length for n, length in zip(pattern.counts, lengths, strict=True)) <= stock
    given_ = [sum(p.counts[i] * p.times for p in cuts.patterns) for i in range(len(lengths))]
    assert all(got >= number for got, number in zip(given_, wanted, strict=True))


def test_the_waste_of_the_paper_rolls():
    """73 rolls of 5600 leave 0.401 % of the material, the figure published with the example."""
    stock, wanted = PAPER
    used = sum(length * number for length, number in wanted.items())
    assert 100 * (1 - used / (73 * stock)) == pytest.approx(0.401, abs=5e-4)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 12), st.integers(0, 4)), min_size=1, max_size=4))
def test_small_cases_agree_with_packing_one_by_one(pieces):
    """The least number is that of a plain search over bins, and no bound is above it."""
    lengths, wanted = [length for length, _ in pieces], [number for _, number in pieces]
    cuts = fewest_stocks(12, lengths, wanted)
    assert_sound(cuts, 12, lengths, wanted)
    items = sorted((length for length, number in pieces for _ in range(number)), reverse=True)
    assert cuts.bound <= cuts.stocks
    if len(items) <= 7:
        assert cuts.stocks == _least_bins(tuple(items), ())


def _least_bins(items, rooms):
    """Fewest bins of 12 for the items, trying every bin for each."""
    if not items:
        return len(rooms)
    best = _least_bins(items[1:], (*rooms, 12 - items[0]))
    for at, room in enumerate(rooms):
        if room >= items[0]:
            best = min(best, _least_bins(items[1:], (*rooms[:at], room - items[0], *rooms[at + 1:])))
    return best


@pytest.mark.parametrize(("lengths", "wanted"), [([13], [1]), ([0], [1]), ([4, 5], [1]), ([4], [-1])])
def test_bad_lists_are_refused(lengths, wanted):
    """Lengths beyond the stock or nil, lists that do not fit, and numbers below 0 are no problem to solve."""
    with pytest.raises(ValueError, match="expected"):
        fewest_stocks(12, lengths, wanted)
