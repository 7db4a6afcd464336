"""A plan gone on from: nothing that is placed is lost, and what it is not a plan of is refused."""

from dataclasses import replace
from decimal import Decimal

import pytest
from box_jobs import ROWS, hide, job, roll, style

from nest.errors import PlanProblem
from nest.plan import Begun, CutHide
from nest.planning.make import make_plan
from nest.verify import verify


def asked(pairs=9):
    """Pairs of a backed style on four hides of which two would do."""
    return job(
        styles=[style(lean=20.0, roll="knit")], order=[("box", "38", pairs)], rolls=[roll()],
        hides=[hide(f"H{n}", 600, 510) for n in range(4)],
    )


def opened(plan):
    """Hides on which something lies."""
    return {layout.hide_id for layout in plan.layouts if layout.placed}


def spread():
    """A plan that opens more hides than it needs: its last pair lies on a hide of its own."""
    wide = make_plan(asked(2), passes=20, seed=1)
    full = make_plan(asked(8), passes=60, seed=1)
    free = next(one.hide_id for one in full.hides if one.hide_id not in opened(full))
    last = replace(wide.layouts[0], hide_id=free, placed=tuple(
        replace(one, pair=9) for one in wide.layouts[0].placed if one.pair == wide.layouts[0].placed[0].pair))
    order = make_plan(asked(9), passes=1, seed=1).order
    return replace(full, layouts=(*full.layouts, last), order=order)


def test_going_on_is_never_worse_and_right():
    """The order is met as before, on no more hides, no more of the roll; passed by the judge."""
    before = spread()
    after = make_plan(asked(9), passes=60, seed=2, begin_from=before)
    assert verify(after).ok and verify(after).order_met
    assert len(opened(after)) <= len(opened(before))
    same = make_plan(asked(9), passes=1, seed=2, begin_from=after)
    assert len(opened(same)) <= len(opened(after))
    assert sum(lay.length_mm for lay in same.lays) <= sum(lay.length_mm for lay in after.lays)


@pytest.mark.parametrize(("price", "then"), [(30, {"C"}), (33, {"A", "B"})])
def test_one_whole_hide_takes_the_place_of_two_that_cost_more(price, then):
    """Six pairs on A and three on B, 22.50 together: C, which holds ten, stands for both at 21.00, not at 23.10."""
    two, wide = [hide("A", 1000, 500), hide("B", 500, 500)], hide("C", 1000, 700, price=Decimal(price))
    nine = [("box", "38", 9)]
    before = make_plan(job(hides=two, order=nine), passes=1, engine=ROWS)
    assert opened(before) == {"A", "B"} and verify(before).order_met
    after = make_plan(job(hides=[*two, wide], order=nine), passes=1, engine=ROWS, begin_from=before)
    assert opened(after) == then and verify(after).ok and verify(after).order_met


def test_more_pairs_are_placed_beside_what_lies():
    """A plan of six pairs gone on from for nine: order met, and it may have been short before."""
    after = make_plan(asked(9), passes=60, seed=1, begin_from=make_plan(asked(6), passes=20, seed=1))
    assert verify(after).ok and verify(after).order_met


def test_another_jobs_plan_is_refused():
    """Pieces of another shape serve nothing; a plan that is begun to be cut belongs to replan."""
    other = make_plan(replace(asked(), styles=(style(lean=5.0, roll="knit"),)), passes=5, seed=1)
    with pytest.raises(PlanProblem, match="places nothing that this job asks for"):
        make_plan(asked(), passes=5, seed=1, begin_from=other)
    mine = make_plan(asked(), passes=5, seed=1)
    begun = replace(mine, begun=Begun(hides=(CutHide(next(iter(opened(mine)))),)))
    with pytest.raises(PlanProblem, match="replan"):
        make_plan(asked(), passes=5, seed=1, begin_from=begun)
