"""The demo job is sound, believable, reproducible, and read alike by an independent reader."""

import importlib.util
import zipfile
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely
from outlines_by_layer import read_outlines

from geometry.polygon import area, mirror_distance, size
from geometry.pose import mirror
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.order import read_order
from nest.job.read import read_job
from nest.job.schema import GradingSection
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot, Role

DEMO = Path(__file__).parents[3] / "demo_data"
SIZES = ("36", "37", "38", "39", "40", "41", "42")


@pytest.fixture(scope="module")
def demo():
    """The demo job."""
    return read_job(DEMO / "job.toml")


@pytest.fixture(scope="module")
def vamps(demo):
    """Every vamp of the demo job."""
    return [piece for style in demo.styles for piece in make_pieces(style, SIZES)[0] if piece.role is Role.VAMP]


def test_it_is_read_without_a_word(demo):
    """Nothing in the demo is repaired or doubtful."""
    assert demo.warnings == ()
    assert len(demo.hides) == 12 and len(demo.rolls) == 2 and len(demo.styles) == 2


def test_order_is_bell_shaped(demo):
    """140 pairs in seven sizes of each style, rising to the middle size and falling after it."""
    assert sum(line.pairs for line in demo.order) == 140
    for style in demo.styles:
        pairs = [line.pairs for line in demo.order if line.style == style.name]
        assert len(pairs) == 7 and pairs[:4] == sorted(pairs[:4]) and pairs[3:] == sorted(pairs[3:], reverse=True)


def test_one_style_is_its_own_mirror_image(demo, vamps):
    """The boot's vamp is its own mirror image; the derby's left and right differ by millimetres."""
    boot, derby = demo.styles
    assert mirror_distance(boot.templates[0].outline) < 0.05
    assert mirror_distance(derby.templates[0].outline) > 3.0
    feet = {style.name: {piece.foot for piece in vamps if piece.style == style.name} for style in demo.styles}
    assert feet == {boot.name: {Foot.EITHER}, derby.name: {Foot.LEFT, Foot.RIGHT}}


def test_vamps_have_believable_sizes(vamps):
    """Rough vamps of 180-250 mm by 205-260 mm and 2.7-4.5 dm² (common practice, from memory)."""
    for vamp in vamps:
        length, width = size(vamp.cut_outline)
        assert 180.0 <= length <= 250.0 and 205.0 <= width <= 260.0
        assert 2.7e4 <= area(vamp.cut_outline) <= 4.5e4


def test_hides_have_believable_sizes(demo):
    """Sides of 1.6-2.6 m², measured within two percent of their drawing, with zones of several classes and flaws."""
    for hide in demo.hides:
        assert 1.6e6 <= hide.outline.area <= 2.6e6
        assert hide.measured_area_mm2 == pytest.approx(hide.outline.area, rel=0.02)
        assert {zone.quality for zone in hide.zones} >= {1, 4}
        assert 4 < len(hide.flaws) < 26
        assert shapely.coverage_is_valid([zone.outline for zone in hide.zones])
    assert {hide.lot for hide in demo.hides} == {"T-217", "G-040"}


def test_leather_is_about_enough(demo, vamps):
    """The vamps to cut, at a yield of a half to two thirds of the hides, need fewer than twelve hides."""
    need = 0.0
    for line in demo.order:
        pieces = [v for v in vamps if (v.style, v.size) == (line.style, line.size)]
        need += 2 * line.pairs / 0.97 * area(pieces[0].cut_outline)
    stock = sum(hide.outline.area for hide in demo.hides)
    assert 0.3 * stock < need < 0.45 * stock


def test_csv_and_workbook_hold_the_same_order(demo):
    """order.xlsx gives the lines of order.csv."""
    gradings = {style.name: GradingSection(system="paris", base_size="39") for style in demo.styles}
    findings = Findings()
    lines = read_order(Source(DEMO / "order.xlsx", "order.xlsx"), gradings, findings)
    assert lines == demo.order and not findings.problems


