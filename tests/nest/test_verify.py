"""The judge: a clean plan passes, every planted fault is found and nothing else is claimed."""

import ast
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box
from tiny_plans import (
    HIDE_LENGTH,
    HIDE_WIDTH,
    NET,
    ROUGH,
    SLANT,
    box_plan,
    flaw,
    hide,
    in_pairs,
    mirrored,
    moved,
    rectangle,
    roll,
    slant_plan,
    spots,
    style,
    vamp,
    with_hide,
    with_placed,
    with_rules,
    zone,
)

import nest.verify
from geometry.pose import Pose
from nest.job.job import Settings
from nest.pieces.piece import Foot
from nest.plan import CutLine, HideLayout, Lay, Placed
from nest.rules import Rules
from nest.stock.material import Leather, RollStretch
from nest.verify import Rule, verify
from nest.verify.depth import depth, depth_of_ground, width

PITCH_X, PITCH_Y = ROUGH[0] + 1.0, ROUGH[1] + 1.0
"""Distances of centres at which the rectangular vamps keep the gap of 1 mm exactly."""


def tight_plan(**changes):
    """Four vamps in a block, exactly at the gap of 1 mm, the block exactly at the hide's lower left corner."""
    centres = spots(4, columns=2, first=(ROUGH[0] / 2, ROUGH[1] / 2), pitch=(PITCH_X, PITCH_Y))
    return box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 4, centres)),), **changes)


def only(plan, rule):
    """The single finding of the plan, which must be about `rule`."""
    findings = verify(plan).findings
    assert [finding.rule for finding in findings] == [rule], [finding.sentence for finding in findings]
    return findings[0]


@pytest.mark.parametrize("make", [box_plan, slant_plan, tight_plan])
def test_clean_plan_passes(make):
    """A right plan is ok, meets its order, and says what was looked at."""
    verdict = verify(make())
    assert verdict.ok and verdict.order_met and verdict.findings == ()
    assert verdict.checks.hides == 1 and verdict.checks.pairs == 2 and verdict.checks.grounds == 4


def test_counts_say_what_was_checked():
    """The checks count hides, lays, pieces, measured neighbours and order lines."""
    checks = verify(tight_plan()).checks
    assert (checks.hides, checks.lays, checks.pieces, checks.order_lines, checks.unpaired) == (1, 1, 6, 1, 0)
    # Four in a block: two neighbours along, two across, none over the corner (1.41 mm); one on the lay.
    assert checks.neighbours == 5


@pytest.mark.parametrize("into", [0.1, 0.3, 5.0])
def test_overlap_is_found_and_measured(into):
    """A piece moved into its neighbour is an overlap of that depth, and no gap is claimed beside it."""
    plan = with_hide(tight_plan(), outline=box(-50, -50, HIDE_LENGTH, HIDE_WIDTH),
                     zones=(zone(outline=box(-50, -50, HIDE_LENGTH, HIDE_WIDTH)),))
    placed = plan.layouts[0].placed[:2]
    plan = replace(plan, layouts=(HideLayout("H1", placed),), order=(CutLine("box", "38", 1, 1),), lays=(),
                   styles=(style(roll=""),))
    finding = only(moved(plan, 0, dx=1.0 + into), Rule.OVERLAP)
    assert finding.spots == (0, 1) and finding.where == "H1" and finding.unit == "mm"
    assert finding.amount == pytest.approx(into, abs=1e-4)


@pytest.mark.parametrize("short_by", [0.1, 0.3, 0.9])
def test_gap_too_small_is_found(short_by):
    """Two cut lines nearer than the gap are found, with the missing distance."""
    finding = only(moved(tight_plan(), 3, dx=-short_by), Rule.GAP)
    assert finding.spots == (2, 3) and finding.amount == pytest.approx(short_by, abs=1e-9)


def test_gap_allows_rounding_only():
    """A gap may be 0.01 mm short, for the grid and for offsets made of chords, and no more."""
    assert verify(moved(tight_plan(), 3, dx=-0.009)).ok
    assert not verify(moved(tight_plan(), 3, dx=-0.011)).ok


