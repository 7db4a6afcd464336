"""A lattice as a first layout of a strip."""

import numpy as np
import pytest
import shapely
from layout_judge import closest, counts, headings_allowed, outlines, overlapping, used_length
from tiny_problems import kind

from geometry.precision import as_ring
from nest.placement.problem import Layout
from nest.placement.propose import lattice_start

VAMP = as_ring([(-110, -70), (-40, -100), (60, -90), (105, -40), (115, 0), (105, 40), (60, 90), (-40, 100),
                (-110, 70), (-70, 0)])


def sizes(headings, factors=(0.96, 0.98, 1.0)):
    """A vamp in some sizes, ten of each."""
    return tuple(kind(f"size {f}", VAMP * f, 10, headings) for f in factors)


@pytest.mark.parametrize("headings", [(0.0,), (0.0, 180.0), (5.0, 185.0, 0.0, 180.0, 355.0, 175.0)])
@pytest.mark.parametrize("gap", [0.0, 3.0])
def test_sizes_of_one_vamp_lie_on_a_lattice(headings, gap):
    """All items, allowed headings, on the strip from its start, and the gap between any two."""
    kinds = sizes(headings)
    items = lattice_start(kinds, gap, 800.0)
    assert counts(Layout(items), kinds) == [10, 10, 10]
    assert headings_allowed(Layout(items), kinds)
    shapes = outlines(items, kinds)
    low_x, low_y, _, high_y = shapely.total_bounds(shapes)
    assert low_x == pytest.approx(0.0, abs=1e-6)
    assert low_y >= -1e-6
    assert high_y <= 800.0 + 1e-6
    assert closest(shapes) >= gap - 1e-4 if gap else overlapping(shapely.buffer(shapes, -1e-4)) == []


def test_a_lattice_is_denser_than_a_row_of_boxes():
    """Half turns interlock: the lay needs less strip than bounding boxes in rows do."""
    kinds = sizes((0.0, 180.0))
    boxes = -(-30 // int(800.0 / np.ptp(VAMP[:, 1]))) * np.ptp(VAMP[:, 0])
    assert used_length(outlines(lattice_start(kinds, 0.0, 800.0), kinds)) < boxes


def test_kinds_with_little_in_common_get_no_lattice():
    """A needle and a vamp share no lattice; neither do a few items, nor items that fit the strip nowhere."""
    needle = kind("needle", as_ring([(0, 0), (300, 0), (300, 5), (0, 5)]), 20)
    assert lattice_start((*sizes((0.0,)), needle), 0.0, 800.0) == ()
    assert lattice_start((kind("vamp", VAMP, 3),), 0.0, 800.0) == ()
    assert lattice_start(sizes((0.0,)), 0.0, 150.0) == ()
