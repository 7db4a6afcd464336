"""A slip of the tape, of the printer or of the hand that lays the marks is refused or said, never drawn in silence."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from camera_scene import Camera, Sheet, camera_over

from nest.cli import main
from nest.digitise import scene as scene_module
from nest.digitise import table as table_module
from nest.digitise.marks import CORNERS, MeasuredEdges, SeenMark, edges_of
from nest.digitise.picture import Photograph
from nest.digitise.scene import solve_scene
from nest.digitise.solve import Distance
from nest.digitise.start import first_answer
from nest.digitise.table import fixed_table, place_camera, write_table
from nest.digitise.tablewords import table_figures, told
from nest.digitise.vision import PhotographProblem

AREA = (0.0, 0.0, 2600.0, 1700.0)
ANSWERS: dict = {}
"""First answers by what they were found from: each is worked out once."""

BLANK = Photograph("H1.jpg", np.zeros((3000, 4000, 3), dtype=np.uint8))


@pytest.fixture(scope="module")
def laid() -> tuple[Camera, list[Sheet]]:
    """A camera over ten sheets on all sides."""
    rng = np.random.default_rng(5)
    places = [(x, y) for x in (150.0, 800.0, 1450.0, 2300.0) for y in (150.0, 1550.0)]
    places += [(150.0, 850.0), (2400.0, 850.0)]
    sheets = [Sheet(number, *at, rng.uniform(0, 360)) for number, at in enumerate(places)]
    return camera_over(rng, 4000, 3000, AREA, 9.0, -0.08, 0.02), sheets


def show(monkeypatch, laid, printed: float = 1.0, seen=None, bent: int | None = None) -> None:
    """Marks and their edges as the camera sees them, the print too large by `printed`, in place of a picture's."""
    camera, sheets = laid
    by_number = {one.number: one for one in sheets}
    rng = np.random.default_rng(7)

    def marks(_):
        return tuple(SeenMark(one.number, camera.see(one.on_table(CORNERS, 160.0 * printed))) for one in seen or sheets)

    def measured(light, layout, values, photograph, number):
        middles, normals = edges_of(number)
        one = by_number[number]
        size = 160.0 * printed * (1.05 if number == bent else 1.0)
        at = camera.see(one.on_table(middles, size))
        away = camera.see(one.on_table(middles + 1e-4 * normals, size)) - at
        away /= np.hypot(*away.T)[:, None]
        return MeasuredEdges(middles, at + 0.05 * rng.standard_normal(at.shape), away, 0.8)

    def first(layout, marks, known):
        key = layout.side_mm, *((one.number, *one.corners.ravel()) for one in marks[0])
        if key not in ANSWERS:
            ANSWERS[key] = first_answer(layout, marks, known)
        return ANSWERS[key]

    monkeypatch.setattr(scene_module, "first_answer", first)
    for module in (scene_module, table_module):
        monkeypatch.setattr(module, "find_marks", marks)
        monkeypatch.setattr(module, "measured_mark", measured)


def cross(laid, a: int, b: int) -> float:
    """The true distance between two crosses."""
    at = {one.number: one.on_table(((0.0, -0.66),), 160.0)[0] for one in laid[1]}
    return float(np.hypot(*(at[a] - at[b])))


def test_a_mistyped_distance_is_refused(monkeypatch, laid):
    """Digits changed round, or centimetres: the sentence names the distance and what the marks make of it."""
    show(monkeypatch, laid)
    good = [Distance(a, b, cross(laid, a, b)) for a, b in ((0, 7), (1, 6), (8, 9))]
    for wrong in (Distance(0, 7, good[0].length_mm + 45.0), Distance(0, 7, good[0].length_mm / 10.0)):
        for others in ([], good[1:]):
            with pytest.raises(PhotographProblem, match=r"^The distance 0 to 7 .* by the marks .* again") as it:
                solve_scene([BLANK], distances=[*others, wrong])
            assert ("--mark-mm" in str(it.value)) == (not others and wrong.length_mm > 1000.0)
    scene = solve_scene([BLANK], distances=good)
    assert not scene.said and table_figures(scene, good)["tapes_mm"] == pytest.approx([0.0] * 3, abs=0.3)


def test_sheets_fitted_to_the_page_are_refused_with_their_size(monkeypatch, laid):
    """Printed at 97 % they contradict the tape: the sentence says the side that --mark-mm must have, and that helps."""
    show(monkeypatch, laid, printed=0.97)
    distance = replace_cross(laid, 0.97)
    with pytest.raises(PhotographProblem, match=r"155\.2 mm wide, and --mark-mm must say so"):
        solve_scene([BLANK], distances=[distance])
    assert not solve_scene([BLANK], 155.2, [distance]).said