@pytest.mark.parametrize("gap", [0.0])
def test_touching_is_no_overlap(gap):
    """Without a gap, outlines may touch, and overlap by the tolerance of 0.001 mm at most."""
    plan = tight_plan(settings=Settings(hide_gap_mm=gap))
    assert verify(moved(plan, 3, dx=-1.0)).ok
    assert verify(moved(plan, 3, dx=-1.0009)).ok
    assert only(moved(plan, 3, dx=-1.0011), Rule.OVERLAP).amount == pytest.approx(1.1e-3, abs=1e-6)


def test_duplicate_is_its_own_finding():
    """The same piece twice in one place is one finding, not an overlap as well."""
    plan = box_plan()
    twin = replace(plan.layouts[0].placed[0], pair=2)
    assert only(with_placed(plan, 3, twin), Rule.DUPLICATE).spots == (0, 3)


@pytest.mark.parametrize("out", [0.1, 0.3, 30.0, 150.0])
def test_beyond_the_edge(out):
    """A cut line beyond the hide is found with the way back, whether or not a corner pokes out."""
    # Over 12 mm the net area leaves the hide too: no ground is claimed there, the edge says it.
    finding = only(moved(tight_plan(), 0, dx=-out), Rule.OUTSIDE)
    assert finding.spots == (0,) and finding.amount == pytest.approx(out, abs=1e-4)


def test_over_a_hole():
    """A hole under a piece is found even when it lies wholly under it, and it is not called the outside."""
    hole = list(Point(120.0, 25.0).buffer(3.0).exterior.coords)
    wide = box_plan(hides=(hide(holes=[hole], zones=[zone()]),))
    finding = only(wide, Rule.HOLE)
    # The centre of the hole lies 17 mm inside the lower cut line (y = 8), its rim up to 20 mm.
    assert finding.spots == (0,) and finding.amount == pytest.approx(20.0, abs=0.1)


@pytest.mark.parametrize(("margin", "short_by"), [(5.0, 5.0), (0.1, 0.1)])
def test_edge_margin(margin, short_by):
    """Pieces at the very edge of a hide with a margin miss it by the whole margin."""
    plan = tight_plan(settings=Settings(edge_margin_mm=margin))
    findings = verify(plan).findings
    assert {f.rule for f in findings} == {Rule.MARGIN} and [f.spots for f in findings] == [(0,), (1,), (2,)]
    assert all(f.amount == pytest.approx(short_by) for f in findings)
    shifted = [replace(p, pose=Pose(p.pose.x + margin, p.pose.y + margin, 0.0)) for p in plan.layouts[0].placed]
    assert verify(replace(plan, layouts=(HideLayout("H1", tuple(shifted)),))).ok


def test_margin_holds_along_holes_too():
    """The edge margin is kept to the rim of a hole as well."""
    hole = list(box(110, 136, 130, 160).exterior.coords)
    plan = box_plan(hides=(hide(holes=[hole]),), settings=Settings(edge_margin_mm=5.0),
                    layouts=(HideLayout("H1", in_pairs(["V38"] * 4, spots(4))),))
    # The piece ends at y = 132, 4 mm below the hole.
    assert only(plan, Rule.MARGIN).amount == pytest.approx(1.0)


@pytest.mark.parametrize(("turn", "beyond"), [(15.0, 5.0), (10.5, 0.5), (-10.5, 0.5), (90.0, 80.0), (45.0, 35.0),
                                              (165.0, 5.0), (190.5, 0.5)])
def test_direction_beyond_tolerance(turn, beyond):
    """A heading more than 10° off across is found with the excess; half turns count as none."""
    centres = spots(4, first=(150.0, 150.0), pitch=(240.0, 0.0))
    plan = box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 4, centres)),),
                    settings=Settings(hide_gap_mm=0.0))
    plan = moved(plan, 3, dy=200.0, turn_deg=turn)
    finding = only(plan, Rule.DIRECTION)
    assert finding.unit == "deg" and finding.amount == pytest.approx(beyond) and finding.spots == (3,)


@pytest.mark.parametrize("turn", [0.0, 10.0, -10.0, 180.0, 170.0])
def test_direction_within_tolerance(turn):
    """Headings up to the tolerance either way, and half turns of them, are allowed."""
    plan = moved(box_plan(), 3, dy=200.0, turn_deg=turn)
    assert verify(plan).ok


