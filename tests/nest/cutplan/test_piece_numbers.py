"""The number of each piece on the material: by pen or punch, where it may stand, and as it reads on the table."""

from dataclasses import replace
from functools import partial

import ezdxf
import numpy as np
import pytest
import shapely
from table_jobs import on_table
from test_hpgl import plotted
from tiny_plans import slant_plan
from vamp_plans import vamp_plan

from nest.cutplan.dxf import write_hide_dxf
from nest.cutplan.hpgl import PUNCH_PEN, hpgl_text
from nest.cutplan.marks import CLEARANCE_MM
from nest.cutplan.order import cut_route
from nest.cutplan.readback import read_cut_dxf
from nest.cutplan.strokefont import number_lines, number_wide
from nest.cutplan.work import hide_work
from nest.errors import InputProblems
from nest.job.cutting_table import Corner, CuttingTable, FileKind, NumberPlace, NumberTool

PEN, PUNCH, BAND, INSIDE = NumberTool.PEN, NumberTool.PUNCH, NumberPlace.BAND, NumberPlace.INSIDE
QUICK = partial(cut_route, effort=0.01)
TABLES = {
    "pen in the band": CuttingTable(number=PEN),
    "pen in the band, mirrored and turned": CuttingTable(number=PEN, grain_down=True, turn_deg=70.0),
    "punch in the band, mirrored": CuttingTable(
        number=PUNCH, grain_down=True, origin=Corner.LOWER_LEFT, files=(FileKind.HPGL,)
    ),
    "pen inside": CuttingTable(number=PEN, number_place=INSIDE, number_mm=12.0),
    "pen inside, mirrored and turned": CuttingTable(number=PEN, number_place=INSIDE, grain_down=True, turn_deg=200.0),
}


@pytest.fixture(scope="module")
def works():
    """A side of vamps on each of these tables; numbers of two and three digits that tell their right way up."""
    plan = vamp_plan(1)
    count = len(plan.layouts[0].placed)
    numbers = tuple([n for n in range(87, 400) if len(set(str(n))) == len(str(n)) and set(str(n)) & set("347")][:count])
    plan = replace(plan, layouts=(replace(plan.layouts[0], numbers=numbers), *plan.layouts[1:]))
    plans = {name: on_table(plan, table) for name, table in TABLES.items()}
    return {name: (one, hide_work(one, one.layouts[0], QUICK)) for name, one in plans.items()}


def numbers_of(work):
    """The lines of the number on each of the placed pieces."""
    found = {}
    for mark in work.marks:
        if mark.use == "number":
            found.setdefault(mark.index, []).append(mark.line)
    return found


def net_of(plan, work, index):
    """The net area of a placed piece, on the table."""
    where = work.placed[index]
    return shapely.polygons(work.frame.apply(where.pose.apply(plan.piece(where.piece_id).net_outline)))


def dots_read(lines, inward):
    """A punched number as a person reads it: rows by the edge, groups from left to right, ones and fives counted."""
    spots = np.array([line.mean(axis=0) for line in lines])
    right = np.array((inward[1], -inward[0]))
    x, y = ((spots - spots.mean(axis=0)) @ np.array((right, inward)).T).T
    rows = y > 0.5 * (y.min() + y.max()) if np.ptp(y) > 1.0 else np.zeros(len(y), bool)
    order = np.argsort(x)
    groups = np.split(order, np.flatnonzero(np.diff(x[order]) > 3.5) + 1)
    counts = [(int((~rows[g]).sum()), int(rows[g].sum())) for g in groups]
    return int("".join(str(0 if (ones, fives) == (0, 2) else ones + 5 * fives) for ones, fives in counts))


@pytest.mark.parametrize("name", TABLES)
def test_every_vamp_has_its_number_where_it_may_stand(works, name):
    """Within its piece and clear of other marks; in the band off the net area, inside wholly in it and off the axis."""
    plan, work = works[name]
    found = numbers_of(work)
    assert len(found) == len(work.placed)
    rings = {path.index: shapely.polygons(path.wanted) for path in work.paths}
    others = {}
    for mark in work.marks:
        if mark.use != "number":
            others.setdefault(mark.index, []).append(shapely.linestrings(mark.line))
    for index, lines in found.items():
        shape, net = shapely.union_all([shapely.linestrings(line) for line in lines]), net_of(plan, work, index)
        assert shapely.covers(rings[index], shape)
        assert min(shape.distance(mark) for mark in others[index]) >= 1.0
        if work.table.number_place is BAND:
            assert shape.distance(net) >= CLEARANCE_MM
        else:
            where = work.placed[index]
            axis = work.frame.apply(where.pose.apply(np.array(((-1e3, 0.0), (1e3, 0.0)))))
            assert shapely.covers(net, shape) and shape.distance(shapely.linestrings(axis)) >= 1.0


