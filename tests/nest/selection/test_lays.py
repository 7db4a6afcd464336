"""Lays, ratios and plies: known optima, proved, and limits kept."""

from itertools import combinations_with_replacement, product

import pytest

from nest.selection.lays import LayCosts, LayLimits, choose_lays

PER_LAY = 10_000
"""A set-up that outweighs every ply: fewest lays, then fewest plies."""


def cut_by(choice, kinds):
    """Items of each kind that the lays give."""
    return [sum(lay.items[k] * lay.plies for lay in choice.lays) for k in range(kinds)]


@pytest.mark.parametrize(("demand", "items", "plies", "lays", "total"), [
    ((12, 24, 36, 36, 24, 12), 6, 24, 2, 24),
    ((20, 40, 80, 100, 60), 6, 40, 2, 50),
    ((15, 40, 75, 80, 50, 20), 8, 30, 2, 35),
    ((7, 15, 23, 20, 9), 6, 12, 3, 13),
])
def test_exact_lay_planning_cases(demand, items, plies, lays, total):
    """Fewest lays, then plies, as an exhaustive search found them independently; proved here too."""
    choice = choose_lays(demand, LayLimits(plies, items), LayCosts((0,) * len(demand), 1, PER_LAY))
    assert choice.proved
    assert (len(choice.lays), sum(lay.plies for lay in choice.lays)) == (lays, total)
    assert cut_by(choice, len(demand)) == list(demand)
    assert all(sum(lay.items) <= items and lay.plies <= plies for lay in choice.lays)


@pytest.mark.parametrize("demand", [(3, 5), (4, 4), (1, 6), (5, 2)])
@pytest.mark.parametrize("setup", [0, 5, 40])
def test_small_cases_agree_with_every_possibility(demand, setup):
    """Up to two lays of up to 3 items and 4 plies: the cost is the least of all there are."""
    lengths, loss = (7, 11), 3
    single = [(items, plies) for items in product(range(4), repeat=2) if 0 < sum(items) <= 3 for plies in range(1, 5)]
    least = None
    for number in (1, 2):
        for lays in combinations_with_replacement(single, number):
            if tuple(sum(items[k] * plies for items, plies in lays) for k in range(2)) == demand:
                length = sum(p * (sum(n * le for n, le in zip(i, lengths, strict=True)) + loss) for i, p in lays)
                cost = number * setup + length
                least = cost if least is None else min(least, cost)
    choice = choose_lays(demand, LayLimits(4, 3, None, 2), LayCosts(lengths, loss, setup))
    assert (choice is None) == (least is None)
    if choice is not None:
        assert choice.proved and choice.cost == least


def test_plies_stay_within_length_and_stretches():
    """No ply is longer than the limit or lies over a splice; what a stretch gives is no more than it holds."""
    lengths, loss, stretches = (30, 40), 4, (250, 400, 130)
    choice = choose_lays((6, 8), LayLimits(10, None, 160, 4), LayCosts(lengths, loss, 10), stretches=stretches)
    assert choice is not None and cut_by(choice, 2) == [6, 8]
    plies = [sum(n * le for n, le in zip(lay.items, lengths, strict=True)) + loss for lay in choice.lays]
    assert all(ply <= 160 for ply in plies)
    assert all(sum(lay.from_stretch) == lay.plies for lay in choice.lays)
    for s, length in enumerate(stretches):
        assert sum(lay.from_stretch[s] * ply for lay, ply in zip(choice.lays, plies, strict=True)) <= length


def test_surplus_is_cut_only_where_it_pays():
    """With leave for surplus 11 and 13 items need one lay instead of two, and that only if a set-up is dear."""
    def lays(setup, over):
        limits, costs = LayLimits(6, 4), LayCosts((10, 10), 1, setup)
        return choose_lays((11, 12), limits, costs, over=(over, over))

    assert lays(100, 0).lays and len(lays(100, 0).lays) == 2
    assert len(lays(100, 1).lays) == 1 and cut_by(lays(100, 1), 2) == [12, 12]
    assert cut_by(lays(1, 1), 2) == [11, 12]


def test_what_cannot_be_is_none_and_nothing_is_nothing():
    """A demand beyond the limits gives None; no demand gives no lays; numbers that do not fit are refused."""
    assert choose_lays((100,), LayLimits(4, 4, None, 2), LayCosts((1,))) is None
    assert choose_lays((0, 0), LayLimits(4), LayCosts((1, 1))).lays == ()
    with pytest.raises(ValueError, match="one length"):
        choose_lays((1, 2), LayLimits(4), LayCosts((1,)))
    with pytest.raises(ValueError, match="below"):
        choose_lays((1, -2), LayLimits(4), LayCosts((1, 1)))