def test_direction_is_judged_zone_by_zone():
    """Every zone with more than 0.1 % of the net area must allow the heading; less does not count."""
    def split(at):
        zones = [zone("a", outline=box(0, 0, at, HIDE_WIDTH)),
                 zone("b", stretch_deg=60.0, outline=box(at, 0, HIDE_LENGTH, HIDE_WIDTH))]
        return with_hide(box_plan(), zones=tuple(zones))

    # The net area of the last piece is x 710..910; the second zone takes what lies beyond the border.
    assert only(split(909.7), Rule.DIRECTION).amount == pytest.approx(20.0)
    assert verify(split(909.9)).ok
    # A zone that only meets the trim-off band (910..922) does not count.
    assert verify(split(912.0)).ok


def test_one_way_goods():
    """On one-way leather and rolls a half turn is wrong, and the finding says so rather than direction."""
    one_way = (replace(box_plan().leathers[0], one_way=True),)
    # Stretch at 90° and one way: toes point to 180°.
    heads = [replace(p, pose=replace(p.pose, heading_deg=180.0)) for p in box_plan().layouts[0].placed]
    plan = box_plan(leathers=one_way, layouts=(HideLayout("H1", tuple(heads)),))
    assert verify(plan).ok
    assert only(moved(plan, 1, turn_deg=180.0), Rule.ONE_WAY).amount == pytest.approx(170.0)
    back = box_plan(rolls=(roll(one_way=True),))
    assert {f.rule for f in verify(back).findings} == {Rule.ONE_WAY}
    assert [f.where for f in verify(back).findings] == ["L1", "L1"]


def test_roll_direction():
    """On a roll that stretches along its length, pieces along it lie wrong by the right angle less the tolerance."""
    findings = verify(box_plan(rolls=(roll(stretch=RollStretch.LENGTH),))).findings
    assert [(f.rule, f.where) for f in findings] == [(Rule.DIRECTION, "L1")] * 2
    assert findings[0].amount == pytest.approx(80.0)


def test_bias_needs_leave_and_is_counted():
    """At 45° a piece is wrong without leave; with leave it is allowed and counted."""
    plan = moved(box_plan(), 3, dx=-30.0, dy=220.0, turn_deg=45.0)
    only(plan, Rule.DIRECTION)
    allowed = verify(with_rules(plan, bias_leave=True))
    assert allowed.ok and allowed.checks.bias == 1
    between = moved(plan, 3, turn_deg=-22.0)
    # 23° off across, 22° off bias: the nearer of the two is 12° too far.
    assert only(with_rules(between, bias_leave=True), Rule.DIRECTION).amount == pytest.approx(12.0)


@pytest.mark.parametrize("onto", [0.1, 0.3, 40.0])
def test_net_area_on_a_flaw(onto):
    """Net area that reaches onto a flaw is found with its depth, whatever the flaw allows its band."""
    # Net area of the first piece: x 20..220, y 20..120.
    plan = with_hide(box_plan(), flaws=(flaw(box(60, 120 - onto, 180, 128)),))
    finding = only(plan, Rule.NET_FLAW)
    assert finding.spots == (0,) and finding.amount == pytest.approx(onto, abs=1e-4)


def test_pinhole_in_the_middle_of_the_net_area():
    """A pinhole wholly within the net area is found."""
    finding = only(with_hide(box_plan(), flaws=(flaw(Point(120, 70).buffer(0.3)),)), Rule.NET_FLAW)
    assert finding.amount == pytest.approx(50.0, abs=1e-6)


def test_trim_band_over_flaws():
    """The band may cover a flaw, unless it tears, may not be covered, or the style forbids it."""
    spot = box(60, 121, 180, 131.5)
    assert verify(with_hide(box_plan(), flaws=(flaw(spot),))).ok
    for plan in (
        with_hide(box_plan(), flaws=(flaw(spot, tears=True),)),
        with_hide(box_plan(), flaws=(flaw(spot, coverable=False),)),
        with_rules(with_hide(box_plan(), flaws=(flaw(spot),)), flaws_under_trim=False),
    ):
        # The cut line is at y = 132; the flaw's far edge, y = 121, lies 11 mm inside it.
        assert only(plan, Rule.TRIM_FLAW).amount == pytest.approx(11.0, abs=1e-4)
    # Half a millimetre within the cut line is found too; at the cut line it is not.
    assert only(with_hide(box_plan(), flaws=(flaw(box(60, 131.9, 180, 140), tears=True),)), Rule.TRIM_FLAW)
    assert verify(with_hide(box_plan(), flaws=(flaw(box(60, 132, 180, 140), tears=True),))).ok


