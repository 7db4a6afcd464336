"""Cut lines made of arcs: within their tolerance, never inside, read back strictly, seen alike by readers not ours."""

import re
from functools import partial

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from table_jobs import SMOOTH, on_table
from vamp_plans import vamp_plan

from geometry.arcs import CORNER_DEG
from nest.cutplan.dxf import VERSIONS, write_hide_dxf
from nest.cutplan.hpgl import hpgl_text
from nest.cutplan.order import cut_route
from nest.cutplan.readback import read_cut_dxf
from nest.cutplan.work import hide_work
from nest.errors import InputProblems
from nest.job.cutting_table import CuttingTable
from nest.units import MM_PER_LENGTH_UNIT
from nest.verify import verify

QUICK = partial(cut_route, effort=0.01)
MM = {4: 1.0, 1: 25.4, 0: 1.0}


@pytest.fixture(scope="module")
def works():
    """Plan and work on the first hide, by table."""
    found = {}
    for name, table in SMOOTH.items():
        plan = on_table(vamp_plan(1), table)
        found[name] = plan, hide_work(plan, plan.layouts[0], QUICK)
    return found


def kinks(ring):
    """How much a ring turns at each vertex, degrees."""
    ahead = np.roll(ring, -1, axis=0) - ring
    behind = np.roll(ahead, 1, axis=0)
    return np.degrees(np.abs(np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0],
                                        (behind * ahead).sum(axis=1))))


@pytest.mark.parametrize("name", SMOOTH)
def test_smooth_cuts_lie_outside_and_near(works, name):
    """No cut line lies within the outline wanted, nor further out than curve_mm; curves turn by 5 degrees at most."""
    plan, work = works[name]
    assert all(path.arcs is not None for path in work.paths)
    for path in work.paths:
        way, wanted = shapely.Polygon(path.ring), shapely.Polygon(path.wanted)
        assert way.is_valid and shapely.covers(way, wanted.buffer(-0.002))
        assert shapely.covers(wanted.buffer(plan.settings.table.curve_mm + 0.002), way)
        turns, before = kinks(path.ring), kinks(path.wanted)
        assert (turns > CORNER_DEG).sum() <= (before > CORNER_DEG).sum()
        assert not ((turns > 5.1) & (turns <= CORNER_DEG)).any()


@pytest.mark.parametrize(("name", "version"), [
    pytest.param(name, version, marks=pytest.mark.slow if (at + of) % 2 else (), id=f"{name}-{version}")
    for at, name in enumerate(SMOOTH) for of, version in enumerate(VERSIONS)
])
def test_smooth_drawings_read_back_and_are_held_to_their_plan(tmp_path, works, name, version):
    """Strictly, with check sums, by the plan; one bulge changed, or an arc where none belongs, is found."""
    plan, work = works[name]
    path = tmp_path / "hide.dxf"
    write_hide_dxf(plan, plan.layouts[0], path, version, work=work)
    read = read_cut_dxf(path, plan)
    assert len(read.layouts[0].placed) == len(plan.layouts[0].placed)
    assert {finding.rule for finding in verify(read).wrong} <= {finding.rule for finding in verify(plan).wrong}
    if not plan.settings.table.arcs:
        return
    document = ezdxf.readfile(path)
    cut = next(one for one in document.modelspace() if one.dxf.layer == "CUT")
    if version == "R2000":
        rows = [list(row) for row in cut.get_points("xyb")]
        k = max(range(len(rows)), key=lambda i: abs(rows[i][2]))
        rows[k][2] += 0.02
        cut.set_points(rows, format="xyb")
    else:
        vertex = max(cut.vertices, key=lambda one: abs(one.dxf.get("bulge", 0.0)))
        vertex.dxf.bulge = vertex.dxf.bulge + 0.02
    document.saveas(path)
    with pytest.raises(InputProblems):
        read_cut_dxf(path, plan)
    with pytest.raises(InputProblems):
        read_cut_dxf(path)


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", SMOOTH)
def test_readers_that_are_not_ours_see_the_same(tmp_path, works, name, version):
    """GDAL makes chords of bulges by itself, ezdxf flattens them: the areas are those of our own chords."""
    plan, work = works[name]
    write_hide_dxf(plan, plan.layouts[0], tmp_path / "hide.dxf", version, work=work)
    mm = MM_PER_LENGTH_UNIT[plan.settings.table.unit]
    ours = sorted(shapely.Polygon(path.ring).area for path in work.paths)
    frame = pyogrio.raw.read(tmp_path / "hide.dxf", layer="entities", columns=["Layer"])
    shapes = [shapely.from_wkb(one) for one, layer in zip(frame[2], frame[3][0], strict=True) if layer == "CUT"]
    gdal = sorted(shapely.Polygon(shapely.get_coordinates(shape)).area * mm**2 for shape in shapes)
    assert gdal == pytest.approx(ours, rel=2e-4)
    cuts = [one for one in ezdxf.readfile(tmp_path / "hide.dxf").modelspace() if one.dxf.layer == "CUT"]
    flat = sorted(
        shapely.Polygon([(p.x, p.y) for p in ezdxf.path.make_path(one).flattening(0.001)]).area * mm**2 for one in cuts
    )
    assert flat == pytest.approx(ours, rel=2e-4)


def test_tight_curves_are_warned_of_and_hpgl_holds_the_chords(tmp_path, works):
    """The legend says the smallest radius, and how many are tighter than the tool follows."""
    plan, work = works["arcs"]
    write_hide_dxf(plan, plan.layouts[0], tmp_path / "hide.dxf", work=work)
    texts = [one.dxf.text for one in ezdxf.readfile(tmp_path / "hide.dxf").modelspace().query("TEXT")]
    assert any(re.search(r"smallest radius \d+\.\d mm", text) for text in texts)
    assert any("tighter than the 60 mm that the tool follows" in text for text in texts)
    assert hpgl_text(work).count("PU") >= len(work.paths)


def test_without_curves_nothing_changes():
    """A table that asks for no curves cuts the outlines themselves."""
    plan = on_table(vamp_plan(1), CuttingTable())
    assert all(path.arcs is None and len(path.ring) == len(path.wanted)
               for path in hide_work(plan, plan.layouts[0], QUICK).paths)
