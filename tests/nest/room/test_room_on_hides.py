"""Room on one hide: exact fits, narrow windows, flaws, classes, scraps; and beside a search by brute force."""

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from drawn_hides import both, drawn, places, plan_of
from shapely import affinity
from shapely.geometry import Polygon, box
from tiny_plans import ROUGH, SLANT, flaw, vamp, zone

from geometry.pose import Pose
from nest.pieces.piece import Foot
from nest.room.hide import HideLeft, Wanted
from nest.room.search import NOT_BOTH
from nest.rules import Rules
from nest.stock.material import Hide
from nest.verify import verify

VAMP = vamp()
LENGTH, WIDTH = ROUGH
ONE, PAIR = Wanted((VAMP,), Rules()), Wanted((VAMP, VAMP), Rules())


def pocket(outline, *, zones=None, flaws=()):
    """A hide of this outline; first class, stretch at 90°, unless zones are given."""
    zones = (zone(outline=outline),) if zones is None else tuple(zones)
    return Hide("H1", "calf", "lot 1", 1, 1.3, outline.area, outline, zones, tuple(flaws))


def left(hide, *, margin=0.0, gap=0.0, cut=(), one_way=False):
    """The hide as the search sees it."""
    return HideLeft(hide, one_way, margin, gap, tuple(cut))


def judged(hide, wanted, answer, *, margin=0.0, gap=0.0):
    """What the judge finds wrong with the poses of an answer."""
    assert len(answer.poses) == len(wanted.pieces)
    pieces = tuple(replace(piece, style="slant") for piece in dict.fromkeys(wanted.pieces))
    poses = answer.poses
    if len(poses) == 2 and len(pieces) == 1:
        pieces = (*pieces, replace(pieces[0], piece_id="again"))
    return verify(plan_of(hide, wanted.rules, pieces, margin, gap, poses)).wrong


@pytest.mark.parametrize("seed", range(6))
def test_none_where_brute_force_finds_some_never_happens(seed):
    """What a search by brute force places on drawn hides is found; what is found passes the judge."""
    hide, rules, pair, margin, gap = drawn(seed)
    room = left(hide, margin=margin, gap=gap)
    for wanted, grid in (
        (Wanted(pair[:1], rules), lambda: bool(places(hide, rules, pair[0], margin))),
        (Wanted(pair, rules), lambda: both(hide, rules, pair, margin, gap)),
    ):
        answer = room.room_for(wanted)
        assert answer.complete
        if answer.found:
            assert not verify(plan_of(hide, rules, pair, margin, gap, answer.poses)).wrong
        else:
            assert not grid()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 200))
def test_a_hundred_drawn_hides_against_brute_force(seed):
    """The same on many more."""
    test_none_where_brute_force_finds_some_never_happens(seed)


def test_a_piece_that_fits_without_play_is_found():
    """A pocket as large as the piece is room for it; one a hundredth of a millimetre narrower is none."""
    exact = pocket(box(0, 0, LENGTH, WIDTH))
    answer = left(exact).room_for(ONE)
    assert answer.found and not judged(exact, ONE, answer)
    assert answer.poses[0].heading_deg % 180.0 == pytest.approx(0.0, abs=1e-6)
    for tight in (box(0, 0, LENGTH - 0.01, WIDTH), box(0, 0, LENGTH, WIDTH - 0.01)):
        none = left(pocket(tight)).room_for(ONE)
        assert not none.found and none.complete


def test_a_hole_as_large_as_piece_and_gap_is_found():
    """Between what is cut, an edge with its margin and the gap: exactly the piece fits, and no more."""
    margin, gap = 3.0, 2.0
    hide = pocket(box(0, 0, 2 * LENGTH + gap + 2 * margin, WIDTH + 2 * margin))
    there = Pose(margin + LENGTH / 2, margin + WIDTH / 2, 0.0).apply(VAMP.cut_outline)
    answer = left(hide, margin=margin, gap=gap, cut=[there]).room_for(ONE)
    assert answer.found and not judged(hide, ONE, answer, margin=margin, gap=gap)
    assert answer.poses[0].x == pytest.approx(margin + 1.5 * LENGTH + gap, abs=0.01)
    nearer = there + np.array((0.02, 0.0))
    assert not left(hide, margin=margin, gap=gap, cut=[nearer]).room_for(ONE).found


