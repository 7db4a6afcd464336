"""Partners by size: as much as CP-SAT keeps where nothing stands in the way, and left to it where something does."""

from dataclasses import replace

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from test_families import GROUND, PAIRS, east, same_side, squares

from geometry.pose import Pose
from nest.placement.choose import complete_families, replacements
from nest.placement.families import families_of
from nest.placement.partners import partners_by_size
from nest.placement.problem import Item, Kind


def area_of(kinds, items) -> float:
    """Area of all outlines."""
    return sum(shapely.Polygon(kinds[item.kind].outline).area for item in items)


def laid(drawn) -> list[Item]:
    """Items far from each other, on level 0 or on level 1."""
    return [Item(k, Pose(900.0 * far + 0.01 * i, 0.0, 0.0)) for i, (k, far) in enumerate(drawn)]


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, len(PAIRS) - 1), st.booleans()), max_size=9))
def test_as_much_is_kept_as_by_cp_sat(drawn):
    """Two styles and two levels, sizes one inside the other; and what is kept needs nothing more."""
    table = same_side(PAIRS, replacements(PAIRS))
    items = laid(drawn)
    kept = partners_by_size(PAIRS, items, families_of(PAIRS, (GROUND,) * len(PAIRS), table), table, east)
    alone = 0
    for level in (False, True):
        sides = [PAIRS[k].side for k, far in drawn if far is level]
        alone += abs(sum(sides)) + sides.count(0) % 2
    if alone > 1:
        assert kept is None
        return
    assert round(area_of(PAIRS, kept)) == round(area_of(PAIRS, complete_families(PAIRS, items, table, east, effort=10)))
    assert complete_families(PAIRS, kept, table, east) == kept


def test_what_stands_in_the_way_is_left_to_the_solver():
    """Forbidden replacements, those that change their level, limits, two without a partner; single items stay."""
    kinds = (*squares("a", -1), *squares("a", 1), Kind("single", PAIRS[0].outline, PAIRS[0].core, (0.0,), 9))
    table = replacements(kinds)
    families = families_of(kinds, (GROUND,) * len(kinds), table)
    items = laid([(2, False), (3, False), (6, False)])
    kept = partners_by_size(kinds, items, families, table)
    assert [item.kind for item in kept] == [0, 3, 6]
    assert partners_by_size(kinds, items, families, table, None, lambda item, other: False) is None
    assert partners_by_size(kinds, items, families, table, lambda k, pose: int(k == 0)) is None
    assert partners_by_size((replace(kinds[0], limit=0), *kinds[1:]), items, families, table) is None
    assert partners_by_size(kinds, items[:1], families, table) == ()
    assert partners_by_size(kinds, laid([(2, False), (1, False)]), families, table) is None
