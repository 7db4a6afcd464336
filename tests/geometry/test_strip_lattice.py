"""Rows and columns of one outline on a strip."""

from math import floor, pi, sqrt

import numpy as np
import pytest

from geometry.lattice import densest_double_lattice
from geometry.precision import GeometryError, as_ring
from geometry.strip_lattice import densest_strip_lattice


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
