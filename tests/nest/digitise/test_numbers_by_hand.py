"""What photographs are worked out with, by hand: grids, light, arcs, thresholds, outlines. No picture is read."""

import numpy as np
import pytest

from nest.digitise.curvefit import _arc, _off_line, _spline, arc_bulge, corners_of, even, fitted_half
from nest.digitise.kinds import _halfway
from nest.digitise.marks import cells_of, edges_of
from nest.digitise.outline import STEP_MM, _disc, _filled
from nest.digitise.picture import _LINEAR, to_srgb
from nest.digitise.raster import Grid, coarse_pixels, from_coarse, grid_over, mask_of


def test_a_grid_counts_from_the_middle_of_its_upper_left_pixel():
    """Half a millimetre a pixel over 10 × 5 mm: 20 × 10 pixels; x to the right, y upwards, rows downwards."""
    grid = grid_over((-2.0, 3.0, 8.0, 8.0), 0.5)
    assert grid == Grid(-1.75, 7.75, 0.5, 20, 10)
    pixels = np.array([(0.0, 0.0), (19.0, 9.0), (2.5, 4.0)])
    places = np.array([(-1.75, 7.75), (7.75, 3.25), (-0.5, 5.75)])
    assert grid.points(pixels) == pytest.approx(places) and grid.pixels(places) == pytest.approx(pixels)
    assert grid_over((0.0, 0.0, 0.1, 0.1), 0.5) == Grid(0.25, -0.15, 0.5, 1, 1)
    mask = mask_of([[(-2.0, 6.0), (0.0, 6.0), (0.0, 8.0), (-2.0, 8.0)]], grid)
    assert mask[:4, :4].all() and mask.shape == (10, 20) and not mask[5:].any() and not mask[:, 5:].any()


@pytest.mark.parametrize(("width", "height"), [(1, 5), (31, 64), (305, 97)])
def test_smooth_fields_are_exact_to_the_rim(width, height):
    """A cubic known at every sixteenth pixel is known at each, in the first row and the last too: lines stay lines."""
    grid = Grid(0.0, 0.0, 1.0, width, height)

    def field(x, y):
        return np.stack((2000.0 + 3.0 * x - y, 1e-5 * x**3 - 2e-3 * x * y + 1e-2 * y * y), axis=-1)

    found = from_coarse(field(*coarse_pixels(grid).T), grid)
    wanted = field(*np.meshgrid(np.arange(float(width)), np.arange(float(height))))
    assert found.shape == wanted.shape and np.abs(found - wanted).max() < 2e-3


@pytest.mark.parametrize(("stored", "light"), [
    (0, 0.0), (10, 10 / 255 / 12.92), (11, ((11 / 255 + 0.055) / 1.055) ** 2.4), (188, 0.5029), (255, 1.0),
])
def test_light_is_decoded_as_srgb(stored, light):
    """IEC 61966-2-1: straight up to 0.04045, then a power of 2.4; 188 is half the light of 255 (recomputed)."""
    assert _LINEAR[stored] / 65535.0 == pytest.approx(light, abs=2e-5) and _LINEAR.dtype == np.uint16


def test_light_goes_back_to_the_value_it_was_decoded_from():
    """All 256 values come back; light beyond black or white becomes black or white."""
    assert (to_srgb(_LINEAR / 65535.0) == np.arange(256)).all()
    assert to_srgb(np.array([-0.5, 1.5])).tolist() == [0, 255]


@pytest.mark.parametrize("turn", [0.0, 1.0, 2.5, -2.0])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_an_arc_has_its_circle(turn, side):
    """A third of a circle of 50 mm anywhere: its middle lies on the circle, its bulge is tan 30° (DXF, code 42)."""
    away = np.radians(np.linspace(-60.0, 60.0, 25)) * side
    middle = np.array((300.0, -200.0))
    circle = middle + 50.0 * np.column_stack((np.cos(away + turn), np.sin(away + turn)))
    arc = _arc(circle)
    assert arc.kind == "arc" and arc.points == pytest.approx(circle[[0, 12, -1]], abs=1e-6)
    assert arc_bulge(arc.points) == pytest.approx(side * np.tan(np.radians(30.0)))
    chord = np.hypot(*(circle[-1] - circle[0]))
    assert _off_line(circle, circle[0], circle[-1]) == pytest.approx(25.0) and chord == pytest.approx(86.60254)
    circle[12] += 0.006 * (circle[12] - middle)  # 0.3 mm off
    assert _arc(circle) is None


@pytest.mark.parametrize(("radius", "is_arc"), [(0.98, False), (1.02, True), (1990.0, True), (2010.0, False)])
def test_arcs_are_of_one_millimetre_to_two_metres(radius, is_arc):
    """What is tighter or flatter is drawn as something else."""
    away = np.linspace(-0.5, 0.5, 31)
    found = _arc(radius * np.column_stack((np.cos(away), np.sin(away))))
    assert (found is not None) is is_arc


