"""The course of a plan: every time it became better while it was made."""

from decimal import Decimal

from box_jobs import ROWS, hide, job

from nest.plan import Step
from nest.planning.course import Courses
from nest.planning.make import make_plan


def test_only_what_is_better_is_noted():
    """Fewer missing comes before cost; a dearer or equal plan is passed over, but its effort counts."""
    courses = Courses()
    courses.begin("calf", 0.0)
    for spent, hides, cost, missing in ((1.0, 3, 30, 5.0), (2.0, 4, 40, 0.0), (3.0, 4, 40, 0.0), (4.0, 3, 35, 0.0)):
        courses.note("calf", Step(spent, hides, Decimal(cost), missing))
    courses.note("calf", Step(9.0, 5, Decimal(50)))
    (course,) = courses.known
    assert [step.spent for step in course.steps] == [1.0, 2.0, 4.0] and course.end == 9.0


def test_a_plan_keeps_its_course():
    """The last step is what the plan opens, by cost and hides; by passes equal runs keep equal courses."""
    hides = tuple(hide(f"H{n}", 1000.0, 500.0) for n in range(4))
    asked = job(hides=hides, order=(("box", "38", 12),))
    plan = make_plan(asked, passes=1, engine=ROWS)
    (course,) = plan.search.courses
    used = [one for one in plan.layouts if one.placed]
    assert course.leather == "calf" and course.begin == 0.0
    assert course.steps[-1].hides == len(used) and course.steps[-1].cost == 15 * len(used)
    assert course.steps[-1].missing_mm2 == 0.0 and course.end >= course.steps[-1].spent > 0.0
    assert make_plan(asked, passes=1, engine=ROWS).search == plan.search


def test_going_on_from_a_plan_begins_with_it():
    """The first step of a plan that is gone on from is that plan."""
    hides = tuple(hide(f"H{n}", 1000.0, 500.0) for n in range(4))
    first = make_plan(job(hides=hides, order=(("box", "38", 12),)), passes=1, engine=ROWS)
    again = make_plan(job(hides=hides, order=(("box", "38", 12),)), passes=1, engine=ROWS, begin_from=first)
    assert again.search.courses[0].steps[0].cost == first.search.courses[0].steps[-1].cost
