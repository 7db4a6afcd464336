"""Photographs of invented sides, rendered small: outline, ±, holes, chalk, fixed tables, and what must be refused."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely
import shapely.affinity
from camera_scene import CHALKS, Look, Scene, camera_over, render
from invented import Case, area_of, cross_distance, distances, fit, make_case, side

from nest.digitise.drawn import draw_hide
from nest.digitise.hide import find_hide, pages_of
from nest.digitise.meanings import read_meaning
from nest.digitise.picture import Photograph
from nest.digitise.scene import solve_scene
from nest.digitise.solve import Distance
from nest.digitise.strokes import find_strokes
from nest.digitise.table import fixed_table, place_camera, read_table, write_table
from nest.digitise.vision import PhotographProblem
from nest.errors import PlanProblem

WIDTH, HEIGHT = 1600, 1200
PLAIN = Look(uneven=0.25, blur=0.7, grain=0.05, noise=0.005, quality=92)


def photograph(case: Case, name: str = "H1.jpg") -> Photograph:
    """The case's picture as the program holds it."""
    return Photograph(name, case.pixels)


@pytest.fixture(scope="module")
def plain() -> Case:
    """A dark brown side with a hole on light wood."""
    return make_case(21, WIDTH, HEIGHT, holes=1, look=PLAIN, leather="dark brown", table="light wood", thickness=1.5)


@pytest.fixture(scope="module")
def solved(plain):
    """Its table, solved with one measured distance."""
    return solve_scene([photograph(plain)], distances=[Distance(*cross_distance(plain))])


def test_outline_with_one_measured_distance(plain, solved):
    """Mean within 1 mm, 95 % within 2.5 mm, area within 0.2 %, the stated ± holds, and the hole is there."""
    found = find_hide(photograph(plain), solved, thickness_mm=1.5)
    away = distances(found.outline, plain.scene.hide)
    assert away.mean() <= 1.0 and np.percentile(away, 95) <= min(2.5, found.doubt.within_mm)
    off = abs(found.outline.area - plain.scene.hide.area)
    assert off <= 0.002 * plain.scene.hide.area and off <= found.doubt.area_mm2 <= 0.01 * plain.scene.hide.area
    assert len(found.outline.interiors) == 1
    hole = shapely.Polygon(plain.scene.hide.interiors[0]).area
    assert shapely.Polygon(found.outline.interiors[0]).area == pytest.approx(hole, rel=0.06)


def test_marks_alone_leave_the_scale_to_the_printer(plain):
    """Without a tape the area is within 0.6 %, and the ± says that it is less sure."""
    scene = solve_scene([photograph(plain)])
    found = find_hide(photograph(plain), scene, thickness_mm=1.5)
    share = found.outline.area / plain.scene.hide.area - 1.0
    assert abs(share) <= 0.006 and abs(share) <= found.doubt.area_mm2 / found.outline.area
    assert share == pytest.approx(plain.print_scale**-2 - 1.0, abs=0.002)


def test_fixed_table_serves_later_photographs(plain, solved, tmp_path):
    """The table is kept in a file; a photograph from elsewhere, one mark moved, comes out within 0.8 mm."""
    path = tmp_path / "table.json"
    write_table(fixed_table(solved), path)
    table = read_table(path)
    assert table.numbers == solved.solution.layout.numbers and np.array_equal(table.values, fixed_table(solved).values)
    rng = np.random.default_rng(5)
    sheets = list(plain.scene.sheets)
    sheets[2] = replace(sheets[2], x=sheets[2].x + 25.0)
    other = shapely.affinity.rotate(plain.scene.hide, 1.5)
    covered = sheets
    scene = Scene(other, plain.scene.leather, plain.scene.table, covered, plain.scene.side)
    near = camera_over(rng, WIDTH, HEIGHT, area_of(other, covered), 6.0, plain.camera.k1, plain.camera.k2)
    centre = -near.turn.T @ near.shift
    middle = np.array((*np.array(area_of(other, covered)).reshape(2, 2).mean(axis=0), 0.0))
    far = middle + (centre - middle) * max(1.0, plain.camera.focal / near.focal)
    camera = replace(plain.camera, turn=near.turn, shift=-near.turn @ far)
    later = photograph(Case(scene, camera, render(scene, camera, PLAIN, 6), 1.0, None), "H2.jpg")
    placed = place_camera(later, table)
    assert placed.left_out == (sheets[2].number,) and "has moved" in placed.said[0]
    away = distances(find_hide(later, placed).outline, other)
    assert away.mean() <= 0.8


def test_damaged_tables_are_refused(solved, tmp_path):
    """A table cut short, of another kind, or of another camera's pictures is refused in one sentence."""
    path = tmp_path / "table.json"
    write_table(fixed_table(solved), path)
    text = path.read_text()
    for bad in (text[:200], "{}", "[1]", text.replace('"side":160', '"side":-1'), text.replace("digitising", "other")):
        path.write_text(bad)
        with pytest.raises(PhotographProblem, match="expected a table"):
            read_table(path)
    small = Photograph("H3.jpg", np.zeros((700, 900, 3), dtype=np.uint8))
    with pytest.raises(PhotographProblem, match="same camera"):
        place_camera(small, fixed_table(solved))


