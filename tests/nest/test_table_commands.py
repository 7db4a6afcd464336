"""A plan written for tables of its own, and for a hide as it lies, on the command line."""

import json
import os

import pytest
from tiny_plans import box_plan

from nest.cli import main
from nest.cli.codes import Exit
from nest.planfile import read_plan, write_plan
from nest.registration.apply import drawn_points

TIME = "2026-03-02T05:50:00Z"
OLD = 'origin = "lower left"\nfiles = ["hpgl", "lean"]\nlayer_numbers = true\n'


@pytest.fixture
def plan(tmp_path):
    """A saved plan of one hide and one lay."""
    write_plan(box_plan(), tmp_path / "plan.json")
    return tmp_path / "plan.json"


def file_names(folder):
    """Everything in a folder, relative to it."""
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_one_plan_for_two_tables(plan, tmp_path, capsys):
    """Each folder is for its table, verifies by itself, and has the plan's id; the placing is the same."""
    (tmp_path / "old.toml").write_text(OLD)
    (tmp_path / "new.toml").write_text("turn_deg = 90\ngrain_down = true\n")
    for name in ("old", "new"):
        words = ["cut", str(plan), "--table", str(tmp_path / f"{name}.toml"), "-o", str(tmp_path / name)]
        assert main([*words, "--no-figures", "--time", TIME]) == Exit.DONE
        assert main(["verify", str(tmp_path / name / "drawings/hide-H1.dxf"), "-q"]) == Exit.DONE
    written = file_names(tmp_path / "old")
    assert {"drawings/hide-H1.dxf", "drawings/hide-H1.hpgl", "drawings/lean/hide-H1.dxf"} <= written
    assert not any("lean" in name or "hpgl" in name for name in file_names(tmp_path / "new"))
    told = {(tmp_path / name / "drawings/hide-H1.dxf").read_text().split("Plan ")[1][:40] for name in ("old", "new")}
    assert len(told) == 1 and TIME in told.pop()
    old, new = (read_plan(tmp_path / name / "plan.json") for name in ("old", "new"))
    assert old.layouts == new.layouts and old.settings.table.layer_numbers and new.settings.table.grain_down


