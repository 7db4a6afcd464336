"""The order in which a table cuts."""

import itertools
import time

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.cutplan.order import cut_route, travel_mm

POINTS = st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 1000)), max_size=12)


def nearest_first(points):
    """Travel when the head always goes to the nearest point left, from the origin."""
    left, here, total = [tuple(p) for p in points], (0.0, 0.0), 0.0
    while left:
        to = min(left, key=lambda p: np.hypot(p[0] - here[0], p[1] - here[1]))
        total += np.hypot(to[0] - here[0], to[1] - here[1])
        left.remove(to)
        here = to
    return total


def cut_order(points, start=(0.0, 0.0)) -> np.ndarray:
    """Order of outlines with one place each to begin at."""
    return cut_route([point[None] for point in np.asarray(points, dtype=np.float64).reshape(-1, 2)], start)[0]


@settings(max_examples=15, deadline=None)
@given(POINTS)
def test_order_is_a_permutation(points):
    """Every point is visited once, also where points coincide or there are none."""
    assert sorted(cut_order(points)) == list(range(len(points)))


def test_small_orders_are_the_shortest_of_all():
    """Against all 720 orders of six random points: no order is shorter (to the tenth of a mm per way)."""
    for seed in range(6):
        points = np.random.default_rng(seed).uniform(0, 1000, (6, 2))
        best = min(travel_mm(points[list(order)]) for order in itertools.permutations(range(6)))
        assert travel_mm(points[cut_order(points)]) <= best + 0.6


def test_points_of_a_grid_are_visited_without_detour():
    """On a 5 x 4 grid of 100 mm the shortest open way has 19 steps of 100 mm (no step can be shorter)."""
    points = np.array([(100.0 * x, 100.0 * y) for x in range(5) for y in range(4)])
    shuffled = points[np.random.default_rng(3).permutation(20)]
    assert travel_mm(shuffled[cut_order(shuffled)]) == 1900.0


def test_hide_sized_order_is_short_quick_and_repeatable():
    """60 pieces: at least 5 % less travel than nearest-first, the same twice."""
    points = np.random.default_rng(60).uniform(0, 1, (60, 2)) * (2200, 1000)
    order = cut_order(points)
    assert travel_mm(points[order]) < 0.95 * nearest_first(points)
    assert np.array_equal(order, cut_order(points))


def test_start_decides_where_the_way_begins():
    """From the far end the order of points on a line is turned round."""
    line = [(100.0 * i, 0.0) for i in range(8)]
    assert list(cut_order(line)) == list(range(8))
    assert list(cut_order(line, start=(900.0, 0.0))) == list(range(7, -1, -1))


def test_small_routes_are_the_shortest_of_all():
    """Against all 4! orders × 3^4 places to begin of four triangles: none is shorter, pairs asked for or not."""
    for seed in range(4):
        places = [np.random.default_rng(10 * seed + i).uniform(0, 600, (3, 2)) for i in range(4)]
        for before in ((), ((2, 0), (3, 1))):
            order, picks = cut_route(places, before=before)
            turn = np.argsort(order)
            assert all(turn[i] < turn[j] for i, j in before)
            best = min(
                travel_mm([places[i][chosen[i]] for i in sequence])
                for sequence in itertools.permutations(range(4))
                if all(sequence.index(i) < sequence.index(j) for i, j in before)
                for chosen in itertools.product(range(3), repeat=4)
            )
            assert travel_mm([places[i][picks[i]] for i in order]) <= best + 0.6


def test_routes_are_repeatable_and_not_far_from_what_more_time_finds():
    """60 outlines: the same route twice, at most a tenth longer than three times the work finds."""
    pick = np.random.default_rng(4)
    ring = np.array([(0, 0), (200, 20), (180, 150), (90, 180), (10, 140)], dtype=float)
    places = [ring * pick.uniform(0.7, 1.0) + (210 * (i % 10), 190 * (i // 10)) for i in range(60)]
    order, picks = cut_route(places)
    again = cut_route(places)
    assert np.array_equal(order, again[0]) and np.array_equal(picks, again[1])
    longer, more = cut_route(places, effort=3.0)
    short = travel_mm([places[i][picks[i]] for i in order])
    assert short <= 1.1 * travel_mm([places[i][more[i]] for i in longer])


def test_the_clock_never_decides_a_route(monkeypatch):
    """With a clock that leaps an hour at every look, the route is the same: a slow machine draws no other plan."""
    pick = np.random.default_rng(8)
    places = [pick.uniform(0, 90, (12, 2)) + np.array((100 * (i % 8), 100 * (i // 8))) for i in range(40)]
    before = ((3, 30), (12, 1), (39, 0))
    order, picks = cut_route(places, before=before)
    for clock in ("monotonic", "perf_counter", "time"):
        monkeypatch.setattr(time, clock, itertools.count(0.0, 3600.0).__next__)
    again = cut_route(places, before=before)
    assert np.array_equal(order, again[0]) and np.array_equal(picks, again[1])
    turn = np.argsort(order)
    assert all(turn[i] < turn[j] for i, j in before)


def test_outlines_that_ask_for_each_other_end_in_a_route_all_the_same():
    """Overlapping outlines may each ask to be cut before the other: every one is still visited once."""
    places = [np.array([(100.0 * i, 0.0)]) for i in range(5)]
    order, _ = cut_route(places, before=((1, 2), (2, 1)))
    assert sorted(order) == list(range(5))
