"""Styles that want different ground share hides: the tolerant one leaves the good ground to the other."""

import pytest
from box_jobs import hide, job, style, zone
from shapely.geometry import box

from nest.pieces.quantities import ordered_quantities
from nest.planning.guide import LEAST_WORTH, guide_of
from nest.planning.make import make_plan
from nest.planning.offer import see_hide
from nest.planning.stages import pieces_ordered
from nest.planning.wants import vamp_wants
from nest.rules import Rules
from nest.verify import verify

CHOOSY, EASY = style("choosy", rules=Rules(net_quality=1)), style("easy", width=99.0, rules=Rules(net_quality=2))


def half_and_half(hide_id):
    """A hide whose left half is of class 1, its right half of class 2; each half holds two pairs of boxes."""
    return hide(hide_id, 500, 510, zones=[zone("good", box(0, 0, 250, 510), 1), zone("poor", box(250, 0, 500, 510), 2)])


def asked(pairs, hides):
    """As many pairs of the choosy style as of the easy one."""
    return job(
        styles=[CHOOSY, EASY], order=[("choosy", "38", pairs), ("easy", "38", pairs)],
        hides=[half_and_half(f"H{n}") for n in range(hides)],
    )


def wants_of(asked):
    """Wants of the vamps of a job."""
    quantities = ordered_quantities(asked.order, asked.styles, asked.settings.reject_pairs)
    return vamp_wants(quantities, pieces_ordered(asked, quantities, []), {one.name: one.rules for one in asked.styles})


def test_the_tolerant_style_leaves_the_good_ground():
    """Sixteen pairs of each fill eight hides, for easy ones go on the poor halves; by area alone nine were opened."""
    plan = make_plan(asked(16, 16), passes=150, seed=1)
    assert verify(plan).findings == ()
    assert len([layout for layout in plan.layouts if layout.placed]) == 8


@pytest.mark.parametrize(("choosy", "worth"), [(6, LEAST_WORTH), (0, 1.0)])
def test_the_choosy_style_carries_the_price(choosy, worth):
    """With choosy pairs to cut the easy style counts for the least; alone it counts in full."""
    some = asked(6, 6)
    wants = wants_of(some)
    seen = [see_hide(one, wants, some.settings, one_way=False) for one in some.hides]
    guide = guide_of(wants, seen, [100] * 6, [choosy, 6], list(range(6)))
    assert guide.prices["easy"] == worth
    assert guide.order == tuple(range(6))
    assert guide_of(wants, seen, [100] * 6, [choosy, 6], list(range(6)), by_prices=False).plain is None
