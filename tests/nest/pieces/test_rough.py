"""Rough vamps: no part short of its allowance, no more than is needed, widening taken off the sides."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from small_styles import EVEN, STEPPED, box, vamp
from trim_distances import trim_distance_by_part

from geometry.polygon import area, contains, edge_lengths, is_simple, polygon
from nest.pieces.piece import Part, Template
from nest.pieces.rough import ROUGH_TOLERANCE_MM, SAMPLE_MM, allowance_along, along_template, rough_outline
from nest.pieces.style import Allowances


def test_even_allowance_is_a_plain_offset():
    """With one allowance all round the rough vamp is the template's buffer, within the tolerance, never less."""
    template = vamp(lean=8.0)
    exact = polygon(template.outline).buffer(12.0, quad_segs=256)
    rough = rough_outline(template, EVEN)
    assert exact.area <= area(rough) <= exact.area + ROUGH_TOLERANCE_MM * exact.length
    assert shapely.covers(polygon(rough).buffer(1e-6), exact)


@pytest.mark.parametrize("template", [vamp(), vamp(lean=8.0), vamp(lean=-10.0), box()], ids=str)
def test_a_rough_outline_lies_a_quarter_of_a_millimetre_out_at_most(template):
    """The outline is thinned outwards as far as its tolerance lets it: some of it lies more than a fifth out."""
    rough = shapely.segmentize(shapely.LinearRing(rough_outline(template, EVEN)), 0.5)
    far = shapely.distance(shapely.points(shapely.get_coordinates(rough)), polygon(template.outline)).max()
    assert 12.2 < far <= 12.25


@pytest.mark.parametrize(("length", "width", "along", "across"), [
    (200.0, 160.0, 67, 54), (300.0, 150.0, 100, 50), (300.3, 149.9, 101, 50), (90.0, 2.0, 30, 1), (90.0, 3.1, 30, 2),
])
def test_points_along_a_template_are_three_millimetres_apart_at_most(length, width, along, across):
    """Points are as few as possible, evenly spaced on each edge, and keep the part of their edge."""
    points, parts = along_template(box(length, width))
    assert [parts.count(part) for part in (Part.TOE, Part.SIDE, Part.BACK)] == [across, 2 * along, across]
    assert edge_lengths(points).max() <= 3.0 + 1e-9 and SAMPLE_MM == 3.0
    assert np.unique(edge_lengths(points).round(6)).tolist() == sorted({round(length / along, 6),
                                                                        round(width / across, 6)})


@settings(deadline=None, max_examples=25)
@given(
    st.floats(5.0, 22.0), st.floats(5.0, 20.0), st.floats(5.0, 18.0), st.floats(0.0, 60.0), st.floats(0.0, 4.0),
    st.floats(-20.0, 20.0),
)
def test_every_part_has_its_allowance(toe, side, back, blend, widening, lean):
    """Measured from the template, toe and back have theirs in full and the side its own less the widening share."""
    template = vamp(lean=lean)
    allowances = Allowances(toe, side, back, 3.0, 4.0, 3.0, blend)
    rough = rough_outline(template, allowances, widening)
    assert is_simple(rough)
    measured = trim_distance_by_part(template, rough)
    half_width = np.abs(template.outline[:, 1]).max()
    assert measured[Part.TOE].least_mm >= toe - 1e-6
    assert measured[Part.BACK].least_mm >= back - 1e-6
    assert measured[Part.SIDE].least_mm >= max(4.0, side - widening / 100.0 * half_width) - 1e-6
    for part in measured.values():
        assert part.least_mm <= part.mean_mm <= part.most_mm
    # Nowhere further out than the largest allowance.
    far = shapely.distance(shapely.points(rough), polygon(template.outline)).max()
    assert far <= max(toe, side, back) + ROUGH_TOLERANCE_MM + 1e-6


def test_change_between_parts_is_smooth_and_on_the_lesser_side():
    """The larger allowance holds to the end of its part, then falls along half a cosine wave over the blend."""
    template = box(400.0, 300.0)
    points, widths = allowance_along(template, replace(STEPPED, blend_mm=60.0))
    toe_edge = points[:, 0] == 200.0
    assert widths[toe_edge] == pytest.approx(np.full(toe_edge.sum(), 18.0))
    upper = (points[:, 1] == 150.0) & (points[:, 0] < 200.0) & (points[:, 0] > -200.0)
    away = 200.0 - points[upper, 0]
    expected = np.where(away < 60.0, 14.0 + 4.0 * (0.5 + 0.5 * np.cos(np.pi * away / 60.0)), 14.0)
    assert widths[upper] == pytest.approx(expected)
    back_edge = (points[:, 0] == -200.0) & (np.abs(points[:, 1]) < 90.0)
    assert widths[back_edge] == pytest.approx(np.full(back_edge.sum(), 10.0))


def test_allowance_never_jumps():
    """From point to point the allowance changes by no more than a cosine of its height and length can."""
    points, widths = allowance_along(vamp(lean=8.0), STEPPED, 2.0)
    slope = np.abs(np.roll(widths, -1) - widths) / edge_lengths(points)
    assert slope.max() <= 0.5 * np.pi * (18.0 - 10.0) / STEPPED.blend_mm