@pytest.mark.parametrize("name", [name for name, table in TABLES.items() if table.number is PEN])
def test_digits_are_never_mirrored(works, name):
    """On the table as the operator sees it, the lines are those of the number moved and turned; inside, never upside
    down; in the band with the edge below."""
    plan, work = works[name]
    for index, lines in numbers_of(work).items():
        wanted = number_lines(work.numbers[index], 1.0, PEN)
        a, b = np.vstack(wanted), np.vstack(sorted_like(lines, wanted))
        fit, *_ = np.linalg.lstsq(np.column_stack((a, np.ones(len(a)))), b, rcond=None)
        assert np.abs(np.column_stack((a, np.ones(len(a)))) @ fit - b).max() < 1e-3
        right, up = fit[:2]
        size = np.hypot(*right)
        assert right @ up == pytest.approx(0.0, abs=1e-2) and right[0] * up[1] - right[1] * up[0] > 0.0
        assert 3.0 - 1e-3 <= size <= work.table.number_mm + 1e-3
        if work.table.number_place is INSIDE:
            assert up[1] > -1e-3
        else:
            middle = b.mean(axis=0)
            away = shapely.get_coordinates(shapely.shortest_line(net_of(plan, work, index), shapely.Point(middle)))
            assert (away[0] - away[1]) @ up > 0.0


def sorted_like(lines, wanted):
    """The lines of a number in the order and the sense in which they are written, as the tour may have turned them."""
    left, found = list(lines), []
    for one in wanted:
        k, line = next((k, line) for k, mine in enumerate(left) for line in (mine, mine[::-1]) if alike(line, one))
        del left[k]
        found.append(line)
    return found


def alike(line, other):
    """Whether the stretches of two lines are in one proportion, and turn alike."""
    if len(line) != len(other):
        return False
    steps = [np.diff(one, axis=0) for one in (line, other)]
    steps = [one / np.hypot(*one.T).sum() for one in steps]
    turns = [one[:-1, 0] * one[1:, 1] - one[:-1, 1] * one[1:, 0] for one in steps]
    return np.allclose(*(np.hypot(*one.T) for one in steps), atol=1e-3) and np.allclose(*turns, atol=1e-3)


def test_punched_numbers_are_read_by_counting(works):
    """Dots counted as the sheet says give each number, and HP-GL makes them with a pen of their own."""
    plan, work = works["punch in the band, mirrored"]
    for index, lines in numbers_of(work).items():
        spots = np.vstack(lines)
        way = shapely.get_coordinates(shapely.shortest_line(
            shapely.Point(spots.mean(axis=0)), net_of(plan, work, index)))
        along = (lines[0][1] - lines[0][0]) / np.hypot(*(lines[0][1] - lines[0][0]))
        inward = np.array((-along[1], along[0]))
        inward *= np.sign(inward @ (way[1] - way[0]))
        assert dots_read(lines, inward) == work.numbers[index]
    pens = [pen for pen, _ in plotted(hpgl_text(work))]
    assert pens.count(PUNCH_PEN) == sum(map(len, numbers_of(work).values()))


@pytest.mark.parametrize("tool", [PEN, PUNCH])
def test_no_number_is_wider_than_said_nor_like_another(tool):
    """Numbers to 199: within the width and height stated, and no two drawn alike."""
    seen = {}
    for number in range(1, 200):
        lines = number_lines(number, 6.0, tool)
        points = np.vstack(lines)
        assert points.min() >= 0.0 and points[:, 1].max() <= 6.0 + 1e-9
        assert points[:, 0].max() <= number_wide(len(str(number)), 6.0, tool) + 1e-9
        assert seen.setdefault(tuple(sorted(map(str, map(np.ndarray.tolist, lines)))), number) == number


def test_a_number_that_reads_otherwise_upside_down_has_a_bar():
    """6 and 9, 18 and 81 have one; 7, 69 (which is 69 either way) and 8 have none."""
    def bars(number):
        return sum(len(line) == 2 and line[0, 1] == line[1, 1] == 0.0 for line in number_lines(number, 6.0, PEN))
    assert [bars(n) for n in (6, 9, 18, 81, 120)] == [1] * 5 and [bars(n) for n in (7, 69, 8, 88, 36)] == [0] * 5


def test_a_number_moved_onto_the_net_area_is_found(works, tmp_path):
    """Drawings with numbers read back strictly and say where they stand; one digit moved into the net area does not."""
    plan, work = works["pen in the band"]
    path = tmp_path / "hide.dxf"
    write_hide_dxf(plan, plan.layouts[0], path, work=work)
    assert read_cut_dxf(path, plan).layouts[0].placed
    document = ezdxf.readfile(path)
    texts = [one.dxf.text for one in document.modelspace().query("TEXT")]
    count = len(work.placed)
    assert f"Numbers of the pieces by pen within the trim-off band: {count} of {count}." in texts
    digit = next(one for one in document.modelspace() if one.dxf.layer == "MARK_NUMBER")
    points = np.array(digit.get_points("xy"))
    index = next(m.index for m in work.marks if m.use == "number" and np.allclose(m.line, points, atol=1e-3))
    middle = shapely.get_coordinates(net_of(plan, work, index).centroid)[0]
    digit.set_points(points - points.mean(axis=0) + middle, format="xy")
    document.saveas(path)
    with pytest.raises(InputProblems, match=r"MARK_NUMBER.* a mark clear of the net outline, found one on it"):
        read_cut_dxf(path)


def test_a_band_without_room_is_said():
    """A band of 3 mm holds no number: none is drawn, and the drawing says how many pieces are without."""
    plan = on_table(slant_plan(), CuttingTable(number=PEN))
    narrow = tuple(replace(piece, net_outline=shapely.get_coordinates(
        shapely.Polygon(piece.cut_outline).buffer(-3.0, join_style="mitre").exterior)[:-1]) for piece in plan.pieces)
    plan = replace(plan, pieces=narrow)
    assert not numbers_of(hide_work(plan, plan.layouts[0]))