def test_net_class():
    """Net area in a lower class is found with its depth; the band may lie there."""
    def plan(border):
        zones = (zone("good", outline=box(0, 0, HIDE_LENGTH, border)),
                 zone("low", 3, outline=box(0, border, HIDE_LENGTH, HIDE_WIDTH)))
        return with_hide(box_plan(), zones=zones)

    findings = verify(plan(119.9)).findings
    assert [f.rule for f in findings] == [Rule.NET_CLASS] * 4
    assert findings[0].amount == pytest.approx(0.1, abs=1e-4)
    assert verify(plan(120.0)).ok and verify(plan(125.0)).ok
    assert verify(with_rules(plan(80.0), net_quality=3)).ok


def test_trim_class():
    """With a class stated for the band, lower ground and ground without a zone are wrong under it."""
    zones = (zone("good", outline=box(0, 0, HIDE_LENGTH, 125)), zone("mid", 2, outline=box(0, 125, HIDE_LENGTH, 500)))
    plan = with_hide(box_plan(), zones=zones)
    assert verify(with_rules(plan, trim_quality=2)).ok
    findings = verify(with_rules(plan, trim_quality=1)).findings
    assert [f.rule for f in findings] == [Rule.TRIM_CLASS] * 4 and findings[0].amount == pytest.approx(7.0, abs=1e-4)
    bare = with_hide(box_plan(), zones=zones[:1])
    assert verify(bare).ok
    assert [f.rule for f in verify(with_rules(bare, trim_quality=2)).findings] == [Rule.TRIM_CLASS] * 4


def test_net_area_without_a_zone():
    """Net area outside every zone is wrong; a hairline between two zones, up to 0.01 mm, is not."""
    def plan(slit):
        zones = (zone("a", outline=box(0, 0, HIDE_LENGTH, 70)), zone("b", outline=box(0, 70 + slit, HIDE_LENGTH, 500)))
        return with_hide(box_plan(), zones=zones)

    assert verify(plan(0.005)).ok
    assert {f.rule for f in verify(plan(0.1)).findings} == {Rule.NET_UNZONED}
    assert {f.rule for f in verify(with_hide(box_plan(), zones=())).findings} == {Rule.NET_UNZONED}
    many = zone("parts", outline=MultiPolygon([box(0, 0, 465, 500), box(465.005, 0, 1000, 500)]))
    assert verify(with_hide(box_plan(), zones=(many,))).ok


def two_hides(**changes):
    """One pair on each of two hides."""
    plan = box_plan(hides=(hide("H1"), hide("H2")), **changes)
    placed = plan.layouts[0].placed
    return replace(plan, layouts=(HideLayout("H1", placed[:2]), HideLayout("H2", placed[2:])))


def test_pair_from_two_hides():
    """A pair may lie on two hides only if the style lets it."""
    plan = two_hides()
    assert verify(plan).ok
    first, second = plan.layouts[0].placed[1], plan.layouts[1].placed[1]
    swapped = with_placed(with_placed(plan, 1, replace(first, pair=2)), 1, replace(second, pair=1), layout=1)
    findings = verify(swapped).findings
    assert [f.rule for f in findings] == [Rule.PAIR] * 2 and "one hide" in findings[0].sentence
    assert verify(with_rules(swapped, pairs_from_one_hide=False)).ok


def test_pair_from_two_classes():
    """A piece's class is the worst that holds more than 0.1 % of its net area; a pair's must be equal."""
    def plan(border):
        zones = (zone("a", 1, outline=box(0, 0, border, HIDE_WIDTH)), zone("b", 2, outline=box(border, 0, 1000, 500)))
        return with_rules(with_hide(box_plan(), zones=zones), net_quality=2)

    # Net areas: x 20..220, 250..450, 480..680, 710..910. Border between the two of the second pair.
    assert only(plan(695.0), Rule.PAIR).spots == (2, 3)
    assert verify(plan(465.0)).ok
    assert verify(with_rules(plan(695.0), pairs_same_class=False)).ok
    # 0.15 mm of 200 mm is 0.075 %: it does not count; 0.25 mm is 0.125 % and makes the first of the pair class 2.
    assert only(plan(679.85), Rule.PAIR)
    assert verify(plan(679.75)).ok


