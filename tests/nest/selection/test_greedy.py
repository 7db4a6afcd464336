"""Greedy orders by hand, choices that are never worse, and the least cost of a cover against trying all."""

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from nest.selection.cover import least_cost_of_cover
from nest.selection.greedy import take_in_order
from nest.selection.layouts import LEFT_OUT, Container, OfferedLayout, choose_layouts


def test_stock_order_by_hand():
    """The first container serves two of three, the second one more though it holds two; the third stays closed."""
    layouts = [OfferedLayout(0, ((0,), (0,))), OfferedLayout(1, ((0,), (0,))), OfferedLayout(2, ((0,), (0,), (0,)))]
    choice = take_in_order([0, 1, 2], layouts, [3], [10])
    assert choice.chosen == (0, 1) and choice.serves == ((0, 0), (0, LEFT_OUT)) and choice.short == (0,)
    assert take_in_order([2, 0, 1], layouts, [3], [10]).chosen == (2,)


def test_the_layout_that_serves_most_is_taken():
    """Of two layouts of a container the one with more of what is missing, by size; a useless container stays closed."""
    layouts = [OfferedLayout(0, ((0,), (0,))), OfferedLayout(0, ((1,),)), OfferedLayout(1, ((0,),))]
    choice = take_in_order([1, 0], layouts, [0, 1], [10, 10])
    assert choice.chosen == (1,) and choice.short == (0, 0)


def test_a_unit_serves_as_another_kind_when_its_own_is_met():
    """Two large units, one large and one small wanted: the second large one is cut as the small one."""
    choice = take_in_order([0], [OfferedLayout(0, ((0, 1), (0, 1)))], [1, 1], [5, 4])
    assert choice.serves == ((0, 1),) and choice.short == (0, 0)


@st.composite
def stores(draw):
    """Containers with layouts, and a demand for two kinds of which the first may serve as the second."""
    containers = [Container(draw(st.integers(1, 9)), draw(st.integers(1, 9))) for _ in range(draw(st.integers(1, 6)))]
    unit = st.sampled_from([(0,), (1,), (0, 1)])
    candidates = [
        OfferedLayout(index, tuple(draw(st.lists(unit, min_size=1, max_size=4))))
        for index in range(len(containers)) for _ in range(draw(st.integers(0, 2)))
    ]
    return containers, candidates, [draw(st.integers(0, 5)), draw(st.integers(0, 5))], [5, 4]


@settings(deadline=None, max_examples=40)
@given(stores())
def test_a_choice_is_never_worse_than_greedy(store):
    """Less or as little is missing, and at equal missing it costs no more; the solver's bound is no more than that."""
    containers, candidates, demand, sizes = store
    greedy = take_in_order(range(len(containers)), candidates, demand, sizes)
    choice = choose_layouts(containers, candidates, demand, sizes, known=greedy)

    def rank(found):
        missing = sum(size * n for size, n in zip(sizes, found.short, strict=True))
        return missing, sum(containers[candidates[c].container].cost for c in found.chosen)

    assert rank(choice) <= rank(greedy)
    assert choice.least_cost == rank(choice)[1]


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.integers(1, 20), st.integers(1, 20)), min_size=1, max_size=7), st.integers(0, 60))
def test_cover_is_that_of_trying_all(boxes, needed):
    """The least cost of boxes with room for what is needed; that of all boxes where even they have too little."""
    costs, rooms = zip(*boxes, strict=True)
    enough = [
        sum(cost for cost, take in zip(costs, pick, strict=True) if take)
        for pick in product((0, 1), repeat=len(boxes))
        if sum(room for room, take in zip(rooms, pick, strict=True) if take) >= needed
    ]
    assert least_cost_of_cover(costs, rooms, needed) == (min(enough) if enough else sum(costs))
