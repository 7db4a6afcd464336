"""A plan weighs leather against what the press spoils, where the job has rates by class and deviation."""

from dataclasses import replace
from decimal import Decimal

import pytest
from box_jobs import ROWS, hide, job, style, zone
from shapely.geometry import box

from geometry.pose import Pose
from nest.pieces.quantities import ordered_quantities
from nest.pieces.rejects import RejectRates
from nest.plan import Begun
from nest.planning.fill import LeatherTask
from nest.planning.finish import part_cost
from nest.planning.goodground import with_less_loss
from nest.planning.make import make_plan
from nest.planning.offer import see_hide
from nest.planning.replan import replan
from nest.planning.stages import pieces_ordered
from nest.planning.wants import Unit, vamp_wants
from nest.rules import deviation_from_across_deg
from nest.selection.layouts import Container, OfferedLayout, choose_layouts

RATES = RejectRates((90.0,), ((1, (2.0,)), (2, (30.0,))))


def two_hides(rates, dearer="15.10"):
    """One hide all of class 2, at 15.00, comes first in stock; one of class 1 costs `dearer`."""
    ground = box(0, 0, 1000, 500)
    poor = hide("A", zones=(zone("belly", ground, 2),), price=Decimal("30"))
    good = hide("B", zones=(zone("butt", ground, 1),), price=2 * Decimal(dearer))
    mine = style(rates=rates)
    return job(styles=(replace(mine, rules=replace(mine.rules, net_quality=2)),), hides=(poor, good),
               order=(("box", "38", 3),))


def opened(asked):
    """Hides that a plan opens."""
    plan = make_plan(asked, passes=1, engine=ROWS)
    return [layout.hide_id for layout in plan.layouts if layout.placed]


def test_of_like_hides_the_one_that_loses_less_is_opened():
    """Without rates the cheaper is opened; with them the one on whose ground fewer vamps fail."""
    assert opened(two_hides(None)) == ["A"] and opened(two_hides(RATES)) == ["B"]


def test_the_rest_is_planned_by_rates_too():
    """A plan of the rest opens the hide that loses less, as the first plan does."""
    before = make_plan(two_hides(RATES), passes=1, engine=ROWS)
    plan = replan(two_hides(RATES), before, Begun(), keep=False, passes=1, engine=ROWS)
    assert [layout.hide_id for layout in plan.layouts if layout.placed] == ["B"]


@pytest.mark.parametrize(("dearer", "which"), [("16.00", "B"), ("40.00", "A")])
def test_good_ground_is_worth_what_it_saves_and_no_more(dearer, which):
    """A hide a little dearer is opened for its ground; one much dearer is not."""
    assert opened(two_hides(RATES, dearer)) == [which]


def test_losses_are_weighed_with_costs():
    """Cost and loss together are least; without loss the cheaper container is taken, with its bound."""
    boxes, offers = [Container(10, 1), Container(12, 1)], [OfferedLayout(0, ((0,),), 5), OfferedLayout(1, ((0,),), 0)]
    assert choose_layouts(boxes, offers, [1], [1]).chosen == (1,)
    plain = choose_layouts(boxes, [replace(one, loss=0) for one in offers], [1], [1])
    assert plain.chosen == (0,) and plain.least_cost == 10


def deviations(rates) -> set[float]:
    """Deviations from across of the vamps of a plan on one hide whose first headings are the farthest off."""
    slanted = hide("A", zones=(zone("butt", box(0, 0, 1000, 500), 1, 100.0),))
    plan = make_plan(job(styles=(style(rates=rates),), hides=(slanted,), order=(("box", "38", 3),)),
                     passes=1, engine=ROWS)
    (layout,) = plan.layouts
    assert len(layout.placed) >= 6
    return {deviation_from_across_deg(one.pose.heading_deg, 100.0) for one in layout.placed}


def test_what_is_placed_moves_to_headings_that_spoil_less():
    """Rows are laid at the first heading that is allowed; where rates say so they are laid anew nearer to across."""
    rates = RejectRates((5.0, 90.0), ((1, (2.0, 20.0)),))
    assert min(deviations(None)) >= 9.0 and max(deviations(rates)) <= 5.0
    assert deviations(RejectRates((90.0,), ((1, (2.0,)),))) == deviations(None)


def test_ground_of_little_loss_and_the_cost_of_what_is_used():
    """Headings of which no more than 2 % fail are within 5°; what is used of a hide costs by how far it reaches."""
    slanted = hide("A", zones=(zone("butt", box(0, 0, 1000, 500), 1, 100.0),))
    asked = job(styles=(style(rates=RejectRates((5.0, 90.0), ((1, (2.0, 20.0)),))),), hides=(slanted,))
    lines = ordered_quantities(asked.order, asked.styles, asked.settings.reject_pairs)
    rules, rates = {"box": asked.styles[0].rules}, {"box": asked.styles[0].rates}
    wants = vamp_wants(lines, pieces_ordered(asked, lines, []), rules, None, rates)
    seen = see_hide(slanted, wants, asked.settings, one_way=False)
    task = LeatherTask(wants, [seen], [3000], asked.settings, None)
    few = with_less_loss(task, 0, wants, 2.0)
    allowed = [heading % 180.0 for heading in few.headings_deg["box"]]
    assert allowed and all(5.0 - 1e-6 <= heading <= 15.0 + 1e-6 for heading in allowed)
    assert len(few.headings_deg["box"]) == len(few.grounds["box"].core) < len(seen.headings_deg["box"])
    near, far = (Unit(0, (Pose(x, 250.0, 10.0), Pose(x, 120.0, 10.0))) for x in (120.0, 880.0))
    assert part_cost(task, 0, (far,)) > 3.0 * part_cost(task, 0, (near,)) > 0.0
