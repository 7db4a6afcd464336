"""Where numbers, labels and register ticks of simple shapes stand, worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box
from tiny_plans import backing, vamp

from geometry.pose import Pose
from geometry.precision import as_ring
from nest.cutplan.drawing import Drawing, Outline, _piece_label
from nest.cutplan.drawn import Drawn, _strays
from nest.cutplan.dxfread import DxfFile, Stray
from nest.cutplan.frame import Frame
from nest.cutplan.piecenumber import _in_band, _inside, _spot
from nest.cutplan.register import register_ticks
from nest.job.cutting_table import NumberPlace, NumberTool
from nest.plan import Placed


def ring(shape):
    """A shape's outline as pieces have it."""
    return as_ring(shapely.get_coordinates(shape.exterior))


def shaped(cut, net, like=None):
    """A piece with these outlines."""
    return replace(like or vamp(), cut_outline=ring(cut), net_outline=ring(net))


def test_a_number_stands_furthest_back_half_a_mm_inside_the_edge():
    """4 × 6 mm in the band of the rectangle, along its back edge. That begins 348 mm along the outline, where a number
    would stand in the corner; the next place, 2 mm on, has room."""
    middle, along = _in_band(vamp(), (), 4.0, 6.0)
    assert middle == pytest.approx((-112.0 + 0.5 + 3.0, 58.0)) and along == pytest.approx((0.0, -1.0))


@pytest.mark.parametrize(("at", "y"), [(53.9, 58.0), (54.1, 50.0)])
def test_a_number_keeps_two_mm_from_marks(at, y):
    """A number from 56 to 60 mm keeps 2.1 mm from a tick at 53.9; one at 54.1 sends it on by whole steps of 2 mm."""
    middle, _ = _in_band(vamp(), (((-111.5, at), (-105.5, at)),), 4.0, 6.0)
    assert middle == pytest.approx((-108.5, y))


def test_a_number_goes_deeper_by_half_millimetres():
    """Marks 0.9 mm inside every edge bar the first 2.9 mm of the band: the number stands 3 mm inside."""
    marks = tuple(tuple(map(tuple, side)) for side in (
        ((-111.1, -62.0), (-111.1, 62.0)), ((111.1, -62.0), (111.1, 62.0)),
        ((-112.0, -61.1), (112.0, -61.1)), ((-112.0, 61.1), (112.0, 61.1))))
    middle, _ = _in_band(vamp(), marks, 6.0, 6.0)
    assert middle[0] == pytest.approx(-112.0 + 3.0 + 3.0)


@pytest.mark.parametrize(("turns_deg", "stands"), [(27.0, True), (29.0, False)])
def test_a_number_stands_where_the_edge_turns_by_less_than_28_degrees(turns_deg, stands):
    """Over the 20 mm that the number is wide, along a circle; a chord of 99 % turns by 28.1 degrees."""
    radius = 20.0 / np.radians(turns_deg)
    piece = shaped(shapely.Point(0, 0).buffer(radius, quad_segs=90), shapely.Point(0, 0).buffer(radius - 15.0))
    assert (_in_band(piece, (), 20.0, 6.0) is not None) is stands


@pytest.mark.parametrize(("room_mm", "most_mm", "high_mm"), [
    (10.5, 10.0, 10.0), (10.5, 12.0, 10.2), (10.5, 14.0, 9.8), (10.5, 17.0, 10.2), (10.5, 18.0, None),
    (3.2, 4.0, 3.0), (2.9, 4.0, None), (2.9, 2.8, 2.8),
])
def test_a_number_is_as_high_as_there_is_room_for(room_mm, most_mm, high_mm):
    """The full height, else 85, 70 or 60 % of it; never below 3 mm unless less was asked for. The band is 1.5 mm wider
    than the room in it, and three digits are too wide to stand across it."""
    band = room_mm + 1.5
    piece = shaped(box(-112, -62, 112, 62), box(-112 + band, -62 + band, 112 - band, 62 - band))
    spot = _spot(piece, (), 3, NumberTool.PEN, NumberPlace.BAND, most_mm)
    assert (spot and spot[2]) == (high_mm and pytest.approx(high_mm))


def test_a_number_inside_stands_one_and_a_half_mm_beside_the_axis():
    """To the left of the middle of the net rectangle; where that is notched, to the right; where both sides are,
    further back in steps of 2 mm, clear of the net outline by 1 mm."""
    middle, along = _inside(vamp(), (), 8.0, 6.0)
    assert middle == pytest.approx((0.0, 4.5)) and along == pytest.approx((1.0, 0.0))
    net = box(-100, -50, 100, 50)
    # A notch across the axis: the middle of the net area stays where it was along it.
    notched = net.difference(box(-4, 7, 4, 50))
    middle, _ = _inside(shaped(box(-112, -62, 112, 62), notched), (), 8.0, 6.0)
    assert middle == pytest.approx((0.0, -4.5))
    both = notched.difference(box(-4, -50, 4, -7))
    middle, _ = _inside(shaped(box(-112, -62, 112, 62), both), (), 9.9, 6.0)
    assert middle == pytest.approx((-10.0, 4.5))


@pytest.mark.parametrize(("length", "high_mm"), [(200.0, 7.0), (60.0, 0.8 * 60.0 / (0.7 * 20.0))])
def test_a_label_fills_no_more_than_four_fifths_of_its_piece(length, high_mm):
    """Of 20 letters, each taken to be 0.7 times as wide as high, and 7 mm high at most. Where the axis runs through the
    middle of the piece, the label stands 1 mm off it."""
    piece = shaped(box(-length, -62, length, 62), box(-length / 2, -50, length / 2, 50))
    label = _piece_label(piece, Placed(piece.piece_id, Pose(300.0, 200.0, 0.0), pair=1), Frame(), 12)
    assert label.text == "box 38 pair 1 no. 12" and label.height_mm == round(high_mm, 1)
    assert label.at == pytest.approx((300.0, 200.0 + 0.5 * high_mm + 1.0)) and label.turn_deg == 0.0


def test_register_ticks_may_stand_at_the_last_whole_millimetre():
    """The band beside the axis is 3 mm wide and flares in the last 4 mm: ticks are longest at x = 50, half a mm inside
    the end of the outline at 50.9."""
    cut = Polygon(((-50.5, -13), (47, -13), (50.9, -19), (50.9, 19), (47, 13), (-50.5, 13)))
    first, second = (shaped(cut, box(-50.4, -10, 50.8, 10), like) for like in (vamp(), backing()))
    ticks = register_ticks(first, second, ())
    assert [tick[0, 0] for tick in ticks] == [50.0, 50.0]
    assert [np.sign(tick[0, 1]) for tick in ticks] == [1.0, -1.0]


def test_what_no_drawing_holds_is_said_with_its_place_in_mm():
    """Of a file in inches: 2 and 3 inches are 50.8 and 76.2 mm; the layer is written as the legend has it."""
    drawn = Drawn("H1.dxf", Drawing((Outline("cut", ring(box(0, 0, 1, 1))),)), {"cut": "CUT"}, Frame(), {}, True, False)
    file = DxfFile(Drawing(), "in", False, False, (Stray("cut", "a spline", (2.0, 3.0)),), frozenset(), frozenset())
    found, = _strays(drawn, file, {}, 25.4)
    assert found.where == "H1.dxf, layer CUT at (50.8, 76.2) mm" and found.found == "a spline"
