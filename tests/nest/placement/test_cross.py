"""Crossing two layouts: against all choices there are, for squares, whose depths are known; what is handed out."""

from itertools import chain, combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layout_judge import outlines, overlapping
from tiny_problems import HALF_TURN, SQUARE, filled, kind

from nest.placement.cross import DEEPEST, OVERLAP_COST, Crossings, crossed
from nest.placement.families import families_of
from nest.placement.items import items_of
from nest.placement.model import build_model
from nest.placement.region import RegionSearch
from nest.placement.state import Snapshot

SIZES = (50.0, 45.0)
SHEET = shapely.box(0, 0, 400, 200)
KINDS = tuple(kind(f"{size:g}", SQUARE * size / 50.0, 40) for size in SIZES)
MODEL, ANGLES = build_model(KINDS, 0.0, filled(KINDS, SHEET).grounds)
MEAN_WIDTH = float(np.mean(SIZES))


def layout(places) -> Snapshot:
    """Squares at (kind, x, y)."""
    which = np.array([place[0] for place in places], np.int64)
    x, y = (np.array([place[axis] for place in places], float) for axis in (1, 2))
    return Snapshot(which, np.zeros(len(which), np.int64), x, y)


def depth(one, other) -> float:
    """How far two squares must move apart, along the better axis."""
    over = [min(one[axis] + SIZES[one[0]], other[axis] + SIZES[other[0]]) - max(one[axis], other[axis])
            for axis in (1, 2)]
    return max(0.0, min(over))


def worth(one, other) -> float:
    """Area of some squares of two layouts, less what overlaps cost; minus infinity if one is too deep."""
    deep = [depth(a, b) for a in one for b in other]
    if any(d > DEEPEST * MEAN_WIDTH for d in deep):
        return -np.inf
    return sum(SIZES[k] ** 2 for k, _, _ in (*one, *other)) - OVERLAP_COST * MEAN_WIDTH * sum(deep)


def some_of(places):
    """All choices among some places."""
    return chain.from_iterable(combinations(places, count) for count in range(len(places) + 1))


def rows(draw) -> list[tuple[int, float, float]]:
    """A row of up to six squares free of overlap, gaps between them as drawn."""
    x, places = 0.0, []
    for which, gap, y in draw:
        x += gap
        places.append((which, x, y))
        x += SIZES[which]
    return places


ROW = st.lists(
    st.tuples(st.integers(0, 1), st.floats(0.0, 12.0), st.sampled_from((0.0, 1.0, 48.0))), min_size=1, max_size=6
).map(rows)


@settings(max_examples=200, deadline=None)
@given(ROW, ROW)
def test_nothing_two_layouts_make_up_is_worth_more(one, other):
    """Of all choices none is better (the theorem of maximum flow and minimum cut: Ford & Fulkerson 1956,
    doi:10.4153/CJM-1956-045-5); what is handed out is worth what is said."""
    best = max(worth(mine, theirs) for mine in some_of(one) for theirs in some_of(other))
    found = crossed(MODEL, layout(one), layout(other))
    alone = max(worth(one, ()), worth((), other))
    if found is None:
        assert best == pytest.approx(alone, rel=1e-5)
        return
    assert found[0] == pytest.approx(best, rel=1e-5)
    made = [(int(k), x, y) for k, x, y in zip(found[1].kind, found[1].x, found[1].y, strict=True)]
    mine = [place for place in made if place in one]
    theirs = [place for place in made if place in other and place not in one]
    assert len(mine) + len(theirs) == len(made)
    assert worth(mine, theirs) == pytest.approx(found[0], rel=1e-5)


LEFT_FULL = [(0, 50.0 * q, 0.0) for q in range(4)] + [(1, 210.0, 0.0), (1, 300.0, 0.0)]
RIGHT_FULL = [(1, 0.0, 0.0), (1, 90.0, 0.0)] + [(0, 200.0 + 50.0 * q, 0.0) for q in range(4)]


def test_good_halves_come_together():
    """One layout is full on the left, the other one on the right."""
    value, made = crossed(MODEL, layout(LEFT_FULL), layout(RIGHT_FULL))
    assert sorted(made.x) == [50.0 * q for q in range(8)]
    assert value == pytest.approx(8 * 50.0**2)


