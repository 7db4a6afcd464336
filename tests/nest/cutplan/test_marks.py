"""Ticks and nicks stay within the trim-off band."""

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tiny_plans import SLANT, backing, vamp
from vamp_plans import vamp_pieces

from geometry.precision import as_ring
from nest.cutplan.marks import TICK_MM, marks_of
from nest.cutplan.nickcode import NickCode
from nest.cutplan.register import _across, register_ticks
from nest.pieces.piece import Foot, Piece, Role

CODE = NickCode((1, 3), (1, 2))
LEAST = {Role.VAMP: 0.98, Role.REINFORCEMENT: 0.48}
"""Least distance from the net outline, mm, less 0.02 for rounding."""


def assert_in_band(piece):
    """Every mark lies inside the cut outline and keeps its clearance from the net area; nicks are all or none."""
    cut, net = shapely.polygons(piece.cut_outline), shapely.polygons(piece.net_outline)
    marks = marks_of(piece, CODE)
    for mark in (*marks.ticks, *marks.nicks):
        line = shapely.linestrings(mark)
        assert cut.contains_properly(line)
        assert net.distance(line) > LEAST[piece.role]
        assert line.length > 0.9
    assert len(marks.size) in (0, 4) and len(marks.style) in (0, 3)
    return marks


@pytest.mark.parametrize("piece", vamp_pieces(lean=8.0), ids=lambda piece: piece.piece_id)
def test_vamp_shapes_keep_marks_in_the_band(piece):
    """For every size, foot and role of a vamp with a throat; a vamp has room for all of them."""
    marks = assert_in_band(piece)
    if piece.role is Role.VAMP:
        assert len(marks.ticks) == 2 and len(marks.size) == 4 and len(marks.style) == 3


def test_ticks_stand_on_the_axis_at_toe_and_back():
    """On the rectangle, 12 mm band: from 0.5 mm inside the ends of the axis, 6 mm inwards."""
    toe, back = marks_of(vamp(), CODE).ticks
    assert toe == pytest.approx(np.array(((111.5, 0.0), (105.5, 0.0))))
    assert back == pytest.approx(np.array(((-111.5, 0.0), (-105.5, 0.0))))


def test_nicks_stand_where_the_legend_says():
    """On the rectangle: 6 mm from the axis on, 3 mm in a group and 8 mm between, size at y > 0 and style at y < 0."""
    marks = marks_of(vamp(), CODE)
    assert [nick[0, 1] for nick in marks.size] == pytest.approx([6.0, 14.0, 17.0, 20.0])
    assert [nick[0, 1] for nick in marks.style] == pytest.approx([-6.0, -14.0, -17.0])
    assert all(nick[0, 0] == 111.5 and nick[1, 0] == 108.5 for nick in marks.nicks)


def test_marks_of_a_pair_mirror_each_other():
    """The right piece carries the left one's marks mirrored, so that a pair is matched by eye."""
    left = marks_of(vamp("L", "s", foot=Foot.LEFT, net=SLANT), CODE)
    right = marks_of(vamp("R", "s", foot=Foot.RIGHT, net=SLANT), CODE)
    assert len(left.nicks) == len(right.nicks) == 7
    for a, b in zip(left.nicks, right.nicks, strict=True):
        assert a * (1.0, -1.0) == pytest.approx(b)
    assert left.size[0][0, 1] > 0.0 > right.size[0][0, 1]


def test_a_narrow_band_of_a_reinforcement_carries_short_nicks():
    """The rectangular backing leaves 2 mm around the net line: 1.25 mm are left between 0.25 and 0.5 mm kept free."""
    marks = marks_of(backing(), CODE)
    assert len(marks.ticks) == 2 and len(marks.nicks) == 7
    assert [np.hypot(*(nick[1] - nick[0])) for nick in marks.nicks] == pytest.approx([1.25] * 7)


def test_a_band_without_room_carries_no_mark():
    """A band of 1.7 mm takes no mark of 1 mm once 0.25 and 0.5 mm are kept free."""
    net = backing().net_outline
    cut = as_ring(shapely.get_coordinates(shapely.Polygon(net).buffer(1.7, join_style="mitre").exterior))
    marks = marks_of(Piece("p", "s", "38", Foot.EITHER, Role.REINFORCEMENT, cut, net), CODE)
    assert marks.ticks == () and marks.nicks == ()


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(60.0, 130.0), min_size=8, max_size=24),
    st.floats(-3.0, 16.0),
    st.floats(-20.0, 20.0),
    st.sampled_from(list(Role)),
    st.sampled_from(list(Foot)),
)
def test_marks_of_any_outline_keep_to_the_band(radii, band, shift, role, foot):
    """Star-shaped nets, cut line off centre and even inside the net line: marks keep to the band or are left out."""
    turn = 2.0 * np.pi * np.arange(len(radii)) / len(radii)
    net = as_ring(np.column_stack((np.cos(turn), np.sin(turn))) * np.array(radii)[:, None])
    grown = shapely.affinity.translate(shapely.polygons(net).buffer(band), 0.1 * shift, 0.02 * shift)
    assume(grown.geom_type == "Polygon" and not grown.is_empty)
    cut = as_ring(shapely.get_coordinates(grown.exterior))
    assert_in_band(Piece("p", "s", "38", foot, role, cut, net))


