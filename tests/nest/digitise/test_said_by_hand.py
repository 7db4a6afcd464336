"""What is said about photographs and drawn from them: sentences at their limits, zones, rows and features."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from nest.digitise import scene, solve, tapes
from nest.digitise.camera import Lens, View, turn_of
from nest.digitise.drawn import DrawnHide, draw_hide, without_holes
from nest.digitise.marks import SeenMark, each_once
from nest.digitise.marksheet import _cross, _rule
from nest.digitise.meanings import read_meaning
from nest.digitise.over import _largest
from nest.digitise.picture import Photograph
from nest.digitise.solve import Distance
from nest.digitise.start import _placed, corners_at
from nest.digitise.tablewords import told
from nest.digitise.template import _told
from nest.digitise.vision import PhotographProblem
from nest.digitise.write import _geojson
from nest.errors import PlanProblem

SQUARE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
BLANK = Photograph("H1.jpg", np.zeros((600, 800, 3), dtype=np.uint8))


def mark(number, side=60.0, at=(0.0, 0.0)):
    """A mark of this side in pixels."""
    return SeenMark(number, side * SQUARE + at)


def test_marks_are_used_from_48_pixels_on_and_once():
    """Marks that are too small, and numbers that appear twice, are left out, and a sentence says so."""
    kept, said = each_once([mark(1), mark(2), mark(2), mark(3, 48.0), mark(4, 47.9), mark(5, 10.0), mark(5)])
    assert [one.number for one in kept] == [1, 3]
    assert said == [
        "mark 2 lies there 2 times and was left out; lay each number once",
        "mark 5 lies there 2 times and was left out; lay each number once",
        "mark 4 is too small in the picture and was left out"]


def test_four_marks_that_are_no_row():
    """Three marks are refused with the first three reasons; four whose spread is 12 % as wide as long are accepted."""
    with pytest.raises(PhotographProblem, match=r"^H1\.jpg: expected at least 4 marks \(8 or .*found 3; .* a; b; c\.$"):
        scene._refuse_few(BLANK, [mark(n) for n in range(3)], ["a", "b", "c", "d"])
    for across, row in ((0.119, True), (0.121, False)):
        found = [mark(i, at=at) for i, at in enumerate([(0, 0), (1000, 0), (1000, 1000 * across), (0, 1000 * across)])]
        if row:
            with pytest.raises(PhotographProblem, match="the marks lie in a row"):
                scene._refuse_few(BLANK, found, [])
        else:
            scene._refuse_few(BLANK, found, [])


@pytest.mark.parametrize("turn_deg", [0.0, 35.0, -160.0])
def test_a_mark_is_placed_by_its_corners(turn_deg):
    """A mark seen from above and a tenth too large gives its middle, its turn, and four equal corner errors."""
    above = View(Lens(1000.0, 300.0, 300.0, 0.0, 0.0, 600, 600), np.diag((1.0, -1.0, -1.0)), np.array((0, 0, 1000.0)))
    layout = solve.Layout((1,), 600, 600, 160.0, 1, (0.0, 0.0))
    at = corners_at((30.0, -20.0, np.radians(turn_deg)), 1.1 * 160.0)
    place, off = _placed(layout, above, SeenMark(1, above.see(at)))
    assert place == pytest.approx((30.0, -20.0, np.radians(turn_deg))) and off == pytest.approx(4 * 0.1**2 / 2)


def test_how_much_of_the_table_a_pixel_covers():
    """From a metre above with a focal length of 500 pixels, a pixel covers 2 mm; the tilt is that of the camera."""
    for deg in (0.0, 12.0):
        turn = turn_of(np.array((np.radians(deg), 0.0, 0.0))) @ np.diag((1.0, -1.0, -1.0))
        view = View(Lens(500.0, 300.0, 300.0, 0.0, 0.0, 600, 600), turn, np.array((0.0, 0.0, 1000.0)))
        assert view.tilt_deg == pytest.approx(deg, abs=1e-6)
        assert deg or view.mm_per_pixel(np.array((40.0, -30.0))) == pytest.approx(2.0)


def test_the_rule_on_a_sheet_is_100_mm_long():
    """It has eleven ticks a centimetre apart, the first and last 5 mm long, and its text below the middle."""
    lines, texts = [], []
    sheet = SimpleNamespace(plot=lambda x, y, **how: lines.append((*x, *y)),
                            text=lambda x, y, words, **how: texts.append((x, y, words)))
    _rule(sheet, 10.0, 20.0)
    assert lines == [(10.0, 110.0, 20.0, 20.0), *[
        (10.0 * i, 10.0 * i, 20.0, 25.0 if i in (1, 11) else 22.5) for i in range(1, 12)]]
    assert texts == [(60.0, 16.0, "100 mm")]
    lines.clear()
    _cross(sheet, 10.0, 20.0)
    assert lines == [(5.0, 15.0, 20.0, 20.0), (10.0, 10.0, 15.0, 25.0)]


def test_photographs_are_tied_by_four_marks():
    """The largest mark of the first photograph is the reference and comes first; three marks in common are too few."""
    first = [mark(7), mark(3, 90.0), mark(5), mark(4)]
    two = [BLANK, Photograph("H2.jpg", BLANK.pixels)]
    assert scene._tied(two, [first, [*first, mark(1, 200.0)]]) == (3, 1, 4, 5, 7)
    with pytest.raises(PhotographProblem, match=r"^H2\.jpg: expected 4 marks .* found 3; leave"):
        scene._tied(two, [first, [*first[:3], mark(1), mark(2)]])


@pytest.mark.parametrize(("moves", "rounds"), [
    ([1.0, 1e-3, 1e-5, 1e-5], 4), ([1.0, 1e-3, 0.9e-6, 0.0], 3), ([1.0, 1.1e-6, 0.0], 3), ([0.0], 1),
])
def test_a_solution_is_sought_until_it_stands_still(monkeypatch, moves, rounds):
    """Weights are renewed for four rounds at most, fewer once nothing moves by more than a millionth."""
    asked = []

    def least_squares(away, start, **how):
        asked.append(how)
        return SimpleNamespace(x=start + moves[len(asked) - 1])

    monkeypatch.setattr("scipy.optimize.least_squares", least_squares)
    monkeypatch.setattr(solve, "_Model", lambda *what: SimpleNamespace(
        misses=lambda values: np.zeros(3), tapes=lambda values: np.zeros(0), counts=[3],
        slopes=lambda values, size: np.zeros((3, len(values))),
        tape_slopes=lambda values, size: np.zeros((0, len(values)))))
    layout = solve.Layout((1,), 800, 600, 160.0, 1, (0.0, 0.0))
    known = solve.Known(np.zeros(layout.unknowns), np.eye(layout.unknowns))
    found = solve.solve(layout, [], np.zeros(layout.unknowns), known, 0.5)
    assert len(asked) == rounds
    assert found.values == pytest.approx(sum(moves[:rounds]) * solve._sizes(layout))


def taped(residuals, scale=1.0, side=160.0):
    """A solution whose distances are off by this many standard deviations."""
    values = np.ones(10)
    values[tapes.SCALE] = scale
    return SimpleNamespace(values=values, distance_residuals=np.array(residuals), layout=SimpleNamespace(side_mm=side))


@pytest.mark.parametrize(("off", "said"), [
    (2.5, []), (-2.5, []),
    (2.6, ["the distance 1 to 2 was given as 2000.0 mm, and all else makes it 2001.8 mm; measure it again"]),
    (-2.6, ["the distance 1 to 2 was given as 2000.0 mm, and all else makes it 1998.2 mm; measure it again"]),
    (4.0, ["the distance 1 to 2 was given as 2000.0 mm, and all else makes it 2002.8 mm; measure it again"]),
])
def test_a_distance_off_by_two_and_a_half_deviations_is_said(off, said):
    """A tape of 2 m has a standard deviation of 0.7 mm; four of them are refused."""
    assert tapes.said_of_distances(taped([off]), [Distance(1, 2, 2000.0)]) == said
    with pytest.raises(PhotographProblem, match=r"^The distance 1 to 2 .* 2002\.9 mm: measure the distances again\.$"):
        tapes.said_of_distances(taped([4.1]), [Distance(1, 2, 2000.0)])


@pytest.mark.parametrize(("scale", "words"), [
    (1.0029, None), (0.9971, None), (1.0031, "printed 0.31% too large"), (0.9969, "printed 0.31% too small"),
])
def test_a_printer_off_by_three_thousandths_is_said(scale, words):
    """Only a measured distance can show it."""
    said = tapes.said_of_distances(taped([0.0], scale), [Distance(1, 2, 2000.0)])
    assert (said == []) if words is None else (len(said) == 1 and words in said[0])
    assert tapes.said_of_distances(taped([], scale), []) == []


@pytest.mark.parametrize(("gaps", "words"), [
    ([8.0, -8.0], None), ([100.0, 8.0], r"1 to 2 .*but is 2100 mm by the marks \(± 4\): measure it again\.$"),
    ([0.0, -60.0], r"^The distance 2 to 3 was given as 1000\.0 mm, but is 940 mm by the marks "
                  r"\(± 4\): measure it again\.$"),
    ([100.0, 50.0], r"1 to 2 was given as 2000\.0 mm, but is 2100 mm .*the black squares are 152\.4 mm wide"),
    ([-160.0, -50.0], r"1 to 2 .*1840 mm .*the black squares are 173\.9 mm wide"),
    ([250.0, 125.0], r"1 to 2 .*but is 2250 mm by the marks \(± 4\): measure it again\.$"),
    ([-200.0, -125.0], r"1 to 2 .*but is 1800 mm by the marks \(± 4\): measure it again\.$"),
])
def test_the_distance_that_is_furthest_off_is_refused(monkeypatch, gaps, words):
    """Four deviations of 2 mm are refused; if all are off alike, the sentence gives the size of the squares."""
    monkeypatch.setattr(tapes, "tape_gaps", lambda solution, distances: (np.array(gaps), np.full(2, 2.0)))
    both = [Distance(1, 2, 2000.0), Distance(2, 3, 1000.0)]
    if words is None:
        tapes.refuse_distances(taped([]), both, [])
    else:
        with pytest.raises(PhotographProblem, match=words):
            tapes.refuse_distances(taped([]), both, [])
    for bad in (1, 3):
        with pytest.raises(PhotographProblem, match=f"mark {bad} does not fit the others"):
            tapes.refuse_distances(taped([]), both, [bad])
    tapes.refuse_distances(taped([]), [], [1])


FIGURES = {
    "marks": [1, 2, 3, 4, 5, 6, 7], "photographs": 1, "tilt_deg": 2.5, "mm_per_pixel": 0.75, "focal_pixels": 3000.5,
    "focal_within": 4.5, "k1": -0.1, "k2": 0.02, "residual_pixels": 0.125, "blur_pixels": [0.8, 1.25],
    "error_mm_mean": 0.126, "error_mm_most": 0.504, "error_mm_across": [[0.1, 0.2], [0.3, 0.4]],
    "tapes_mm": [0.41, -1.26], "said": ["mark 9 is bent"],
}


def test_a_table_is_told_in_sentences():
    """The worst distance and the largest blur are named; fewer than eight marks, or no distance, bring a warning."""
    lines = told(FIGURES)
    assert lines == [
        "7 marks in 1 photograph; camera tilted 2.5°, 0.75 mm a pixel.",
        "Focal length 3000.5 ± 4.5 pixels, distortion k1 -0.1, k2 0.02; residual 0.125 pixels; blur 1.25 pixels.",
        "Expected error over the ground between the marks (one standard deviation): 0.13 mm on the mean, 0.50 mm at "
        "most.",
        "Across the picture, mm, from its upper left to its lower right: 0.10, 0.20; 0.30, 0.40.",
        "The distances are met within 1.3 mm.",
        "8 marks or more are better: the lens is known only as well as these few show it.",
        "Note: mark 9 is bent."]
    lines = told(FIGURES | {"marks": [*range(8)], "photographs": 2, "tapes_mm": [], "said": []})
    assert lines[0].startswith("8 marks in 2 photographs;") and len(lines) == 5
    assert lines[4].startswith("No distance was measured")


def test_a_template_is_told_in_sentences():
    """Curves are counted by kind; it is said whether the halves were made equal and the toe was guessed."""
    figures = {"length_mm": 210.06, "width_mm": 99.94, "area_mm2": 12_345.0, "axis": "two holes", "symmetric": True,
               "halves_differ_mm": 0.25, "curves": {"line": 1, "arc": 0, "spline": 2}}
    first, halves, parts = _told(figures, guessed=False)
    assert first == "Template 210.1 × 99.9 mm, 123.5 cm²; 1 line, 2 splines; axis by two holes."
    assert halves == "Its halves differ by up to 0.25 mm: they were made exactly the same." and "PARTS" in parts
    lines = _told(figures | {"symmetric": False}, guessed=True)
    assert lines[1].endswith("left and right are kept as they are.") and "--toe" in lines[3] and len(lines) == 4


def stroke(words, outline, stretch=None):
    """A closed stroke in blue."""
    return SimpleNamespace(meaning=read_meaning("blue", words), outline=outline, stretch_deg=stretch)


def test_zones_are_drawn_the_smaller_in_the_larger():
    """A zone's own stretch goes before the hide's; a zone with neither is reported; the rest is a zone."""
    outline = shapely.box(0, 0, 1000, 500).difference(shapely.box(800, 200, 820, 220))
    large, small = shapely.box(0, 0, 400, 500), shapely.box(0, 0, 100, 100)
    strokes = [stroke("belly class 3", large, 45.04), stroke("neck class 2", small),
               stroke("scar severity 2 tears", shapely.box(600, 100, 640, 120))]
    hide, said = draw_hide(outline, strokes, "H1.jpg", 0.4)
    assert said == ("the blue zone about (50, 50) mm has no arrow and was left out; draw one, or give --stretch",)
    assert [(zone.area, words) for zone, words in hide.zones] == [(200_000.0, "belly class 3 stretch 45.0")]
    assert [(flaw.area, words) for flaw, words in hide.flaws] == [(800.0, "scar severity 2 tears")]
    hide, said = draw_hide(outline, strokes, "H1.jpg", 0.4, "butt class 1", 90.0)
    assert said == () and [(zone.area, words) for zone, words in hide.zones] == [
        (10_000.0, "neck class 2 stretch 90.0"), (190_000.0, "belly class 3 stretch 45.0"),
        (300_000.0, "butt class 1 stretch 90.0")]
    with pytest.raises(ValueError, match="needs a stretch"):
        draw_hide(outline, strokes, "H1.jpg", 0.4, "butt class 1")
    slivers = shapely.union_all([shapely.box(0, 0, 20, 20), shapely.box(50, 0, 69.9, 20)])
    assert [one.area for one in without_holes(slivers)] == [400.0]


def test_the_outline_of_a_drawing_is_its_largest_closed_path():
    """It has at least three points; an open path does not count, however large."""
    def path(size, closed=True, count=4):
        return SimpleNamespace(points=size * SQUARE[:count], closed=closed)

    triangle, square = path(20.0, count=3), path(10.0)
    others = [path(90.0, closed=False), path(80.0, count=2)]
    assert _largest(SimpleNamespace(paths=[*others, square, triangle, path(5.0)]), "a.dxf") is triangle.points
    assert _largest(SimpleNamespace(paths=[square, *others]), "a.dxf") is square.points
    with pytest.raises(PlanProblem, match=r"^a\.dxf: expected a closed outline of the hide, found none; .*holds it\.$"):
        _largest(SimpleNamespace(paths=others), "a.dxf")


def test_a_drawn_hide_as_features():
    """Coordinates (RFC 7946) have hundredths of a mm; zones have class and stretch, flaws kind and severity."""
    hide = DrawnHide(
        shapely.box(0, 0, 100.126, 50), ((shapely.box(0, 0, 50, 50), "class 2 stretch 45.5"),
                                         (shapely.box(50, 0, 100, 50), "left belly class 3 stretch 90.0")),
        ((shapely.box(10, 10, 20, 20), "tick bite severity 3 tears Coverable"),), "H1.jpg", 0.456)
    found = _geojson(hide)
    assert (found["unit"], found["photograph"], found["outline_within_mm"]) == ("mm", "H1.jpg", 0.46)
    assert [one["properties"] for one in found["features"]] == [
        {"part": "hide"}, {"part": "zone", "name": "zone", "class": 2, "stretch_deg": 45.5},
        {"part": "zone", "name": "left belly", "class": 3, "stretch_deg": 90.0},
        {"part": "flaw", "kind": "tick bite", "severity": 3, "tears": True, "coverable": True}]
    assert found["features"][0]["geometry"]["coordinates"][0][0] in ((100.13, 0.0), [100.13, 0.0])