def turned_pocket(heading, play):
    """A pocket in which the vamp fits at this heading and `play` degrees to either side, no more."""
    length = LENGTH * cos(radians(play)) + WIDTH * sin(radians(play))
    width = LENGTH * sin(radians(play)) + WIDTH * cos(radians(play))
    outline = affinity.rotate(box(-length / 2, -width / 2, length / 2, width / 2), heading, origin=(0, 0))
    return pocket(outline)


@pytest.mark.parametrize("heading", [9.0, -7.3, 183.4])
def test_a_window_of_two_degrees_is_found(heading):
    """A pocket whose headings are allowed between two degrees only, wherever they lie between the steps."""
    hide = turned_pocket(heading, 1.0)
    answer = left(hide).room_for(ONE)
    assert answer.found and not judged(hide, ONE, answer)
    assert abs((answer.poses[0].heading_deg - heading + 90.0) % 180.0 - 90.0) <= 1.0 + 1e-3


def test_a_window_cut_off_by_the_tolerance():
    """A window that reaches 0.3° into the allowed range is found there; one that ends 0.3° before it is none at all."""
    found = left(turned_pocket(10.7, 1.0)).room_for(ONE)
    assert found.found and 9.69 < found.poses[0].heading_deg % 180.0 <= 10.0
    none = left(turned_pocket(11.3, 1.0)).room_for(ONE)
    assert not none.found and none.complete and none.every_heading


def test_each_by_itself_but_not_both():
    """One vamp has room anywhere in a pocket that is a little too narrow for two: so said, and proved."""
    gap = 2.0
    hide = pocket(box(0, 0, LENGTH, 2 * WIDTH + gap - 0.05))
    assert left(hide, gap=gap).room_for(ONE).found
    both_of = left(hide, gap=gap).room_for(PAIR)
    assert not both_of.found and both_of.complete and "not both" in both_of.why


def test_both_fit_without_play():
    """With exactly room for two, at the only places there are, they are found."""
    gap = 2.0
    hide = pocket(box(0, 0, LENGTH, 2 * WIDTH + gap))
    answer = left(hide, gap=gap).room_for(PAIR)
    assert answer.found and not judged(hide, PAIR, answer, gap=gap)


def test_both_fit_only_where_the_first_does_not_take_its_corner():
    """Two leaning vamps in a pocket that is their own outline, side by side: no corner of the one helps."""
    pieces = vamp("L38", "slant", foot=Foot.LEFT, net=SLANT), vamp("R38", "slant", foot=Foot.RIGHT, net=SLANT)
    spots = Pose(0.0, 0.0, 4.0), Pose(18.0, 129.0, 187.0)
    outline = Polygon()
    for piece, pose in zip(pieces, spots, strict=True):
        outline = outline.union(Polygon(pose.apply(piece.cut_outline)).buffer(1.0, join_style="mitre"))
    outline = outline.buffer(9.0, join_style="mitre").buffer(-9.0, join_style="mitre")
    assert outline.geom_type == "Polygon"
    hide, wanted = pocket(outline), Wanted(pieces, Rules())
    answer = left(hide, gap=0.5).room_for(wanted)
    assert answer.found
    assert not verify(plan_of(hide, wanted.rules, pieces, 0.0, 0.5, answer.poses)).wrong


@pytest.mark.parametrize(
    ("coverable", "tears", "under_trim", "fits"),
    [(True, False, True, True), (True, False, False, False), (False, False, True, False), (True, True, True, False)],
)
def test_flaws_in_the_trim_off_band(coverable, tears, under_trim, fits):
    """A flaw that the band alone covers is no matter if it may be covered and the rules say so; else it bars."""
    mark = flaw(box(2.0, 50.0, 8.0, 60.0), tears=tears, coverable=coverable)
    hide = pocket(box(0, 0, LENGTH, WIDTH), flaws=[mark])
    wanted = Wanted((VAMP,), Rules(flaws_under_trim=under_trim))
    answer = left(hide).room_for(wanted)
    assert answer.found is fits and answer.complete
    assert not fits or not judged(hide, wanted, answer)


def test_net_area_on_a_flaw_is_no_room():
    """The same flaw further in, under the net outline, leaves none."""
    hide = pocket(box(0, 0, LENGTH, WIDTH), flaws=[flaw(box(14.0, 50.0, 20.0, 60.0))])
    assert not left(hide).room_for(ONE).found


