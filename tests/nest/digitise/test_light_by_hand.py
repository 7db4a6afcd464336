"""What light in a photograph is taken for, by hand: small arrays whose every value is known, and exact limits."""

from types import SimpleNamespace

import cv2
import numpy as np
import pytest
import shapely

from nest.digitise.camera import Lens, View, turn_of
from nest.digitise.card import find_card
from nest.digitise.checkpicture import write_picture
from nest.digitise.curvefit import SPACING_MM, even
from nest.digitise.drawn import without_holes
from nest.digitise.kinds import DARKEST, changed_kinds, plain_kinds
from nest.digitise.marks import cells_of, edges_of, measure_edges
from nest.digitise.meanings import Meaning
from nest.digitise.raster import Grid, straightened
from nest.digitise.refine import _table_share, without_rigid
from nest.digitise.scene import frame_of
from nest.digitise.strokes import _closed, _kinds, _white
from nest.digitise.vision import PhotographProblem

ABOVE = View(Lens(1000.0, 300.0, 300.0, 0.0, 0.0, 600, 600), np.diag((1.0, -1.0, -1.0)), np.array((0.0, 0.0, 1000.0)))
"""A camera 1 m above the middle of the table: a millimetre is a pixel, y upwards."""


def lit(logs) -> np.ndarray:
    """Linear 16-bit light whose logarithms are these: by them a pixel is judged to be leather or table."""
    return 65535.0 * (np.exp(np.asarray(logs, dtype=np.float64)) - DARKEST)


