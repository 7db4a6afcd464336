"""Layouts told apart."""

import numpy as np
import pytest
from tiny_problems import kind

from geometry.precision import as_ring
from nest.placement.model import build_model
from nest.placement.state import Snapshot, alike

SQUARE = as_ring(((0, 0), (50, 0), (50, 50), (0, 50)))
BAR = as_ring(((0, 0), (90, 0), (90, 20), (0, 20)))
MODEL, _ = build_model([kind("square", SQUARE, 9, (0.0, 90.0)), kind("bar", BAR, 9, (0.0, 180.0))], 0.0, None)
LAYOUT = Snapshot(np.array((0, 0, 1, 1)), np.zeros(4, np.int64), np.array((0.0, 60.0, 120.0, 220.0)), np.zeros(4))


def changed(order=(0, 1, 2, 3), **values) -> Snapshot:
    """The layout with its items in another order, and other values then."""
    parts = {name: getattr(LAYOUT, name)[list(order)] for name in ("kind", "angle", "x", "y")}
    return Snapshot(**parts | {name: np.array(value) for name, value in values.items()})


@pytest.mark.parametrize("other", [
    LAYOUT,
    changed(x=(1.0, 59.0, 121.0, 221.0), y=(-1.0, 1.0, 1.0, 0.0)),
    changed((1, 0, 3, 2)),
    changed((1, 0, 2, 3), x=(61.0, 1.0, 120.0, 220.0)),
])
def test_small_moves_and_exchanges_of_one_form_make_no_other_layout(other):
    """Whichever of the two is asked about."""
    assert alike(MODEL, LAYOUT, other)
    assert alike(MODEL, other, LAYOUT)


@pytest.mark.parametrize("other", [
    changed(x=(20.0, 60.0, 120.0, 220.0)),
    changed(y=(0.0, 0.0, 0.0, 20.0)),
    changed((2, 1, 0, 3), x=LAYOUT.x),
    changed(angle=(1, 0, 0, 0)),
    changed(x=(60.0, 60.0, 120.0, 220.0)),
])
def test_another_place_form_or_heading_makes_another_layout(other):
    """The last has two squares where one lies, and none where the other lies."""
    assert not alike(MODEL, LAYOUT, other)
    assert not alike(MODEL, other, LAYOUT)


def test_layouts_that_are_exchanged_throughout_are_not_looked_into():
    """More than a dozen items in one another's places count as another layout: it is a quick look."""
    n = 20
    x = 60.0 * np.arange(n)
    one = Snapshot(np.zeros(n, np.int64), np.zeros(n, np.int64), x, np.zeros(n))
    assert alike(MODEL, one, Snapshot(one.kind, one.angle, x[[1, 0, *range(2, n)]], one.y))
    assert not alike(MODEL, one, Snapshot(one.kind, one.angle, x[::-1], one.y))
