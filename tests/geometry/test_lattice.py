"""Densest lattices, held against packing theorems, tilings and shapely."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from outlines import UNIT_SQUARE, regular, star_rings

from geometry.lattice import Lattice, densest_double_lattice, densest_translation_lattice
from geometry.nofit import no_fit_polygon
from geometry.polygon import area, convex_hull, polygon
from geometry.pose import rotate
from geometry.precision import GeometryError, as_ring

# Cells of the twelve pentominoes; all of them tile the plane.
PENTOMINOES = {
    "F": "01 10 11 12 22", "I": "00 10 20 30 40", "L": "00 10 20 30 31", "N": "00 10 20 21 31",
    "P": "00 01 10 11 20", "T": "00 10 20 11 12", "U": "00 10 20 01 21", "V": "00 10 20 01 02",
    "W": "00 01 11 12 22", "X": "01 10 11 12 21", "Y": "00 10 20 30 11", "Z": "00 01 11 21 22",
}  # fmt: skip


@st.composite
def convex_rings(draw) -> np.ndarray:
    """A convex ring: the hull of 3 to 12 points spread over an ellipse of any flatness and direction."""
    count = draw(st.integers(3, 12))
    angles = np.array(draw(st.lists(st.floats(0.0, 360.0), min_size=count, max_size=count)))
    angles = np.radians(np.concatenate((angles, (0.0, 120.0, 240.0))))
    flat = draw(st.floats(0.2, 1.0))
    ring = convex_hull(100.0 * np.column_stack((np.cos(angles), flat * np.sin(angles))))
    return as_ring(rotate(ring, draw(st.floats(0.0, 360.0))))


def pentomino(name: str) -> np.ndarray:
    """Outline of a pentomino, cells of 1 mm."""
    cells = [shapely.box(int(x), int(y), int(x) + 1, int(y) + 1) for x, y in PENTOMINOES[name].split()]
    return as_ring(shapely.get_coordinates(shapely.union_all(cells).simplify(0.0).exterior))


def smoothed_octagon(points_an_arc: int) -> np.ndarray:
    """Reinhardt's smoothed octagon: each corner gives way to a hyperbola that touches the two sides.

    The hyperbola's asymptotes are the sides next to those two; a tangent's point of contact halves its
    segment between the asymptotes.
    """
    angles = 2.0 * np.pi * np.arange(8) / 8
    normals = np.column_stack((np.cos(angles), np.sin(angles)))

    def meet(i: int, j: int) -> np.ndarray:
        return np.linalg.solve(normals[[i % 8, j % 8]], np.ones(2))

    ring = []
    for i in range(8):
        centre = meet(i - 1, i + 2)
        first = 0.5 * (meet(i, i - 1) + meet(i, i + 2)) - centre
        along = np.column_stack((meet(i, i - 1) - centre, meet(i, i + 2) - centre))
        # In asymptote coordinates the hyperbola is x y = 1/4 and the first contact (1/2, 1/2).
        last = np.linalg.solve(along, 0.5 * (meet(i + 1, i - 1) + meet(i + 1, i + 2)) - centre)
        assert np.allclose(np.linalg.solve(along, first), 0.5)
        assert np.isclose(last[0] * last[1], 0.25)
        x = 0.5 * (2.0 * last[0]) ** np.linspace(0.0, 1.0, points_an_arc)
        ring.append(centre + np.column_stack((x, 0.25 / x)) @ along.T)
    return as_ring(np.concatenate(ring))


def overlapping(lattice: Lattice, ring: np.ndarray, depth: float = 1e-5) -> int:
    """Number of pairs in 5 by 5 cells that still meet when each outline is drawn in by `depth` mm.

    Asked by predicates, which shapely decides exactly: its intersections may fail where edges nearly coincide.
    """
    shapes = shapely.buffer([polygon(outline) for outline in lattice.outlines(ring, 5, 5)], -depth)
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    return int((first < second).sum())


@pytest.mark.parametrize(
    ("corners", "density"),
    [
        (5, (5.0 - 5.0**0.5) / 3.0),  # optimal among all packings: Hales & Kusner 2016, arXiv 1602.07220
        (7, 0.89269069),  # Kallus, arXiv 1305.0289
        (8, (4.0 + 4.0 * 2.0**0.5) / (5.0 + 4.0 * 2.0**0.5)),  # recomputed independently
        (9, 0.90103008),  # recomputed independently, as the next two
        (10, 0.91371999),
        (12, 0.92820323),
    ],
)
def test_double_lattice_of_regular_polygons(corners, density):
    """The densest double lattices of regular polygons have their known densities."""
    assert densest_double_lattice(50.0 * regular(corners)).density == pytest.approx(density, abs=1e-8)


@pytest.mark.parametrize(("corners", "density"), [(3, 2.0 / 3.0), (5, 0.817256), (7, 0.860191)])
def test_translation_lattice_of_regular_polygons(corners, density):
    """Triangle 2/3, the least of all convex bodies (Fáry 1950, from memory); pentagon, heptagon recomputed."""
    assert densest_translation_lattice(50.0 * regular(corners)).density == pytest.approx(density, abs=1e-6)


@pytest.mark.parametrize("corners", [24, 60, 96])
def test_a_many_gon_comes_to_the_density_of_the_circle(corners):
    """6 m corners pack as their circumscribed hexagon, and π/√12 (circle, classical) is the limit from above."""
    found = densest_double_lattice(30.0 * regular(corners)).density
    assert found == pytest.approx(corners * np.tan(np.pi / corners) / 12.0**0.5, abs=1e-8)
    circle = np.pi / 12.0**0.5
    assert 0.0 < found - circle < 3.1 / corners**2


def test_smoothed_octagon_comes_to_its_density():
    """Reinhardt 1934: (8 − 4√2 − ln 2)/(2√2 − 1), the chords' error being of second order and extrapolated away."""
    coarse, fine = (densest_translation_lattice(40.0 * smoothed_octagon(n)).density for n in (9, 17))
    known = (8.0 - 4.0 * 2.0**0.5 - np.log(2.0)) / (2.0 * 2.0**0.5 - 1.0)
    assert abs(fine - known) < 1e-3
    assert (4.0 * fine - coarse) / 3.0 == pytest.approx(known, abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(st.tuples(*[st.floats(-100.0, 100.0)] * 6))
def test_triangles_tile_with_half_turns_and_fill_two_thirds_without(corners):
    """Any triangle: double lattice 1 (classical), translation lattice 2/3 (Fáry 1950, from memory)."""
    points = np.array(corners).reshape(3, 2)
    if abs(np.linalg.det(points[1:] - points[0])) < 50.0:
        return
    assert densest_double_lattice(points).density == pytest.approx(1.0, abs=1e-6)
    assert densest_translation_lattice(points).density == pytest.approx(2.0 / 3.0, abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(star_rings(least=4, most=4))
def test_quadrilaterals_tile_with_half_turns(ring):
    """Any quadrilateral, hollow ones too, tiles the plane with its half-turned copies (classical)."""
    if len(ring) == 4 and shapely.is_valid(polygon(ring)) and area(ring) > 50.0:
        assert densest_double_lattice(ring).density == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("name", sorted(set(PENTOMINOES) - {"U"}))
def test_pentominoes_tile_with_half_turns(name):
    """Every pentomino tiles the plane by translations and half turns; U alone needs a place without any play.

    M. Gardner, Tiling with polyominoes, polyiamonds and polyhexes, in Time Travel and Other Mathematical
    Bewilderments (1988), by Conway's criterion (from memory).
    """
    assert densest_double_lattice(20.0 * pentomino(name)).density == pytest.approx(1.0, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(convex_rings())
def test_convex_bodies_keep_the_least_densities(ring):
    """√3/2 by double lattices (Kuperberg & Kuperberg 1990) and 2/3 by translations (Fáry 1950); from memory."""
    double, single = densest_double_lattice(ring), densest_translation_lattice(ring)
    assert 3.0**0.5 / 2.0 - 1e-6 <= double.density <= 1.0 + 1e-6
    assert 2.0 / 3.0 - 1e-6 <= single.density <= double.density + 1e-6


@settings(max_examples=15, deadline=None)
@given(convex_rings())
def test_half_turns_gain_nothing_for_an_outline_that_is_its_own_half_turn(ring):
    """A convex body with a centre: both lattices are equally dense."""
    ring = convex_hull(np.concatenate((ring, -ring)))
    single, double = densest_translation_lattice(ring), densest_double_lattice(ring)
    assert double.density == pytest.approx(single.density, abs=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_density_does_not_change_with_an_affine_map(seed):
    """An affine map takes lattices to lattices of the same density, so that the densest one stays so."""
    rng = np.random.default_rng(seed)
    ring = rng.uniform(20.0, 100.0, (9, 1)) * regular(9)
    mapped = ring @ np.array(((rng.uniform(0.5, 2.0), rng.uniform(-1.0, 1.0)), (0.0, 1.0)))
    assert densest_double_lattice(mapped).density == pytest.approx(densest_double_lattice(ring).density, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(star_rings(), st.booleans())
def test_outlines_of_a_lattice_do_not_overlap(ring, double):
    """Placed in 5 by 5 cells, off the origin, no two outlines share area; density and cell area agree."""
    ring = as_ring(ring + np.array((300.0, -70.0)))
    lattice = (densest_double_lattice if double else densest_translation_lattice)(ring)
    assert overlapping(lattice, ring) == 0
    assert np.linalg.det((lattice.u, lattice.v)) == pytest.approx(lattice.cell_area)
    assert lattice.density == pytest.approx((1 + double) * area(ring) / lattice.cell_area)


@settings(max_examples=15, deadline=None)
@given(star_rings())
def test_a_hollow_outline_packs_at_least_as_densely_as_its_hull(ring):
    """Hulls that do not overlap hold outlines that do not: density ≥ density of the hull × share of it."""
    for densest in (densest_double_lattice, densest_translation_lattice):
        hull = convex_hull(ring)
        assert densest(ring).density >= densest(hull).density * area(ring) / area(hull) - 1e-6


@pytest.mark.parametrize("double", [False, True])
@pytest.mark.parametrize("gap", [0.5, 4.0])
def test_a_gap_is_kept_and_costs_density(gap, double):
    """The nearest two outlines stand the gap apart, no nearer and hardly more."""
    ring = 40.0 * pentomino("U")
    densest = densest_double_lattice if double else densest_translation_lattice
    lattice = densest(ring, gap)
    shapes = np.array([polygon(outline) for outline in lattice.outlines(ring, 3, 3)])
    apart = shapely.distance(shapes[:, None], shapes[None, :])[~np.eye(len(shapes), dtype=bool)].min()
    assert gap - 1e-6 <= apart <= 1.006 * gap
    assert lattice.density < densest(ring).density


def test_squares_with_a_gap_have_the_density_of_larger_squares():
    """Side 10 and gap 2: 100 of 144 mm², and rounded corners gain nothing in a lattice of full rows."""
    assert densest_translation_lattice(10.0 * UNIT_SQUARE, 2.0).density >= 100.0 / 144.0 - 1e-9


def test_position_and_size_of_the_outline_do_not_matter():
    """Moved and enlarged, an outline has the same lattice, moved and enlarged."""
    ring = as_ring([(0, 0), (40, 0), (50, 30), (25, 10), (0, 35)])
    far = as_ring(10.0 * ring + np.array((5000.0, 2000.0)))
    here, there = densest_double_lattice(ring), densest_double_lattice(far)
    assert there.density == pytest.approx(here.density, abs=1e-6)
    assert overlapping(there, far) == 0


def test_an_outline_that_crosses_itself_is_refused():
    """A bow tie packs in no lattice."""
    with pytest.raises(GeometryError):
        densest_double_lattice(np.array([(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 3.0)]))


def test_an_outline_is_worked_out_once():
    """Estimate, bound and account ask for the same outlines: the second answer is the first, another gap's is not."""
    ring = 20.0 * pentomino("F")
    first = densest_double_lattice(ring, 1.0)
    assert densest_double_lattice(ring.copy(), 1.0) is first
    assert densest_double_lattice(ring, 2.0).density < first.density
    assert densest_translation_lattice(ring, 1.0) is not first


def test_both_lattices_of_an_outline_begin_with_one_no_fit_polygon(monkeypatch):
    """The outline is held against itself once and against its half turn once, whichever lattice is asked for first."""
    asked = []
    monkeypatch.setattr("geometry.lattice.no_fit_polygon", lambda *two: asked.append(two) or no_fit_polygon(*two))
    for size, first, second in ((21.0, densest_double_lattice, densest_translation_lattice),
                                (22.0, densest_translation_lattice, densest_double_lattice)):
        asked.clear()
        ring = size * pentomino("F")
        assert first(ring, 1.0) is not second(ring, 1.0) and len(asked) == 2