@pytest.mark.parametrize("size", ["36", "42"])
def test_vamp_and_reinforcement_are_bonded_in_register_by_their_ticks(size):
    """On both sides their ticks lie in one line across the axis, within both bands, and apart from nicks."""
    pieces = {(piece.foot, piece.role): piece for piece in vamp_pieces(lean=8.0, sizes=(size,))}
    for foot in (Foot.LEFT, Foot.RIGHT):
        vamp_, back = pieces[foot, Role.VAMP], pieces[foot, Role.REINFORCEMENT]
        marks = [marks_of(piece, CODE) for piece in (vamp_, back)]
        mine, theirs = register_ticks(vamp_, back, marks), register_ticks(back, vamp_, marks)
        assert len(mine) == len(theirs) >= 1
        for tick, other in zip(mine, theirs, strict=True):
            assert tick[0, 0] == tick[1, 0] == other[0, 0] == other[1, 0], "one line across the axis"
            assert np.sign(tick[0, 1]) == np.sign(other[0, 1]) and abs(tick[0, 1]) > abs(other[0, 1])
        for piece, ticks, own in ((vamp_, mine, marks[0]), (back, theirs, marks[1])):
            cut, net = shapely.polygons(piece.cut_outline), shapely.polygons(piece.net_outline)
            nicks = shapely.union_all([shapely.linestrings(nick) for nick in own.nicks])
            for tick in map(shapely.linestrings, ticks):
                assert cut.contains_properly(tick) and net.distance(tick) > LEAST[piece.role]
                assert tick.length >= 0.99 and nicks.distance(tick) >= 14.9
    left, right = (register_ticks(pieces[foot, Role.VAMP], pieces[foot, Role.REINFORCEMENT], ())
                   for foot in (Foot.LEFT, Foot.RIGHT))
    assert sorted(tick[0, 0] for tick in left) == pytest.approx(sorted(tick[0, 0] for tick in right), abs=1.01)


@pytest.mark.parametrize(("role", "off", "stands"), [
    (Role.VAMP, 1.95, True), (Role.VAMP, 2.05, False), (Role.REINFORCEMENT, 0.98, True),
    (Role.REINFORCEMENT, 1.02, False),
])
def test_a_tick_stands_at_the_end_of_the_axis_or_nowhere(role, off, stands):
    """Four times what marks keep from the cut line, 0.5 and 0.25 mm, is near its end; ground behind a bar is not."""
    inset, clearance = (0.5, 1.0) if role is Role.VAMP else (0.25, 0.5)
    near = 112.0 - off + clearance
    bar = shapely.box(near, -40.0, max(near + 0.1, 112.0 - inset - clearance + 0.05), 50.0)
    net = shapely.union_all([shapely.box(-100.0, -50.0, 60.0, 50.0), shapely.box(60.0, 40.0, near + 0.1, 50.0), bar])
    plain = vamp()
    piece = Piece("p", "box", "38", Foot.EITHER, role, plain.cut_outline, as_ring(net.exterior.coords))
    ticks = marks_of(piece, CODE).ticks
    assert len(ticks) == 1 + stands
    assert np.abs(ticks[-1][0]) == pytest.approx((112.0 - inset, 0.0))
    if stands:
        assert ticks[0][0] == pytest.approx((112.0 - off, 0.0), abs=0.01)


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize(("role", "off", "stands"), [
    (Role.VAMP, 1.95, True), (Role.VAMP, 2.05, False), (Role.REINFORCEMENT, 0.98, True),
    (Role.REINFORCEMENT, 1.02, False),
])
def test_a_tick_across_the_axis_stands_at_the_outline_or_nowhere(role, off, stands, side):
    """Behind a bar along the cut line a tick has its place as long as four times what marks keep from the line."""
    inset, clearance = (0.5, 1.0) if role is Role.VAMP else (0.25, 0.5)
    near = 62.0 - off + clearance
    bar = shapely.box(-55.0, near, 50.0, max(near + 0.1, 62.0 - inset - clearance + 0.05))
    net = shapely.union_all([shapely.box(-100.0, -30.0, 100.0, 30.0), shapely.box(-55.0, 30.0, -50.0, near + 0.1), bar])
    ring = as_ring(shapely.affinity.scale(net, 1.0, side, origin=(0.0, 0.0)).exterior.coords)
    piece = Piece("p", "box", "38", Foot.EITHER, role, vamp().cut_outline, ring)
    behind, open_ = _across(piece, np.array([0.0, 80.0]), side)
    assert open_ == pytest.approx(np.array([(80.0, side * (62.0 - inset)), (80.0, side * (62.0 - inset - TICK_MM))]))
    if stands:
        assert behind[0] == pytest.approx((0.0, side * (62.0 - off)), abs=0.01)
    else:
        assert np.isnan(behind).all()
