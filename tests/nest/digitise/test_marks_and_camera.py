"""Marks and camera: what is solved from corners, held against opencv's own projection and calibration."""

import cv2
import numpy as np
import pytest
from camera_scene import Sheet, camera_over

from nest.digitise import scene as scene_module
from nest.digitise.camera import Lens, View, distorted, undistorted
from nest.digitise.marks import CORNERS, MOST_MARKS, SeenMark, cells_of, edges_of
from nest.digitise.marksheet import write_mark_sheets
from nest.digitise.picture import Photograph
from nest.digitise.refine import Edge, doubt_about
from nest.digitise.solve import Layout, usual
from nest.digitise.start import first_answer
from nest.digitise.vision import PhotographProblem
from nest.errors import PlanProblem

AREA = (0.0, 0.0, 2600.0, 1700.0)


def sheets(rng, count: int = 12) -> list[Sheet]:
    """Sheets scattered over a table."""
    return [Sheet(i, rng.uniform(100, 2500), rng.uniform(100, 1600), rng.uniform(0, 360)) for i in range(count)]


def seen_by(camera, found, rng=None, noise: float = 0.0) -> list[SeenMark]:
    """Corners of the sheets as the camera sees them."""
    rng = rng or np.random.default_rng(0)
    return [
        SeenMark(one.number, camera.see(one.on_table(CORNERS, 160.0)) + noise * rng.standard_normal((4, 2)))
        for one in found
    ]


def test_camera_model_is_that_of_opencv():
    """Points go where cv2.projectPoints sees them, and pixels come back to where they were."""
    rng = np.random.default_rng(3)
    camera = camera_over(rng, 4000, 3000, AREA, 14.0, -0.1, 0.03)
    lens = Lens(camera.focal, camera.cx, camera.cy, camera.k1, camera.k2, 4000, 3000)
    view = View(lens, camera.turn, camera.shift)
    points = rng.uniform(AREA[:2], AREA[2:], (50, 2))
    for height in (0.0, 1.5):
        pixels = camera.see(points, height)
        assert np.abs(view.see(points, height) - pixels).max() < 1e-6
        assert np.abs(view.on_plane(pixels, height) - points).max() < 1e-6
    rays = rng.uniform(-0.6, 0.6, (50, 2))
    assert np.abs(undistorted(lens, distorted(lens, rays)) - rays).max() < 1e-9


def test_camera_agrees_with_opencv_calibration():
    """Three tilted photographs of one table: focal length and distortion as cv2.calibrateCamera finds them."""
    rng = np.random.default_rng(8)
    found = sheets(rng)
    first = camera_over(rng, 4000, 3000, AREA, 14.0, -0.08, 0.02)
    cameras = [first]
    while len(cameras) < 3:
        other = camera_over(rng, 4000, 3000, AREA, 14.0, -0.08, 0.02)
        cameras.append(
            type(first)(
                4000, 3000, first.focal, first.cx, first.cy, -0.08, 0.02, other.turn,
                -other.turn @ (-other.turn.T @ other.shift * first.focal / other.focal),
            )
        )
    seen = [seen_by(camera, found, rng, 0.05) for camera in cameras]
    layout = Layout(tuple(range(12)), 4000, 3000, 160.0, 3, (0.0, -0.66))
    ours = layout.lens(first_answer(layout, seen, usual(layout)).values)
    world = np.concatenate([np.column_stack((one.on_table(CORNERS, 160.0), np.zeros(4))) for one in found])
    pixels = [np.concatenate([mark.corners for mark in marks]).astype(np.float32) for marks in seen]
    flags = cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3 | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_USE_INTRINSIC_GUESS
    start = np.array(((4000.0, 0, 1999.5), (0, 4000.0, 1499.5), (0, 0, 1)))
    _, matrix, bent, *_ = cv2.calibrateCamera(
        [world.astype(np.float32)] * 3, pixels, (4000, 3000), start, np.zeros(5), flags=flags
    )
    assert ours.focal == pytest.approx(matrix[0, 0], rel=0.004)
    assert ours.k1 == pytest.approx(bent.ravel()[0], abs=0.01)
    assert ours.focal == pytest.approx(first.focal, rel=0.004)


