"""Ground of a hide, however many points its outline has."""

from dataclasses import replace

from tiny_plans import box_plan

from nest.stock.ground import usable_ground


def test_a_hide_is_shrunk_once_for_all_that_ask():
    """By its outline and the room beside it: every style asks, and every set of zones, and long outlines take long."""
    (hide,) = box_plan().hides
    ground = usable_ground(hide, 5.0)
    assert usable_ground(replace(hide, lot="another"), 5.0) is ground
    assert usable_ground(hide, 6.0).area < ground.area < hide.outline.area