@pytest.mark.parametrize("name", ["linden-39.dxf", "alder-39.dxf"])
def test_template_area_agrees_with_gdal(demo, name):
    """GDAL's DXF driver, an independent reader, finds the same area and outline, with arcs of a quarter degree."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.25"})
    _, _, geometry, _ = pyogrio.raw.read(DEMO / name, columns=[], where="Layer = 'TEMPLATE'")
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})
    parts = shapely.from_wkb(geometry)
    lines = shapely.line_merge(shapely.union_all([shapely.force_2d(part) for part in parts], grid_size=1e-4))
    (theirs,) = shapely.get_parts(shapely.polygonize([lines]))
    (ours,) = read_outlines(DEMO / name, layers=["TEMPLATE"])["TEMPLATE"]
    assert area(ours) == pytest.approx(theirs.area, rel=3e-4)
    assert shapely.bounds(shapely.Polygon(ours)) == pytest.approx(theirs.bounds, abs=0.1)
    assert shapely.hausdorff_distance(shapely.LinearRing(ours), theirs.exterior, densify=0.05) < 0.15
    style = next(s for s in demo.styles if s.name.lower().startswith(name[:5]))
    assert area(style.templates[0].outline) == pytest.approx(area(ours), rel=1e-5)


def test_hide_areas_agree_with_gdal(demo):
    """GDAL finds the same outline of a hide, to the mm²."""
    _, _, geometry, _ = pyogrio.raw.read(DEMO / "hides" / "H01.dxf", columns=[], where="Layer = 'HIDE'")
    (ring,) = shapely.from_wkb(geometry)
    assert shapely.Polygon(ring.coords).area == pytest.approx(demo.hides[0].outline.area, abs=1.0)


def drawn(path):
    """Code and value of every tag of a drawing, numbers as such, without the section that is the library's own.

    What stands in OBJECTS (plot settings, dictionaries) differs between releases of ezdxf; bulges in the last digit.
    """
    lines = path.read_text(encoding="utf-8").splitlines()
    found, section, last = [], "", ""
    for code, value in zip(map(int, lines[::2]), lines[1::2], strict=True):
        if code == 2 and last == "SECTION":
            section = value
        last = value
        if section != "OBJECTS":
            found.append((code, float(value) if 10 <= code <= 59 else value))
    return found


def unzipped(path):
    """Every part of a workbook, but for the one that names the program that wrote it."""
    with zipfile.ZipFile(path) as book:
        return {name: book.read(name) for name in book.namelist() if name != "docProps/app.xml"}


def test_script_writes_the_same_files(tmp_path):
    """make_demo.py writes every file of the folder again: texts and workbook byte for byte, drawings to 1e-9 mm."""
    spec = importlib.util.spec_from_file_location("make_demo", DEMO / "make_demo.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    script.main(tmp_path)
    made = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file())
    kept = sorted(
        p.relative_to(DEMO) for p in DEMO.rglob("*")
        if p.is_file() and p.suffix not in (".py", ".md", ".pyc") and "out" not in p.relative_to(DEMO).parts
    )
    assert made == kept
    for name in made:
        ours, theirs = tmp_path / name, DEMO / name
        if name.suffix == ".dxf":
            for one, other in zip(drawn(ours), drawn(theirs), strict=True):
                near = isinstance(one[1], float) and one[0] == other[0] and abs(one[1] - other[1]) < 1e-9
                assert one == other or near, (name, one, other)
        elif name.suffix == ".xlsx":
            assert unzipped(ours) == unzipped(theirs)
        else:
            assert ours.read_bytes() == theirs.read_bytes(), name


def test_the_right_vamp_is_the_mirrored_left(vamps):
    """Left and right of the derby are mirror images about the axis."""
    left = next(v for v in vamps if v.foot is Foot.LEFT and v.size == "39")
    right = next(v for v in vamps if v.foot is Foot.RIGHT and v.size == "39")
    assert shapely.symmetric_difference(
        shapely.Polygon(mirror(left.cut_outline)), shapely.Polygon(right.cut_outline)
    ).area < 1e-3 * area(left.cut_outline)
    assert np.ptp(left.cut_outline[:, 1]) == pytest.approx(np.ptp(right.cut_outline[:, 1]), abs=0.1)
