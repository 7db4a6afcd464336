"""The measured edge of a hide by hand: what is bridged, said and refused, how soft it may be, how sure it is."""

import numpy as np
import pytest
import shapely

from nest.digitise.edges import steps
from nest.digitise.refine import (
    THINNING_MM,
    Edge,
    _bridged,
    _normals,
    _running_median,
    _smooth,
    _stretches,
    doubt_about,
    most_soft,
    outline_polygon,
    refuse_doubt,
)
from nest.digitise.vision import PhotographProblem

TURN = np.linspace(0.0, 2.0 * np.pi, 200, endpoint=False)
CIRCLE = 100.0 * np.column_stack((np.cos(TURN), np.sin(TURN)))


def edge(points=CIRCLE, noise=0.0, doubt=(), odd=()):
    """A measured ring of these points."""
    return Edge(points, points, noise, 1.0, tuple(doubt), tuple(odd))


@pytest.mark.parametrize(("at", "wide"), [(0.5, 0.0), (0.3, 0.0), (0.62, 0.05), (0.5, 0.1)])
def test_a_step_lies_where_a_sharp_one_would_hold_the_same_light(at, wide):
    """From 200 to 800, sharp or blurred alike: its place, its height, and how wide its blur is (Gaussian)."""
    from scipy.special import ndtr

    x = np.linspace(0.0, 1.0, 401)
    share = ndtr((x - at) / wide) if wide else (x > at).astype(float)
    found = steps(200.0 + 600.0 * share[None])
    assert found.at[0] == pytest.approx(at, abs=2e-3) and found.contrast[0] == pytest.approx(600.0, rel=1e-2)
    if wide:
        assert found.width[0] == pytest.approx(wide, rel=0.02) and found.spread[0] == pytest.approx(wide, rel=0.02)


def test_what_is_in_doubt_is_bridged_around_the_ring():
    """Between the sound ones on both sides, over the start of the ring too; with none sound nothing moves."""
    offsets = np.array([9.0, 4.0, 9.0, 9.0, 1.0, 9.0, 2.0, 9.0])
    sound = offsets < 9.0
    assert _bridged(offsets, sound) == pytest.approx([10 / 3, 4.0, 3.0, 2.0, 1.0, 1.5, 2.0, 8 / 3])
    assert (_bridged(offsets, np.zeros(8, dtype=bool)) == 0.0).all()


@pytest.mark.parametrize(("bad", "runs"), [
    ((), []), ((3, 4), []), ((3, 4, 5), [(9.0, 4)]), ((18, 19, 0), [(9.0, 19)]),
    ((2, 3, 4, 5, 9, 10, 11, 12, 13, 15), [(12.0, 4), (15.0, 11)]), (range(20), [(60.0, 0)]),
])
def test_three_points_in_a_row_are_a_stretch(bad, runs):
    """Every 3 mm a point: how long, and where its middle is, around the ring."""
    points = np.column_stack((np.arange(20.0), np.zeros(20)))
    sound = np.ones(20, dtype=bool)
    sound[list(bad)] = False
    assert [(length, x) for length, (x, _) in _stretches(points, sound)] == runs


@pytest.mark.parametrize(("doubt", "odd", "words"), [
    ([150.0], [], None), ([150.1], [], r"not clear over 150 mm near \(7, 8\) \(25% of it in all\)"),
    ([30.0, 30.0], [], None), ([30.0, 30.2], [], r"not clear over 30 mm near \(7, 8\) \(10% of it in all\)"),
    ([], [24.0], None), ([], [9.0, 24.1], r"light changes over 24 mm of the edge"),
])
def test_too_much_doubt_is_refused(doubt, odd, words):
    """A stretch of 150 mm, a tenth of the outline in all, or 24 mm of odd light are the most; longest first."""
    count = 200 if len(doubt) > 1 else 600 if doubt == [150.0] else 200
    one = edge(np.zeros((count, 2)), doubt=[(one, (7.0, 8.0)) for one in doubt], odd=[(one, (1.0, 2.0)) for one in odd])
    if words is None:
        refuse_doubt(one, "H1", lambda x, y: f"({x:.0f}, {y:.0f})")
    else:
        with pytest.raises(PhotographProblem, match=words):
            refuse_doubt(one, "H1", lambda x, y: f"({x:.0f}, {y:.0f})")