def crossings_of(layouts, most=9) -> Crossings:
    """Crossings of some layouts."""
    crossings = Crossings(MODEL, most)
    crossings.add_best(layouts, len(layouts))
    return crossings


def taken_from(crossings) -> list[Snapshot]:
    """All that is handed out, in order."""
    return list(iter(crossings.take, None))


def area_of(kept) -> float:
    """Area of a layout."""
    return float(MODEL.worth[kept.kind].sum())


def test_of_layouts_alike_the_best_one_stays_and_the_poorest_goes():
    """Smaller squares in the same places, the same squares in another order, an empty layout; then one too many."""
    full = layout(LEFT_FULL)
    alike = [layout([(1, x, y) for _, x, y in LEFT_FULL]), full, layout(LEFT_FULL[::-1]), layout([])]
    for order in (alike, alike[::-1]):
        crossings = Crossings(MODEL, 9)
        for kept in order:
            crossings.add(kept)
        assert [area_of(kept) for kept in crossings.layouts] == [area_of(full)]
    three = [layout(LEFT_FULL), layout(RIGHT_FULL), layout([(0, 100.0, 100.0)])]
    for order in (three, three[::-1]):
        crossings = Crossings(MODEL, 2)
        for kept in order:
            crossings.add(kept)
        assert sorted(area_of(kept) for kept in crossings.layouts) == sorted(map(area_of, three[:2]))


def test_what_is_made_up_is_dealt_out_once():
    """The fullest first; each to one search only; what differs by less than three items from one tried, to none."""
    layouts = [layout(LEFT_FULL), layout(RIGHT_FULL), layout([(k, x, 60.0) for k, x, _ in RIGHT_FULL]),
               layout([(k, x + 4.0, y) for k, x, y in RIGHT_FULL])]
    alone = taken_from(crossings_of(layouts))
    assert area_of(alone[0]) == max(map(area_of, alone)) > max(map(area_of, layouts))
    for q, made in enumerate(alone):
        for other in alone[:q]:
            near = np.hypot(made.x[:, None] - other.x, made.y[:, None] - other.y).min(axis=1) <= 0.1 * MEAN_WIDTH
            assert max(len(made.kind), len(other.kind)) - near.sum() >= 3
    hands = crossings_of(layouts).dealt(2)
    assert all(len(hand.layouts) == len(layouts) for hand in hands)
    first, second = (taken_from(hand) for hand in hands)
    assert area_of(first[0]) == area_of(alone[0])
    assert first
    assert second
    key = {(made.kind.tobytes(), made.x.tobytes(), made.y.tobytes()) for made in first}
    assert not any((made.kind.tobytes(), made.x.tobytes(), made.y.tobytes()) in key for made in second)


@pytest.mark.parametrize("limit", [(40, 40), (5, 40), (0, 5)])
def test_a_search_keeps_limits_while_it_crosses(limit):
    """By shapely no overlap; of no kind more than there are, though the two layouts together have more."""
    turned = tuple(kind(one.name, one.outline, most, HALF_TURN) for one, most in zip(KINDS, limit, strict=True))
    problem = filled(turned, SHEET)
    model, angles = build_model(problem.kinds, 0.0, problem.grounds)
    units = [(k,) for k in range(2)]
    search = RegionSearch(
        model, families_of(problem.kinds, problem.grounds), np.array(limit), units, capacity=40, seed=1, passes=300)
    first = np.array([model.form_angle[model.form_start[k]] for k in range(2)])
    both = []
    for places in (LEFT_FULL, RIGHT_FULL):
        kept = layout(places)
        both.append(Snapshot(kept.kind, first[kept.kind], kept.x, kept.y))
    crossings = Crossings(model, 9)
    crossings.add_best(both, 2)
    search.cross(crossings)
    assert len(search.record.kind) >= min(5, sum(limit))
    assert (np.bincount(search.record.kind, minlength=2) <= limit).all()
    items = items_of(search.record, angles, problem.kinds)
    assert overlapping(outlines(items, problem.kinds)) == []
