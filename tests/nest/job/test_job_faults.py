"""Every planted fault gives one clear sentence that names the file and the remedy, and nothing else."""

import math
import random
from datetime import date

import numpy as np
import openpyxl
import pytest
from tiny_job import FLAW, HIDE, TEMPLATE, box, on, put_points, put_text, redraw, remove, replace_in

from nest.errors import InputProblems
from nest.job import dxf, files
from nest.job.read import read_job

job = lambda old, new: replace_in("job.toml", old, new)  # noqa: E731
order = lambda old, new: replace_in("order.csv", old, new)  # noqa: E731
hides = lambda old, new: replace_in("hides.csv", old, new)  # noqa: E731
template = lambda change: redraw("plain.dxf", change)  # noqa: E731
hide = lambda change: redraw("a1.dxf", change)  # noqa: E731


def write_bytes(name, data):
    """A way to spoil a job: other contents for a file."""
    return lambda folder: (folder / name).write_bytes(data)


def add(change):
    """A change of a drawing that adds to model space."""
    return lambda document, space: change(space)


def large(name):
    """A way to spoil a job: a file beyond the limit, without filling the disk."""

    def spoil(folder):
        with open(folder / name, "r+b") as file:
            file.truncate(files.LARGEST_FILE_BYTES + 1)

    return spoil


def grid_of_blocks(document, space):
    """One insert that stands for a million."""
    document.blocks.new("one").add_line((0, 0), (0, 1), dxfattribs={"layer": "TEMPLATE"})
    space.add_blockref("one", (0, 0)).grid(size=(1000, 1000), spacing=(1.0, 1.0))


def circular_block(document, space):
    """A block that holds itself."""
    loop = document.blocks.new("loop")
    loop.add_blockref("loop", (1, 0))
    space.add_blockref("loop", (0, 0))


def nan_line(document, space):
    """A corner that is not a number."""
    on(space, "AXIS")[0].dxf.end = (math.nan, 0.0)


JOB_FAULTS = {
    "syntax": (job("seconds = 5", "seconds = = 5"), ["job.toml, line 6", "TOML", "mend that line"]),
    "comma for a point": (job("seconds = 5", "seconds = 5,25  # a quarter"),
                          ["job.toml, line 6", "write 5.25, with a point"]),
    "unknown key": (job("tolerance_deg", "tolerence_deg"), ["job.toml, line 49", "did you mean 'tolerance_deg'?"]),
    "unknown section": (job("[settings]", "[setings]"), ["job.toml, line 5", "did you mean 'settings'?"]),
    "missing key": (job("price_unit = \"m2\"\n", ""), ["job.toml, line 8", "price_unit", "add price_unit"]),
    "wrong kind": (job("width_mm = 900", 'width_mm = "900"'), ["job.toml, line 15", "a number", "correct width_mm"]),
    "nan": (job("toe_mm = 12", "toe_mm = nan"), ["job.toml, line 44", "finite number", "correct toe_mm"]),
    "no time": (job("seconds = 5", "seconds = 0"), ["job.toml, line 6", "above 0", "correct seconds"]),
    "reject all": (job("reject_percent = 3", "reject_percent = 100"), ["job.toml, line 37", "below 100", "correct"]),
    "negative price": (job("price = 44.50", "price = -44.50"), ["job.toml, line 10", "0 or more", "correct it"]),
    "price in words": (job("price = 44.50", 'price = "dear"'), ["job.toml, line 10", "'dear'", "plain number"]),
    "negative allowance": (job("side_mm = 12", "side_mm = -1"), ["job.toml, line 45", "at least 0", "correct side_mm"]),
    "below the least": (
        job("back_mm = 10", "back_mm = 10\nleast_back_mm = 12"), ["job.toml", "10 below 12", "correct one of the two"],
    ),
    "no such unit": (job('price_unit = "m2"', 'price_unit = "yd2"'), ["job.toml, line 11", "dm2, m2 or ft2", "'yd2'"]),
    "no such length": (
        lambda folder: (
            job('name = "tiny"', 'name = "tiny"\nunit = "pt"')(folder),
            template(lambda document, space: setattr(document, "units", 0))(folder),
        ),
        ["job.toml, line 2", "mm, cm, dm, m, in or ft", "correct unit"],
    ),
    "no such stretch": (job("width_mm = 900", 'width_mm = 900\nstretch = "up"'), ["width or length", "'up'"]),
    "base size": (job('base_size = "38"', 'base_size = "9"'), ["job.toml, line 39", "Paris point", "base_size"]),
    "no leather": (job('leather = "calf"', 'leather = "claf"'), ["job.toml, line 33", "did you mean 'calf'?"]),
    "no roll": (job('roll = "knit"', 'roll = "knot"'), ["job.toml, line 34", "a roll", "did you mean 'knit'?"]),
    "two drawings": (
        job('template = "plain.dxf"', 'template = "plain.dxf"\ntemplates = { 38 = "plain.dxf" }'),
        ["job.toml, line 31", "both", "give the drawing"],
    ),
    "steps too large": (
        lambda folder: (
            job('base_size = "38"', 'base_size = "38"\nlength_step_mm = 50')(folder), order("37,4", "34,4")(folder),
        ),
        ["job.toml, line 31", "4 steps down", "correct the steps per size"],
    ),
    "narrow roll": (job("width_mm = 900", "width_mm = 130"), ["job.toml, line 15", "110 mm", "use a wider roll"]),
    "all selvedge": (job("selvedge_mm = 10", "selvedge_mm = 450"), ["job.toml, line 13", "some width", "selvedge_mm"]),
    "weights out of order": (job("upper_to_mm = 1.2", "upper_to_mm = 2.0"), ["job.toml, line 27", "thin to thick"]),
    "name with a slash": (job('name = "plain"', 'name = "../x"'), ["job.toml, line 32", "'../x'", "another name"]),
    "path leaves the folder": (job("plain.dxf", "../plain.dxf"), ["job.toml, line 35", "job's folder", "move"]),
    "absolute path": (job("plain.dxf", "/tmp/plain.dxf"), ["job.toml, line 35", "job's folder", "move"]),
    "no such drawing": (job("plain.dxf", "plane.dxf"), ["job.toml, line 35", "no such file", "correct the path"]),
    "job not in UTF-8": (
        write_bytes("job.toml", 'name = "müd"\n'.encode("latin-1")), ["job.toml, line 1", "0xfc", "again as UTF-8"],
    ),
}