@pytest.mark.parametrize(("usual", "reach", "most"), [
    (0.5, 5.0, 1.2), (0.9, 5.0, 1.8), (1.0, 5.0, 1.86), (1.7, 5.0, 2.0), (1.0, 8.0, 2.0), (2.0, 8.0, 2.976),
])
def test_how_soft_an_edge_may_be(usual, reach, most):
    """Twice what is usual and 0.7 mm more of it, but no slope that fills the measuring line; always 0.3 mm more."""
    assert most_soft(usual, reach) == pytest.approx(most)


def test_normals_point_out_of_a_ring_either_way_round():
    """Of a circle they are its radii."""
    for ring in (CIRCLE, CIRCLE[::-1]):
        assert _normals(ring) == pytest.approx(ring / 100.0, abs=1e-9)


def test_normals_of_a_triangle_point_out_of_it():
    """At the corners they point away from the centre, whichever way the triangle is drawn."""
    turn = np.radians((10.0, 130.0, 250.0))
    corners = np.column_stack((np.cos(turn), np.sin(turn)))
    for ring in (corners, corners[::-1]):
        assert _normals(ring) == pytest.approx(ring)


def test_a_ring_is_smoothed_around_its_start():
    """A circle keeps its middle and loses exp(−(σ·2π/n)²/2) of its radius, at every point alike (by Fourier)."""
    found = _smooth(CIRCLE, 1.5)
    assert np.hypot(*found.T) == pytest.approx(100.0 * np.exp(-0.5 * (1.5 * 2.0 * np.pi / 200) ** 2), abs=1e-3)
    values = np.array([0.0, 0.0, 5.0, 0.0, 1.0, 1.0, 9.0, 9.0])[:, None]
    assert _running_median(values, 3)[:, 0].tolist() == [0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 9.0, 9.0]
    assert _running_median(values, 1)[:, 0].tolist() == values[:, 0].tolist()


def test_a_hide_is_its_largest_part_with_its_holes():
    """A figure of eight keeps its larger loop; points within a tenth of a millimetre of a straight edge go."""
    eight = np.array([(0.0, 0.0), (200.0, 200.0), (200.0, 0.0), (-50.0, 250.0)])
    assert outline_polygon(edge(eight), [], "H1").is_valid
    square = np.array([(0.0, 0.0), (50.0, 0.9 * THINNING_MM), (100.0, 0.0), (100.0, 50.0), (60.0, 50.5), (0.0, 50.0)])
    hole = np.array([(40.0, 20.0), (60.0, 20.0), (60.0, 30.0), (40.0, 30.0)])
    found = outline_polygon(edge(square), [edge(hole)], "H1")
    assert len(found.exterior.coords) == 6 and found.area == pytest.approx(5000.0 + 25.0 - 200.0, abs=0.5)
    assert found.exterior.is_ccw and shapely.area(shapely.Polygon(found.interiors[0])) == pytest.approx(200.0)


def test_how_sure_an_outline_is_by_hand():
    """Noise alone of σ = 0.5 mm: 95 % within 1.96 σ and a little; the tone curve alone moves all by a tenth of a pixel,
    and the area with it; what lies 250 mm beyond the marks is in doubt by 0.002 of what lies further."""
    still, near = np.zeros((1, 200, 2)), np.zeros(200)
    noisy = doubt_about([edge(noise=0.5)], still, 0.0, near)
    assert 0.98 < noisy.within_mm < 1.5 and noisy.area_mm2 == 0.0
    biased = doubt_about([edge()], still, 2.0, near)
    assert biased.within_mm == pytest.approx(1.96 * 0.2, rel=0.05)
    assert biased.area_mm2 == pytest.approx(1.96 * 0.2 * 3.0 * 200)
    beyond = doubt_about([edge()], still, 0.0, near + 750.0)
    assert beyond.within_mm == pytest.approx(1.96 * 1.0, rel=0.05) and beyond.area_mm2 == pytest.approx(1.96 * 600.0)
    shifted = doubt_about([edge()], np.tile((3.0, -4.0), (1, 200, 1)), 0.0, near)
    assert shifted.within_mm == pytest.approx(0.0, abs=1e-6)
    grown = doubt_about([edge()], 0.01 * CIRCLE[None], 0.0, near)
    assert grown.within_mm == pytest.approx(1.96, rel=0.05)
