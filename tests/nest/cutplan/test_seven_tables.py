"""Seven invented tables: whatever a table asks for, readers that are not ours see in its files what is to be cut."""

import gzip
from dataclasses import replace
from functools import partial
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf.path import make_path
from table_jobs import on_table
from test_second_reader import LIBRECAD, PAGE, STEP_MM, printed

from nest.cutplan.drawing import Drawing, driven_entities
from nest.cutplan.dxf import UNIT_CODES, VERSIONS, write_dxf, write_hide_dxf, write_lay_dxf, write_lean_dxf
from nest.cutplan.knife import needs_way
from nest.cutplan.layers import layers_of
from nest.cutplan.order import cut_route
from nest.cutplan.readback import read_cut_dxf
from nest.cutplan.work import hide_work, lay_work
from nest.job.tablefile import read_table_file
from nest.planfile import plan_from_text
from nest.units import MM_PER_LENGTH_UNIT

FOLDER = Path(__file__).parent / "tables"
TABLES = sorted(path.stem for path in FOLDER.glob("*.toml"))
DEMO = Path(__file__).parents[3] / "notebooks/saved_plan.json.gz"
QUICK = partial(cut_route, effort=0.01)


@pytest.fixture(scope="module")
def demo():
    """The demo job as it was planned for the notebooks."""
    return with_room(plan_from_text(gzip.decompress(DEMO.read_bytes()).decode()))


def with_room(plan):
    """The plan with a millimetre more around its lays: it was made for a table that asks for none at their edges."""
    lays = tuple(
        replace(lay, length_mm=lay.length_mm + 2.0, placed=tuple(
            replace(one, pose=replace(one.pose, x=one.pose.x + 1.0, y=one.pose.y + 1.0)) for one in lay.placed))
        for lay in plan.lays
    )
    rolls = tuple(replace(roll, selvedge_mm=roll.selvedge_mm - 1.0) for roll in plan.rolls)
    return replace(plan, lays=lays, rolls=rolls)


def parts(plan, only=False):
    """Every hide and lay with what writes it and the work on it; `only` the smallest hide."""
    cut, spread = ([one for one in some if one.placed] for some in (plan.layouts_to_cut, plan.lays_to_cut))
    if only:
        cut, spread = [min(cut, key=lambda one: len(one.placed))], []
    for layout in cut:
        yield write_hide_dxf, layout, hide_work(plan, layout, QUICK)
    for lay in spread:
        yield write_lay_dxf, lay, lay_work(plan, lay, QUICK)


def gdal(path):
    """Every line that GDAL reads, by layer, in the unit of the file."""
    _, _, shapes, (layers,) = pyogrio.raw.read(path, layer="entities", columns=["Layer"])
    found = {}
    for shape, layer in zip(shapely.from_wkb(shapes), layers, strict=True):
        found.setdefault(layer, []).append(shape)
    return found


def flat(path, unit_mm):
    """Every line that ezdxf reads, by layer, its arcs as chords, closed ones with their first point again."""
    document = ezdxf.readfile(path)
    assert not document.audit().errors
    found = {}
    for one in document.modelspace().query("LINE LWPOLYLINE POLYLINE"):
        points = [(p.x, p.y) for p in make_path(one).flattening(0.001 / unit_mm)]
        found.setdefault(one.dxf.layer, []).append(shapely.linestrings(points))
    return document, found


def as_drawn(lines, unit_mm):
    """Length of each line in mm, sorted; and the box of all."""
    lines = np.array(lines, dtype=object)
    rings = shapely.get_type_id(lines) == shapely.GeometryType.POLYGON
    lines[rings] = shapely.boundary(lines[rings])
    return np.sort(shapely.length(lines)) * unit_mm, np.array(shapely.total_bounds(lines)) * unit_mm