def test_a_spline_keeps_to_its_points_and_ends():
    """A sine of 20 mm over 100 mm: a chain of cubics from the first point to the last, within a tenth of a mm."""
    x = np.linspace(0.0, 100.0, 60)
    points = np.column_stack((x, 20.0 * np.sin(x / 16.0)))
    found = _spline(points, None, None)
    assert len(found) % 3 == 1 and np.hypot(*(found[[0, -1]] - points[[0, -1]]).T).max() < 0.05
    share = np.linspace(0.0, 1.0, 20)[:, None]
    way = np.concatenate([
        (1 - share) ** 3 * a + 3 * share * (1 - share) ** 2 * b + 3 * share**2 * (1 - share) * c + share**3 * d
        for a, b, c, d in (found[i : i + 4] for i in range(0, len(found) - 1, 3))
    ])
    assert np.abs(way[:, 1] - 20.0 * np.sin(way[:, 0] / 16.0)).max() < 0.1


def test_corners_of_half_an_outline_stay_where_they_are():
    """Half of a page of 100 × 60 mm: its two corners off the axis, three lines square to each other."""
    ring = even(np.array([(100.0, 0.0), (100.0, 30.0), (0.0, 30.0), (0.0, 0.0), (0.0, -30.0), (100.0, -30.0)]))
    assert len(corners_of(ring)) == 4
    half = np.concatenate([np.column_stack(one) for one in (
        (np.full(120, 100.0), np.arange(120) * 0.25), (100.0 - np.arange(400) * 0.25, np.full(400, 30.0)),
        (np.zeros(121), 30.0 - np.arange(121) * 0.25))])
    curves = fitted_half(half)
    assert [one.kind for one in curves] == ["spline", "line", "spline"]
    assert curves[1].points == pytest.approx(np.array([(100.0, 30.0), (0.0, 30.0)]), abs=0.02)
    assert curves[0].points[[0, -1]] == pytest.approx(np.array([(100.0, 0.0), (100.0, 30.0)]), abs=0.02)


def test_half_an_oval_crosses_its_axis_squarely():
    """Both ends lie on y = 0 to the last digit, their slopes stand on it, and the mirror image goes on from them."""
    turn = np.linspace(0.0, np.pi, 700)
    half = np.column_stack((60.0 * np.cos(turn), 30.0 * np.sin(turn)))
    (curve,) = fitted_half(half)
    points = curve.points
    assert points[0, 1] == points[-1, 1] == 0.0 and points[0, 0] == points[1, 0] and points[-1, 0] == points[-2, 0]
    assert points[[0, -1], 0] == pytest.approx((60.0, -60.0), abs=0.05)
    assert np.abs(np.hypot(*(curve.flattened() / (60.0, 30.0)).T) - 1.0).max() < 0.003
    assert curve.mirrored().points[[0, -1]].tolist() == (points[[-1, 0]] * (1.0, -1.0)).tolist()


def test_the_threshold_of_two_kinds_lies_between_them():
    """Otsu 1979, by trying every cut between the kinds: dark about 10, bright about 200, whichever there is more of."""
    for few, many in ((200, 800), (800, 200)):
        random = np.random.default_rng(4)
        dark, bright = 10.0 * np.exp(random.normal(0, 0.2, few)), 200.0 * np.exp(random.normal(0, 0.2, many))
        found = _halfway(np.concatenate((dark, bright)))
        assert dark.max() < found < bright.min()
    assert 1.0 < _halfway(np.repeat((1.0, 10.0, 100.0), (400, 30, 400))) <= 10.5


def test_the_edges_of_a_mark_are_those_of_its_cells():
    """White paper lies around its four sides of eight black cells; within it an edge is a change from cell to cell."""
    cells = cells_of(7)
    assert cells.shape == (8, 8) and not (cells[[0, -1]].any() or cells[:, [0, -1]].any())
    middles, normals = edges_of(7)
    outer = np.abs(middles).max(axis=1) == 0.5
    inner = (cells[:, 1:] != cells[:, :-1]).sum() + (cells[1:] != cells[:-1]).sum()
    assert outer.sum() == 32 and len(middles) == 32 + inner
    assert np.hypot(*normals.T) == pytest.approx(1.0) and (np.sum(middles * normals, axis=1)[outer] == 0.5).all()


def test_the_largest_outline_is_filled():
    """A frame of 12 × 10 pixels keeps all that lies within it; a blob beside it goes."""
    mask = np.zeros((30, 40), dtype=bool)
    mask[5:15, 4:16], mask[8:12, 8:12], mask[20:24, 30:35] = True, False, True
    filled = _filled(mask)
    wanted = np.zeros((30, 40), dtype=bool)
    wanted[5:15, 4:16] = True
    assert (filled == wanted).all()
    assert [_disc(one * STEP_MM).shape for one in (0.2, 1.0, 3.0, 4.4)] == [(3, 3), (3, 3), (7, 7), (9, 9)]