def test_pair_of_wrong_feet_size_or_number():
    """A pair is exactly two pieces of one style and size, a left and a right."""
    plan = slant_plan()
    placed = plan.layouts[0].placed
    lefts = verify(with_placed(plan, 1, replace(placed[1], piece_id="L38")))
    assert [f.rule for f in lefts.wrong] == [Rule.PAIR] and "feet left and left" in lefts.wrong[0].sentence
    three = with_placed(plan, 2, replace(placed[2], pair=1))
    findings = verify(three).findings
    assert [(f.rule, f.amount) for f in findings] == [(Rule.PAIR, 1.0)] * 2
    sizes = replace(plan, pieces=(*plan.pieces, vamp("R39", "slant", "39", Foot.RIGHT, SLANT)))
    mixed = verify(with_placed(sizes, 1, replace(placed[1], piece_id="R39")))
    assert [f.rule for f in mixed.wrong] == [Rule.PAIR] and "size" in mixed.wrong[0].sentence
    assert len(mixed.short) == 1 and len(mixed.over) == 1


def test_short_is_apart_from_wrong():
    """Missing pieces leave the layout right and the order unmet."""
    plan = box_plan(order=(CutLine("box", "38", 3, 3),))
    verdict = verify(plan)
    assert verdict.ok and not verdict.order_met and verdict.wrong == ()
    # Two vamps, and two reinforcements, are missing.
    assert [(f.rule, f.where, f.amount) for f in verdict.short] == [(Rule.SHORT, "order", 2.0)] * 2


def test_over_is_reported():
    """Pieces beyond the order are reported and spoil nothing."""
    verdict = verify(box_plan(order=(CutLine("box", "38", 1, 1),)))
    assert verdict.ok and verdict.order_met and [f.amount for f in verdict.over] == [2.0, 2.0]
    stranger = verify(box_plan(order=()))
    assert [f.amount for f in stranger.over] == [4.0, 4.0]


def test_plies_count():
    """Pieces on a lay count once a ply; one ply less leaves the order short by what it held."""
    lay = box_plan().lays[0]
    verdict = verify(box_plan(lays=(replace(lay, plies=1),)))
    assert verdict.ok and [(f.rule, f.amount) for f in verdict.findings] == [(Rule.SHORT, 2.0)]
    assert [f.amount for f in verify(box_plan(lays=(replace(lay, plies=3),))).over] == [2.0]


def test_two_lefts_are_no_two_pairs():
    """Feet are counted apart: right pieces that are missing are short though the number of pieces is right."""
    plan = with_rules(slant_plan(), pairs_from_one_hide=False, pairs_same_class=False)
    placed = tuple(replace(p, piece_id="L38", pair=0) for p in plan.layouts[0].placed)
    verdict = verify(replace(plan, layouts=(HideLayout("H1", placed),)))
    assert verdict.ok and verdict.short[0].amount == 2.0 and verdict.over[0].amount == 2.0
    assert verdict.checks.unpaired == 4


def test_unpaired_vamps_do_not_meet_an_order_that_wants_pairs():
    """Where pairs must share a hide, pieces without a partner leave the order short."""
    plan = box_plan()
    placed = tuple(replace(p, pair=0) if i > 1 else p for i, p in enumerate(plan.layouts[0].placed))
    plan = replace(plan, layouts=(HideLayout("H1", placed),))
    verdict = verify(plan)
    assert verdict.ok and [f.amount for f in verdict.short] == [2.0] and verdict.checks.unpaired == 2
    assert verify(with_rules(plan, pairs_from_one_hide=False, pairs_same_class=False)).order_met


def test_lay_edges_and_roll_length():
    """Pieces stay within the lay's length and the usable width, and the lays within the roll."""
    lay = box_plan().lays[0]
    assert only(box_plan(lays=(replace(lay, length_mm=408.7),)), Rule.OUTSIDE).amount == pytest.approx(0.3, abs=1e-4)
    low = replace(lay.placed[0], pose=Pose(102.0, 51.9, 0.0))
    assert only(box_plan(lays=(replace(lay, placed=(low, lay.placed[1])),)), Rule.OUTSIDE).where == "L1"
    # Two plies of 409 mm with 2 × 20 mm of end loss need 898 mm.
    assert verify(box_plan(rolls=(roll(length_mm=898.0),))).ok
    assert only(box_plan(rolls=(roll(length_mm=897.0),)), Rule.ROLL_LENGTH).amount == pytest.approx(1.0)