ORDER_FAULTS = {
    "no such size": (order("38,6", "99,6"), ["order.csv, line 3", "'99'", "correct the size"]),
    "part of a pair": (order("38,6", "38,6.5"), ["order.csv, line 3", "that is whole", "'6.5'", "correct it"]),
    "fewer than none": (order("38,6", "38,-6"), ["order.csv, line 3", "from 0", "'-6'", "correct it"]),
    "pairs in words": (order("38,6", "38,six"), ["order.csv, line 3", "'six'", "plain number"]),
    "pairs missing": (order("38,6", "38,"), ["order.csv, line 3", "empty cell"]),
    "no column": (order("size,pairs", "size,pair"), ["order.csv, line 1", "column 'pairs'", "name the column 'pairs'"]),
    "column twice": (order("size,pairs", "size,pairs,pairs"), ["order.csv, line 1", "2", "remove or rename"]),
    "cells too many": (order("38,6", "38,6,7"), ["order.csv, line 3", "2 cells", "quotes"]),
    "no lines": (write_bytes("order.csv", b"size,pairs\n"), ["order.csv", "an empty order", "fill in"]),
    "nothing at all": (write_bytes("order.csv", b""), ["order.csv", "an empty table", "fill in"]),
    "no pairs": (write_bytes("order.csv", b"size,pairs\n38,0\n39,0\n"), ["order.csv", "0 pairs in all", "fill in"]),
    "other style": (
        write_bytes("order.csv", b"style,size,pairs\nplane,38,3\n"), ["order.csv, line 2", "'plane'", "mean 'plain'?"],
    ),
    "latin-1": (write_bytes("order.csv", b"size,pairs\n38\xbd,4\n"), ["order.csv, line 2", "0xbd", "again as UTF-8"]),
    "UTF-16": (write_bytes("order.csv", "size,pairs\n38,4\n".encode("utf-16")), ["order.csv", "UTF-16", "as UTF-8"]),
    "open quotes": (order("38,6", '"38,6'), ["order.csv, line", "a quote that is never closed", "mend the quotes"]),
    "too large": (large("order.csv"), ["order.csv", "at most 50 MB", "only what the job needs"]),
}

