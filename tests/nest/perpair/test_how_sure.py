"""How sure the leather of an order is: an interval of 95 %, and the error at worst."""

import pytest

from nest.perpair.needs import interval_percent, worst_percent
from nest.perpair.yield_model import REACH_ERROR_PERCENT


@pytest.mark.parametrize("sides", [1, 2, 3, 7, 12])
def test_the_interval_is_that_of_the_mean_of_independent_sides(sides):
    """1.96 standard deviations of a side, measured when the model was fitted, ÷ √n; by figures alone it is wider."""
    found = interval_percent(True, 1, sides)
    assert found == pytest.approx(1.96 * REACH_ERROR_PERCENT / sides**0.5, abs=0.06)
    assert found < interval_percent(False, 1, sides) < worst_percent(False, 1, sides)
    assert found < worst_percent(True, 1, sides)


def test_beyond_what_was_measured_it_grows_no_narrower():
    """Forty sides as a dozen; less than one side as one; styles that want different ground as at worst."""
    assert interval_percent(True, 1, 40) == interval_percent(True, 1, 12) == 2.1
    assert interval_percent(True, 1, 0.2) == interval_percent(True, 1, 1)
    assert interval_percent(True, 2, 12) == worst_percent(True, 2, 12) == 8.0
