"""The classical terms: parallelogram, edge term, and the estimate beside the plan."""

import numpy as np
import pytest
from tiny_plans import box_plan, rectangle_lattice, style, vamp

from geometry.lattice import densest_double_lattice
from nest.accounts import account
from nest.accounts.areas import measure
from nest.accounts.classical import edge_term_percent, parallelogram_mm2
from nest.pieces.piece import Piece, Role


def polygon_piece(corners):
    """A piece of this outline, all of it net."""
    ring = np.asarray(corners, dtype=float)
    return Piece("P", "box", "38", vamp().foot, Role.VAMP, ring, ring)


def test_edge_term():
    """39 ÷ ⁴√W (textbook form, from memory; recomputed): 200 dm² over 6 dm² 16.23 %, 450 over 6 13.25 %."""
    assert edge_term_percent(200 / 6) == pytest.approx(16.23, abs=0.005)
    assert edge_term_percent(450 / 6) == pytest.approx(13.25, abs=0.005)


def regular(n, radius=100.0):
    """Corners of a regular n-gon."""
    angle = 2.0 * np.pi * np.arange(n) / n
    return radius * np.column_stack((np.cos(angle), np.sin(angle)))


@pytest.mark.parametrize(
    ("corners", "density"),
    [
        ([(0, 0), (200, 0), (60, 140)], 1.0),  # any triangle tiles with its half turn (classical)
        (regular(5), (5 - 5**0.5) / 3),  # Hales & Kusner 2016, arXiv 1602.07220
        (regular(8), (4 + 4 * 2**0.5) / (5 + 4 * 2**0.5)),  # recomputed
    ],
)
def test_parallelogram_is_the_determinant_of_the_pair(corners, density):
    """One parallelogram holds one pair: its area is the lattice's determinant, 2 a ÷ it the interlock yield."""
    piece = polygon_piece(corners)
    lattice = densest_double_lattice(piece.cut_outline, gap=0.0)
    found = measure(piece, lattice.density)
    assert parallelogram_mm2(found) == pytest.approx(abs(np.linalg.det((lattice.u, lattice.v))), rel=1e-6)
    assert 2.0 * found.rough_mm2 / parallelogram_mm2(found) == pytest.approx(density, rel=1e-6)


def test_estimate_beside_the_plan():
    """A pair of rectangles by the parallelogram method, line by line, every figure by hand."""
    found = account(box_plan(), lattice=rectangle_lattice)
    (line,) = found.classical
    assert line.rough_mm2 == pytest.approx(55_552.0) and line.parallelogram_mm2 == pytest.approx(2 * 28_125.0)
    assert line.first_mm2 == pytest.approx(2 * 349.0)
    assert line.interlock_yield == pytest.approx(55_552 / 56_250)
    assert line.ratio == pytest.approx(500_000 / 27_776)
    share = 55_552 / 56_250 - 0.39 / (500_000 / 27_776) ** 0.25
    assert line.estimated_yield == pytest.approx(share)
    assert line.estimated_mm2 == pytest.approx(1.15 * 55_552 / share)
    assert line.rough_mm2 + line.first_mm2 + line.second_mm2 + line.third_mm2 == pytest.approx(line.estimated_mm2)
    parts = (line.actual_first_mm2, line.actual_second_mm2, line.actual_third_mm2, line.actual_measure_mm2)
    assert parts == pytest.approx((698.0, 387_500.0 / 2, 0.0, 0.0))
    assert line.rough_mm2 + sum(parts) == pytest.approx(line.actual_mm2) == pytest.approx(250_000.0)


def test_reinforcements_have_no_classical_estimate():
    """The parallelogram method is for hides; a plan of lays alone has no lines."""
    assert account(box_plan(layouts=(), styles=(style(),)), lattice=rectangle_lattice).classical == ()