@pytest.mark.parametrize("seed", range(4))
def test_one_photograph_gives_the_table(seed):
    """From one view with corners to a twentieth of a pixel the plane comes out within a millimetre."""
    rng = np.random.default_rng(seed)
    found = sheets(rng)
    camera = camera_over(rng, 4000, 3000, AREA, rng.uniform(3, 15), rng.uniform(-0.1, 0.1), 0.01)
    layout = Layout(tuple(range(12)), 4000, 3000, 160.0, 1, (0.0, -0.66))
    answer = first_answer(layout, [seen_by(camera, found, rng, 0.05)], usual(layout))
    points = rng.uniform((300, 300), (2300, 1400), (40, 2))
    got = layout.view(answer.values).on_plane(camera.see(points))
    apart = np.hypot(*(got[:, None] - got[None]).transpose(2, 0, 1))
    true = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    assert np.abs(apart - true).max() < 3.0


def test_codes_are_those_of_the_public_family():
    """Every mark has a black rim; two of the family differ in eleven cells at least, however turned (Olson 2011)."""
    codes = [cells_of(number)[1:-1, 1:-1] for number in range(40)]
    assert not any(cells_of(number)[[0, -1]].any() for number in range(40))
    least = min(
        int((np.rot90(a, turn) != b).sum()) for i, a in enumerate(codes) for b in codes[:i] for turn in range(4)
    )
    assert least >= 11
    middles, normals = edges_of(7)
    assert len(middles) >= 32 and np.allclose(np.hypot(*normals.T), 1.0)


def test_too_few_marks_and_marks_in_a_row_are_refused(monkeypatch):
    """Three marks, or ten in one line, are refused in one sentence each."""
    blank = Photograph("H1.jpg", np.zeros((600, 800, 3), dtype=np.uint8))
    square = np.array(((0.0, 0.0), (80.0, 0.0), (80.0, 80.0), (0.0, 80.0)))
    for places, words in (
        ([(0, 0), (300, 20), (90, 300)], "at least 4 marks"),
        ([(60 * i, 3 * (i % 2)) for i in range(10)], "in a row"),
    ):
        marks = tuple(SeenMark(i, square + place) for i, place in enumerate(places))
        monkeypatch.setattr(scene_module, "find_marks", lambda _, marks=marks: marks)
        with pytest.raises(PhotographProblem, match=words) as caught:
            scene_module.solve_scene([blank])
        assert "\n" not in str(caught.value)


def test_mark_sheets_are_true_to_size(tmp_path, on_screen):
    """The PDF has A4 pages, one a mark, and a viewer's raster of it is read back as that mark, 160 mm wide."""
    import shutil
    import subprocess

    assert on_screen("digitise", "marks", "-o", tmp_path / "marks.pdf", "--count", 2, "--first", 5)[0] == 0
    if shutil.which("pdftoppm") is None:
        pytest.skip("poppler is not installed")
    subprocess.run(["pdftoppm", "-r", "127", "-png", "marks.pdf", "page"], cwd=tmp_path, check=True)
    page = cv2.imread(str(sorted(tmp_path.glob("page*.png"))[1]))
    assert abs(page.shape[1] / 127 * 25.4 - 210.0) < 0.5 and abs(page.shape[0] / 127 * 25.4 - 297.0) < 0.5
    found = scene_module.find_marks(Photograph("page", page))
    assert [one.number for one in found] == [6]
    assert found[0].side_pixels / 127 * 25.4 == pytest.approx(160.0, abs=0.4)
    with pytest.raises(PlanProblem):
        write_mark_sheets(tmp_path / "none.pdf", count=3, first=586)
    assert not (tmp_path / "none.pdf").exists()
    write_mark_sheets(tmp_path / "last.pdf", count=1, first=MOST_MARKS - 1)
    assert (tmp_path / "last.pdf").read_bytes().count(b"/Type /Page ") == 1


@pytest.mark.parametrize("ways", [1, 2, 5, 30])
def test_doubt_of_a_circle_is_that_of_its_radius(ways):
    """A radius known to 1 mm, by one cause or many: 95 % within 1.96 mm (normal distribution), by 5 % of that."""
    turn = np.linspace(0.0, 2.0 * np.pi, 2000, endpoint=False)
    circle = 1000.0 * np.column_stack((np.cos(turn), np.sin(turn)))
    moves = np.tile(circle * 1e-3 / np.sqrt(ways), (ways, 1, 1))
    found = doubt_about([Edge(circle, circle, 0.0, 1.0, (), ())], moves, 0.0, np.zeros(len(circle)))
    assert found.within_mm == pytest.approx(1.96, rel=0.05)