def test_short_part_between_two_larger_ones_keeps_its_own_at_least():
    """In a part shorter than two blends the two rises share it, each over one half."""
    outline = box(400.0, 300.0).outline
    # A 30 mm stretch of back in the middle of the upper side.
    ring = np.insert(outline, 2, [(15.0, 150.0), (-15.0, 150.0)], axis=0)
    template = Template("box", "38", ring, (Part.TOE, Part.SIDE, Part.BACK, Part.SIDE, Part.SIDE, Part.SIDE))
    points, widths = allowance_along(template, Allowances(14.0, 14.0, 10.0, 5.0, 5.0, 5.0, blend_mm=40.0))
    stretch = (points[:, 1] == 150.0) & (np.abs(points[:, 0]) <= 15.0)
    away = 15.0 - np.abs(points[stretch, 0])
    assert widths[stretch] == pytest.approx(12.0 + 2.0 * np.cos(np.pi * away / 15.0))


def test_short_part_beside_a_larger_and_a_smaller_one_falls_over_all_its_length():
    """A side of 30 mm leaves no room for 40 mm of blend: it goes from 14 mm to its own 12 mm."""
    ring = np.insert(box(400.0, 300.0).outline, 2, [(15.0, 150.0), (-15.0, 150.0)], axis=0)
    parts = (Part.TOE, Part.TOE, Part.SIDE, Part.BACK, Part.BACK, Part.BACK)
    points, widths = allowance_along(Template("box", "38", ring, parts), Allowances(14, 12, 10, 5, 5, 5, blend_mm=40.0))
    stretch = (points[:, 1] == 150.0) & (np.abs(points[:, 0]) <= 15.0)
    assert widths[stretch] == pytest.approx(13.0 + np.cos(np.pi * (15.0 - points[stretch, 0]) / 30.0))


def test_widening_is_taken_off_straight_sides_in_full():
    """2 % wider at 80 mm from the axis is 1.6 mm a side: 14 mm become 12.4, and toe and back keep theirs."""
    points, widths = allowance_along(box(200.0, 160.0), replace(STEPPED, blend_mm=0.0), 2.0)
    middle_of_sides = np.abs(points[:, 0]) < 90.0
    assert widths[middle_of_sides] == pytest.approx(np.full(middle_of_sides.sum(), 12.4))
    assert widths[points[:, 0] == 100.0] == pytest.approx(np.full((points[:, 0] == 100.0).sum(), 18.0))


def test_widening_counts_square_to_the_outline():
    """On a side that leans by a slope of 3 in 4, a point at y moves out by 0.8 × what it moves across."""
    outline = np.array([(100.0, -20.0), (100.0, 20.0), (20.0, 80.0), (-100.0, 80.0), (-100.0, -80.0), (20.0, -80.0)])
    parts = (Part.TOE, Part.SIDE, Part.SIDE, Part.BACK, Part.SIDE, Part.SIDE)
    points, widths = allowance_along(Template("box", "38", outline, parts), Allowances(14, 14, 10, 5, 5, 5, 10.0), 5.0)
    leaning = (points[:, 0] > 25.0) & (points[:, 0] < 85.0)
    assert widths[leaning] == pytest.approx(14.0 - 0.05 * np.abs(points[leaning, 1]) * 0.8)


@pytest.mark.parametrize(("side", "least", "expected"), [(14.0, 13.0, 13.0), (14.0, -5.0, 0.0), (4.0, 5.0, 4.0)])
def test_widening_stops_at_the_least_side(side, least, expected):
    """However much the piece widens, the side keeps its least allowance, or what was given if that is less."""
    points, widths = allowance_along(box(), Allowances(18.0, side, 10.0, 6.0, least, 5.0, 0.0), 40.0)
    assert widths[np.abs(points[:, 0]) < 90.0] == pytest.approx(np.full((np.abs(points[:, 0]) < 90.0).sum(), expected))


def test_more_allowance_never_makes_a_smaller_piece():
    """3 mm more at the toe only adds ground, and its area grows by less than 3 mm times the outline."""
    template = vamp(lean=8.0)
    before = rough_outline(template, STEPPED)
    after = rough_outline(template, replace(STEPPED, toe_mm=21.0))
    assert contains(after, before, tolerance=ROUGH_TOLERANCE_MM)
    assert 0.0 < area(after) - area(before) < 3.0 * edge_lengths(after).sum()


def test_trim_distance_of_a_box_in_its_box():
    """Distances between two rectangles, by hand: 20 before the toe, 10 at the sides, 5 behind, nearest counts."""
    rough = np.array([(120.0, -90.0), (120.0, 90.0), (-105.0, 90.0), (-105.0, -90.0)])
    measured = trim_distance_by_part(box(), rough)
    # Within 10 mm of its ends the toe edge is nearer to a side of the rough outline.
    assert (measured[Part.TOE].least_mm, measured[Part.TOE].most_mm) == pytest.approx((10.0, 20.0))
    assert measured[Part.TOE].mean_mm == pytest.approx((140.0 * 20.0 + 20.0 * 15.0) / 160.0, abs=0.01)
    assert (measured[Part.SIDE].least_mm, measured[Part.SIDE].most_mm) == pytest.approx((5.0, 10.0))
    assert (measured[Part.BACK].least_mm, measured[Part.BACK].most_mm) == pytest.approx((5.0, 5.0))


def test_vertices_stay_few():
    """A vamp keeps between 50 and 110 vertices: enough to be true to the tolerance, few enough to place fast."""
    assert 50 <= len(rough_outline(vamp(lean=8.0), STEPPED, 2.0)) <= 110