def test_bytes_are_the_same_at_one_time(plan, tmp_path, monkeypatch):
    """With --time, and with SOURCE_DATE_EPOCH of the same time: every drawing, table file, sheet and page is alike."""
    (tmp_path / "old.toml").write_text(OLD)
    words = ["cut", str(plan), "--table", str(tmp_path / "old.toml"), "--no-figures", "-q", "-o"]
    assert main([*words, str(tmp_path / "a"), "--time", TIME]) == Exit.DONE
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772430600")
    assert main([*words, str(tmp_path / "b")]) == Exit.DONE
    for name in file_names(tmp_path / "a") - {"consumption.xlsx"}:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name
    assert file_names(tmp_path / "a") == file_names(tmp_path / "b")


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("tool_radius_mm = 9\n", "a tool of radius 9 mm with thinning of 0 mm needs 18.02 mm between pieces"),
        ('unit = "yd"\n', "t.toml, line 1"),
        ("seconds = 3\n", "a key this section has"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused(plan, tmp_path, capsys, table, words):
    """A tool that needs more room than the plan left, and faults in the file: the remedy is named, nothing written."""
    (tmp_path / "t.toml").write_text(table)
    assert main(["cut", str(plan), "--table", str(tmp_path / "t.toml"), "-o", str(tmp_path / "out")]) == Exit.BAD_INPUT
    said = capsys.readouterr().err
    assert words in said and not (tmp_path / "out").exists()
    if "tool" in table:
        assert "plan again for this table, or reduce tool_radius_mm or thin_mm" in said


def test_a_time_that_is_none_is_told_before_any_work(plan, tmp_path, capsys, monkeypatch):
    """SOURCE_DATE_EPOCH that is no number is said in one sentence, before the folder is made."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "noon")
    assert main(["cut", str(plan), "-o", str(tmp_path / "out")]) == Exit.BAD_INPUT
    assert "SOURCE_DATE_EPOCH is 'noon'" in capsys.readouterr().err and not (tmp_path / "out").exists()


def test_hp_gl_out_of_range_is_said(plan, tmp_path, capsys):
    """A hide of a metre leaves 16 bits; on a table without HP-GL nothing is said."""
    (tmp_path / "t.toml").write_text(OLD + "origin_x_mm = 400\n")
    main(["cut", str(plan), "--table", str(tmp_path / "t.toml"), "-o", str(tmp_path / "a"), "--no-figures", "--json"])
    told = capsys.readouterr()
    assert "HP-GL coordinates leave 16 bits" in told.err
    assert any("16 bits" in one for one in json.loads(told.out)["notes"])
    assert "16 bits" in (tmp_path / "a/report.html").read_text(encoding="utf-8")
    main(["cut", str(plan), "-o", str(tmp_path / "b"), "--no-figures"])
    assert "HP-GL coordinates" not in capsys.readouterr().err


def test_a_hide_is_registered(plan, tmp_path, capsys):
    """Two corners measured on the table, the hide turned by 90 degrees: drawing, sheet and plan of that hide alone."""
    a, b = (drawn_points(box_plan(), "H1")[name] for name in "AB")
    rows = (f"{name},{900 - y:.1f},{x + 50:.1f}\n" for name, (x, y) in (("A", a), ("B", b)))
    (tmp_path / "m.csv").write_text("point,x,y\n" + "".join(rows))
    (tmp_path / "t.toml").write_text('files = ["hpgl"]\n')
    words = ["register", str(plan), "--hide", "H1", "--points", str(tmp_path / "m.csv"), "-o", str(tmp_path / "out")]
    assert main([*words, "--table", str(tmp_path / "t.toml"), "--json", "--time", TIME]) == Exit.DONE
    told = capsys.readouterr()
    data = json.loads(told.out)
    assert data["turn_deg"] == pytest.approx(90.0, abs=1e-4)
    assert data["moved_mm"] == pytest.approx([900.0, 50.0], abs=0.01)
    assert data["scale"] == pytest.approx(1.0, abs=1e-5) and "Two points tell neither" in told.err
    written = file_names(tmp_path / "out")
    assert {"plan.json", "drawings/hide-H1.dxf", "drawings/hide-H1.hpgl", "sheets/hide-H1.pdf"} <= written
    assert not any("lay" in os.path.basename(name) for name in written)
    assert main(["verify", str(tmp_path / "out/drawings/hide-H1.dxf")]) == Exit.DONE
    capsys.readouterr()
    assert main(["cut", str(tmp_path / "out"), "-o", str(tmp_path / "again")]) == Exit.BAD_INPUT
    assert "laid out for hide H1 alone" in capsys.readouterr().err


def test_a_registration_that_cannot_be_used_writes_nothing(plan, tmp_path, capsys):
    """An unknown hide, a point that is not on the drawing, a scale beyond the tolerance, a time that is none."""
    a, b = (drawn_points(box_plan(), "H1")[name] for name in "AB")
    good = f"point,x,y\nA,{a[0]},{a[1]}\nB,{b[0]},{b[1]}\n"
    far = f"point,x,y\nA,{a[0]},{a[1]}\nB,{1.004 * b[0]},{1.004 * b[1]}\n"
    for text, hide, more, words in (
        (good, "H9", [], "no hide named H9"), (good.replace("B,", "F,"), "H1", [], "as on the drawing"),
        (far, "H1", [], "times those of the drawing"), (good, "H1", ["--time", "noon"], "write it like"),
        (good, "H1", ["--table", str(tmp_path / "none.toml")], "none.toml"),
    ):
        (tmp_path / "m.csv").write_text(text)
        out = ["-o", str(tmp_path / "out")]
        code = main(["register", str(plan), "--hide", hide, "--points", str(tmp_path / "m.csv"), *out, *more])
        assert code == Exit.BAD_INPUT and words in capsys.readouterr().err and not (tmp_path / "out").exists()
    (tmp_path / "m.csv").write_text(far)
    words = ["register", str(plan), "--hide", "H1", "--points", str(tmp_path / "m.csv"), "-o", str(tmp_path / "out")]
    assert main([*words, "-q", "--within", "0.5"]) == Exit.DONE
