"""What a drawing and a cut sheet hold and say, by hand, and what is said of one that is not its plan's."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box
from tiny_plans import box_plan, flaw, hide, roll, slant_plan, vamp, zone

from nest.cutplan.compare import _alike, _changed, _map_words, _same, _words
from nest.cutplan.compose import hide_drawing, lay_drawing, piece_drawing, registration_points
from nest.cutplan.drawing import Drawing, Label, Outline
from nest.cutplan.drawn import Drawn
from nest.cutplan.frame import Frame
from nest.cutplan.legend import counts, legend
from nest.cutplan.readback import MOST_SAID, _most
from nest.cutplan.sheet import cut_sheet
from nest.errors import Problem
from nest.plan import CUT_BY_PLAN

DRAWN = Drawn("H1.dxf", Drawing(), {"cut": "CUT", "labels": "REF_LABELS"}, Frame(), {}, True, False)


def lines(drawing, use):
    """Points of the open lines on one layer."""
    return [one.points.round(6).tolist() for one in drawing.outlines(use) if not one.closed]


def texts(drawing, use):
    """Texts of one layer: what they say, where, how high."""
    return [(one.text, one.at, one.height_mm) for one in drawing.entities if isinstance(one, Label) and one.use == use]


def test_a_lay_is_drawn_between_its_selvedges():
    """320 of 340 mm are usable: the goods' edges lie 10 mm outside. Adhesive on one side is said, and end loss."""
    plan = box_plan(rolls=(roll(end_loss_mm=25.0, adhesive_one_side=True),))
    drawing = lay_drawing(plan, plan.lays[0])
    assert lines(drawing, "material") == [[[0, -10], [409, -10]], [[0, 330], [409, 330]]]
    assert lines(drawing, "zones") == [
        [[204.5, 130], [204.5, 190]],
        [[199.7, 142], [204.5, 130], [209.3, 142]], [[199.7, 178], [204.5, 190], [209.3, 178]]]
    assert [at for _, at, _ in texts(drawing, "points")] == [(4, 4), (413, 4), (4, 324), (413, 324)]
    first = texts(drawing, "legend")[0][0]
    assert "box: cutting drawing. 50 mm end loss a ply." in first and first.endswith("no piece is turned over.")
    plain = box_plan(rolls=(roll(selvedge_mm=0.0, adhesive_one_side=False),))
    drawing = lay_drawing(plain, plain.lays[0])
    assert not lines(drawing, "material") and texts(drawing, "legend")[0][0].endswith("direction of most stretch.")


def test_zones_and_flaws_of_a_hide_stand_where_they_are():
    """A zone's words 10 mm from its middle, an arrow where its stretch is known; a flaw's 2 mm off its corner."""
    zones = zone(), zone("neck", 2, None, box(0, 0, 300, 500))
    flaws = (flaw(box(700, 400, 720, 410), tears=True, coverable=False), flaw(box(10, 480, 20, 490), "F2"),
             flaw(box(10, 10, 20, 20), "F3", coverable=False))
    plan = slant_plan(hides=(hide(zones=zones, flaws=flaws),))
    drawing = hide_drawing(plan, plan.layouts[0])
    assert texts(drawing, "zones") == [
        ("butt: class 1, stretch 90 deg", (510, 260), 8), ("neck: class 2, stretch unknown", (160, 260), 8)]
    assert len(lines(drawing, "zones")) == 3 and lines(drawing, "zones")[0] == [[500, 220], [500, 280]]
    assert texts(drawing, "flaws") == [
        ("F1: scratch, severity 1, tears", (722, 412), 5), ("F2: scratch, severity 1, coverable", (22, 492), 5),
        ("F3: scratch, severity 1", (22, 22), 5)]


def test_a_piece_alone_says_how_large_it_is():
    """The rectangular vamp of 224 × 124 mm; its legend begins 10 mm below it, lines 6.8 mm apart."""
    said = texts(piece_drawing(vamp()), "legend")
    assert said[0] == ("box 38 vamp: cut outline 224.0 x 124.0 mm. Toe to the right.", (-112, pytest.approx(-78.8)), 4)
    assert said[1][1][1] == pytest.approx(-85.6)
    warned = legend(["all"], (0.0, 100.0), 5.0, "Not verified")
    assert [(one.text, one.at, one.height_mm) for one in warned[:2]] == [
        ("Not verified", (0, 90), 10), ("all", (0, pytest.approx(76.5)), 5)]