def readers_agree(plan, write, part, work, folder, version):
    """Full and lean drawing as GDAL and ezdxf read them, against the work."""
    table = plan.settings.table
    names, unit_mm = layers_of(table), MM_PER_LENGTH_UNIT[table.unit]
    full, lean = folder / "full.dxf", folder / "lean.dxf"
    write(plan, part, full, version, work=work)
    write_lean_dxf(work, lean, version)
    wanted = {use: [one for one in Drawing(tuple(driven_entities(work))).outlines(use)]
              for use in ("cut", "axis", "size", "number", "lead")}
    closed = [shapely.linearrings(path.ring) for path in work.paths]
    ways = [shapely.LinearRing(one.points) if one.closed else shapely.LineString(one.points) for one in wanted["cut"]]
    document, by_ezdxf = flat(full, unit_mm)
    if version != "R12":
        assert document.header["$INSUNITS"] == UNIT_CODES[table.unit]
    for path, cuts in ((full, closed), (lean, ways)):
        for read in (gdal(path), by_ezdxf if path == full else flat(path, unit_mm)[1]):
            lengths, box = as_drawn(read[names.cut.name], unit_mm)
            ours, there = as_drawn(cuts, 1.0)
            # Of arcs each reader makes chords of its own: GDAL's turn by 4 degrees.
            assert lengths == pytest.approx(ours, rel=3e-4 if table.arcs else 1e-6, abs=2e-3)
            assert box == pytest.approx(there, abs=0.06 if table.arcs else 2e-3)
            for use in ("axis", "size", "number"):
                marks = [shapely.LineString(one.points) for one in wanted[use]]
                assert len(read.get(getattr(names, use).name, [])) == len(marks)
                if marks:
                    assert as_drawn(read[getattr(names, use).name], unit_mm)[0] == pytest.approx(
                        as_drawn(marks, 1.0)[0], abs=2e-3
                    )
    assert needs_way(table) == (table.knife_offset_mm > 0.0 or table.lift_at_corners)


def librecad_agrees(work, folder, version):
    """The cut outlines as LibreCAD prints them, edge by edge: each closed, of its share of the whole area."""
    table = work.table
    cuts = tuple(one for one in Drawing(tuple(driven_entities(work))).outlines("cut") if one.closed)
    if not cuts:
        return
    write_dxf(Drawing(cuts), folder / "cut.dxf", version, layers_of(table), table.unit)
    wanted = np.array([shapely.Polygon(one.points) for one in cuts])
    x0, y0, x1, y1 = shapely.total_bounds(wanted) / MM_PER_LENGTH_UNIT[table.unit]
    strokes = printed(folder / "cut.dxf", folder, min(PAGE[0] / (x1 - x0), PAGE[1] / (y1 - y0)))
    edges = [len(one.points if one.arcs is None else one.arcs) for one in cuts]
    assert len(strokes) == sum(edges)
    rings = [hung_together(some) for some in np.split(np.array(strokes, dtype=object), np.cumsum(edges)[:-1])]
    ours, theirs = shapely.area(wanted), np.array([shapely.Polygon(ring).area for ring in rings])
    assert theirs / theirs.sum() == pytest.approx(ours / ours.sum(), rel=5e-3)


def hung_together(strokes):
    """A ring of strokes, each from where the one before ended; LibreCAD draws some arcs from their other end."""
    first, *lines = [shapely.get_coordinates(stroke) for stroke in strokes]
    ring = [first if near(first[-1], lines[0]) else first[::-1]]
    for line in lines:
        ring.append(line if near(ring[-1][-1], line[:1]) else line[::-1])
        assert near(ring[-2][-1], ring[-1][:1])
    assert near(ring[-1][-1], ring[0][:1])
    return np.vstack(ring)


def near(end, line):
    """Whether a point is the first or the last of a line, or the dot beside it."""
    return bool((np.abs(line[[0, -1]] - end).max(axis=1) < 1.5 * STEP_MM).any())


@pytest.mark.parametrize("name", ["old-inches", "trailing-knife"])
def test_one_reader_sees_what_two_tables_get(demo, tmp_path, name):
    """The smallest hide of the demo: GDAL and ezdxf read what is to be cut and marked."""
    plan = on_table(demo, read_table_file(FOLDER / f"{name}.toml"))
    for write, part, work in parts(plan, only=True):
        readers_agree(plan, write, part, work, tmp_path, "R12")


def test_there_are_seven():
    """Seven tables, no two alike."""
    assert len({read_table_file(FOLDER / f"{name}.toml") for name in TABLES}) == len(TABLES) == 7


@pytest.mark.slow
@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", TABLES)
def test_readers_see_every_hide_of_the_demo_on_every_table(demo, tmp_path, name, version):
    """GDAL, ezdxf, verify and, where it is installed, LibreCAD: seven tables, all hides and lays, both versions."""
    plan = on_table(demo, read_table_file(FOLDER / f"{name}.toml"))
    for write, part, work in parts(plan):
        readers_agree(plan, write, part, work, tmp_path, version)
        read_cut_dxf(tmp_path / "full.dxf", plan)
        if LIBRECAD is not None:
            librecad_agrees(work, tmp_path, version)