def test_pieces_on_the_wrong_material():
    """Vamps belong on their leather, reinforcements on their roll."""
    plan = with_hide(box_plan(leathers=(*box_plan().leathers, Leather("suede", 1, "m2"))), leather="suede")
    assert [f.rule for f in verify(plan).findings] == [Rule.MATERIAL] * 4
    other = box_plan(rolls=(roll(), roll(roll_id="felt")), lays=(replace(box_plan().lays[0], roll_id="felt"),))
    assert [f.rule for f in verify(other).findings] == [Rule.MATERIAL] * 2
    stray = with_placed(box_plan(), 3, Placed("B38", Pose(810.0, 70.0, 0.0), 0))
    assert Rule.MATERIAL in {f.rule for f in verify(stray).wrong}


def test_ids():
    """Unknown ids and ids given twice are found, and the rest is still judged."""
    plan = box_plan()
    only(replace(plan, hides=plan.hides * 2), Rule.IDS)
    only(replace(plan, pieces=(*plan.pieces, plan.pieces[0])), Rule.IDS)
    only(replace(plan, layouts=(*plan.layouts, HideLayout("H9", ()))), Rule.IDS)
    only(replace(plan, layouts=(*plan.layouts, HideLayout("H1", ()))), Rule.IDS)
    only(replace(plan, lays=(*plan.lays, Lay("L2", "wool", 10.0, 1, ()))), Rule.IDS)
    strange = verify(with_placed(plan, 3, replace(plan.layouts[0].placed[3], piece_id="V99")))
    assert [f.rule for f in strange.wrong] == [Rule.IDS, Rule.PAIR] and strange.short[0].amount == 1.0


def test_shapes_that_cannot_be_judged():
    """Poses that are no numbers, crossed outlines and lays of no length are findings, not crashes."""
    plan = box_plan()
    nan = with_placed(plan, 0, replace(plan.layouts[0].placed[0], pose=Pose(float("nan"), 0.0, 0.0)))
    assert verify(nan).wrong[0].rule is Rule.SHAPE
    bow = replace(plan.pieces[0], cut_outline=np.array([(-200.0, -200), (200, 200), (200, -200), (-200, 200)]))
    assert Rule.SHAPE in {f.rule for f in verify(replace(plan, pieces=(bow, plan.pieces[1]))).wrong}
    small = replace(plan.pieces[0], cut_outline=rectangle(100, 50))
    assert "outside its cut outline" in verify(replace(plan, pieces=(small, plan.pieces[1]))).wrong[0].sentence
    assert Rule.SHAPE in {f.rule for f in verify(with_hide(plan, outline=Polygon(bow.cut_outline))).wrong}
    assert Rule.SHAPE in {f.rule for f in verify(replace(plan, lays=(replace(plan.lays[0], length_mm=0.0),))).wrong}
    empty = replace(plan, layouts=(), lays=())
    assert verify(empty).ok and len(verify(empty).short) == 2


def test_mirror_images():
    """A right piece must be the left one mirrored, and a piece for either foot its own mirror image."""
    plan = slant_plan()
    left, right = plan.pieces
    turned_over = replace(right, net_outline=left.net_outline, cut_outline=left.cut_outline)
    # Corner (100, -20) comes to (100, 20) in the mirror: 30 mm from the outline there.
    assert only(replace(plan, pieces=(left, turned_over)), Rule.MIRROR).amount == pytest.approx(30.0, abs=2.0)
    lopsided = replace(box_plan().pieces[0], net_outline=mirrored(SLANT))
    only(box_plan(pieces=(lopsided, box_plan().pieces[1])), Rule.MIRROR)


def test_findings_are_sentences():
    """Every finding names its place and its pieces in one sentence."""
    finding = only(moved(tight_plan(), 3, dx=-0.5), Rule.GAP)
    assert finding.sentence == "H1: V38 (no. 3) and V38 (no. 4) are 0.500 mm apart, the gap is 1 mm."