def test_pieces_are_counted_six_kinds_to_a_line():
    """One piece is named in the singular; the seventh kind begins a new line."""
    kinds = [vamp(size=str(size)) for size in range(35, 42)]
    assert counts(kinds[:1]) == ["1 piece.", "box 35: 1"]
    assert counts([*kinds, kinds[0]]) == [
        "8 pieces.", "box 35: 2; box 36: 1; box 37: 1; box 38: 1; box 39: 1; box 40: 1", "box 41: 1"]


@pytest.mark.parametrize(("aside", "count"), [(99.9, "Three"), (100.1, "Four")])
def test_a_fourth_tip_lies_a_tenth_of_the_length_aside(aside, count):
    """1000 mm from tip to tip: one 100 mm on the other side of that line is laid by too; the sheet counts them."""
    outline = Polygon([(0, 0), (500, -aside), (1000, 0), (400, 300)])
    plan = slant_plan(hides=(replace(hide(), outline=outline),))
    points = registration_points(plan.hides[0]).tolist()
    assert points == [[0, 0], [1000, 0], [400, 300], [500, -aside]][:3 if count == "Three" else 4]
    where, apart = cut_sheet(plan, plan.layouts[0], cutting_yield=0.5).registration
    assert where.startswith(f"Grain side up. {count} tips of the hide lie at the crosses A (0, 0), B (1000, 0), ")
    assert "A–B 1000, B–C 671, C–A 500" in apart


def test_a_sheet_says_what_to_look_out_for():
    """Holes first, then what the plan cuts otherwise, flaws that tear, and the severe before others."""
    spots = [box(100.0 * i, 480.0, 100.0 * i + 20.0, 490.0) for i in range(5)]
    flaws = (
        flaw(spots[0], "F1"), flaw(spots[1], "F2", coverable=False), flaw(spots[2], "F3", tears=True),
        replace(flaw(spots[3], "F4"), severity=3), replace(flaw(spots[4], "C1"), kind=CUT_BY_PLAN),
        replace(flaw(spots[4], "C2"), kind=CUT_BY_PLAN),
    )
    holes = [shapely.get_coordinates(box(500, 250, 510, 260)), shapely.get_coordinates(box(600, 250, 610, 260))]
    for number, words in ((1, "1 hole in the hide"), (2, "2 holes in the hide")):
        plan = slant_plan(hides=(hide(flaws=flaws, holes=holes[:number], zones=(zone(), zone("neck", 2, None))),))
        sheet = cut_sheet(plan, plan.layouts[0], cutting_yield=0.5)
        assert sheet.look_out == (
            words, "What the plan cuts from this hide otherwise, C1 to C2: not to be cut into",
            "F3: scratch at (210, 485) mm, severity 1; tears: nothing may be cut over it",
            "F4: scratch at (310, 485) mm, severity 3; may lie under the trim-off band",
            "F1: scratch at (10, 485) mm, severity 1; may lie under the trim-off band",
            "F2: scratch at (110, 485) mm, severity 1; may lie under no piece")
    assert sheet.directions == ("butt: class 1, stretches most at 90°", "neck: class 2, stretch unknown")
    assert [(one.foot, one.pieces) for one in sheet.counts] == [("left", 2), ("right", 2)] and sheet.pieces == 4
    assert cut_sheet(slant_plan(), plan.layouts[0], cutting_yield=0.5).look_out == ()


@pytest.mark.parametrize(("count", "last"), [(19, "19"), (20, "20"), (21, "2 more problems"), (40, "21 more problems")])
def test_twenty_problems_are_said_and_the_others_counted(count, last):
    """The twentieth line counts itself among those that it stands for."""
    said = _most([Problem(f"H1.dxf, layer {i}", "one", str(i), "mend it") for i in range(1, count + 1)])
    assert len(said) == min(count, MOST_SAID) and (said[-1].found, said[0].found) == (last, "1")
    assert count <= MOST_SAID or (said[-1].where, said[-1].remedy) == ("H1.dxf", "mend it")


SQUARE = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)])
TEXT = Label("labels", "box 38 no. 1", (10.0, 20.0), 7.0)


