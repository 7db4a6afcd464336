"""A plan weighs leather against what the press spoils, where the job has rates by class and deviation."""

from dataclasses import replace
from decimal import Decimal

import pytest
from box_jobs import ROWS, hide, job, style, zone
from shapely.geometry import box

from nest.pieces.rejects import RejectRates
from nest.planning.make import make_plan
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
