"""Prices of sorts that share containers: held against duality, a fractional knapsack and examples by hand."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.selection.prices import MISSING_FACTOR, MOST_SORTS, sets_of, shared_out


def test_a_sort_that_finds_room_beside_another_comes_free():
    """Ten containers of cost 100 hold 4 of the choosy sort, 10 of both: eight of them serve 32, the rest is idle."""
    room = {("choosy",): 4.0, ("easy",): 10.0, ("choosy", "easy"): 10.0}
    shared = shared_out([100] * 10, [room] * 10, {"choosy": 32.0, "easy": 30.0})
    assert shared.prices["choosy"] == pytest.approx(25.0) and shared.prices["easy"] == pytest.approx(0.0)
    assert sum(shared.opened) == pytest.approx(8.0)


def test_sorts_that_want_the_same_room_cost_the_same():
    """Where both serve the whole container a unit of either costs cost ÷ room."""
    room = {("a",): 10.0, ("b",): 10.0, ("a", "b"): 10.0}
    shared = shared_out([50] * 6, [room] * 6, {"a": 20.0, "b": 25.0})
    assert shared.prices == pytest.approx({"a": 5.0, "b": 5.0})


def test_what_finds_no_container_costs_more_than_any():
    """A demand beyond all rooms is priced at MISSING_FACTOR times the dearest room."""
    shared = shared_out([10, 30], [{("a",): 5.0}, {("a",): 5.0}], {"a": 11.0})
    assert shared.prices["a"] == pytest.approx(MISSING_FACTOR * 6.0)
    assert shared.opened == pytest.approx((1.0, 1.0))


@given(st.lists(st.tuples(st.integers(1, 99), st.integers(1, 50)), min_size=1, max_size=8), st.floats(0.05, 0.95))
def test_of_one_sort_it_is_a_fractional_knapsack(containers, share):
    """One sort: the cheapest by cost ÷ room are opened, and the last of them makes the price (Dantzig 1957, a textbook
    result, from memory)."""
    demand = share * sum(room for _, room in containers)
    rooms = [{("a",): float(room)} for _, room in containers]
    shared = shared_out([cost for cost, _ in containers], rooms, {"a": demand})
    left, cost = demand, 0.0
    for rate, room in sorted((cost / room, room) for cost, room in containers):
        taken = min(left, room)
        left, cost = left - taken, cost + taken * rate
    opened = sum(share * cost for share, (cost, _) in zip(shared.opened, containers, strict=True))
    assert opened == pytest.approx(cost)


@settings(max_examples=50)
@given(st.data())
def test_prices_and_opened_shares_prove_each_other(data):
    """Strong duality: what the demand is worth, less what containers earn beyond their cost, is what is opened."""
    sorts = ("a", "b", "c")[: data.draw(st.integers(1, 3))]
    count = data.draw(st.integers(1, 6))
    costs = [data.draw(st.integers(1, 100)) for _ in range(count)]
    rooms = []
    for _ in range(count):
        # parts of the container, each fit for some of the sorts: the room of a set is what any of them can use
        sets = [some for n in range(1, len(sorts) + 1) for some in combinations(sorts, n)]
        parts = {some: data.draw(st.integers(0, 20)) for some in sets}
        rooms.append({some: float(sum(size for fit, size in parts.items() if set(fit) & set(some))) for some in parts})
    demand = {sort: float(data.draw(st.integers(1, 30))) for sort in sorts}
    shared = shared_out(costs, rooms, demand)
    rates = [cost / room[some] for cost, room in zip(costs, rooms, strict=True) for some in room if room[some]]
    missing = MISSING_FACTOR * max(rates, default=1.0)
    earned = sum(
        max(0.0, _worth_most(room, shared.prices, sorts) - cost) for cost, room in zip(costs, rooms, strict=True)
    )
    dual = sum(shared.prices[sort] * demand[sort] for sort in sorts) - earned
    opened = sum(share * cost for share, cost in zip(shared.opened, costs, strict=True))
    assert all(-1e-6 <= price <= missing + 1e-6 for price in shared.prices.values())
    if max(shared.prices.values()) < missing - 1e-6:  # nothing is missing
        assert dual == pytest.approx(opened, abs=1e-6)
    else:
        assert dual >= opened - 1e-6 * dual


def _worth_most(room, prices, sorts) -> float:
    """The most that a container is worth: the dearest sort takes all it can, then the next (greedy, polymatroid)."""
    worth, before, taken = 0.0, 0.0, ()
    for sort in sorted(sorts, key=lambda one: -prices[one]):
        taken = tuple(one for one in sorts if one in (*taken, sort))
        worth += prices[sort] * (room[taken] - before)
        before = room[taken]
    return worth


def test_many_sorts_are_looked_at_alone_and_in_a_chain():
    """Beyond MOST_SORTS the sets are no longer all there are: each alone, and the chain from the least room up."""
    few, many = "abcde"[:MOST_SORTS], "abcdefgh"
    assert len(sets_of(few, dict.fromkeys(few, 1.0))) == 2 ** len(few) - 1
    sets = sets_of(many, {sort: float(n) for n, sort in enumerate(many)})
    assert len(sets) == 2 * len(many) - 1 and tuple(many) in sets and ("a", "b", "c") in sets
