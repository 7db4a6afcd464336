"""The commands of the room, from photographs to a job that runs: what is written, what is refused, what is said."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import cv2
import ezdxf
import numpy as np
import pytest
import shapely
import shapely.affinity
from camera_scene import CHALKS, Look
from invented import cross_distance, make_case, side

import nest
from nest.cli import main
from nest.digitise.checkpicture import Canvas
from nest.digitise.over import laid
from nest.digitise.raster import Grid
from nest.digitise.write import IndexRow, earlier_rows, write_index
from nest.job.backdrop import backdrop_path, read_backdrop
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.hide_drawing import PHOTOGRAPH_LAYER, photograph_words, read_hide_shape
from nest.job.read import read_job
from nest.job.schema import LayersSection

DEMO = Path(__file__).parents[3] / "demo_data"
PLAIN = Look(uneven=0.2, blur=0.7, grain=0.04, noise=0.005, quality=92)


@pytest.fixture(scope="module")
def shot(tmp_path_factory):
    """A folder with a photographed side H17.jpg (a flaw in yellow chalk), and the case."""
    folder = tmp_path_factory.mktemp("photographs")
    outline = side(12)[1]
    middle = np.array(outline.centroid.coords[0])
    turn = np.linspace(0, 2 * np.pi, 40)
    ring = middle + 35.0 * np.column_stack((np.cos(turn), np.sin(turn)))
    case = make_case(
        12, 1600, 1200, strokes=[(ring, 6.0, CHALKS["yellow"])], look=PLAIN, leather="black", table="light wood",
        side_seed=12,
    )
    cv2.imwrite(str(folder / "H17.jpg"), case.pixels, (cv2.IMWRITE_JPEG_QUALITY, 95))
    return folder, case


def shape_in(path: Path):
    """What a job reads of a drawing."""
    findings = Findings()
    found = read_hide_shape(Source(path, path.name), LayersSection(), None, findings)
    assert found is not None, findings.problems
    return found


def test_many_photographs_one_bad(shot, tmp_path, on_screen, monkeypatch):
    """Two photographs, one cut short: the good one is written whole, the other is one sentence, and the exit code 2."""
    monkeypatch.setattr("geometry.processors.processor_cores", lambda: 1)
    folder, case = shot
    (tmp_path / "H18.jpg").write_bytes((folder / "H17.jpg").read_bytes()[:60_000])
    a, b, length = cross_distance(case)
    (tmp_path / "hides.csv").write_text(
        "id,leather,lot,class,thickness_mm,area,unit,price,price_unit\n"
        f"H17,Black side,T-9,1,0.1,{case.scene.hide.area * 1.04 / 1e4:.1f},dm2,3.90,ft2\n"
    )
    code, figures, lines = on_screen(
        "digitise", "hide", folder / "H17.jpg", tmp_path / "H18.jpg", "-o", tmp_path / "out",
        "--stroke", "yellow=scar severity 2 tears", "--rest", "butt class 1", "--stretch", "90", "--thickness", "0",
        "--index", tmp_path / "hides.csv", "--distance", f"{a} {b} {length:.1f}",
    )
    assert code == 2
    assert sorted(one.name for one in (tmp_path / "out").iterdir()) == [
        "H17-check.png",
        "H17-straight.pgm",
        "H17.dxf",
        "hides.csv",
    ]
    good, bad = json.loads(json.dumps(figures["hides"]))
    assert bad["refused"].startswith("H18.jpg:") and "\n" not in bad["refused"] and bad["refused"] in lines
    assert good["flaws"] == 1 and good["zones"] == 1 and any("by the tannery" in one for one in good["said"])
    found = shape_in(tmp_path / "out" / "H17.dxf")
    assert found.photograph == "H17.jpg" and found.within_mm == pytest.approx(good["outline_within_mm"], abs=0.01)
    assert found.outline.area == pytest.approx(case.scene.hide.area, rel=0.002)
    assert [(one.kind, one.tears) for one in found.flaws] == [("scar", True)]
    row = (tmp_path / "out" / "hides.csv").read_text().splitlines()[1].split(",")
    assert row[8:10] == ["3.90", "ft2"]
    assert row[:5] == ["H17", "H17.dxf", "Black side", "T-9", "1"] and float(row[-1]) > 0.0


def test_rows_of_earlier_hides_stay(tmp_path):
    """An index written before keeps the rows of other hides; a table of somebody else's is never written over."""
    path = tmp_path / "hides.csv"
    assert earlier_rows(path, ()) == []
    write_index([IndexRow("H1", "H1.dxf", area="200"), IndexRow("H2", "H2.dxf")], path)
    assert [row.id for row in earlier_rows(path, ["H2"])] == ["H1"] and earlier_rows(path, ())[0].area == "200"
    for other in ("id,file\nH1,x.dxf\n", "", path.read_text() + "H3,too short\n", "\0"):
        path.write_text(other)
        (tmp_path / "H9.jpg").write_bytes(b"no picture")
        assert main(["digitise", "hide", str(tmp_path / "H9.jpg"), "-o", str(tmp_path)]) == 2
        assert path.read_text() == other


