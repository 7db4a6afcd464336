"""Costing depends neither on the time nor on the order of sets: two runs print and write the same bytes."""

import os
import subprocess
import sys
import zipfile
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import openpyxl
from priced_plans import metric_plan

from nest.cli import main
from nest.planfile import write_plan
from nest.report.books import save_book
from nest.stock.material import Leather

sys.path.append(str(Path(__file__).parent / "job"))
from tiny_job import write as write_job

COMMANDS = (
    ["cost", "plan-b.json"], ["cost", "plan-b.json", "--json"], ["price", "plan-a.json", "--trace", "-o", "plan.xlsx"],
    ["price", "job/job.toml", "--json", "-o", "job.xlsx"], ["compare", "plan-b.json", "plan-c.json"],
    ["whatif", "job/job.toml", "--part", "toe", "-o", "what-if.xlsx"],
    ["used", "plan-b.json", "--cut", "cut.csv", "--spoiled", "spoiled.csv", "-o", "evening"],
)
COSTING = """
[costing]
labour_per_hour = 38
pairs_per_year = 900
candidates = { calf = ["kid"] }

[[leather]]
name = "kid"
price = 5
price_unit = "ft2"
"""


def run(folder: Path) -> None:
    """Run every command in `folder`."""
    os.chdir(folder)
    for words in COMMANDS:
        main(words)


def written(folder: Path) -> dict[str, bytes]:
    """What the commands wrote."""
    paths = [*folder.glob("*.xlsx"), *(folder / "evening").iterdir()]
    return {str(path.relative_to(folder)): path.read_bytes() for path in paths}


def test_two_runs_of_every_costing_command_are_the_same(tmp_path, monkeypatch, capfd):
    """Whatever the hashes of names and the time of day: tables, JSON, CSV and workbooks, byte for byte.

    One run is here, the other in a process of its own, where texts have other hashes.
    """
    plan = metric_plan()
    costing = replace(plan.settings.costing, candidates=(("calf", "kid"),))
    leathers = *plan.leathers, Leather("kid", Decimal(5), "ft2")
    plan = replace(plan, settings=replace(plan.settings, costing=costing), leathers=leathers)
    # Cutting takes a second to order: one plan with labour will do.
    plain = replace(plan, settings=replace(plan.settings, costing=replace(costing, labour_per_hour=None)))
    for name in ("here", "there"):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "job").mkdir()
        write_job(folder / "job")
        with open(folder / "job" / "job.toml", "a", encoding="utf-8") as file:
            file.write(COSTING)
        write_plan(plan, folder / "plan-a.json")
        write_plan(plain, folder / "plan-b.json")
        write_plan(replace(plain, leathers=(replace(plan.leathers[0], price=Decimal(31)), leathers[1])),
                   folder / "plan-c.json")
        (folder / "cut.csv").write_text("material,state,used,unit\nH1,cut,,\n", encoding="utf-8")
        (folder / "spoiled.csv").write_text("style,size,side,pieces,reinforcement\nbox,38,,1,\n", encoding="utf-8")
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(tmp_path)
    run(tmp_path / "here")
    here = capfd.readouterr()
    code = f"from test_costing_repeats import Path, run; run(Path({str(tmp_path / 'there')!r}))"
    tests = Path(__file__).parent
    there = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, encoding="utf-8",
        env={**os.environ, "PYTHONHASHSEED": "7", "PYTHONPATH": os.pathsep.join((str(tests.parents[1]), str(tests)))},
    )
    assert (here.out, here.err) == (there.stdout, there.stderr) and here.out.count("EUR") > 4
    mine, theirs = written(tmp_path / "here"), written(tmp_path / "there")
    assert {"plan.xlsx", "job.xlsx", "what-if.xlsx", "evening/used-against-planned.xlsx"} <= mine.keys()
    assert mine.keys() == theirs.keys() and not [name for name in mine if mine[name] != theirs[name]]


def test_a_saved_workbook_knows_no_time(tmp_path):
    """Entries and properties carry the first time of the format, and the workbook still opens."""
    book = openpyxl.Workbook()
    book.active["A1"] = "=1+1"
    save_book(book, tmp_path / "a.xlsx")
    with zipfile.ZipFile(BytesIO((tmp_path / "a.xlsx").read_bytes())) as found:
        assert {one.date_time[0] for one in found.infolist()} == {1980}
        assert b"1980-01-01T00:00:00Z" in found.read("docProps/core.xml")
        assert str(openpyxl.load_workbook(tmp_path / "a.xlsx").properties.modified.year) == "1980"
