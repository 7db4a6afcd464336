"""What styles that share hides take together, and what each pays: by hand, and bounds that always hold."""

import math
from itertools import chain, combinations

import pytest
from box_jobs import box, hide, job, style, zone
from hypothesis import given
from hypothesis import strategies as st

from nest.accounts.estimate import estimate_sheet
from nest.estimate.make import quick_estimate
from nest.perpair.shared import CROWDING, crowding, paid
from nest.rules import Rules

TWO = {frozenset({0}): 0.4, frozenset({1}): 1.0, frozenset({0, 1}): 1.0}
"""Ground of two groups on a mean hide: what the first may use the second may use too."""


def test_the_demanding_style_decides_where_it_takes_most():
    """It needs ten hides; the other finds room beside it on five of them, and shares those by rough area."""
    # Alone: 10 and 3 hides. Beside the first 0.6 of each hide is left: the second lies on 3 ÷ 0.6 = 5 of them.
    first, second = paid((10.0, 3.0), (2.0, 2.0), TWO)
    # By hand: on the five a hide holds 0.2 of the first and 0.4 of the second.
    assert second == pytest.approx(5.0 * 0.4 / 0.6)
    assert first == pytest.approx(10.0 - second)


def test_all_ground_decides_where_both_together_take_more():
    """Ten hides by the first's ground and eight by the second alone: 0.4 × 10 + 8 = 12 hides, shared by rough area."""
    first, second = paid((10.0, 8.0), (3.0, 6.0), TWO)
    assert (first, second) == (pytest.approx(4.0), pytest.approx(8.0))


def test_grounds_apart_do_not_meet():
    """Two halves of a hide: the hides are those of the style that needs more, and the other rides along."""
    apart = {frozenset({0}): 0.5, frozenset({1}): 0.5, frozenset({0, 1}): 1.0}
    first, second = paid((10.0, 10.0), (1.0, 3.0), apart)
    assert (first, second) == (pytest.approx(2.5), pytest.approx(7.5))
    alone = paid((10.0, 4.0), (1.0, 1.0), apart)
    assert sum(alone) == pytest.approx(10.0)


def test_one_ground_is_the_sum():
    """Styles that reach the same ground take what they take alone, together, by rough area."""
    same = dict.fromkeys(TWO, 1.0)
    assert paid((10.0, 6.0), (1.0, 1.0), same) == [pytest.approx(8.0), pytest.approx(8.0)]


def test_crowding_by_hand():
    """Nested grounds that fill at once take 2^(1/10) times as many hides; grounds apart, or one ground, none more."""
    # The first needs 10 hides; all together 0.4 × 10 + 6 = 10 too.
    assert crowding((10.0, 6.0), TWO) == pytest.approx(2.0 ** 0.1)
    assert crowding((10.0, 1.0), TWO) == pytest.approx((1.0 + 0.5**10) ** 0.1)
    apart = {frozenset({0}): 0.5, frozenset({1}): 0.5, frozenset({0, 1}): 1.0}
    assert crowding((10.0, 10.0), apart) == pytest.approx(1.0)
    assert crowding((10.0, 6.0), dict.fromkeys(TWO, 1.0)) == pytest.approx(1.0)
    assert crowding((10.0,), {frozenset({0}): 1.0}) == 1.0


@given(st.lists(st.tuples(st.floats(0.1, 50.0), st.floats(0.05, 5.0)), min_size=1, max_size=4),
       st.lists(st.floats(0.0, 1.0), min_size=15, max_size=15))
def test_together_takes_no_less_than_the_most_and_no_more_than_all(groups, pieces):
    """For any grounds (parts of a hide, each open to some of the groups) the sum lies between these two."""
    count = len(groups)
    names = [frozenset(one) for one in chain.from_iterable(
        combinations(range(count), size) for size in range(1, count + 1))]
    parts = {one: 0.01 + area for one, area in zip(names, pieces, strict=False)}
    reach = {one: sum(area for part, area in parts.items() if part & one) for one in names}
    material = [alone for alone, _ in groups]
    found = paid(material, [rough for _, rough in groups], reach)
    assert all(one > 0.0 for one in found)
    assert crowding(material, reach) + 1e-9 >= 1.0
    assert crowding(material, reach) * sum(found) <= sum(material) * (1.0 + 1e-6)
    assert max(material) * (1.0 - 1e-6) <= sum(found) <= sum(material) * (1.0 + 1e-6)
    # Every set of groups finds room on these hides, and one of them just so (Hall).
    needs = [sum(material[g] * reach[frozenset({g})] for g in one) / reach[one] for one in names]
    assert math.isclose(sum(found), max(needs), rel_tol=1e-6)


def unlike(pairs=(6, 6)):
    """A style for first ground and one for any, on hides of which two fifths are first."""
    zones = (zone("good", box(0, 0, 800, 1000)), zone("poor", box(800, 0, 2000, 1000), quality=3))
    sheets = [hide(f"H{i}", 2000.0, 1000.0, zones=zones) for i in range(3)]
    styles = (style("fine", rules=Rules(net_quality=1, trim_quality=3)),
              style("plain", rules=Rules(net_quality=3, trim_quality=3)))
    return job(styles=styles, hides=sheets, order=(("fine", "38", pairs[0]), ("plain", "38", pairs[1])))


def test_the_estimate_of_a_job_shares_its_hides():
    """Two styles on one leather take less than each alone, the fine one decides; costs charge the same leather."""
    both = quick_estimate(unlike((60, 20)))
    alone = [quick_estimate(unlike(pairs)).leathers[0].material_mm2 for pairs in ((60, 0), (0, 20))]
    total = both.leathers[0].material_mm2
    assert alone[0] <= total <= 2.0 ** (1.0 / CROWDING) * alone[0] and total < 0.9 * sum(alone)
    by_style = {one.style: one.pairs_to_cut * one.leather.material_mm2 for one in both.sizes}
    assert by_style["fine"] < alone[0] and by_style["plain"] < 1.05 * alone[1]
    assert sum(by_style.values()) == pytest.approx(total)
    for one in both.sizes:
        use = one.leather
        assert use.rough_mm2 + use.first_mm2 + use.second_mm2 + use.third_mm2 == pytest.approx(use.material_mm2)
        assert min(use.first_mm2, use.second_mm2, use.third_mm2) >= 0.0
        assert use.cutting_yield == pytest.approx(use.rough_mm2 / use.material_mm2)
    sheet = estimate_sheet(unlike((60, 20)))
    charged = {charge.style: float(charge.quantity) * 1e6 for charge in sheet.charges if charge.kind == "leather"}
    assert charged == {name: pytest.approx(area) for name, area in by_style.items()}