# --- measures of depth ---------------------------------------------------------------------------


def test_depth_of_known_overlaps():
    """Edges along each other, a corner through an edge, a bar across a bar, one inside the other."""
    square = box(0, 0, 100, 100)
    assert depth(square, box(99.7, -10, 200, 110)) == pytest.approx(0.3, abs=1e-6)
    assert depth(square, Polygon([(99, 50), (150, 40), (150, 60)])) == pytest.approx(1.0, abs=1e-9)
    # No corner of either bar lies in the other: the square they share, 10 wide, must be left by 10 at least.
    assert depth(box(-50, 45, 150, 55), box(45, -50, 55, 150)) == pytest.approx(10.0, rel=1e-3)
    assert depth(square, box(100, 0, 200, 100)) == 0.0
    assert depth(square, box(200, 0, 300, 100)) == 0.0
    assert width(box(0, 0, 300, 1e-3)) == pytest.approx(1e-3, rel=1e-3)


def test_hairlines_do_not_count_as_ground():
    """A long hairline is dropped where ground is judged, a wider strip beside it is not."""
    region = MultiPolygon([box(0, 10, 100, 10.005), box(0, 50, 100, 52)])
    assert depth_of_ground(box(0, 0, 100, 100), region.geoms[0], 0.01) == 0.0
    assert depth_of_ground(box(-1, 0, 101, 100), region, 0.01) == pytest.approx(2.0, rel=1e-3)


# --- against an independent judge ----------------------------------------------------------------