@pytest.mark.parametrize(("other", "same"), [
    (replace(TEXT, at=(10.009, 20.0)), True), (replace(TEXT, at=(10.0, 20.011)), False),
    (replace(TEXT, height_mm=7.004), True), (replace(TEXT, height_mm=6.994), False),
    (replace(TEXT, turn_deg=360.019), True), (replace(TEXT, turn_deg=-0.021), False),
    (replace(TEXT, centred=True), False), (replace(TEXT, text="box 38 no. 2"), False),
    (replace(TEXT, use="legend"), False), (Outline("labels", SQUARE), False),
])
def test_texts_are_the_same_to_a_hundredth(other, same):
    """Place to 0.01 mm, height to 0.005 mm, turn to 0.02°, whole turns aside; words and layer as they are."""
    assert bool(_same(TEXT, other)) is same is bool(_same(other, TEXT))


@pytest.mark.parametrize(("shift", "alike"), [(29.9, True), (30.1, False)])
def test_what_lies_within_thirty_millimetres_may_have_been_moved(shift, alike):
    """An outline further off is another one; a text may be anywhere, for its words tell it."""
    wanted, found = Outline("cut", SQUARE), Outline("cut", SQUARE + np.array((shift, 0.0)))
    assert bool(_alike(wanted, found)) is alike and not _alike(wanted, replace(found, use="net"))
    far = replace(TEXT, at=(10.0 + shift, 20.0))
    assert _alike(TEXT, far) and bool(_alike(TEXT, replace(far, text="other"))) is alike and not _alike(TEXT, found)


WIDER = SQUARE + np.array([(0.0, 0.0), (0.25, 0.0), (0.0, 0.0), (0.0, 0.0)])
AT = "the text 'box 38 no. 1' at ({}, 20.00) mm, 7.00 mm high, turned by 0.00 deg"


@pytest.mark.parametrize(("wanted", "found", "expected", "told", "place"), [
    (TEXT, replace(TEXT, text="39"), "the text 'box 38 no. 1'", "'39'", "REF_LABELS, piece V1 at (10.0, 20.0) mm"),
    (TEXT, replace(TEXT, at=(10.5, 20.0)), AT.format("10.00"), AT.format("10.50"), "(10.5, 20.0)"),
    (Outline("cut", SQUARE), Outline("cut", SQUARE, closed=False), "a closed outline", "an open line", "CUT, piece V1"),
    (Outline("cut", SQUARE, closed=False), Outline("cut", SQUARE), "an open line", "a closed outline", "CUT, piece V1"),
    (Outline("cut", SQUARE), Outline("cut", WIDER), "a closed outline of 4 points, 300.0 mm long",
     "one up to 0.250 mm off", "(100.2, 0.0)"),
    (Outline("cut", SQUARE, closed=False), Outline("cut", SQUARE[:3], closed=False),
     "a line of 4 points, 250.0 mm long", "one up to 50.000 mm off", "(0.0, 50.0)"),
    (Outline("cut", SQUARE), Outline("cut", np.vstack((SQUARE, SQUARE))), "a closed outline of 4 points, 300.0 mm long",
     "one 600.000 mm long", "CUT"),
])
def test_what_became_of_an_entity_is_said(wanted, found, expected, told, place):
    """Its words, its place, whether it closes, how far it is off and where that is most, or how long it is."""
    said = _changed(DRAWN, wanted, found, "V1")
    assert (said.expected, said.found) == (expected, told) and place in said.where
    assert not isinstance(wanted, Outline) or _words(wanted).startswith("a closed" if wanted.closed else "a line")


@pytest.mark.parametrize(("matrix", "moved", "words"), [
    ([[1, 0], [0, 1]], (2.0, 3.0), "moved by (2.000, 3.000) mm"), ([[2, 0], [0, 2]], (0.0, 0.0), "scaled by 2"),
    ([[2, 0], [0, 3]], (0.004, 0.0), "scaled by 2 along x, 3 along y"), ([[-1, 0], [0, 1]], (0.0, 0.0), "mirrored"),
    ([[0, -1], [1, 0]], (0.0, 0.006), "turned by 90 deg and moved by (0.000, 0.006) mm"),
    ([[0, -1], [-1, 0]], (0.0, 0.0), "mirrored and turned by 90 deg"),
])
def test_one_map_of_all_is_said_in_words(matrix, moved, words):
    """A mirrored drawing is turned by what is left once it is mirrored about its upright axis."""
    assert _map_words(np.array(matrix, dtype=float), np.array(moved)) == words
