"""Which items to keep: against trying every choice, and replacements against shapely."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layout_judge import cores, outlines
from tiny_problems import ELL, SQUARE, kind, left_and_right

from geometry.polygon import area
from geometry.pose import Pose, mirror
from geometry.precision import as_ring
from nest.placement.choose import complete_families, replaced, replacements
from nest.placement.problem import Item, Kind


def centred_square(side: float) -> np.ndarray:
    """A square about the origin."""
    return as_ring(0.5 * side * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]))


def east(k: int, pose: Pose) -> int:
    """Level 1 right of x = 500, where no replacement reaches over."""
    return int(pose.x > 500.0)


def complete(kinds, placed, level) -> bool:
    """The rule in its own words: at each level equal numbers of sides -1 and +1, even numbers of side 0."""
    for family in {k.family for k in kinds} - {""}:
        for at in {level_of for _, level_of in placed}:
            sides = [kinds[c].side for c, level_of in placed if kinds[c].family == family and level_of == at]
            if sides.count(-1) != sides.count(1) or sides.count(0) % 2:
                return False
    return all(sum(c == k for c, _ in placed) <= kinds[k].limit for k in range(len(kinds)))


def most_area(kinds, items, table, level) -> float:
    """Largest area that can be kept, by trying every choice for every item."""
    best = 0.0
    choices = [[None, *(c for c in range(len(kinds)) if (item.kind, c) in table)] for item in items]
    for choice in product(*choices):
        placed = [(c, level(i.kind, i.pose)) for c, i in zip(choice, items, strict=True) if c is not None]
        if complete(kinds, placed, level):
            best = max(best, sum(area(kinds[c].outline) for c, _ in placed))
    return best


@st.composite
def small_cases(draw):
    """Up to three kinds of square of various sides and families, and up to five items of them at two levels."""
    kinds = tuple(
        Kind(f"k{k}", ring := centred_square(draw(st.sampled_from((30, 40, 50)))), ring, (0.0, 90.0),
             draw(st.integers(0, 4)), draw(st.sampled_from(("", "a", "b"))), draw(st.sampled_from((-1, 0, 1))))
        for k in range(draw(st.integers(1, 3)))
    )
    items = tuple(
        Item(draw(st.integers(0, len(kinds) - 1)), Pose(draw(st.sampled_from((0.0, 900.0))) + i, 0.0, 90.0))
        for i in range(draw(st.integers(0, 5)))
    )
    return kinds, items


@settings(max_examples=60, deadline=None)
@given(small_cases())
def test_the_choice_keeps_as_much_as_trying_everything(case):
    """Families are complete at each level, limits hold, and no choice keeps more area."""
    kinds, items = case
    table = replacements(kinds)
    kept = complete_families(kinds, items, table, east)
    assert complete(kinds, [(item.kind, east(item.kind, item.pose)) for item in kept], east)
    assert sum(area(kinds[i.kind].outline) for i in kept) == pytest.approx(most_area(kinds, items, table, east))


def test_without_levels_partners_may_lie_anywhere():
    """Two squares far apart complete each other unless a level parts them."""
    kinds = (kind("square", SQUARE, 9, family="even"),)
    items = (Item(0, Pose(0.0, 0.0, 0.0)), Item(0, Pose(900.0, 0.0, 0.0)))
    table = replacements(kinds)
    assert complete_families(kinds, items, table) == items
    assert complete_families(kinds, items, table, east) == ()


def test_what_is_complete_stays_as_it_is():
    """A layout with nothing amiss is returned unchanged, to the bit."""
    kinds = left_and_right(9)
    items = tuple(Item(k % 2, Pose(100.1 * k, 0.3, 180.0 * (k // 2 % 2))) for k in range(6))
    assert complete_families(kinds, items, replacements(kinds)) == items
    # nothing needs replacing, so there is nothing to choose from
    assert complete_families(kinds, items, {}) == items
    scarce = tuple(replace(one, limit=0) for one in kinds)
    assert complete_families(scarce, items, replacements(kinds)) == ()


def test_an_odd_item_becomes_a_smaller_one_rather_than_nothing():
    """Three large and one small of two even families: the third large one turns small and completes the other."""
    kinds = (kind("large", centred_square(50), 9, family="large"), kind("small", centred_square(40), 9, family="small"))
    items = (*(Item(0, Pose(100.0 * k, 0.0, 0.0)) for k in range(3)), Item(1, Pose(300.0, 0.0, 0.0)))
    kept = complete_families(kinds, items, replacements(kinds))
    assert sorted(item.kind for item in kept) == [0, 0, 1, 1]


def test_nothing_to_choose_from_is_nothing():
    """No items, no answer but none."""
    kinds = left_and_right(9)
    assert complete_families(kinds, (), replacements(kinds)) == ()


@pytest.mark.parametrize("heading", [0.0, 33.0, 180.0, 271.5])
def test_replacements_lie_within_what_they_replace(heading):
    """By shapely: outline in outline and core in core, at any heading."""
    headings = (heading, 5.0)
    kinds = tuple(
        Kind(str(size), as_ring(size * ring), as_ring(size * ring * 0.8 + 0.05 * size * np.ptp(ring)), headings, 9)
        for ring in (ELL, mirror(ELL), SQUARE) for size in (1.0, 0.93, 0.85)
    )
    known = {}
    table = replacements(kinds, known)
    others = [(k, c) for k, c in table if k != c]
    assert len(others) >= 9
    again = replacements(kinds[::-1], known)
    assert {(8 - k, 8 - c): tuple(at) for (k, c), at in again.items()} == {kc: tuple(at) for kc, at in table.items()}
    for k, c in others:
        item = Item(k, Pose(123.4, -56.7, heading))
        smaller = replaced(item, c, table)
        assert smaller.kind == c
        assert smaller.pose.heading_deg == heading
        for of in (outlines, cores):
            (around,), (within,) = of([item], kinds), of([smaller], kinds)
            assert around.buffer(1e-6).covers(within)


def test_replacements_are_found_just_where_they_fit():
    """A smaller square fits, a larger or a longer one does not, nor one whose core would leave the core."""
    large = Kind("large", centred_square(50), centred_square(40), (0.0,), 9)
    small = Kind("small", centred_square(45), centred_square(35), (0.0,), 9)
    hard = Kind("hard", centred_square(45), centred_square(44), (0.0,), 9)
    long = kind("long", as_ring([(0, 0), (60, 0), (60, 10), (0, 10)]), 9)
    turned = Kind("turned", centred_square(20), centred_square(20), (0.0, 90.0), 9)
    table = replacements((large, small, hard, long, turned))
    assert set(table) == {(k, k) for k in range(5)} | {(0, 1)}
    assert all(np.array_equal(table[k, k], (0.0, 0.0)) for k in range(5))
    assert shapely.Polygon(large.outline).covers(shapely.Polygon(small.outline + table[0, 1]))