def test_nothing_is_written_for_a_refused_photograph(tmp_path, capsys):
    """A photograph that cannot be used leaves no drawing, no picture, no row and no folder behind."""
    (tmp_path / "H1.jpg").write_bytes(b"no picture")
    for out in ("new", "H1.dxf"):
        assert main(["digitise", "hide", str(tmp_path / "H1.jpg"), "-o", str(tmp_path / out)]) == 2
    assert [one.name for one in tmp_path.iterdir()] == ["H1.jpg"]
    assert main(["digitise", "table", str(tmp_path / "H1.jpg"), "-o", str(tmp_path / "t.json")]) == 2
    assert main(["digitise", "template", str(tmp_path / "H1.jpg"), "-o", str(tmp_path / "t.dxf"), "--dpi", "300"]) == 2
    assert [one.name for one in tmp_path.iterdir()] == ["H1.jpg"]
    for wrong in ("3 3 500", "a b c", "1 2", "1 2 -7"):
        assert main(["digitise", "table", "x.jpg", "-o", "t.json", "--distance", wrong]) == 2
        assert "--distance" in capsys.readouterr().err


def test_table_then_geojson_then_check(shot, tmp_path, on_screen):
    """A table solved from one photograph serves the next; its drawing laid over the photograph lies on the leather."""
    folder, case = shot
    a, b, length = cross_distance(case)
    photo, table = folder / "H17.jpg", tmp_path / "table.json"
    code, figures, _ = on_screen("digitise", "table", photo, "-o", table, "--distance", f"{a},{b},{length}")
    assert code == 0
    assert figures["focal_pixels"] == pytest.approx(case.camera.focal, rel=0.05) and figures["error_mm_mean"] < 1.0
    drawing = tmp_path / "H17.geojson"
    photo = shutil.copy(photo, tmp_path / "IMG_0117.jpg")
    (tmp_path / "hides.csv").write_text("id,leather,lot,class,thickness_mm,area,unit,price,price_unit\n")
    code, _, lines = on_screen("digitise", "hide", photo, "--table", table, "-o", drawing, "--thickness", "0",
                               "--index", tmp_path / "hides.csv")
    assert code == 0 and any("has the id H17; its area was compared with nothing" in line for line in lines)
    assert (tmp_path / "H17-index.csv").read_text().splitlines()[1].startswith("H17,H17.geojson,")
    assert shape_in(drawing).photograph == "IMG_0117.jpg"
    moved = json.loads(drawing.read_text())
    for ring in moved["features"][0]["geometry"]["coordinates"]:
        for point in ring:
            point[:] = [4000.0 - point[1], point[0] + 77.0]
    moved["features"] = moved["features"][:1]
    drawing.write_text(json.dumps(moved))
    args = ["digitise", "check", drawing, "--over", photo, "--table", table, "--thickness", "0"]
    code, figures, _ = on_screen(*args, "-o", tmp_path / "over.png")
    assert code == 0
    assert figures["mean_mm"] < 0.3 and not figures["mirrored"] and abs(abs(figures["turned_deg"]) - 90.0) < 0.1
    assert (tmp_path / "over.png").is_file()
    assert on_screen(*args, "-o", tmp_path / "lies.png", "--as-it-lies")[0] == 2
    assert not (tmp_path / "lies.png").exists()


def test_damaged_photograph_beside_a_drawing_is_said(tmp_path):
    """A picture cut short, of another size, or no such picture is left out with one warning; none is no fault."""
    drawing = tmp_path / "H1.dxf"
    good = b"P5\n# mm -1.5 0 98.5 50\n20 10\n255\n" + bytes(200)
    findings = Findings()
    assert read_backdrop(drawing, findings) is None and not findings.warnings
    backdrop_path(drawing).write_bytes(good)
    found = read_backdrop(drawing, findings)
    assert (found.width, found.height, found.x0, found.y1) == (20, 10, -1.5, 50.0) and not findings.warnings
    bad = (
        good[:-1],
        good + b"x",
        b"P6" + good[2:],
        good.replace(b"20 10", b"99999 99999"),
        good.replace(b"98.5", b"-9.5"),
        b"",
    )
    for data in bad:
        findings = Findings()
        backdrop_path(drawing).write_bytes(data)
        assert read_backdrop(drawing, findings) is None and len(findings.warnings) == 1