def chalked():
    """A tan side with a zone and its arrow in white, two flaws in blue, one of them not quite closed."""
    outline = side(4)[1]
    middle = np.array(outline.centroid.coords[0])
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    circle = np.column_stack((np.cos(turn), np.sin(turn)))
    arrow = np.array((np.cos(np.radians(63.0)), np.sin(np.radians(63.0))))
    at = middle + np.array((-250.0, 60.0))
    zone = at + circle * (150.0, 120.0)
    flaws = [middle + (160.0, 80.0) + circle * 30.0, middle + (330.0, -40.0) + circle * (24.0, 36.0)]
    gap = round(60 * 9.0 / (2 * np.pi * 30.0))
    side_ways = np.array((-arrow[1], arrow[0]))
    strokes = [
        (np.vstack((zone, zone[:1])), 6.0, CHALKS["white"]),
        (np.array((at - 40 * arrow, at + 40 * arrow)), 5.0, CHALKS["white"]),
        (
            np.array((at + 26 * arrow + 10 * side_ways, at + 40 * arrow, at + 26 * arrow - 10 * side_ways)),
            5.0,
            CHALKS["white"],
        ),
        (flaws[0][:-gap], 5.0, CHALKS["blue"]),
        (np.vstack((flaws[1], flaws[1][:1])), 5.0, CHALKS["blue"]),
        (middle + np.array(((-20.0, -150.0), (90.0, -170.0))), 5.0, CHALKS["blue"]),
    ]
    return outline, strokes, zone, flaws, 63.0


@pytest.fixture(scope="module")
def drawn():
    """The photograph of it, what was found, and how the found frame lies on the drawn one."""
    outline, strokes, zone, flaws, angle = chalked()
    case = make_case(4, WIDTH, HEIGHT, strokes=strokes, look=PLAIN, leather="tan", table="green", side_seed=4)
    scene = solve_scene([photograph(case)], distances=[Distance(*cross_distance(case))])
    found = find_hide(photograph(case), scene)
    meanings = [read_meaning("white", "belly class 3"), read_meaning("blue", "scar severity 2 tears")]
    strokes, said = find_strokes(
        photograph(case).light, found.view, found.outline, pages_of(scene), meanings, 0.0, "H1.jpg"
    )
    return found, strokes, said, fit(found.outline, outline), zone, flaws, angle


def test_closed_strokes_are_zones_and_flaws(drawn):
    """One zone and two flaws within 3 mm, the arrow within 5°; a gap closed and an open line left, both said."""
    found, strokes, said, move, zone, flaws, angle = drawn
    assert len(found.outline.interiors) == 0
    zones = [one for one in strokes if one.meaning.zone]
    marks = [one for one in strokes if not one.meaning.zone]
    assert len(zones) == 1 and len(marks) == 2
    for one, true in [(zones[0], zone), *zip(sorted(marks, key=lambda m: m.outline.centroid.x), flaws, strict=True)]:
        edge = shapely.points(move(np.array(one.outline.exterior.coords)))
        assert shapely.distance(edge, shapely.LinearRing(true)).max() <= 3.0
    turned = move(np.array(((0.0, 0.0), (1.0, 0.0))))
    lies = zones[0].stretch_deg + np.degrees(np.arctan2(*(turned[1] - turned[0])[::-1]))
    assert abs((lies - angle + 90.0) % 180.0 - 90.0) <= 5.0
    assert sum("was closed over a gap" in one for one in said) == 1
    assert sum("closes nothing and was left" in one for one in said) == 1


def test_zones_in_a_drawing_have_no_holes(drawn):
    """The rest of a hide about a zone is pieces without holes that cover it; a zone without stretch is said."""
    found, strokes, *_ = drawn
    hide, said = draw_hide(found.outline, strokes, "H1.jpg", 1.0, "butt class 1", 90.0)
    assert not said and len(hide.zones) > 2 and not any(shape.interiors for shape, _ in hide.zones)
    whole = shapely.union_all([shape for shape, _ in hide.zones])
    assert whole.area == pytest.approx(found.outline.area, rel=1e-4)
    bare = [replace(one, stretch_deg=None) for one in strokes]
    hide, said = draw_hide(found.outline, bare, "H1.jpg", 1.0)
    assert not hide.zones and any("no arrow" in one for one in said)


@pytest.mark.parametrize(
    ("colour", "words"),
    [("mauve", "scar severity 2"), ("red", "scar"), ("#12345", "scar severity 1"), ("red", "scar severity 2\u202e")],
)
def test_meanings_that_cannot_be_are_refused(colour, words):
    """A colour or words that mean nothing are refused before any photograph is read."""
    with pytest.raises(PlanProblem, match="Strokes"):
        read_meaning(colour, words)


def test_mark_of_another_size_is_left_out(plain):
    """A mark that does not fit the others is left out and said, and the outline stays right."""
    case = plain
    sheets = list(case.scene.sheets)
    pixels = case.pixels.copy()
    corners = np.array(
        [
            case.camera.see(sheets[3].on_table(((dx, dy),), case.scene.side))[0]
            for dx, dy in ((-0.5, 0.5), (0.5, 0.5), (0.5, -0.5), (-0.5, -0.5))
        ],
        dtype=np.float32,
    )
    middle = corners.mean(axis=0)
    x0, y0 = np.floor(corners.min(axis=0) - 6).astype(int)
    x1, y1 = np.ceil(corners.max(axis=0) + 7).astype(int)
    shrink = np.float32(((1.06, 0.0, -0.06 * (middle[0] - x0)), (0.0, 1.06, -0.06 * (middle[1] - y0))))
    patch = pixels[y0:y1, x0:x1]
    pixels[y0:y1, x0:x1] = cv2.warpAffine(
        patch, shrink, (x1 - x0, y1 - y0), flags=cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )
    scene = solve_scene([Photograph("H1.jpg", pixels)], distances=[Distance(*cross_distance(case))])
    assert scene.left_out == (sheets[3].number,) and "left out" in scene.said[0]
