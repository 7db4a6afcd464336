"""What a plan says of its choice of hides, on rectangles whose costs and rooms are known."""

from dataclasses import replace
from decimal import Decimal

import pytest
from box_jobs import ROWS, hide, job

from nest.accounts import account
from nest.cli.result import issue_result
from nest.planfile import plan_from_text, plan_text
from nest.planning.make import make_plan
from nest.planning.saving import Found, issue_of
from nest.stock.material import Leather


@pytest.fixture(scope="module")
def plan():
    """Four pairs; a dear large hide comes first in stock, then two cheap small ones."""
    hides = (hide("A", 1200.0, 600.0, price=Decimal(60)), hide("B", 1000.0, 500.0), hide("C", 1000.0, 500.0))
    return make_plan(job(hides=hides), passes=1, engine=ROWS)


def test_choice_beside_greedy_and_bounds(plan):
    """One hide of 0.5 m² at 30 a m² costs 15.00; least by area is the same, for less than one cannot be opened."""
    (issue,) = plan.issues
    assert (issue.leather, issue.hides, issue.cost) == ("calf", 1, Decimal(15))
    assert issue.least_by_area == issue.least_of_layouts == Decimal(15) and issue.gap == 0.0
    assert {one.order for one in issue.greedy} == {"stock order", "order of size"}
    assert all(one.missing_mm2 > 0 or one.cost >= issue.cost for one in issue.greedy)


def test_bound_is_below_what_is_paid(plan):
    """The bound by area is no more than the reference, and the reference no more than all hides."""
    (issue,) = plan.issues
    assert issue.least_by_area <= issue.reference <= Decimal("43.20") + 30


def test_figures_survive_the_file(plan):
    """A saved plan says the same of its choice, and money reads as money."""
    (issue,) = plan_from_text(plan_text(plan)).issues
    assert issue == plan.issues[0]
    said = issue_result(issue, account(plan).cost)
    assert said["cost"] == "15.00"
    assert all(Decimal(one["saving"]) == Decimal(one["cost"]) - issue.cost for one in said["greedy"])


def test_a_dear_hide_is_not_opened_for_its_size():
    """Nine pairs fill two small hides for 30.00 where the large one would cost more; greedy by size opens it."""
    hides = (hide("A", 1200.0, 800.0, price=Decimal(60)), hide("B", 1000.0, 500.0), hide("C", 1000.0, 500.0))
    plan = make_plan(job(hides=hides, order=(("box", "38", 10),)), passes=1, engine=ROWS)
    (issue,) = plan.issues
    largest = next(one for one in issue.greedy if one.order == "order of size")
    assert issue.cost == Decimal(30) and issue.hides == 2
    assert largest.missing_mm2 > 0 or largest.cost > issue.cost
    assert issue.least_by_area <= issue.cost


def test_a_plan_costs_no_less_than_the_least_of_its_layouts(plan):
    """A hide emptied after the choice leaves the plan below the bound of the choice: then its own cost is the least."""
    asked = job(hides=plan.hides)
    bounds = {bound.material_id: bound for bound in plan.bounds}
    bounds |= {one.hide_id: next(iter(bounds.values())) for one in plan.hides}
    found = Found((), (), (), (), least_cost=3000)
    issue = issue_of(asked, "calf", found, ["B"], {"A": 4320, "B": 1500, "C": 1500}, 1e5, bounds)
    assert issue.cost == issue.least_of_layouts == Decimal(15)


def test_price_breaks_count_in_the_choice_and_its_bounds():
    """Two hides of 0.5 m² at 30 a m², a tenth off from 1 m² on: 27.00 is paid, as the cost sheet has it.

    The least by area is what 1 m² costs with the tenth off, or half of it without: the bound looks at both.
    """
    leather = Leather("calf", Decimal(30), "m2", breaks=((Decimal(1), Decimal(10)),))
    hides = hide("B", 1000.0, 500.0), hide("C", 1000.0, 500.0)
    plan = make_plan(job(hides=hides, order=(("box", "38", 10),), leathers=(leather,)), passes=1, engine=ROWS)
    (issue,) = plan.issues
    assert issue.hides == 2 and issue.cost == Decimal(27) == account(plan).cost.by_kind["leather"]
    assert issue.least_by_area == issue.least_of_layouts == Decimal(27)
    assert all(one.missing_mm2 > 0 or one.cost == Decimal(27) for one in issue.greedy)
    dear = replace(leather, breaks=((Decimal(1), Decimal(60)),))
    one_pair = make_plan(job(hides=hides, order=(("box", "38", 1),), leathers=(dear,)), passes=1, engine=ROWS)
    # One hide costs 15.00; both, with 60 percent off, 12.00.
    assert one_pair.issues[0].cost == Decimal(15) and one_pair.issues[0].least_by_area == Decimal(12)
