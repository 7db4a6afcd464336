"""Opened hides change places with whole ones where that costs less: boxes by the plain engine, worked out by hand."""

import pytest
from box_jobs import ROWS, hide, job, rows_region, rows_strip, style
from tiny_plans import vamp

from nest.placement.budget import Budget
from nest.placement.problem import Layout
from nest.planning.fill import LeatherTask, solve_hide
from nest.planning.offer import see_hide
from nest.planning.run import Engine, Run, TimeShare
from nest.planning.tail import emptied
from nest.planning.wants import Want

FOUR, SIX, LARGE = (760.0, 400.0), (760.0, 550.0), (1500.0, 800.0)
"""Hides that hold four and six pairs of the box, rows of three in three and four rows, and one that holds eighteen."""


def task(costs, *sizes, pairs, engine=ROWS, budget=None):
    """Hides of some sizes at some costs, and one want of boxes."""
    piece = vamp("V38", size="38")
    wants = (Want("box", "38", (piece, piece), pairs, style().rules, 2 * 224.0 * 124.0),)
    settings = job().settings
    seen = [see_hide(hide(f"H{k}", *size), wants, settings, one_way=False) for k, size in enumerate(sizes)]
    run = Run(engine, 1, budget or Budget(passes=1))
    run.courses.begin("calf", 0.0)
    return LeatherTask(wants, seen, costs, settings, run, leather="calf")


def placed(made, **pairs):
    """This many pairs on hides, by number."""
    share = TimeShare(made.run, None)
    return {int(name[1:]): solve_hide(made, int(name[1:]), {0: n}, share, 1.0)[0] for name, n in pairs.items()}


def counts(units):
    """Pairs on each hide."""
    return {at: len(mine) for at, mine in units.items()}


@pytest.mark.parametrize(("cost_of_whole", "after"), [
    (4000, {2}), (4999, {2}), (5000, {0, 1}), (9000, {0, 1}),
])
def test_a_whole_hide_with_more_room_saves_one_where_it_costs_less(cost_of_whole, after):
    """Four pairs on a full hide at 30.00 and one on another at 20.00: a whole hide takes all five below 50.00 only."""
    made = task([3000, 2000, cost_of_whole], FOUR, FOUR, SIX, pairs=5)
    found = counts(emptied(made, placed(made, h0=4, h1=1), TimeShare(made.run, None)))
    assert found.keys() == after and sum(found.values()) == 5


def test_of_two_alike_the_cheaper_takes_the_place():
    """Two whole hides have the same room for the five pairs."""
    made = task([3000, 2000, 4500, 4200, 4300], FOUR, FOUR, SIX, SIX, SIX, pairs=5)
    assert counts(emptied(made, placed(made, h0=4, h1=1), TimeShare(made.run, None))) == {3: 5}


def test_what_lies_on_a_hide_moves_to_a_cheaper_one_with_as_much_room():
    """The cheapest that has as much room is taken, not the cheaper one that has less, nor one that costs as much."""
    made = task([3000, 2500, 2400, 1000, 3000], SIX, SIX, SIX, FOUR, SIX, pairs=6)
    assert counts(emptied(made, placed(made, h0=6), TimeShare(made.run, None))) == {2: 6}


def test_what_would_fill_a_cheaper_hide_no_closer_than_the_fullest_moves_there():
    """Four pairs fill the small hide to 0.73 of its ground, six one of the others to 0.80: 45.00 in place of 55.00."""
    made = task([3000, 2500, 2000], SIX, SIX, FOUR, pairs=10)
    assert counts(emptied(made, placed(made, h0=6, h1=4), TimeShare(made.run, None))) == {1: 6, 2: 4}


def test_a_hide_that_would_be_filled_closer_than_any_is_not_searched():
    """The only hide is filled to 0.53, and searches with little time fill 0.65."""
    made = task([3000, 2000], SIX, FOUR, pairs=4)
    before = placed(made, h0=4)
    made.run.searched.clear()
    assert emptied(made, before, TimeShare(made.run, None)) == before
    assert not made.run.searched


def test_where_sheets_hold_no_hide_is_exchanged():
    """Every change takes a new sheet: nothing moves unless a hide stays whole by emptying alone."""
    made = task([3000, 2000, 100, 100], FOUR, FOUR, FOUR, SIX, pairs=5)
    before = placed(made, h0=4, h1=1)
    assert emptied(made, before, TimeShare(made.run, None), whole_only=True) == before


@pytest.mark.parametrize(("budget", "opened"), [(Budget(seconds=60.0), 1), (Budget(passes=1), 2)])
def test_time_that_is_left_goes_into_the_attempt_that_left_least(budget, opened):
    """A search that lays half of what a hide holds for thirty times: where seconds count it is asked more often."""
    searches = 0

    def at_first_half(problem, stop, **more):
        nonlocal searches
        searches += 1
        (layout,) = rows_region(problem, stop, **more)
        return (Layout(layout.items[:16] if searches < 30 else layout.items),)

    budget = budget.started()
    made = task([3000, 3000], LARGE, LARGE, pairs=16, engine=Engine(at_first_half, rows_strip), budget=budget)
    share = TimeShare(made.run, budget.seconds)
    assert len(emptied(made, placed(made, h0=8, h1=8), share)) == opened
