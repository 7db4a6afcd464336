"""What every command writes: drawings as the job's cutting table wants them, cut sheets with or without pictures."""

from dataclasses import replace

import ezdxf
import pytest
from small_jobs import small_job
from tiny_plans import box_plan

from nest.cli import main
from nest.cli.codes import Exit
from nest.job.cutting_table import CuttingTable
from nest.planfile import write_plan

INCHES, LAYERS = 1, {"KNIFE", "2", "3"}
"""$INSUNITS of inches (public DXF reference); some layers of the table below."""

TABLE = '\n[table]\nunit = "in"\nlayer_numbers = true\nlayers = { cut = "KNIFE" }\n'
TRIAL = "size,piece,toe_mm,left_mm,right_mm,back_mm,rejected\n39,1,9,5,5,1,no\n39,2,9,5,5,1,no\n"


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """A job of one style of the demo with a table that wants inches and numbered layers, and one trial."""
    folder = tmp_path_factory.mktemp("table")
    path = small_job(folder / "job", pairs={"39": 4})
    with open(path, "a", encoding="utf-8") as file:
        file.write(TABLE)
    (folder / "trial.csv").write_text(TRIAL, encoding="utf-8")
    return path


def hold_to_the_table(folder):
    """Every drawing below a folder has the unit and the layers of the table; returns how many there are."""
    drawings = list(folder.rglob("*.dxf"))
    for path in drawings:
        document = ezdxf.readfile(path)
        assert document.header["$INSUNITS"] == INCHES, path
        names = {layer.dxf.name for layer in document.layers}
        assert names >= LAYERS and "CUT" not in names, path
        assert {entity.dxf.layer for entity in document.modelspace()} <= names
    return len(drawings)


def test_pieces_are_drawn_as_the_table_wants_them(job, tmp_path):
    """Unit, layer numbers and names of [table]; a vamp of size 39 is some 6 inches long there, not 150."""
    assert main(["pieces", str(job), "-o", str(tmp_path / "out"), "--quiet"]) == Exit.DONE
    assert hold_to_the_table(tmp_path / "out") == 2
    document = ezdxf.readfile(sorted((tmp_path / "out").glob("*.dxf"))[0])
    (cut,) = document.modelspace().query('LWPOLYLINE[layer=="KNIFE"]')
    xs = [point[0] for point in cut.get_points("xy")]
    assert 4.0 < max(xs) - min(xs) < 9.0


def test_new_pieces_of_a_trial_are_drawn_as_the_table_wants_them(job, tmp_path):
    """The same for the pieces with revised allowances."""
    words = ["trial", str(job), str(job.parent.parent / "trial.csv"), "-o", str(tmp_path / "out"), "--quiet"]
    assert main(words) == Exit.DONE
    assert hold_to_the_table(tmp_path / "out" / "new-pieces") == 2


def test_plans_are_drawn_as_the_table_wants_them(tmp_path):
    """cut and recut: hides, lays and pieces alike."""
    plan = box_plan()
    table = CuttingTable(unit="in", layer_numbers=True, layers=(("cut", "KNIFE"),))
    write_plan(replace(plan, settings=replace(plan.settings, table=table)), tmp_path / "plan.json")
    saved = str(tmp_path / "plan.json")
    assert main(["cut", saved, "-o", str(tmp_path / "out"), "--no-figures", "--quiet"]) == Exit.DONE
    words = ["recut", saved, "--hide", "H1", "--piece", "3", "-o", str(tmp_path / "again"), "--quiet"]
    assert main(words) == Exit.DONE
    assert hold_to_the_table(tmp_path / "out") == 4
    assert hold_to_the_table(tmp_path / "again") == 2


def test_cut_sheets_are_written_without_pictures_too(tmp_path):
    """A cut sheet is handed out with its hide: --no-figures leaves it be, and the page names its folder."""
    write_plan(box_plan(), tmp_path / "plan.json")
    out = tmp_path / "out"
    assert main(["cut", str(tmp_path / "plan.json"), "-o", str(out), "--no-figures", "--quiet"]) == Exit.DONE
    assert (out / "sheets" / "hide-H1.pdf").read_bytes().startswith(b"%PDF")
    assert not (out / "figures").exists()
    assert 'href="sheets/"' in (out / "report.html").read_text(encoding="utf-8")


def test_sheets_say_what_drawings_say_of_a_wrong_plan(tmp_path):
    """Where a lay alone is wrong, nothing of the plan may be cut: the sheet of a sound hide is named so too."""
    plan = box_plan()
    short = replace(plan, rolls=(replace(plan.rolls[0], length_mm=100.0),))
    write_plan(short, tmp_path / "plan.json")
    out = tmp_path / "out"
    assert main(["cut", str(tmp_path / "plan.json"), "-o", str(out), "--no-figures", "--quiet"]) == Exit.WRONG
    names = {path.name for path in (*out.rglob("*.dxf"), *out.rglob("*.pdf"))}
    assert names == {f"NOT-VERIFIED-{one}" for one in
                     ("hide-H1.dxf", "hide-H1.pdf", "lay-L1.dxf", "lay-L1.pdf", "print.pdf", "V38.dxf", "B38.dxf",
                      "box-1.pdf")}