def two_classes(first, second):
    """A pocket for two vamps one above the other, each on ground of its class."""
    low, high = box(0, 0, LENGTH, WIDTH), box(0, WIDTH, LENGTH, 2 * WIDTH)
    return pocket(box(0, 0, LENGTH, 2 * WIDTH), zones=[zone("a", first, 90.0, low), zone("b", second, 90.0, high)])


def test_class_of_ground():
    """Net area wants ground good enough, and a pair ground of one class where the rules say so."""
    second, free = Rules(net_quality=2), Rules(net_quality=2, pairs_same_class=False)
    assert left(two_classes(1, 2)).room_for(ONE).found
    assert not left(two_classes(2, 2)).room_for(ONE).found
    assert left(two_classes(2, 2)).room_for(Wanted((VAMP,) * 2, second)).found
    mixed = left(two_classes(1, 2)).room_for(Wanted((VAMP,) * 2, second))
    # one vamp over the line between both counts as of the second class: so the other has no room beside it
    assert not mixed.found and mixed.complete and "not both together" in mixed.why
    answer = left(two_classes(1, 2)).room_for(Wanted((VAMP,) * 2, free))
    assert answer.found and not judged(two_classes(1, 2), Wanted((VAMP,) * 2, free), answer)


def test_two_pockets_of_two_classes():
    """A pocket for one vamp on each of two classes: room for two only if classes may differ."""
    low, high = box(0, 0, LENGTH, WIDTH), box(0, WIDTH + 50.0, LENGTH, 2 * WIDTH + 50.0)
    neck = box(100.0, WIDTH - 1.0, 110.0, WIDTH + 51.0)
    outline = low.union(high).union(neck)
    hide = pocket(outline, zones=[zone("a", 1, 90.0, low), zone("b", 2, 90.0, outline.difference(low))])
    wanted = Wanted((VAMP,) * 2, Rules(net_quality=2))
    none = left(hide).room_for(wanted)
    assert not none.found and none.complete and none.why == NOT_BOTH
    free = replace(wanted, rules=replace(wanted.rules, pairs_same_class=False))
    assert not judged(hide, free, left(hide).room_for(free))


def test_a_class_asked_for():
    """Where one class is asked for, the piece lies on ground that counts as of that class."""
    hide = two_classes(1, 2)
    for quality, low in ((1, True), (2, False)):
        answer = left(hide).room_for(Wanted((VAMP,), Rules(net_quality=2), quality))
        assert answer.found and (answer.poses[0].y + 50.0 < WIDTH + 0.2) is low
    assert not left(two_classes(1, 1)).room_for(Wanted((VAMP,), Rules(net_quality=2), 2)).found


def test_unknown_stretch_is_room_with_leave_for_bias_only():
    """Where the stretch is not known nothing has room, but with leave for bias any heading has."""
    whole = box(0, 0, LENGTH + 1.0, WIDTH + 1.0)
    hide = pocket(affinity.rotate(whole, 33.0, origin=(0, 0)))
    hide = replace(hide, zones=(zone("a", 1, None, hide.outline),))
    assert not left(hide).room_for(ONE).found
    wanted = Wanted((VAMP,), Rules(bias_leave=True))
    answer = left(hide).room_for(wanted)
    assert answer.found and answer.poses[0].heading_deg % 180.0 == pytest.approx(33.0, abs=1.0)


def test_bias_is_the_way_out_only():
    """With leave a pocket at 45° to the rule is room; where there is room across too, the piece lies across."""
    slanting = turned_pocket(45.0, 1.0)
    assert not left(slanting).room_for(ONE).found
    leave = Wanted((VAMP,), Rules(bias_leave=True))
    assert not judged(slanting, leave, left(slanting).room_for(leave))
    assert left(pocket(box(0, 0, 400, 400))).room_for(leave).poses[0].heading_deg % 180.0 < 11.0


def test_one_way_goods_allow_no_half_turn():
    """A pocket for a leaning vamp with its toe at 0° is no room where one-way goods want it at 90° + 90°."""
    piece = vamp("L38", "slant", foot=Foot.LEFT, net=SLANT)
    hide = pocket(Polygon(Pose(0.0, 0.0, 0.0).apply(piece.cut_outline)).buffer(0.5, join_style="mitre"))
    wanted = Wanted((piece,), Rules())
    assert left(hide).room_for(wanted).found
    none = left(hide, one_way=True).room_for(wanted)
    assert not none.found and none.every_heading