def test_measured_margin_needs_hides_that_know_theirs(tmp_path):
    """Hides that no photograph measured have no measured margin: the job says which, and how to mend it."""
    shutil.copytree(DEMO, tmp_path / "demo")
    path = tmp_path / "demo" / "job.toml"
    path.write_text(path.read_text().replace("edge_margin_mm = 3.0", 'edge_margin_mm = "measured"'))
    with pytest.raises(nest.InputProblems, match="give the margin in mm"):
        nest.read_job(path)
    assert read_job(path, alone=True).settings.edge_margin_mm == 0.0
    path.write_text(path.read_text().replace('"measured"', '"some"'))
    with pytest.raises(nest.InputProblems, match="a number for edge_margin_mm"):
        nest.read_job(path)


def test_measured_margin_is_each_hides_own(tmp_path, monkeypatch):
    """Vamps keep 0.4 mm from the edge of one hide and 22 mm from that of another, as far as each outline is unsure."""
    monkeypatch.setattr("nest.sidebyside.processor_cores", lambda: 1)
    shutil.copytree(DEMO, tmp_path / "demo")
    folder, unsure = tmp_path / "demo", (0.4, 22.0)
    headings, *rows = (folder / "hides.csv").read_text().splitlines()
    (folder / "hides.csv").write_text("\n".join([headings, *rows[: len(unsure)]]) + "\n")
    for row, within in zip(rows, unsure, strict=False):
        drawing = ezdxf.readfile(folder / row.split(",")[1])
        drawing.modelspace().add_text(photograph_words("side.jpg", within), dxfattribs={"layer": PHOTOGRAPH_LAYER})
        drawing.saveas(folder / row.split(",")[1])
    (folder / "order.csv").write_text("style,size,pairs\nLinden boot,38,60\n")
    text = (folder / "job.toml").read_text().replace("edge_margin_mm = 3.0", 'edge_margin_mm = "measured"')
    (folder / "job.toml").write_text(text)
    job = nest.read_job(folder / "job.toml")
    assert tuple(hide.margin_mm for hide in job.hides) == unsure and any("0.4 to 22 mm" in note for note in job.notes)
    plan = nest.make_plan(job, passes=2)
    nest.write_plan(plan, tmp_path / "plan.json")
    again = nest.read_plan(tmp_path / "plan.json")
    assert nest.verify_plan(again).ok and len(again.layouts) == len(unsure)
    least = {}
    for layout in again.layouts:
        hide = next(hide for hide in again.hides if hide.hide_id == layout.hide_id)
        edge = shapely.boundary(hide.outline)
        rings = [one.pose.apply(again.piece(one.piece_id).cut_outline) for one in layout.placed]
        least[hide.margin_mm] = min(shapely.distance(shapely.LinearRing(ring), edge) for ring in rings)
    assert 0.39 <= least[0.4] <= 4.0 and 21.99 <= least[22.0] <= 26.0
    taken = replace(again, hides=tuple(replace(hide, margin_mm=30.0) for hide in again.hides))
    assert not nest.verify_plan(taken).ok


def test_drawing_for_a_hide_grain_down_is_laid_over_mirrored():
    """A mirrored outline, turned by 50°, is laid on the hide exactly and known to be mirrored."""
    outline = side(12)[1]
    ring = shapely.get_coordinates(outline.exterior)[:-1] * (-1.0, 1.0)
    drawn = shapely.affinity.rotate(shapely.Polygon(ring), 50.0, origin=(0.0, 0.0))
    points = np.add(shapely.get_coordinates(drawn.exterior)[:-1], (300.0, -40.0))
    turn, shift, mirrored = laid(points, outline)
    away = shapely.distance(shapely.points(points @ turn.T + shift), outline.exterior)
    assert away.max() < 0.1 and mirrored and np.linalg.det(turn) == pytest.approx(-1.0)


def test_check_picture_has_a_scale():
    """Ticks stand every 100 mm along both edges, so that "near (x, y) mm" can be found in the picture."""
    white = np.full((600, 1000, 3), 255, dtype=np.uint8)
    canvas = Canvas(white, Grid(-400.0, 1100.0, 2.0, 1000, 600))
    canvas.rulers()
    dark = canvas.picture.sum(axis=2) < 200
    low, left = np.flatnonzero(dark[-4]), np.flatnonzero(dark[:, 3])
    ticks = [group.mean() for group in np.split(low, np.flatnonzero(np.diff(low) > 5) + 1)]
    assert np.allclose(ticks, np.arange(0.0, 1001.0, 50.0), atol=1.0)
    rows = [group.mean() for group in np.split(left, np.flatnonzero(np.diff(left) > 5) + 1)]
    assert np.allclose(rows, np.arange(0.0, 600.0, 50.0), atol=1.0)