def replace_cross(laid, printed: float) -> Distance:
    """The distance between two crosses where the print is too large by `printed`."""
    at = {one.number: one.on_table(((0.0, -0.66),), 160.0 * printed)[0] for one in laid[1]}
    return Distance(0, 7, float(np.hypot(*(at[0] - at[7]))))


def test_distances_that_disagree_a_little_are_said(monkeypatch, laid):
    """A few mm that the printer could explain but another tape does not: both tapes are said; with more, refused."""
    show(monkeypatch, laid)
    long, across = (Distance(a, b, cross(laid, a, b)) for a, b in ((0, 7), (1, 6)))
    scene = solve_scene([BLANK], distances=[long, replace(across, length_mm=across.length_mm + 6.0)])
    assert len(scene.said) == 2 and all("measure it again" in one for one in scene.said)
    with pytest.raises(PhotographProblem, match=r"all else makes it .*measure the distances again\.$"):
        solve_scene([BLANK], distances=[
            replace(long, length_mm=long.length_mm - 5.0), replace(across, length_mm=across.length_mm + 5.0)])
    show(monkeypatch, laid, printed=1.004)
    scene = solve_scene([BLANK], distances=[replace_cross(laid, 1.004)])
    assert len(scene.said) == 1 and "printed 0.3" in scene.said[0] and "too large" in scene.said[0]


def test_a_distance_to_a_mark_that_does_not_fit_is_refused(monkeypatch, laid):
    """Mark 6 is of another size and left out: a distance to it cannot be used, and the sentence says so."""
    show(monkeypatch, laid, bent=6)
    assert solve_scene([BLANK], distances=[Distance(0, 7, cross(laid, 0, 7))]).left_out == (6,)
    with pytest.raises(PhotographProblem, match="mark 6 does not fit the others"):
        solve_scene([BLANK], distances=[Distance(1, 6, cross(laid, 1, 6))])


def test_a_number_that_lies_there_twice_is_left_out_and_said(monkeypatch, laid):
    """Two sheets of one number: neither is used, and the sentence says which; so on a fixed table."""
    twice = [*laid[1], Sheet(3, 1200.0, 900.0, 40.0)]
    show(monkeypatch, laid)
    table = fixed_table(solve_scene([BLANK]))
    show(monkeypatch, laid, seen=twice)
    for scene in (solve_scene([BLANK]), place_camera(BLANK, table)):
        assert 3 not in scene.solution.layout.numbers
        assert scene.said == ("mark 3 lies there 2 times and was left out; lay each number once",)
    show(monkeypatch, laid, seen=[*laid[1][:3], laid[1][0], Sheet(9, 1300.0, 900.0, 0.0)])
    with pytest.raises(PhotographProblem, match=r"at least 4 marks .* found 3; .*mark 0 lies there 2 times"):
        solve_scene([BLANK])


def test_expected_error_across_the_picture(monkeypatch, laid):
    """By ninths as the picture is shown: least in the middle; a picture turned upright has its rows as columns."""
    show(monkeypatch, laid)
    distance = Distance(0, 7, cross(laid, 0, 7))
    scene = solve_scene([BLANK], distances=[distance])
    across = np.array(table_figures(scene, [distance])["error_mm_across"])
    assert across.shape == (3, 3) and across.argmin() == 4 and across.max() < 1.0
    assert np.array_equal(table_figures(scene, [distance], 1)["error_mm_across"], np.rot90(across, -1))
    lines = told(table_figures(scene, [distance]))
    assert any(line.startswith("Across the picture") and line.count(",") == 8 for line in lines)
    assert "The distances are met within" in lines[-1]


def test_a_fixed_table_takes_no_distance(tmp_path, capsys, monkeypatch, laid):
    """--distance beside --table would be passed over: it is refused, and nothing is written."""
    show(monkeypatch, laid)
    write_table(fixed_table(solve_scene([BLANK])), tmp_path / "table.json")
    cv2.imwrite(str(tmp_path / "H1.jpg"), BLANK.pixels[::4, ::4])
    asked = ["digitise", "hide", str(tmp_path / "H1.jpg"), "--table", str(tmp_path / "table.json")]
    assert main([*asked, "--distance", "0 7 2314", "-o", str(tmp_path / "out")]) == 2
    assert "leave out --distance" in capsys.readouterr().err and not (tmp_path / "out").exists()