@pytest.mark.parametrize(("scraps", "fits"), [([(3.0, 6.0)], True), ([(3.5, 3.5)] * 2, False), ([(5.0, 5.0)], False)])
def test_small_scraps_of_wrong_ground_count_together(scraps, fits):
    """Of 20,000 mm² net area 20 may head wrong in all: one scrap of 18 is let pass, two of 12 or one of 25 are not."""
    bits = [box(40.0 + 60.0 * k, 50.0, 40.0 + 60.0 * k + x, 50.0 + y) for k, (x, y) in enumerate(scraps)]
    outline = box(0, 0, LENGTH, WIDTH)
    butt = outline.difference(bits[0].union(bits[-1]))
    zones = [zone("butt", 1, 90.0, butt), *(zone(f"bit {k}", 1, 10.0, bit) for k, bit in enumerate(bits))]
    hide = pocket(outline, zones=zones)
    answer = left(hide).room_for(ONE)
    assert answer.found is fits and answer.complete
    assert not fits or not judged(hide, ONE, answer)


def test_a_piece_may_reach_a_little_over_the_edge_of_its_zone():
    """Wrong ground of 0.1 mm under a net edge 200 mm long is the 20 mm² let pass: just that much more room."""
    for over, fits in ((0.09, True), (0.11, False)):
        outline = box(0, 0, LENGTH, WIDTH)
        edge = 12.0 + over
        zones = [zone("butt", 1, 90.0, box(0, edge, LENGTH, WIDTH)), zone("belly", 1, 20.0, box(0, 0, LENGTH, edge))]
        hide = pocket(outline, zones=zones)
        answer = left(hide).room_for(ONE)
        assert answer.found is fits
        assert not fits or not judged(hide, ONE, answer)


def test_an_obstacle_within_the_ground_is_gone_around():
    """Positions with a hole in them, where something is cut in the middle: two pieces still find each other's sides."""
    hide = pocket(box(0, 0, 760, 470))
    there = Pose(380.0, 235.0, 0.0).apply(VAMP.cut_outline)
    room = left(hide, gap=1.0, cut=[there])
    answer = room.room_for(PAIR)
    assert answer.found
    plan = plan_of(hide, PAIR.rules, (replace(VAMP, style="slant"),) * 2, 0.0, 1.0, answer.poses)
    assert not [one for one in verify(plan).wrong if one.where == "H1"]
    shapes = [Polygon(ring) for ring in (there, *room.placed(PAIR, answer.poses))]
    assert min(a.distance(b) for k, a in enumerate(shapes) for b in shapes[:k]) >= 0.99


def test_what_is_put_counts():
    """Put one after the other, no more pairs find room than the strip holds by hand: three of 124 mm and gaps."""
    hide, gap, number = pocket(box(0, 0, LENGTH + 1.0, 6 * WIDTH + 5 * 2.0 + 30.0)), 2.0, 0
    room = left(hide, gap=gap)
    while (answer := room.room_for(PAIR)).found:
        room = room.put(room.placed(PAIR, answer.poses))
        number += 1
    assert number == 3 and answer.complete


def test_a_stop_is_heeded_and_said():
    """Stopped before it began, the search finds nothing and does not call that complete."""
    answer = left(pocket(box(0, 0, 500, 500))).room_for(PAIR, stop=lambda: True)
    assert not answer.found and not answer.complete and "stopped" in answer.why


def test_no_ground_good_enough():
    """A hide without any fit zone says so."""
    answer = left(pocket(box(0, 0, 500, 500), zones=[zone("belly", 3, 90.0, box(0, 0, 500, 500))])).room_for(PAIR)
    assert not answer.found and answer.every_heading and "good enough" in answer.why


def test_headings_stay_on_the_grid_of_coordinates():
    """Poses are rounded as all poses of a plan are, so that a plan written and read again is the same."""
    pose = left(pocket(box(0, 0, 500, 500))).room_for(ONE).poses[0]
    assert np.allclose([pose.x * 1e4, pose.y * 1e4], np.round([pose.x * 1e4, pose.y * 1e4]), atol=1e-6)
    assert 0.0 <= pose.heading_deg < 360.0
