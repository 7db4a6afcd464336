"""How many hides to issue: the bound against simulation and by hand, the least number, and the ratio's error."""

from math import ceil, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nest.estimate.issue import area_factor, bound_of_sum, hides_on_the_mean, hides_to_issue

HELD = st.lists(st.floats(0.5, 1.5), min_size=3, max_size=12)


def test_bound_by_hand():
    """Three hides hold 9, 10 and 11: t(0.95; 2) = 2.920 (any table), four hold 40 − 2.92·√(4 + 16/3) or more."""
    assert bound_of_sum([9.0, 10.0, 11.0], 4) == pytest.approx(40.0 - 2.91999 * sqrt(4 + 16 / 3), abs=1e-4)


def test_bound_holds_as_often_as_it_says():
    """Samples of six and sums of four further normal values: the bound holds in 95 % of 1,200 draws, error 0.63 %.

    That it is exact for normal values is a theorem (Hahn & Meeker, Statistical Intervals, 1991; from memory).
    """
    rng = np.random.default_rng(4)
    held = [rng.normal(10.0, 2.0, 4).sum() >= bound_of_sum(rng.normal(10.0, 2.0, 6).tolist(), 4) for _ in range(1200)]
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)


@given(HELD, st.floats(0.5, 40.0))
def test_the_number_is_the_least(held, needed):
    """The bound of the number covers what is needed, that of one hide fewer does not; never fewer than on the mean."""
    number = hides_to_issue(needed, held)
    if number is None:
        assert bound_of_sum(held, 10_000) < needed or bound_of_sum(held, 10_000) < bound_of_sum(held, 5_000)
        return
    assert bound_of_sum(held, number) >= needed * (1 - 1e-9)
    assert number == 1 or bound_of_sum(held, number - 1) < needed * (1 + 1e-9)
    assert number >= hides_on_the_mean(needed, held)


@given(st.floats(0.5, 2.0), st.floats(0.1, 30.0), st.integers(3, 9))
def test_hides_all_alike_need_no_more_than_the_mean(each, needed, sample):
    """Without spread the number is what is needed ÷ what each holds, rounded up."""
    assert hides_to_issue(needed, [each] * sample) == max(1, ceil(needed / each - 1e-9))


def test_more_confidence_more_hides_and_nothing_needs_none():
    """At 50, 95 and 99.9 % the number rises; nothing needed is no hide; hides that hold nothing give no number."""
    held = [8.0, 12.0, 9.0, 11.0, 10.0, 13.0]
    numbers = [hides_to_issue(100.0, held, confidence) for confidence in (0.5, 0.95, 0.999)]
    assert numbers == sorted(numbers) and numbers[0] < numbers[2]
    assert hides_to_issue(0.0, held) == 0
    assert hides_to_issue(1.0, [0.0, 0.0, 0.0]) is None and hides_on_the_mean(1.0, [0.0, 0.0]) is None
    with pytest.raises(ValueError, match="at least two"):
        bound_of_sum([1.0], 3)


def test_consumption_is_a_ratio_with_the_error_of_the_jackknife():
    """Mean = whole area ÷ whole rough area; the linearised error is that of the jackknife within a tenth.

    The jackknife is another, independent estimate of the same error (Cochran, Sampling Techniques, 1977; from memory).
    """
    rng = np.random.default_rng(8)
    area = rng.normal(2.0, 0.2, 40)
    rough = 0.5 * area + rng.normal(0.0, 0.05, 40)
    found = area_factor(area, rough)
    assert found.mean == pytest.approx(area.sum() / rough.sum())
    left_out = np.array([(area.sum() - a) / (rough.sum() - r) for a, r in zip(area, rough, strict=True)])
    jackknife = sqrt(39 / 40 * np.sum((left_out - left_out.mean()) ** 2))
    assert (found.high - found.low) / (2 * 2.0227) == pytest.approx(jackknife, rel=0.1)  # t(0.975; 39) = 2.0227
    assert found.spread == pytest.approx(np.std(area / rough, ddof=1))
    assert area_factor([2.0, 2.0], [1.0, 1.0]) == area_factor([4.0, 4.0], [2.0, 2.0])
    assert area_factor([1.0, 1.0], [0.0, 0.0]) is None
