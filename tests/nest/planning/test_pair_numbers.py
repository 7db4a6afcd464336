"""Who belongs to whom: nearest partners, within a hide or across, within one class or not."""

from collections import Counter, defaultdict

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from tiny_plans import SLANT, backing, vamp

from geometry.pose import Pose
from nest.pieces.piece import Foot
from nest.plan import HideLayout, Placed
from nest.planning.pairs import nearest_pairs, numbered
from nest.rules import Rules

PIECES = {
    "L": vamp("L", "slant", foot=Foot.LEFT, net=SLANT), "R": vamp("R", "slant", foot=Foot.RIGHT, net=SLANT),
    "E": vamp("E", "box"), "B": backing("B", "box"),
}
ONE_HIDE = Rules(pairs_same_class=False)
ANY_HIDE = Rules(pairs_from_one_hide=False, pairs_same_class=False)


def layout(hide_id, *ids):
    """Pieces of these ids in a row."""
    return HideLayout(hide_id, tuple(Placed(name, Pose(100.0 * i, 0.0, 0.0)) for i, name in enumerate(ids)))


def pairs_of(layouts, rules, levels=None):
    """Pair numbers given to every layout."""
    levels = levels or [[0] * len(one.placed) for one in layouts]
    made = numbered(layouts, PIECES, {"slant": rules, "box": rules}, levels)
    return [[placed.pair for placed in one.placed] for one in made]


def test_nearest_partners_find_each_other():
    """Two left and two right in two clusters: each finds the partner next to it."""
    left, right = np.array([(0.0, 0.0), (100.0, 0.0)]), np.array([(101.0, 0.0), (1.0, 0.0)])
    assert nearest_pairs(left, right) == [(0, 1), (1, 0)]


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50)), max_size=9))
def test_each_point_has_one_partner_at_most(points):
    """Points among themselves: as many pairs as can be, no point twice, none with itself."""
    pairs = nearest_pairs(np.array(points, dtype=float).reshape(-1, 2))
    used = [i for pair in pairs for i in pair]
    assert len(pairs) == len(points) // 2
    assert len(set(used)) == len(used)


def test_left_and_right_of_one_hide_are_a_pair():
    """A left and a right make a pair; a second left finds none."""
    assert pairs_of([layout("H1", "L", "R", "L")], ONE_HIDE) == [[1, 1, 0]]


def test_two_for_either_foot_are_a_pair():
    """Pieces that serve both feet pair among themselves, numbered on."""
    assert pairs_of([layout("H1", "L", "R", "E", "E")], ONE_HIDE) == [[1, 1, 2, 2]]


def test_pairs_do_not_leave_their_hide_unless_they_may():
    """A left here and a right there are a pair only where the rules let pairs come from two hides."""
    here, there = layout("H1", "L"), layout("H2", "R")
    assert pairs_of([here, there], ONE_HIDE) == [[0], [0]]
    assert pairs_of([here, there], ANY_HIDE) == [[1], [1]]


def test_pairs_keep_to_one_class_where_they_must():
    """Ground of two classes parts them, with the rule; without it, it does not."""
    same = Rules(pairs_same_class=True)
    assert pairs_of([layout("H1", "L", "R")], same, [[1, 2]]) == [[0, 0]]
    assert pairs_of([layout("H1", "L", "R")], ONE_HIDE, [[1, 2]]) == [[1, 1]]


def test_reinforcements_are_not_numbered():
    """Only vamps belong to a pair."""
    assert pairs_of([layout("H1", "B", "B", "E", "E")], ONE_HIDE) == [[0, 0, 1, 1]]


@given(st.lists(st.lists(st.sampled_from("LRE"), max_size=7), min_size=1, max_size=3), st.booleans(), st.data())
def test_numbers_run_from_one_and_name_real_pairs(hides, across, data):
    """Numbers 1, 2, ... each name two pieces that go together, on one hide and class where they must."""
    layouts = [layout(f"H{i}", *ids) for i, ids in enumerate(hides)]
    levels = [[data.draw(st.integers(1, 2)) for _ in one.placed] for one in layouts]
    rules = Rules(pairs_from_one_hide=not across, pairs_same_class=True)
    members = defaultdict(list)
    for at, (ids, row) in enumerate(zip(hides, pairs_of(layouts, rules, levels), strict=True)):
        for spot, number in enumerate(row):
            if number:
                members[number].append((ids[spot], levels[at][spot], at))
    assert sorted(members) == list(range(1, len(members) + 1))
    for pair in members.values():
        names, classes, places = zip(*pair, strict=True)
        assert Counter(names) in (Counter("LR"), Counter("EE"))
        assert len(set(classes)) == 1
        assert across or len(set(places)) == 1
