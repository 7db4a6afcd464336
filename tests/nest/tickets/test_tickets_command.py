"""`vampyield tickets`: its files, its table, and what it refuses."""

import csv
import json
import re

import pytest
from typer.testing import CliRunner
from vamp_plans import vamp_plan

from nest.cli.app import app
from nest.planfile import write_plan

PLAN = vamp_plan(2)
TIME = "2026-03-02T05:50:00Z"


@pytest.fixture
def plan(tmp_path):
    """A saved plan of two hides; it has no lay of some sizes, so it is short."""
    write_plan(PLAN, tmp_path / "plan.json")
    return tmp_path / "plan.json"


def run(*words):
    """The command, its result."""
    return CliRunner().invoke(app, ["tickets", *map(str, words)])


def pages_in(path):
    """How many pages a PDF file has."""
    return len(re.findall(rb"/Type /Page\b", path.read_bytes()))


def test_one_ticket_a_batch_all_in_one_file_and_a_list(plan, tmp_path):
    """Batches of the file given with --crimping; the folder may be written again, and comes out the same."""
    (tmp_path / "own.toml").write_text("batch_pairs = 8\n", encoding="utf-8")
    out, before = tmp_path / "two", tmp_path / "two.old-1"
    for _ in range(2):
        found = run(plan, "--crimping", tmp_path / "own.toml", "--out", out, "--time", TIME, "--json")
        assert found.exit_code in (0, 1), found.output
    batches = json.loads(found.stdout)["batches"]
    assert len(batches) > 1 and all(one["pairs"] <= 8 for one in batches)
    files = {path.relative_to(out) for path in out.rglob("*") if path.is_file()}
    assert all((out / file).read_bytes() == (before / file).read_bytes() for file in files)
    tickets = list((out / "tickets").iterdir())
    assert len(tickets) == len(batches)
    (together,) = out.glob("*print.pdf")
    assert pages_in(together) == 1 + sum(map(pages_in, tickets)), "an index, no issue list, every ticket"
    with open(out / "batches.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    placed = [(layout.hide_id, str(i + 1)) for layout in PLAN.layouts for i in range(len(layout.placed))]
    assert sorted((row["hide"], row["piece"]) for row in rows) == sorted(placed)


def test_what_cannot_be_used_is_refused_and_nothing_written(plan, tmp_path):
    """A fault in the file of --crimping, and a folder that holds a run or anything else."""
    (tmp_path / "own.toml").write_text("[crimping]\nbond_s = -3\n", encoding="utf-8")
    with pytest.raises(Exception, match="bond_s above 0"):
        CliRunner().invoke(app, ["tickets", str(plan), "--crimping", str(tmp_path / "own.toml"), "-o",
                                 str(tmp_path / "new")], catch_exceptions=False)
    assert not (tmp_path / "new").exists()
    with pytest.raises(Exception, match="no earlier run wrote"):
        CliRunner().invoke(app, ["tickets", str(plan), "-o", str(tmp_path)], catch_exceptions=False)
