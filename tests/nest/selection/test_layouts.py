"""Choice of layouts across containers, held against every possible choice tried one by one."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.selection.layouts import LEFT_OUT, Choice, Container, OfferedLayout, choose_layouts


def _most_served(units, demand) -> dict[tuple[int, ...], None]:
    """Every vector of units served per kind that some assignment reaches, by trying all."""
    reached = {tuple([0] * len(demand)): None}
    for options in units:
        more = {}
        for served in reached:
            more[served] = None
            for kind in options:
                if served[kind] < demand[kind]:
                    more[tuple(n + (k == kind) for k, n in enumerate(served))] = None
        reached = more
    return reached


def _best(containers, candidates, demand, sizes):
    """The first four aims by trying every set of candidates: missing size, cost, number opened, size opened."""
    found = []
    for number in range(len(candidates) + 1):
        for chosen in combinations(range(len(candidates)), number):
            opened = [candidates[c].container for c in chosen]
            if len(set(opened)) < len(opened):
                continue
            units = [options for c in chosen for options in candidates[c].units]
            missing = min(
                sum(size * (wanted - n) for size, wanted, n in zip(sizes, demand, served, strict=True))
                for served in _most_served(units, demand)
            )
            found.append((missing, sum(containers[i].cost for i in opened), number,
                          sum(containers[i].size for i in opened)))
    return min(found)


@st.composite
def small_stores(draw):
    """Up to four containers with up to two layouts each, three kinds; a unit may serve as smaller kinds."""
    containers = [Container(draw(st.integers(1, 9)), draw(st.integers(1, 9))) for _ in range(draw(st.integers(1, 4)))]
    unit = st.integers(0, 2).map(lambda kind: tuple(range(kind, -1, -1))) | st.integers(0, 2).map(lambda kind: (kind,))
    candidates = [
        OfferedLayout(index, tuple(draw(st.lists(unit, min_size=1, max_size=4))))
        for index in range(len(containers)) for _ in range(draw(st.integers(0, 2)))
    ]
    demand = draw(st.lists(st.integers(0, 3), min_size=3, max_size=3))
    return containers, candidates, demand, [2, 3, 4]


@settings(deadline=None, max_examples=60)
@given(small_stores())
def test_choice_is_the_best_of_all(store):
    """The choice misses as little, costs as little, opens as few and as small containers as the best of all."""
    containers, candidates, demand, sizes = store
    choice = choose_layouts(containers, candidates, demand, sizes)
    opened = [candidates[c].container for c in choice.chosen]
    reached = (
        sum(size * n for size, n in zip(sizes, choice.short, strict=True)), sum(containers[i].cost for i in opened),
        len(opened), sum(containers[i].size for i in opened),
    )
    assert reached == _best(containers, candidates, demand, sizes)


@settings(deadline=None, max_examples=40)
@given(small_stores())
def test_units_serve_as_they_may(store):
    """At most one layout of a container; units serve as kinds they may; served and missing make up the demand."""
    containers, candidates, demand, sizes = store
    choice = choose_layouts(containers, candidates, demand, sizes)
    opened = [candidates[c].container for c in choice.chosen]
    assert len(set(opened)) == len(opened)
    served = list(choice.short)
    for c, serves in zip(choice.chosen, choice.serves, strict=True):
        assert len(serves) == len(candidates[c].units)
        for options, kind in zip(candidates[c].units, serves, strict=True):
            assert kind == LEFT_OUT or kind in options
            if kind != LEFT_OUT:
                served[kind] += 1
    assert served == list(demand)


def test_one_dear_container_against_two_cheap_ones():
    """Two units can come from one container at 10 or from two at 4 each: the two are cheaper."""
    boxes = [Container(10, 1), Container(4, 1), Container(4, 1)]
    layouts = [OfferedLayout(0, ((0,), (0,))), OfferedLayout(1, ((0,),)), OfferedLayout(2, ((0,),))]
    assert choose_layouts(boxes, layouts, [2], [1]).chosen == (1, 2)


def test_at_equal_cost_fewer_are_opened_and_large_ones_stay_whole():
    """Equal costs: one container rather than two, and the smaller of two that do."""
    boxes = [Container(8, 50), Container(4, 1), Container(4, 1), Container(8, 40)]
    one, two = ((0,),), ((0,), (0,))
    layouts = [OfferedLayout(0, two), OfferedLayout(1, one), OfferedLayout(2, one), OfferedLayout(3, two)]
    assert choose_layouts(boxes, layouts, [2], [1]).chosen == (3,)


def test_what_is_over_is_left_out_in_one_container():
    """Two units over are left out of one container, not one of each; the first units of it are used."""
    layouts = [OfferedLayout(0, ((0,),) * 3), OfferedLayout(1, ((0,),) * 3)]
    choice = choose_layouts([Container(1, 1)] * 2, layouts, [4], [5])
    assert sorted(choice.serves) == [(0, LEFT_OUT, LEFT_OUT), (0, 0, 0)]


def test_cost_of_units_over_counts():
    """A dearer container without surplus wins when units that are over cost enough."""
    boxes, layouts = [Container(5, 1), Container(6, 1)], [OfferedLayout(0, ((0,), (0,))), OfferedLayout(1, ((0,),))]
    assert choose_layouts(boxes, layouts, [1], [1]).chosen == (0,)
    assert choose_layouts(boxes, layouts, [1], [1], over_cost=[2]).chosen == (1,)


def test_nothing_to_choose_from_is_all_short():
    """Without candidates the whole demand is missing."""
    assert choose_layouts([], [], [2, 1], [3, 4]) == Choice((), (), (2, 1))


def test_same_question_same_answer():
    """The choice does not depend on the run."""
    layouts = [OfferedLayout(i, ((1, 0), (0,), (1, 0))[: 1 + i % 3]) for i in range(6)]
    asked = [Container(3 + i % 2, 7) for i in range(6)], layouts, [4, 3], [2, 3]
    assert choose_layouts(*asked) == choose_layouts(*asked)


def test_layouts_must_be_of_known_containers():
    """A candidate of a container that is not there is an error, not a silent free lunch."""
    with pytest.raises(ValueError, match="below 1"):
        choose_layouts([Container(1, 1)], [OfferedLayout(1, ((0,),))], [1], [1])