HIDE_FAULTS = {
    "id twice": (
        hides("A1,a1.dxf,calf,1,1.4,59.9,dm2\n", "A1,a1.dxf,calf,1,1.4,59.9,dm2\nA1,a1.dxf,calf,1,1.4,59.9,dm2\n"),
        ["hides.csv, line 3", "'A1' again", "see hides.csv, line 2"],
    ),
    "other leather": (hides("calf", "half"), ["hides.csv, line 2, leather", "'half'", "did you mean 'calf'?"]),
    "no unit": (hides("59.9,dm2", "59.9,"), ["hides.csv, line 2, area", "found none", "give the unit"]),
    "no column for the unit": (hides(",unit", ",note"), ["hides.csv, line 1", "'unit'", "add the column 'unit'"]),
    "unit wrong": (hides("59.9,dm2", "59.9,ft2"), ["hides.csv, line 2, area", "within 25%", "check the unit"]),
    "five quarters": (hides("59.9,dm2", "6/5,ft2"), ["hides.csv, line 2, area", "0 to 3 quarters", "correct it"]),
    "nil thickness": (hides("1.4", "0"), ["hides.csv, line 2, thickness_mm", "above 0", "correct it"]),
    "class nil": (hides("calf,1,", "calf,0,"), ["hides.csv, line 2, class", "from 1", "correct it"]),
    "NaN": (hides("59.9", "nan"), ["hides.csv, line 2, area", "'nan'", "plain number"]),
    "drawing missing": (hides("a1.dxf", "a2.dxf"), ["hides.csv, line 2, file", "no such file", "correct the path"]),
    "drawing elsewhere": (hides("a1.dxf", "../../a1.dxf"), ["hides.csv, line 2, file", "job's folder", "move"]),
    "negative price": (
        write_bytes(
            "hides.csv", b"id,file,leather,class,thickness_mm,area,unit,price\nA1,a1.dxf,calf,1,1.4,59.9,dm2,-3\n"
        ),
        ["hides.csv, line 2, price", "0 or more", "'-3'"],
    ),
    "id as a path": (hides("A1,", "../A1,"), ["hides.csv, line 2, id", "'../A1'", "another name"]),
    "zone outside": (
        hide(put_points("ZONES", box(600.0, 0.0, 1040.0, 600.0), 1)),
        ["a1.dxf, entity", "ZONES", "240 cm² outside", "draw it within"],
    ),
    "zones overlap": (
        hide(put_points("ZONES", box(580.0, 0.0, 1000.0, 600.0), 1)),
        ["a1.dxf, entity", "120 cm² in both", "edge to edge"],
    ),
    "zone without text": (
        hide(remove("ZONES", "TEXT", "belly class 2 stretch 80")), ["a1.dxf, entity", "ZONES", "write it within"],
    ),
    "zone misnamed": (
        hide(put_text("ZONES", "butt class 1 stretch 90", "butt class one")),
        ["a1.dxf, entity", "'butt class one'", "correct the text"],
    ),
    "no zones": (hide(remove("ZONES")), ["a1.dxf, layer ZONES", "none", "give stretch_deg in the index"]),
    "flaw outside": (
        hide(lambda document, space: [e.translate(0.0, -300.0, 0.0) for e in on(space, "FLAWS")]),
        ["a1.dxf, entity", "FLAWS", "196.0 mm outside", "move it or remove it"],
    ),
    "flaw misnamed": (
        hide(put_text("FLAWS", "scratch severity 2 coverable", "scratch bad")), ["a1.dxf", "'scratch bad'", "correct"],
    ),
    "line without width": (
        hide(lambda document, space: setattr(on(space, "FLAWS", "LWPOLYLINE")[0], "closed", False)),
        ["a1.dxf, entity", "a width", "width 2"],
    ),
    "text apart": (
        hide(add(lambda space: space.add_text("vein severity 1", dxfattribs={"layer": "FLAWS"}))),
        ["a1.dxf, entity", "apart from all", "move it or remove it"],
    ),
    "outline crosses": (
        hide(put_points("HIDE", [HIDE[0], HIDE[2], HIDE[1], HIDE[3], (-200.0, 300.0)])),
        ["a1.dxf, entity", "does not cross itself", "mend it there"],
    ),
    "two hides": (
        hide(add(lambda s: s.add_lwpolyline(box(2000, 0, 2500, 400), close=True, dxfattribs={"layer": "HIDE"}))),
        ["a1.dxf, entity", "another outline", "one hide in each drawing"],
    ),
    "hide too small": (
        lambda folder: (
            hides("59.9", "0.6")(folder),
            hide(lambda document, space: [e.scale_uniform(0.1) for e in space])(folder),
        ),
        ["hides.csv, hide A1", "100 × 60 mm", "check the unit of its drawing"],
    ),
}

