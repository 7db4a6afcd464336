"""The command `stretch`: what it prints, and the job it writes."""

import json

import pytest
from small_jobs import small_job

from nest.cli import main
from nest.job.read import read_job

CLEAR = "Knit 90,,0,2.1\nKnit 90,,0,2.0\nKnit 90,,45,2.3\nKnit 90,,45,2.4\nKnit 90,,90,4.5\nKnit 90,,90,4.4\n"
HEAD = "material,zone,angle_deg,extension_percent\n"


def test_the_new_job_has_the_direction_found(tmp_path, capsys):
    """A roll and a zone get their measured directions in a new job; the old files stay as they are."""
    job = small_job(tmp_path / "job", pairs={"39": 2})
    old = job.read_bytes()
    zone = read_job(job).hides[0].zones[0].zone_id
    readings = tmp_path / "readings.csv"
    readings.write_text(HEAD + CLEAR + "".join(f"H01,{zone},{a},{e}\n" for a, e in ((0, 60), (60, 135), (120, 264))))
    new = job.with_name("tested.toml")
    assert main(["stretch", str(readings), "--job", str(job), "--into", str(new), "--error", "0.1", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    directions = {one["material"]: one["direction_deg"] for one in data["tested"]}
    assert directions["H01"] == pytest.approx(109.3, abs=0.05)  # the rosette of test_stretch_fit
    loaded, before = read_job(new), read_job(job)
    roll = next(one for one in loaded.rolls if one.roll_id == "Knit 90")
    assert roll.stretch_deg == pytest.approx(directions["Knit 90"], abs=0.05)
    assert next(one for one in loaded.rolls if one.roll_id != "Knit 90").measured_stretch_deg is None
    for was, now in zip(before.hides[0].zones, loaded.hides[0].zones, strict=True):
        assert now.stretch_deg == (109.3 if was.zone_id == zone else was.stretch_deg)
    assert job.read_bytes() == old
    # A later test of the roll alone carries the zone over.
    readings.write_text(HEAD + CLEAR)
    third = job.with_name("third.toml")
    assert main(["stretch", str(readings), "--job", str(new), "--into", str(third), "--quiet"]) == 0
    assert read_job(third).hides[0].zones[0].stretch_deg == 109.3
    head = third.read_text().partition("\n[")[0]
    assert [line for line in head.splitlines() if line.startswith("stretch")] == ['stretch = "third-stretch.csv"']


def test_nothing_is_written_over(tmp_path, capsys):
    """A file that exists, or another folder, is refused with one sentence and code 2."""
    job = small_job(tmp_path / "job", pairs={"39": 2})
    readings = tmp_path / "readings.csv"
    readings.write_text(HEAD + CLEAR)
    for target, words in ((job, "never written over"), (tmp_path / "else.toml", "must lie beside")):
        assert main(["stretch", str(readings), "--job", str(job), "--into", str(target)]) == 2
        assert words in capsys.readouterr().err
    assert not (tmp_path / "else.toml").exists()


def test_doubt_says_what_bias_leave_does_to_yield(tmp_path, capsys):
    """A roll that stretches alike all ways is in doubt, and the lattice's yield is given across and at bias."""
    job = small_job(tmp_path / "job", pairs={"39": 2})
    readings = tmp_path / "readings.csv"
    readings.write_text(HEAD + "".join(f"Knit 90,,{a},{e}\n" for a, e in ((0, 2.1), (45, 2.2), (90, 2.3), (135, 2.1))))
    assert main(["stretch", str(readings), "--job", str(job), "--json"]) == 0
    one = json.loads(capsys.readouterr().out)["tested"][0]
    assert one["in_doubt"] and "bias_leave" in one["advice"]
    assert "at bias" in one["effects"][0]


@pytest.mark.parametrize(("text", "words"), [
    (HEAD, "at least three readings"),
    ("material,angle_deg\nx,1\n", "extension_percent"),
    (HEAD + "a,,0,1\na,,90,2\n", "three or more different angles"),
    (HEAD + "a,,zero,1\na,,45,nan\n,,90,2\n", "an angle|a number|the name of what was tested"),
    (HEAD + "a,,0,9000\na,,45,1\na,,90,1\n", "from -500 to 500"),
])
def test_bad_readings_are_refused(tmp_path, capsys, text, words):
    """Every fault of the table is said in a sentence; code 2."""
    readings = tmp_path / "readings.csv"
    readings.write_text(text)
    assert main(["stretch", str(readings)]) == 2
    said = capsys.readouterr().err
    assert any(word in said for word in words.split("|"))


@pytest.mark.parametrize(("table", "words"), [
    ("material,zone,stretch_deg\nKnit 99,,80\n", "did you mean 'Knit 90'"),
    ("material,zone,stretch_deg\nKnit 90,butt,80\n", "no zone for a roll"),
    ("material,zone,stretch_deg\nH01,tail,80\n", "a zone of H01"),
    ("material,zone,stretch_deg,in_doubt\nKnit 90,,80,perhaps\n", "yes or no"),
    ("material,zone,stretch_deg\nKnit 90,,steep\n", "an angle"),
])
def test_a_wrong_table_of_stretch_refuses_the_job(tmp_path, capsys, table, words):
    """A job's table of measured stretch that fits nothing is refused, with its line."""
    job = small_job(tmp_path / "job", pairs={"39": 2})
    (job.parent / "measured.csv").write_text(table)
    job.write_text('stretch = "measured.csv"\n' + job.read_text())
    assert main(["estimate", str(job)]) == 2
    said = capsys.readouterr().err
    assert words in said and "measured.csv, line 2" in said


def test_a_doubtful_material_is_said_with_the_job(tmp_path):
    """Reading a job with a material in doubt warns; half turns of the angle are the same direction."""
    job = small_job(tmp_path / "job", pairs={"39": 2})
    (job.parent / "measured.csv").write_text("material,zone,stretch_deg,in_doubt\nKnit 90,,-85,yes\n")
    job.write_text('stretch = "measured.csv"\n' + job.read_text())
    loaded = read_job(job)
    assert any("in doubt" in warning for warning in loaded.warnings)
    assert next(one for one in loaded.rolls if one.roll_id == "Knit 90").stretch_deg == 95.0
