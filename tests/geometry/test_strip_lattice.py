"""Rows and columns of one outline on a strip."""

from math import floor, pi, sqrt

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import star_rings

from geometry.lattice import densest_double_lattice
from geometry.precision import GeometryError, as_ring
from geometry.strip_lattice import densest_strip_lattice, lay_on_strip


def rectangle(length, height):
    """A rectangle along x."""
    return as_ring([(0, 0), (length, 0), (length, height), (0, height)])


@pytest.mark.parametrize(("length", "height", "width", "gap"), [
    (20, 20, 210, 1), (200, 100, 480, 0), (204, 104, 480, 1), (50, 33, 100, 0), (120, 80, 79 + 80, 0), (90, 40, 400, 8),
])
def test_rectangles_lie_in_whole_rows(length, height, width, gap):
    """A rectangle lies ⌊(w + gap) / (h + gap)⌋ times across; each row advances by its length and the gap.

    Round corners of the no-fit polygon keep up to 0.5 % of the gap more.
    """
    found = densest_strip_lattice(rectangle(length, height), width, gap)
    across = floor((width + gap) / (height + gap))
    assert found.advance == pytest.approx((length + gap) / across, rel=1e-6, abs=0.006 * gap / across)
    assert found.density == pytest.approx(length * height / (found.advance * width))


def test_many_discs_come_near_the_densest_packing():
    """On a strip of sixty diameters a 64-gon comes within 2 % of π / √12, and not beyond it but for its corners.

    Source: the densest packing of discs (Thue 1892; classical).
    """
    angles = np.linspace(0.0, 2.0 * pi, 64, endpoint=False)
    disc = as_ring(np.column_stack((np.cos(angles), np.sin(angles))))
    found = densest_strip_lattice(disc, 120.0)
    assert 0.98 * pi / sqrt(12.0) < found.density < 1.003 * pi / sqrt(12.0)


def test_triangles_fill_the_strip_with_half_turns_only():
    """Isosceles triangles as high as the strip tile it but for its ends: density 1 with half turns, 1/2 without."""
    triangle = as_ring([(0, 0), (100, 0), (50, 80)])
    assert densest_strip_lattice(triangle, 80.0).density == pytest.approx(1.0, abs=1e-6)
    assert densest_strip_lattice(triangle, 80.0, half_turns=False).density == pytest.approx(0.5, abs=1e-6)


@pytest.mark.parametrize("width", [250.0, 431.0, 700.0, 1376.0])
def test_no_strip_beats_the_plane(width):
    """A vamp-like outline packs no denser on a strip than in its best double lattice, and fits no strip narrower."""
    vamp = as_ring([(-110, -70), (-40, -100), (60, -90), (105, -40), (115, 0), (105, 40), (60, 90), (-40, 100),
                    (-110, 70), (-70, 0)])
    found = densest_strip_lattice(vamp, width, 1.0)
    assert found.density <= densest_double_lattice(vamp, 1.0).density + 1e-6
    assert found.advance > 0.0
    assert densest_strip_lattice(vamp, 199.0) is None


def test_a_strip_without_width_is_refused():
    """A width of nil is no strip."""
    with pytest.raises(GeometryError, match="width"):
        densest_strip_lattice(rectangle(10, 10), 0.0)


@pytest.mark.parametrize("count", [1, 7, 8, 30])
def test_laid_rectangles_fill_whole_columns(count):
    """Rectangles of 20 by 10 on a strip 45 wide lie four abreast: ⌈count / 4⌉ lengths of strip."""
    laid = lay_on_strip(densest_strip_lattice(rectangle(20, 10), 45.0), 20.0, 10.0, 45.0, count)
    assert len(laid) == count
    assert laid[:, 0].min() - 10.0 == pytest.approx(0.0, abs=1e-9)
    assert laid[:, 0].max() + 10.0 == pytest.approx(20.0 * -(-count // 4), rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(ring=star_rings(), width=st.floats(1.0, 6.0), count=st.integers(1, 40))
def test_laid_outlines_lie_on_the_strip_and_clear_of_each_other(ring, width, count):
    """Whatever the outline: as many as asked for, none off the strip, none over another."""
    size = np.ptp(ring, axis=0)
    width *= size[1]
    lattice = densest_strip_lattice(ring, width)
    laid = lay_on_strip(lattice, size[0], size[1], width, count)
    middle = 0.5 * (ring.min(axis=0) + ring.max(axis=0))
    shapes = [shapely.Polygon((ring - middle) * (1.0 - 2.0 * half) + (x, y)) for x, y, half in laid]
    assert len(shapes) == count
    low_x, low_y, _, high_y = shapely.total_bounds(shapes)
    slack = 1e-6 * size.max()
    assert low_x >= -slack
    assert low_y >= -slack
    assert high_y <= width + slack
    shrunk = shapely.buffer(shapes, -1e-5 * size.max())
    tree = shapely.STRtree(shrunk)
    one, other = tree.query(shrunk, predicate="intersects")
    assert np.array_equal(one, other)