def patched(away: float, tall: int, wide: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A half-lit table of 60 × 90 pixels: with a patch that differs by `away`, empty, and where it is bare."""
    empty = np.full((60, 90, 3), np.log(0.5))
    changed = empty.copy()
    changed[30 : 30 + tall, 30 : 30 + wide] += away
    bare = np.zeros((60, 90), dtype=bool)
    bare[:15] = bare[-5:] = bare[:, :9] = bare[:, -9:] = True
    return lit(changed), lit(empty), bare


@pytest.mark.parametrize(("deviations", "found"), [(5.9, False), (6.1, True), (-5.9, False), (-6.1, True)])
def test_leather_differs_from_its_table_by_six_deviations(deviations, found):
    """A table without noise counts as having 0.02 of it in each colour. Just beyond six times that is leather."""
    light, empty, bare = patched(deviations * 0.02 / np.sqrt(3.0), 20, 20)
    kinds = changed_kinds(light, empty, np.ones_like(bare), bare)
    assert kinds.leather.sum() == (18 * 18 if found else 0)  # its rim is mixed with the table about it
    assert kinds.separation == pytest.approx(abs(deviations) if found else 0.0, abs=1e-3)


def test_how_far_leather_differs_is_told_in_deviations_of_the_table():
    """Boards of 30 × 30 pixels differ by 0.05, normally distributed, and the leather by 1 in each of the three colours.

    The table's own distance is then that of three normal numbers, whose median is the root of 2.366 (chi-squared).
    Boards blend where they meet, so that they seem to differ a little less.
    """
    noise = np.kron(np.random.default_rng(4).normal(0.0, 0.05, (40, 40, 3)), np.ones((30, 30, 1)))
    patch = np.zeros(noise.shape[:2], dtype=bool)
    patch[450:750, 450:750] = True
    bare = np.zeros_like(patch)
    bare[:400] = bare[-400:] = True
    kinds = changed_kinds(lit(np.log(0.3) + noise + patch[..., None]), lit(np.full(noise.shape, np.log(0.3))),
                          np.ones_like(patch), bare)
    assert kinds.separation == pytest.approx(np.sqrt(3.0) / 0.05 - np.sqrt(2.366), rel=0.1)


@pytest.mark.parametrize(("tall", "wide", "found"), [(5, 5, 0), (3, 8, 50)])
def test_fifty_pixels_are_leather(tall, wide, found):
    """A dark patch darkens the pixels next to it too: together 49 pixels are no leather, 50 are."""
    light, empty, bare = patched(-2.0, tall, wide)
    assert changed_kinds(light, empty, np.ones_like(bare), bare).leather.sum() == found


def test_only_ground_is_leather():
    """What differs from the table outside the ground that is looked at is no leather."""
    light, empty, bare = patched(-1.0, 20, 20)
    ground = np.ones_like(bare)
    ground[:, 40:] = False
    kinds = changed_kinds(light, empty, ground, bare)
    assert kinds.leather.any() and not (kinds.leather & ~ground).any()


def test_a_table_of_boards_is_known_by_its_own_picture():
    """The boards of the empty table are subtracted, and so is the slope of light that a moved lamp leaves."""
    light, empty, bare = patched(-0.5, 20, 20)
    boards = np.repeat(np.random.default_rng(2).uniform(-0.6, 0.6, (1, 18, 3)), 5, axis=1)
    y, x = np.mgrid[:60, :90]
    moved = 0.004 * x - 0.003 * y + 0.2
    lamp = np.log(light / 65535.0 + DARKEST) + boards + moved[..., None]
    kinds = changed_kinds(lit(lamp), lit(np.log(empty / 65535.0 + DARKEST) + boards), np.ones_like(bare), bare)
    assert kinds.leather[31:49, 31:49].all() and not kinds.leather[:29].any() and not kinds.leather[:, 51:].any()
    assert kinds.colour[[10, 40], [10, 40]] == pytest.approx(np.array([[0.0] * 3, [-0.5] * 3]), abs=1e-3)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("uneven", [0.0, 0.4])
def test_leather_on_a_plain_table_is_what_is_nearer_to_it(sign, uneven):
    """Light and dark leather: all of the patch but its four corners, which are four ninths of it and the rest table;
    under light that falls off to all sides too, and where chalk lies on the bare table.
    """
    light, _, bare = patched(sign * 0.5, 21, 21)
    y, x = np.mgrid[:60, :90] / 45.0
    logs = np.log(light / 65535.0 + DARKEST) - uneven * (x + 0.5 * y - 0.4 * x * x + 0.3 * x * y)[..., None]
    logs[3:9, 3:9] += 0.5 * uneven
    kinds = plain_kinds(lit(logs), np.ones_like(bare), bare)
    wanted = np.zeros_like(bare)
    wanted[30:51, 30:51] = True
    wanted[[30, 30, 50, 50], [30, 50, 30, 50]] = False
    kinds.leather[:12, :12] = False
    assert (kinds.leather == wanted).all()
    assert kinds.off_table(bare)[40, 40] == pytest.approx(0.5 * np.sqrt(3.0), abs=0.03)
    assert kinds.off_leather(kinds.leather)[40, 40] == pytest.approx(0.0, abs=2e-3)


def test_a_motley_table_is_no_leather():
    """The table varies in blue by 0.6 but not in green: a patch off by 0.25 in green is leather, blue ones are not."""
    rng = np.random.default_rng(3)
    blue = np.kron(rng.choice((-0.3, -0.1, 0.1, 0.3), (31, 41)), np.ones((3, 3)))[1:91, 1:121]  # seen at each third
    logs = np.full((90, 120, 3), np.log(0.3))
    logs[..., 0] += blue
    logs[45:66, 60:81, 1] += 0.25
    bare = np.zeros((90, 120), dtype=bool)
    bare[:40] = True
    leather = plain_kinds(lit(logs), np.ones_like(bare), bare).leather
    assert leather[47:64, 62:79].mean() > 0.99
    leather[44:67, 59:82] = False
    assert leather.mean() < 0.002


@pytest.mark.parametrize(("odd", "share"), [(12, 2.5), (13, 1.25)])
def test_the_usual_table_is_that_of_twenty_five_neighbours(odd, share):
    """Leather at 1000, table at 3000: light of 5000 at twelve neighbours is an exception, at thirteen it is usual."""
    colours = np.full((101, 41, 3), 1000.0)
    colours[:, 20:] = 3000.0
    colours[50 - odd // 2 : 50 - odd // 2 + odd, 20:] = 5000.0
    found = _table_share(colours, None)
    assert found[50, -1] == pytest.approx(share) and found[10, -1] == pytest.approx(1.5)
    bare = np.full((101, 41, 3), 1500.0)  # half as light, when it was empty
    assert _table_share(np.where(colours > 3000.0, 3000.0, colours), bare)[50, [0, -1]] == pytest.approx((0.0, 1.0))


def test_a_shift_and_a_small_turn_are_no_error_of_an_outline():
    """A square that is only moved has no error; one that grows has all of its growth as error."""
    base = np.array([(10.0, 20.0), (110.0, 20.0), (110.0, 120.0), (10.0, 120.0)])
    arms = base - base.mean(axis=0)
    turned = 1e-3 * np.column_stack((-arms[:, 1], arms[:, 0]))
    grown = 0.01 * arms
    rest = without_rigid(np.stack((turned + np.array((3.0, -2.0)), grown + turned + np.array((1.0, 5.0)))), base)
    assert rest[0] == pytest.approx(0.0, abs=1e-12) and rest[1] == pytest.approx(grown)


@pytest.mark.parametrize(("grey", "fewer"), [(0.52, 0), (0.48, 8)])
def test_edges_of_a_mark_with_half_the_usual_contrast_are_measured(grey, fewer):
    """The paper is grey along its left side: its eight edges count if their contrast is at least half the others'."""
    cells = np.pad(cells_of(3), 2, constant_values=True)
    light = np.where(np.kron(cells, np.ones((16, 16))) > 0, 50_000.0, 10_000.0).astype(np.float32)
    light[:, :32] = 10_000.0 + grey * 40_000.0

    def see(places):
        return np.column_stack((places[:, 0], -places[:, 1])) * 128.0 + 95.5

    found = measure_edges(light, 3, see)
    middles, normals = edges_of(3)
    assert len(found.local) == len(middles) - fewer
    kept = [i for i, one in enumerate(middles.tolist()) if one in found.local.tolist()]
    assert np.abs(found.pixels - see(middles)[kept]).max() < 0.3
    assert found.normals == pytest.approx(normals[kept] * (1.0, -1.0), abs=1e-9)


@pytest.mark.parametrize("sheets", [4, 6, 7])
def test_light_of_the_sheets_is_a_plane_or_a_bowl(sheets):
    """Up to six sheets give a slope of light; seven also give how it falls off to all sides."""
    places = [(-200.0, -200.0), (200.0, -200.0), (200.0, 200.0), (-200.0, 200.0), (-200.0, 0.0), (200.0, 0.0),
              (0.0, 0.0)][:sheets]
    corners = [np.array([(-8, 8), (8, 8), (8, -8), (-8, -8)]) + place for place in places]
    x, y = np.meshgrid(np.arange(600.0) - 300.0, 300.0 - np.arange(600.0))
    fall = 4e-6 * (x * x + y * y) if sheets == 7 else 1e-3 * x
    white = _white((32_000.0 * np.exp(-fall)).astype(np.float32), ABOVE, corners, Grid(-150.0, 150.0, 10.0, 31, 31))
    wanted = 32_000.0 / 65_535.0 * np.exp(-(fall[150:451:10, 150:451:10]))
    assert np.abs(white[..., 0] / wanted - 1.0).max() < 0.02


@pytest.mark.parametrize("step", [1.0, 2.0])
def test_a_picture_is_straightened_pixel_by_pixel(step):
    """A slope of light stays what it is; beyond the middles of the outermost pixels nothing is shown; two pixels of the
    picture that lie in one of the grid are averaged.
    """
    count = round(601 / step)
    grid = Grid(-300.5, 300.5, step, count, count)
    x = -0.5 + step * np.arange(count)
    slope = np.tile((100.0 * np.arange(600)).astype(np.float32)[None, :, None], (600, 1, 3))
    picture, shown = straightened(slope, ABOVE, grid)
    inside = (x >= 0.0) & (x <= 599.0)
    assert (shown == inside[:, None] & inside).all()
    within = (x > 1.0) & (x < 598.0)
    assert np.abs(picture[..., 0] - 100.0 * x)[:, within].max() < 5.0
    stripes = np.where(slope % 200.0 > 0.0, 1000.0, 0.0).astype(np.float32)
    wide, _ = straightened(stripes, ABOVE, Grid(-300.0, 300.0, step, 300, 300))
    assert wide[5, 10:14, 0] == pytest.approx([500.0] * 4 if step > 1.0 else [0.0, 1000.0] * 2, abs=2.0)


@pytest.mark.parametrize("turns", range(4))
def test_a_table_lies_as_its_photograph_is_shown(turns):
    """The x axis points to the right in the picture, and all sheets lie within tens of mm of the origin."""
    tilt = turn_of(np.array((0.15, -0.1, 0.05))) @ ABOVE.turn
    view = View(Lens(700.0, 300.0, 200.0, 0.0, 0.0, 600, 400), tilt, np.array((20.0, -10.0, 1000.0)))
    corners = {0: (-253.0, 108.0), 1: (344.0, -127.0)}
    layout = SimpleNamespace(width=600, height=400, numbers=(5, 9), view=lambda values: view, on_table=(
        lambda values, which, local: local * 160.0 + corners[int(which[0])]))
    frame = frame_of(SimpleNamespace(layout=layout, values=None), turns)
    right = np.array(((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))[turns]) * 100.0
    start, end = frame.apply(view.on_plane(np.array(((300.0, 200.0), (300.0 + right[0], 200.0 + right[1])))))
    assert end[1] == pytest.approx(start[1], abs=1e-9) and end[0] > start[0]
    sheet = 112.0 * np.array(((-1, -1), (1, -1), (1, 1), (-1, 1)))
    low = frame.apply(np.concatenate([sheet + at for at in corners.values()])).min(axis=0)
    assert ((low >= 0.0) & (low < 10.0)).all()
    assert frame_of(SimpleNamespace(layout=layout, values=None), turns + 4) == frame


@pytest.mark.parametrize(("share", "seen"), [(0.34, False), (0.36, True), (1.0, True)])
def test_a_stroke_covers_a_third_of_its_pixel(share, seen):
    """A pixel whose colour lies 0.35 of the way from leather to chalk counts as chalk."""
    meaning = Meaning("white", (1.0, 1.0, 1.0), "scratch 1", False)
    own = np.full((20, 20, 3), 0.4, dtype=np.float32)
    away = np.zeros_like(own)
    away[5:15, 5:15] = share * 0.6
    kinds = _kinds(away, own, np.ones((20, 20), dtype=bool), [meaning], "H1")
    assert bool(kinds[10, 10] == 0) is seen and kinds[1, 1] == -1
    on_hide = np.ones((20, 20), dtype=bool)
    on_hide[:, 10:] = False
    beside = _kinds(away, own, on_hide, [meaning], "H1")
    assert (beside[:, 10:] == -1).all() and bool(beside[10, 8] == 0) is seen


def test_an_open_stroke_in_two_parts_is_one():
    """A line with a gap of 3 mm is one stroke that closes nothing; with one of 8 mm it is two."""
    meaning = Meaning("blue", (0.1, 0.1, 0.9), "scar severity 1", False)
    for gap, count in ((3, 1), (8, 2)):
        drawn = np.zeros((60, 120), dtype=bool)
        drawn[28:32, 10:50] = drawn[28:32, 50 + gap : 100] = True
        found, left = _closed(drawn, Grid(0.0, 59.0, 1.0, 120, 60), meaning)
        assert not found and len(left) == count and all(one.slender for one in left)
        assert min(one.direction_deg % 180.0 for one in left) == pytest.approx(0.0, abs=1e-6)
        assert count == 2 or left[0].length_mm == pytest.approx(89.0)


@pytest.mark.parametrize(("wide", "gap", "closed_over"), [
    (4, 0, 0.0), (4, 6, 7.0), (4, 12, 13.0), (4, 19, 20.0), (10, 19, 20.0), (4, 24, None), (12, 24, None),
])
def test_a_gap_of_twenty_millimetres_is_closed(wide, gap, closed_over):
    """A ring of 100 mm, drawn narrow or broad, is closed if its gap is at most 20 mm, and keeps all of its ground."""
    y, x = np.mgrid[:160, :160] - 79.5
    away = np.hypot(x, y)
    drawn = (np.abs(away - 50.0) <= 0.5 * wide) & ~((x > 0) & (np.abs(y) < 0.5 * gap))
    meaning = Meaning("blue", (0.1, 0.1, 0.9), "scar severity 1", False)
    found, left = _closed(drawn, Grid(-79.5, 79.5, 1.0, 160, 160), meaning)
    if closed_over is None:
        assert not found and len(left) == 1
        return
    (one,) = found
    assert one.gap_mm == closed_over and not left
    assert one.outline.area == pytest.approx(np.pi * 50.0**2, rel=0.03)
    off = np.abs(np.hypot(*shapely.get_coordinates(one.outline).T) - 50.0)
    assert np.percentile(off, 80) < 1.0 and off.max() <= 6.0


def test_a_stroke_that_closes_keeps_its_corners_and_sheds_its_tail():
    """The ground of a square of 60 mm with a tail of 30 mm is the square alone, up to its corners."""
    drawn = np.zeros((120, 120), dtype=bool)
    drawn[28:92, 28:92] = True
    drawn[32:88, 32:88] = False
    drawn[58:62, 88:118] = True
    drawn[28:32, 50:60] = False
    (one,), _ = _closed(drawn, Grid(0.0, 119.0, 1.0, 120, 120), Meaning("blue", (0.1, 0.1, 0.9), "scar", False))
    square = shapely.box(29.5, 29.5, 89.5, 89.5)
    assert shapely.area(shapely.symmetric_difference(one.outline, square)) < 130.0 and one.gap_mm == 13.0
    assert shapely.hausdorff_distance(one.outline.exterior, square.exterior) < 4.5


@pytest.mark.parametrize(("rows", "columns", "words"), [
    (slice(40, 160), slice(0, 150), "leaves the picture"), (slice(40, 160), slice(150, 300), "leaves the picture"),
    (slice(0, 120), slice(60, 200), "leaves the picture"), (slice(80, 200), slice(60, 200), "leaves the picture"),
    (slice(40, 160), slice(60, 200), "shows no axis"), (slice(40, 60), slice(60, 100), "hardly stands out"),
    (slice(40, 44), slice(60, 64), "no card is seen"),
])
def test_a_card_lies_wholly_in_its_picture(rows, columns, words):
    """White on black, half a millimetre a pixel: a card that crosses a side is cut off; 200 mm² are too few."""
    light = np.full((200, 300, 3), 600, dtype=np.uint16)
    light[rows, columns] = 60_000
    with pytest.raises(PhotographProblem, match=words):
        find_card(light, Grid(0.25, 99.75, 0.5, 300, 200), None, "card.png")


def test_holes_of_a_card_are_its_axis():
    """Of three holes the two furthest apart, by the light through them, to a twentieth of a millimetre; small specks
    and slots are none."""
    light = np.full((240, 400, 3), 600, dtype=np.uint16)
    light[20:220, 20:380] = 60_000
    for x, y, radius in ((60, 120, 6), (200, 120, 6), (340, 130, 6), (120, 60, 1)):
        cv2.circle(light, (x, y), radius, (600, 600, 600), -1)
    light[180:184, 100:130] = 600
    found = find_card(light, Grid(0.25, 119.75, 0.5, 400, 240), None, "card.png")
    assert found.axis_by == "the outermost of 3 holes"
    assert sorted(found.axis.tolist()) == [
        pytest.approx([30.25, 59.75], abs=0.05), pytest.approx([170.25, 54.75], abs=0.05)]
    low, high = found.ring.min(axis=0), found.ring.max(axis=0)
    assert low == pytest.approx((10.0, 10.0), abs=0.1) and high == pytest.approx((190.0, 110.0), abs=0.1)


def test_a_hole_parts_ground_without_losing_any():
    """A square with two holes is cut upright through each: no ground is lost or doubled, and no hole is left."""
    holes = [shapely.box(50, 50, 70, 70), shapely.box(120, 100, 160, 140)]
    ground = shapely.difference(shapely.box(0, 0, 200, 200), shapely.union_all(holes))
    parts = without_holes(ground)
    assert sum(part.area for part in parts) == pytest.approx(ground.area) and not any(part.interiors for part in parts)
    assert shapely.equals(shapely.union_all(parts), ground) and {60.0, 140.0} <= {part.bounds[0] for part in parts}


def test_a_small_ring_has_sixteen_points():
    """At four points a millimetre a ring of 3 mm would have twelve, so it gets sixteen; one of 8 mm has 32."""
    assert len(even(np.array([(0, 0), (1, 0), (1, 0.5), (0, 0.5)]))) == 16
    ring = even(np.array([(0, 0), (2, 0), (2, 2), (0, 2)]))
    assert len(ring) == round(8.0 / SPACING_MM) and np.hypot(*(ring[1] - ring[0])) == pytest.approx(SPACING_MM)


def test_pictures_are_written_as_their_suffix_says(tmp_path, capfd):
    """PNG keeps every pixel and says nothing; JPEG has the quality that keeps a check picture small."""
    pixels = np.random.default_rng(1).integers(0, 255, (40, 60, 3), dtype=np.uint8)
    for name in ("a.png", "a.JPG"):
        write_picture(pixels, tmp_path / name)
    assert (cv2.imread(str(tmp_path / "a.png")) == pixels).all() and capfd.readouterr() == ("", "")
    small = cv2.imencode(".jpg", pixels, (cv2.IMWRITE_JPEG_QUALITY, 85))[1].tobytes()
    assert (tmp_path / "a.JPG").read_bytes() == small
