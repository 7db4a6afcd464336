"""Ticks and nicks stay within the trim-off band."""

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tiny_plans import SLANT, backing, vamp
from vamp_plans import SIZES, vamp_pieces

from geometry.precision import as_ring
from nest.cutplan.marks import SizeCode, marks_of, size_code
from nest.pieces.piece import Foot, Piece, Role


def assert_in_band(piece):
    """Every mark lies inside the cut outline and keeps its clearance from the net area."""
    cut, net = shapely.polygons(piece.cut_outline), shapely.polygons(piece.net_outline)
    marks = marks_of(piece)
    for mark in (*marks.ticks, *marks.nicks):
        line = shapely.linestrings(mark)
        assert cut.contains_properly(line)
        assert net.distance(line) > 0.98
        assert line.length > 0.9
    return marks


@pytest.mark.parametrize("piece", vamp_pieces(lean=8.0), ids=lambda piece: piece.piece_id)
def test_vamp_shapes_keep_marks_in_the_band(piece):
    """For every size, foot and role of a vamp with a throat."""
    marks = assert_in_band(piece)
    if piece.role is Role.VAMP:
        code = size_code(piece.size)
        assert len(marks.ticks) == 2
        assert len(marks.nicks) == 2 * code.fives + code.ones


def test_ticks_stand_on_the_axis_at_toe_and_back():
    """On the rectangle, 12 mm band: from 0.5 mm inside the ends of the axis, 6 mm inwards."""
    toe, back = marks_of(vamp()).ticks
    assert toe == pytest.approx(np.array(((111.5, 0.0), (105.5, 0.0))))
    assert back == pytest.approx(np.array(((-111.5, 0.0), (-105.5, 0.0))))


def test_marks_of_a_pair_mirror_each_other():
    """The right piece carries the left one's marks mirrored, so that a pair is matched by eye."""
    left = marks_of(vamp("L", "s", foot=Foot.LEFT, net=SLANT))
    right = marks_of(vamp("R", "s", foot=Foot.RIGHT, net=SLANT))
    assert len(left.nicks) == len(right.nicks) == 5
    for a, b in zip(left.nicks, right.nicks, strict=True):
        assert a * (1.0, -1.0) == pytest.approx(b)


def test_a_band_without_room_carries_no_mark():
    """The rectangular backing leaves 2 mm around the net line: too little once 1.5 mm are kept free."""
    marks = marks_of(backing())
    assert marks.ticks == () and marks.nicks == ()


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(60.0, 130.0), min_size=8, max_size=24),
    st.floats(-3.0, 16.0),
    st.floats(-20.0, 20.0),
    st.sampled_from(SIZES),
    st.sampled_from(list(Foot)),
)
def test_marks_of_any_outline_keep_to_the_band(radii, band, shift, size, foot):
    """Star-shaped nets, cut line off centre and even inside the net line: marks keep to the band or are left out."""
    turn = 2.0 * np.pi * np.arange(len(radii)) / len(radii)
    net = as_ring(np.column_stack((np.cos(turn), np.sin(turn))) * np.array(radii)[:, None])
    grown = shapely.affinity.translate(shapely.polygons(net).buffer(band), 0.1 * shift, 0.02 * shift)
    assume(grown.geom_type == "Polygon" and not grown.is_empty)
    cut = as_ring(shapely.get_coordinates(grown.exterior))
    assert_in_band(Piece("p", "s", size, foot, Role.VAMP, cut, net))


@pytest.mark.parametrize(
    ("size", "code"),
    [
        ("38", SizeCode(1, 3, False)), ("40", SizeCode(2, 0, False)), ("41", SizeCode(0, 1, False)),
        ("38.5", SizeCode(1, 3, True)), ("38,5", SizeCode(1, 3, True)), ("38½", SizeCode(1, 3, True)),
        ("7 1/2", SizeCode(1, 2, True)), ("38.0", SizeCode(1, 3, False)), ("255", SizeCode(0, 1, False)),
        ("247.5", SizeCode(1, 4, False)), ("M", None), ("", None), ("7/1", None),
    ],
)
def test_size_codes(size, code):
    """The last digit counts, ten for 0; half sizes are set apart; lengths in mm count their steps of 5."""
    assert size_code(size) == code


@pytest.mark.parametrize(
    "sizes",
    [
        [str(s) for s in range(36, 46)],
        [f"{s}{half}" for s in range(3, 13) for half in ("", ".5")],
        [str(s) for s in range(220, 270, 5)],
        [f"{225 + 7.5 * i:g}" for i in range(6)],
    ],
)
def test_ten_sizes_in_a_row_have_ten_codes(sizes):
    """Within ten steps no two sizes look alike (Paris, English halves, Mondopoint by 5 and by 7.5 mm)."""
    codes = [size_code(size) for size in sizes]
    assert len(set(codes)) == len(sizes)
