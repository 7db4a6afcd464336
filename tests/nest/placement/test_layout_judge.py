"""The judge of the other tests is no yes-man: what is planted is found."""

import pytest
import shapely
from layout_judge import closest, counts, headings_allowed, overlapping, shared_area, sticks_out, used_length
from tiny_problems import SLAT, SQUARE, kind

from geometry.pose import Pose
from nest.placement.problem import Item, Layout


def test_overlaps_are_found_and_contacts_are_not():
    """Two boxes that share a hundredth of a mm overlap; two that touch, or share half a thousandth, do not."""
    first = shapely.box(0, 0, 50, 50)
    for x, found in ((49.99, [(0, 1)]), (49.9995, []), (50.0, []), (80.0, [])):
        assert overlapping([first, shapely.box(x, 0, x + 50, 50)]) == found
    assert overlapping([first, shapely.box(10, 10, 20, 20)]) == [(0, 1)]
    assert shared_area([first, shapely.box(49, 0, 90, 50), shapely.box(0, 48, 50, 90)]) == pytest.approx(
        50 + 100 + 2)


def test_distances_are_measured():
    """The least of all pairs; none for one shape."""
    row = [shapely.box(x, 0, x + 10, 10) for x in (0, 14, 27)]
    assert closest(row) == pytest.approx(3.0)
    assert closest(row[:1]) == float("inf")
    assert used_length(row) == 37.0


def test_leaving_the_ground_is_found():
    """A hundredth of a mm off is off; touching is not."""
    ground = shapely.box(0, 0, 100, 100)
    assert sticks_out(shapely.box(50, 50, 100.01, 60), ground)
    assert not sticks_out(shapely.box(50, 50, 100, 60), ground)


def test_counts_and_headings_are_read_off_the_items():
    """Kinds are counted one by one; a heading off its kind's list is noticed."""
    kinds = (kind("square", SQUARE, 9), kind("slat", SLAT, 9, (10.0,)))
    good = Layout((Item(1, Pose(0.0, 0.0, 10.0)), Item(1, Pose(90.0, 0.0, 10.0))))
    assert counts(good, kinds) == [0, 2]
    assert headings_allowed(good, kinds)
    assert not headings_allowed(Layout((Item(0, Pose(0.0, 0.0, 10.0)),)), kinds)
