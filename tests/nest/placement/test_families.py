"""Chains of families, and the area without partner: against what CP-SAT keeps when nothing is in short supply."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_problems import ELL, SQUARE

from geometry.pose import Pose
from nest.placement.choose import complete_families, replacements
from nest.placement.families import count_in, families_of
from nest.placement.problem import Ground, Item, Kind

SIZES = (30.0, 40.0, 50.0)
GROUND = Ground(shapely.box(0, 0, 9, 9), (shapely.box(0, 0, 9, 9),))


def east(_: int, pose: Pose) -> int:
    """Level 1 right of x = 500."""
    return int(pose.x > 500.0)


def squares(style: str, side: int, sizes=SIZES, headings=(0.0,)) -> list[Kind]:
    """One square a size, each size a family."""
    ring = SQUARE / np.ptp(SQUARE[:, 0])
    return [Kind(f"{style}{s}", s * ring, s * ring, headings, 9, f"{style}{s}", side) for s in sizes]


def same_side(kinds, table):
    """Replacements by kinds of the same style and side alone: what one chain knows."""
    return {(k, c): at for (k, c), at in table.items()
            if kinds[k].side == kinds[c].side and kinds[k].name[0] == kinds[c].name[0]}


def without_partner(kinds, families, items) -> float:
    """Area without partner, as the annealing counts it, items counted in one by one."""
    tally = np.zeros((families.step.shape[0], 2, families.step.shape[1], 3), np.int64)
    return sum(sum(count_in(families, tally, i.kind, east(i.kind, i.pose), 1)) for i in items)


PAIRS = (*squares("a", -1), *squares("a", 1), *squares("e", 0, (35.0, 45.0)))


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, len(PAIRS) - 1), st.booleans()), max_size=9))
def test_area_without_partner_is_what_cp_sat_loses(drawn):
    """Sizes one inside the other: partners in the order of size, the larger of two cut as the smaller."""
    table = same_side(PAIRS, replacements(PAIRS))
    families = families_of(PAIRS, (GROUND,) * len(PAIRS), table)
    items = [Item(k, Pose(900.0 * far + i, 0.0, 0.0)) for i, (k, far) in enumerate(drawn)]
    kept = complete_families(PAIRS, items, table, east, effort=10.0)
    whole, left = (sum(shapely.Polygon(PAIRS[i.kind].outline).area for i in some) for some in (items, kept))
    assert without_partner(PAIRS, families, items) == pytest.approx(whole - left)


@settings(max_examples=50, deadline=None)
@given(st.permutations(range(8)), st.lists(st.booleans(), min_size=8, max_size=8))
def test_counting_out_undoes_counting_in(order, far):
    """Whatever the order, all counted in and out again is nothing lost and nothing kept."""
    families = families_of(PAIRS, (GROUND,) * len(PAIRS), replacements(PAIRS))
    tally = np.zeros((families.step.shape[0], 2, families.step.shape[1], 3), np.int64)
    change = sum(sum(count_in(families, tally, k, int(far[k]), 1)) for k in range(8))
    change += sum(sum(count_in(families, tally, k, int(far[k]), -1)) for k in order)
    assert change == pytest.approx(0.0)
    assert not tally.any()


def test_sizes_of_a_style_are_one_chain():
    """From the smallest to the largest; steps add up to the area of the largest; single kinds are in none."""
    kinds = (*squares("a", -1), *squares("a", 1), Kind("single", SQUARE, SQUARE, (0.0,), 9))
    families = families_of(kinds, (GROUND,) * 7, replacements(kinds))
    assert families.chain.tolist() == [0] * 6 + [-1]
    assert families.rank.tolist() == [0, 1, 2, 0, 1, 2, 0]
    assert families.step[0].cumsum() == pytest.approx(np.square(SIZES))


def test_what_does_not_fit_inside_is_a_chain_of_its_own():
    """An ell that no square holds, other headings, other sides; and every family where nothing is known to fit."""
    ell = ELL * 0.9 * SIZES[1] / np.ptp(ELL[:, 1])
    kinds = (*squares("a", 0), *squares("b", 0, (20.0,), (90.0,)), *squares("c", -1, (20.0,)),
             Kind("ell", ell * (3.0, 1.0), ell * (3.0, 1.0), (0.0,), 9, "ell", 0))
    chain = families_of(kinds, (GROUND,) * len(kinds), replacements(kinds)).chain
    assert len(set(chain[:3])) == 1
    assert len(set(chain)) == 4
    alone = families_of(kinds, (GROUND,) * len(kinds))
    assert sorted(alone.chain) == list(range(len(kinds)))
    assert not alone.rank.any()


def test_an_item_joins_the_chain_nearest_to_it():
    """Two styles of which one fits in both sizes of the other: the larger size follows what is nearest below it."""
    kinds = (*squares("a", 0, (30.0, 50.0)), *squares("b", 0, (40.0,)))
    families = families_of(kinds, (GROUND,) * 3, replacements(kinds))
    assert families.chain.tolist() == [0, 0, 0]
    assert families.rank.tolist() == [0, 2, 1]