def corners(pose, size):
    """Corners (4, 2) of a rectangle of this size at a pose, from the textbook rotation."""
    half = np.array(((-1, -1), (1, -1), (1, 1), (-1, 1))) * np.array(size) / 2.0
    turn = np.radians(pose.heading_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    return np.column_stack((half[:, 0] * cos - half[:, 1] * sin + pose.x, half[:, 0] * sin + half[:, 1] * cos + pose.y))


def parted(a, b):
    """Signed distance of two convex quadrilaterals by the separating axis theorem: negative is the overlap.

    S. Gottschalk, M. C. Lin, D. Manocha (1996), OBBTree, doi:10.1145/237170.237244. When positive,
    the distance itself is taken from corners to edges.
    """
    best = -np.inf
    for quad in (a, b):
        for i in range(4):
            edge = quad[(i + 1) % 4] - quad[i]
            normal = np.array((edge[1], -edge[0])) / np.hypot(*edge)
            pa, pb = a @ normal, b @ normal
            best = max(best, pb.min() - pa.max(), pa.min() - pb.max())
    if best <= 0.0:
        return best
    return min(*(to_edges(point, b) for point in a), *(to_edges(point, a) for point in b))


def to_edges(point, quad):
    """Distance from a point to the four edges of a quadrilateral."""
    start, along = quad, np.roll(quad, -1, axis=0) - quad
    share = np.clip(((point - start) * along).sum(1) / (along * along).sum(1), 0.0, 1.0)
    return float(np.hypot(*(start + share[:, None] * along - point).T).min())


FLAW = (430.0, 150.0, 470.0, 190.0)
BORDER = 700.0


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(-160, 160), st.floats(-160, 160), st.floats(-30, 30)), min_size=4, max_size=4))
def test_agrees_with_an_independent_judge(shifts):
    """Random moves of every piece: the same pieces, rules and amounts as rectangles worked out by hand."""
    centres = [(x + 20.0, y + 60.0) for x, y in spots(4)]
    placed = tuple(
        Placed("V38", Pose(x + dx, y + dy, turn), 1 + i // 2)
        for i, ((x, y), (dx, dy, turn)) in enumerate(zip(centres, shifts, strict=True))
    )
    zones = (zone("good", outline=box(0, 0, BORDER, HIDE_WIDTH)),
             zone("low", 2, outline=box(BORDER, 0, HIDE_LENGTH, HIDE_WIDTH)))
    plan = box_plan(layouts=(HideLayout("H1", placed),), hides=(hide(zones=zones, flaws=[flaw(box(*FLAW))]),),
                    settings=Settings(hide_gap_mm=5.0, edge_margin_mm=3.0))
    plan = with_rules(plan, pairs_same_class=False)

    cuts = [corners(p.pose, ROUGH) for p in placed]
    nets = [corners(p.pose, NET) for p in placed]
    expected, margins = {}, []
    for i, (cut, net) in enumerate(zip(cuts, nets, strict=True)):
        inside = min(cut.min(), HIDE_LENGTH - cut[:, 0].max(), HIDE_WIDTH - cut[:, 1].max())
        margins += [inside, inside - 3.0 + 0.01]
        if inside < 0:
            expected[Rule.OUTSIDE, (i,)] = None
        elif inside < 3.0:
            expected[Rule.MARGIN, (i,)] = 3.0 - inside
        turn = abs(placed[i].pose.heading_deg)
        margins.append(turn - 10.0)
        if turn > 10.0:
            expected[Rule.DIRECTION, (i,)] = turn - 10.0
        low, bounds = net[:, 0].max() - BORDER, box(0, 0, HIDE_LENGTH, HIDE_WIDTH)
        margins.append(low)
        if low > 0.0 and Polygon(net).intersection(bounds).bounds[2] > BORDER:
            expected[Rule.NET_CLASS, (i,)] = None
        on_flaw = parted(net, corners(Pose(450.0, 170.0, 0.0), (40.0, 40.0)))
        margins.append(on_flaw)
        if on_flaw < 0.0:
            expected[Rule.NET_FLAW, (i,)] = None
        for j in range(i):
            apart = parted(cuts[j], cut)
            margins += [apart, apart - 5.0 + 0.01]
            if apart < 0.0:
                expected[Rule.OVERLAP, (j, i)] = -apart
            elif apart < 5.0:
                expected[Rule.GAP, (j, i)] = 5.0 - apart
    assume(min(abs(m) for m in margins) > 0.02)

    found = {(f.rule, f.spots): f.amount for f in verify(plan).wrong}
    assert found.keys() == expected.keys()
    for key, amount in expected.items():
        if key[0] is Rule.OVERLAP:
            # The judge's depth is a lower bound of the way out, which for two rectangles is the SAT depth.
            assert 0.0 < found[key] <= amount + 1e-6
        elif amount is not None:
            assert found[key] == pytest.approx(amount, abs=1e-6)


def test_a_full_hide_is_judged_quickly():
    """Sixty pieces of 120 corners on a hide with eight zones and thirty flaws take well under 0.2 s."""
    angle = np.linspace(0.0, 2.0 * np.pi, 120, endpoint=False)
    net = np.column_stack((60.0 * np.cos(angle), 40.0 * np.sin(angle) * (1.0 + 0.3 * np.cos(angle))))
    outline = box(0, 0, 2000, 1000)
    zones = tuple(zone(f"z{i}", outline=box(250 * i, 0, 250 * (i + 1), 1000)) for i in range(8))
    flaws = tuple(flaw(Point(65 * i + 20, 995).buffer(3), f"f{i}") for i in range(30))
    pitch = np.ptp(vamp(net=net).cut_outline[:, 0]) + 14.0
    centres = spots(60, columns=12, first=(90.0, 80.0), pitch=(pitch, 170.0))
    plan = box_plan(
        pieces=(vamp(net=net), box_plan().pieces[1]), order=(CutLine("box", "38", 30, 30),),
        styles=(style(rules=Rules()),), hides=(replace(hide(zones=zones, flaws=flaws), outline=outline),),
        layouts=(HideLayout("H1", in_pairs(["V38"] * 60, centres)),),
        settings=Settings(hide_gap_mm=14.005), lays=(),
    )
    verify(plan)
    start = time.perf_counter()
    verdict = verify(plan)
    assert verdict.ok and verdict.checks.grounds == 60 and verdict.checks.neighbours > 50
    assert time.perf_counter() - start < 0.2


def test_shares_no_code_with_the_search():
    """The judge imports nothing that made the plan: of geometry the grid and poses, of nest data and rules alone."""
    allowed = {"geometry.pose", "geometry.precision", "nest.plan", "nest.rules", "nest.pieces.piece",
               "nest.stock.material"}
    for path in Path(nest.verify.__file__).parent.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = [n.module for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
        names += [alias.name for n in ast.walk(tree) if isinstance(n, ast.Import) for alias in n.names]
        ours = {name for name in names if name.split(".")[0] in ("geometry", "nest")}
        assert {name for name in ours if not name.startswith("nest.verify")} <= allowed, path.name