TEMPLATE_FAULTS = {
    "open outline": (
        template(lambda document, space: setattr(on(space, "TEMPLATE")[0], "closed", False)),
        ["plain.dxf, entity", "TEMPLATE", "63.25 mm from (0.0, -60.0) to (20.0, 0.0)", "close it in the drawing"],
    ),
    "crosses itself": (
        template(put_points("TEMPLATE", [TEMPLATE[i] for i in (0, 1, 3, 2, 4, 5)])),
        ["plain.dxf, entity", "does not cross itself", "mend it there"],
    ),
    "no size": (template(put_points("TEMPLATE", [(0, 0), (50, 0), (100, 0)])), ["plain.dxf", "zero area", "draw it"]),
    "wrong unit": (
        template(lambda document, space: setattr(document, "units", 5)),
        ["plain.dxf, entity", "1600 × 1200 mm", "check the drawing's unit"],
    ),
    "no unit": (
        template(lambda document, space: setattr(document, "units", 0)),
        ["plain.dxf", "states none", 'add unit = "mm" to the job file'],
    ),
    "unit unknown": (
        template(lambda document, space: setattr(document, "units", 3)),
        ["plain.dxf, $INSUNITS", "4 (mm)", "found 3", "save the drawing in millimetres"],
    ),
    "nothing on the layer": (template(remove("TEMPLATE")), ["plain.dxf, layer TEMPLATE", "nothing", "[layers]"]),
    "two outlines": (
        template(add(lambda s: s.add_circle((60, 0), 10, dxfattribs={"layer": "TEMPLATE"}))),
        ["plain.dxf, layer TEMPLATE", "one closed outline", "found 2", "leave only the template"],
    ),
    "no axis": (template(remove("AXIS")), ["plain.dxf, layer AXIS", "nothing", "draw the axis there"]),
    "axis beside": (
        template(lambda document, space: on(space, "AXIS")[0].translate(0.0, 100.0, 0.0)),
        ["plain.dxf, entity", "40.0 mm beside", "move one of the two"],
    ),
    "axis reversed": (
        template(lambda document, space: on(space, "AXIS")[0].scale(-1.0, 1.0, 1.0).translate(150.0, 0.0, 0.0)),
        ["on layer AXIS", "from the heel to the toe", "other way round"],
    ),
    "axis across": (
        template(lambda document, space: on(space, "AXIS")[0].translate(-80.0, 0.0, 0.0).rotate_z(np.pi / 2)
                 .translate(80.0, 0.0, 0.0)),
        ["plain.dxf, entity", "on layer AXIS", "one 90° off the direction from the back to the toe",
         "draw the axis from the heel to the toe"],
    ),
    "axis bent": (
        template(
            lambda document, space: (
                remove("AXIS")(document, space),
                space.add_lwpolyline([(0, 0), (80, 5), (160, 0)], dxfattribs={"layer": "AXIS"}),
            )
        ),
        ["plain.dxf, entity", "a bent one", "draw it with two points"],
    ),
    "no parts": (template(remove("PARTS", "TEXT")), ["plain.dxf, layer PARTS", "toe, side and back", "found none"]),
    "a part missing": (template(remove("PARTS", "TEXT", "back")), ["plain.dxf, layer PARTS", "no back", "write each"]),
    "a part misspelt": (
        template(put_text("PARTS", "back", "bakc")), ["plain.dxf, entity", "'bakc'", "did you mean 'back'?"],
    ),
    "limits missing": (
        template(remove("PARTS", "POINT")), ["plain.dxf, layer PARTS", "at least 3 points", "mark where"],
    ),
    "limit off the outline": (
        template(lambda document, space: on(space, "PARTS", "POINT")[0].translate(0.0, -20.0, 0.0)),
        ["plain.dxf, entity", "PARTS", "mm off", "move it onto the outline"],
    ),
    "stretch without name": (
        template(add(lambda s: s.add_point((60.0, 55.0), dxfattribs={"layer": "PARTS"}))),
        ["plain.dxf, layer PARTS, near (", "a stretch without one", "write toe, side or back there"],
    ),
    "stretch with two names": (
        template(add(lambda s: s.add_text("toe", dxfattribs={"layer": "PARTS"}).set_placement((30.0, 70.0)))),
        ["plain.dxf, layer PARTS, near (", "side and toe", "mark where one passes into the other"],
    ),
    "NaN": (template(nan_line), ["plain.dxf, entity", "AXIS", "NaN", "draw it again"]),
    "not flat": (
        template(
            lambda document, space: (
                remove("AXIS")(document, space),
                space.add_line((0, 0, 0), (160, 0, 40), dxfattribs={"layer": "AXIS"}),
            )
        ),
        ["plain.dxf, entity", "a flat drawing", "heights from 0 to 40"],
    ),
    "too many inserts": (template(grid_of_blocks), ["plain.dxf", "at most 100000 entities", "only what the job"]),
    "block within itself": (template(circular_block), ["plain.dxf", "blocks within each other"]),
    "no drawing": (write_bytes("plain.dxf", b"%PDF-1.7 not a drawing"), ["plain.dxf", "DXF drawing", "save it again"]),
    "too large": (large("plain.dxf"), ["plain.dxf", "at most 50 MB", "only what the job needs"]),
}

