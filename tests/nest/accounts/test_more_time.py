"""What more time brings, from the course of a plan: by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest
import tiny_plans

from nest.accounts.moretime import more_time
from nest.plan import Course, Search, Step
from nest.planfile import plan_from_text, plan_text
from nest.report.searched import search_said
from nest.whatif import quick_uses


def course(*steps, begin=0.0, end=100.0):
    """A course of (spent, hides, cost, area missing)."""
    made = (Step(spent, hides, Decimal(cost), *more) for spent, hides, cost, *more in steps)
    return Course("calf", begin, end, tuple(made))


def test_the_fall_goes_on():
    """A quarter to a half saved 20, the second half 10: half of that again, 5."""
    found = more_time(course((10.0, 9, 90), (40.0, 7, 70), (80.0, 6, 60)))
    assert (found.saved, found.likely) == (10, 5)


def test_never_more_than_the_last_half():
    """Where the second half saved more than what went before, or that is not known, as much again is the most."""
    assert more_time(course((10.0, 9, 90), (40.0, 8, 85), (80.0, 6, 60))).likely == 25
    assert more_time(course((30.0, 9, 90), (80.0, 6, 60))).likely == 30
    # A plan by a quarter that was short of more than the last one says nothing of a fall; one as short does.
    assert more_time(course((10.0, 9, 90, 10.0), (40.0, 7, 70), (80.0, 6, 60))).likely == 10
    assert more_time(course((10.0, 9, 90, 10.0), (40.0, 7, 70, 10.0), (80.0, 6, 60, 10.0))).likely == 5
    assert more_time(course((25.0, 9, 90), (50.0, 7, 70), (100.0, 6, 60))).likely == 5


def test_hides_saved_are_counted():
    """Nine by half of the time, six at its end; none where there was no plan by then."""
    assert more_time(course((40.0, 9, 90), (80.0, 6, 60))).hides_saved == 3
    assert more_time(course((60.0, 9, 90))).hides_saved == 0 == more_time(course()).hides_saved


def test_what_cannot_be_told():
    """No plan by half of the time, or one that was short of more: nothing is said of twice the time."""
    for steps in ([(60.0, 9, 90), (80.0, 6, 60)], [(10.0, 5, 50, 1e5), (80.0, 6, 60)]):
        found = more_time(course(*steps))
        assert found.saved is None and found.likely is None


def test_half_of_a_leather_that_came_later():
    """The half is that of the time the leather itself had."""
    found = more_time(course((110.0, 9, 90), (180.0, 6, 60), begin=100.0, end=200.0))
    assert found.effort == 100.0 and found.saved == 30


@pytest.mark.parametrize(("steps", "words"), [
    ([(10.0, 9, 90), (80.0, 7, 60)], "saved 2 hides, 30.00 EUR; one twice as long would likely save 30.00 EUR or less"),
    ([(10.0, 9, 90)], "saved nothing; a search twice as long would likely save little"),
    ([(60.0, 9, 90)], "cannot be told"),
])
def test_it_is_said(steps, words):
    """Screen and page have it in words, and the file keeps the course."""
    plan = replace(tiny_plans.box_plan(), search=Search(60.0, 60.0, None, False, courses=(course(*steps),)))
    again = plan_from_text(plan_text(plan))
    assert again.search == plan.search
    (said,) = search_said(again, quick_uses(again)).more
    assert words in said
    assert search_said(replace(plan, search=replace(plan.search, stopped=True)), quick_uses(plan)).more == ()