FAULTS = {
    f"{where}: {name}": fault
    for where, faults in (
        ("job", JOB_FAULTS), ("order", ORDER_FAULTS), ("hides", HIDE_FAULTS), ("template", TEMPLATE_FAULTS),
    )
    for name, fault in faults.items()
}


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS.keys())
def test_one_fault_one_sentence(job_folder, fault):
    """The planted fault is the one problem reported, on one line, with place, finding and remedy."""
    spoil, words = fault
    spoil(job_folder)
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    assert len(caught.value.problems) == 1, str(caught.value)
    sentence = str(caught.value.problems[0])
    assert "\n" not in sentence and "Traceback" not in sentence
    for word in words:
        assert word in sentence, sentence


def test_faults_of_all_files_are_reported_together(job_folder):
    """One fault in each of five files: five problems, each in its file's name."""
    job("tolerance_deg", "tolerence_deg")(job_folder)
    order("38,6", "38,6.5")(job_folder)
    hides("59.9,dm2", "59.9,")(job_folder)
    hide(put_text("FLAWS", "scratch severity 2 coverable", "scratch bad"))(job_folder)
    template(remove("AXIS"))(job_folder)
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    places = [problem.where.split(",")[0] for problem in caught.value.problems]
    assert sorted(places) == ["a1.dxf", "hides.csv", "job.toml", "order.csv", "plain.dxf"]


def test_faults_of_one_file_are_reported_together(job_folder):
    """Three faults of the job file in three sections: three problems."""
    job("seconds = 5", "seconds = -1")(job_folder)
    job("price = 44.50", "price = -1")(job_folder)
    job("side_mm = 12", "sides_mm = 12")(job_folder)
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    said = str(caught.value)
    assert len(caught.value.problems) == 4, said  # one for the misspelt key, one for the key that is missing then
    assert "line 6" in said and "line 10" in said and "did you mean 'side_mm'?" in said and "add side_mm" in said


def test_what_is_too_small_is_said_along_with_the_rest(job_folder):
    """A roll that is too narrow and a price below nil are reported at once."""
    job("width_mm = 900", "width_mm = 130")(job_folder)
    job("price = 44.50", "price = -1")(job_folder)
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    assert len(caught.value.problems) == 2 and "use a wider roll" in str(caught.value)


def test_no_job_file(tmp_path):
    """A job file that is not there is a problem, not a traceback."""
    with pytest.raises(InputProblems, match="no such file"):
        read_job(tmp_path / "job.toml")


def test_a_link_out_of_the_folder_is_refused(job_folder, tmp_path):
    """A name within the folder that leads out of it is a path that leaves the folder."""
    (tmp_path / "plain.dxf").write_bytes((job_folder / "plain.dxf").read_bytes())
    (job_folder / "plain.dxf").unlink()
    (job_folder / "plain.dxf").symlink_to(tmp_path / "plain.dxf")
    with pytest.raises(InputProblems, match="job's folder"):
        read_job(job_folder / "job.toml")


def test_a_workbook_that_unpacks_beyond_measure(job_folder, monkeypatch):
    """A workbook is measured before it is unpacked."""
    book = openpyxl.Workbook()
    book.active.append(["size", "pairs"])
    book.save(job_folder / "order.xlsx")
    job("order.csv", "order.xlsx")(job_folder)
    monkeypatch.setattr("nest.job.table.MOST_UNPACKED_BYTES", 100)
    with pytest.raises(InputProblems, match=r"order\.xlsx: expected a workbook of bearable size"):
        read_job(job_folder / "job.toml")


def test_a_date_in_an_order_is_said(job_folder):
    """A size that a spreadsheet made a date of is not taken for a size."""
    book = openpyxl.Workbook()
    book.active.append(["size", "pairs"])
    book.active.append(["", 3])
    book.active["A2"] = date(2024, 1, 4)
    book.save(job_folder / "order.xlsx")
    job("order.csv", "order.xlsx")(job_folder)
    with pytest.raises(InputProblems, match=r"order\.xlsx, row 2, size: .*the date 2024-01-04"):
        read_job(job_folder / "job.toml")


def test_blocks_within_blocks_count_every_time(job_folder, monkeypatch):
    """Eight inserts of eight inserts of eight lines are more than 500 entities."""

    def nested(document, space):
        inner, outer = document.blocks.new("inner"), document.blocks.new("outer")
        for i in range(8):
            inner.add_line((i, 0), (i, 1), dxfattribs={"layer": "TEMPLATE"})
            outer.add_blockref("inner", (0, i))
            space.add_blockref("outer", (0, 0))

    template(nested)(job_folder)
    monkeypatch.setattr(dxf, "MOST_ENTITIES", 500)
    with pytest.raises(InputProblems, match=r"plain\.dxf: expected a drawing of at most 500 entities"):
        read_job(job_folder / "job.toml")


@pytest.mark.parametrize("seed", range(25))
def test_damaged_files_are_read_or_refused(job_folder, seed):
    """Files with bytes changed, cut out or doubled at random are read or refused with problems, never anything else."""
    rng = random.Random(seed)
    path = job_folder / rng.choice(["plain.dxf", "a1.dxf", "job.toml", "order.csv", "hides.csv"])
    data = bytearray(path.read_bytes())
    first = data.index(b"ENTITIES") if path.suffix == ".dxf" and rng.random() < 0.7 else 0
    for _ in range(rng.randrange(1, 6)):
        at, size = rng.randrange(first, len(data)), rng.randrange(1, 40)
        change = rng.randrange(3)
        if change == 0:
            data[at] = rng.randrange(256)
        elif change == 1 and len(data) > first + 100:
            del data[at : at + size]
        else:
            data[at:at] = data[at : at + size]
    path.write_bytes(bytes(data))
    try:
        assert read_job(job_folder / "job.toml").styles
    except InputProblems as error:
        assert error.problems


def test_too_many_vertices(job_folder, monkeypatch):
    """A drawing with more vertices than the limit is refused with the limit."""
    monkeypatch.setattr(dxf, "MOST_VERTICES", 5)
    with pytest.raises(InputProblems, match=r"plain\.dxf: expected a drawing of at most 5 vertices"):
        read_job(job_folder / "job.toml")


def test_flaw_position_is_what_the_drawing_says(sound_job):
    """The sound job has no problem and no warning, and its flaw lies where it was drawn."""
    read = read_job(sound_job / "job.toml")
    assert read.warnings == ()
    left, low, right, high = read.hides[0].flaws[0].outline.bounds
    assert [(left, low), (right, high)] == [FLAW[0], FLAW[2]]
