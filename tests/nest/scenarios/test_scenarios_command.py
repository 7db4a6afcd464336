"""The command `scenarios`: a table on screen, as CSV and as a workbook, and refusals that write nothing."""

import csv
import json

import openpyxl
from small_jobs import small_job
from typer.testing import CliRunner

from nest.cli.app import app
from nest.job.read import read_job
from nest.planning.make import make_plan
from nest.whatif import plan_cost

TRY = """\
[[leathers]]
instead = { "Black side" = "Brown side" }
[[allowances]]
toe_more_mm = -2
[[quantities]]
pairs = 60
"""


def run(*words):
    """The command's result."""
    return CliRunner().invoke(app, ["scenarios", *map(str, words)], catch_exceptions=False)


def test_a_table_of_scenarios_on_screen_and_in_files(tmp_path):
    """Eight rows, cheapest first, the same in JSON, CSV and workbook."""
    job = small_job(tmp_path / "job", pairs={"38": 2, "39": 3})
    (tmp_path / "try.toml").write_text(TRY, encoding="utf-8")
    asked = job, tmp_path / "try.toml"
    told = json.loads(run(*asked, "--json", "-o", tmp_path / "t.csv").stdout)
    rows = told["scenarios"]
    assert len(rows) == 8 and [row["rank"] for row in rows] == list(range(1, 9))
    assert sum(row["as_it_is"] for row in rows) == 1 and rows[0]["choices"]["allowances"] == "toe -2 mm"
    with open(tmp_path / "t.csv", encoding="utf-8-sig", newline="") as file:
        lines = list(csv.reader(file))
    assert lines[0][:5] == ["rank", "leather", "allowances", "quantity", "good pair, EUR"]
    assert [float(line[4]) for line in lines[1:]] == [round(row["good_pair"], 4) for row in rows]
    shown = run(*asked, "-o", tmp_path / "t.xlsx")
    assert shown.exit_code == 0 and "the job as it is" in shown.stdout and "toe -2 mm" in shown.stdout
    page = openpyxl.load_workbook(tmp_path / "t.xlsx")["Scenarios"]
    assert [page.cell(4 + i, 5).value for i in range(8)] == [round(row["good_pair"], 4) for row in rows]


def test_the_best_are_placed_with_the_job_as_it_is(tmp_path):
    """Placed with the job's seed, one and the same twice; a leather of which no hide is in stock is said not to be."""
    job = small_job(tmp_path / "job", pairs={"38": 1})
    (tmp_path / "try.toml").write_text('[[leathers]]\ninstead = { "Black side" = "Brown side" }\n', encoding="utf-8")
    asked = job, tmp_path / "try.toml", "--place", "2", "--passes", "1"
    told = json.loads(run(*asked, "--json", "-o", tmp_path / "t.csv").stdout)
    now, other = told["scenarios"]
    assert now["as_it_is"] and now["placed"] > now["good_pair"] / 2 and now["placed_short"] == 0
    assert other["placed"] is None and any("no hides of Brown side in stock" in note for note in told["notes"])
    with open(tmp_path / "t.csv", encoding="utf-8-sig", newline="") as file:
        first, second = csv.DictReader(file)
    assert float(first["placed, good pair, EUR"]) == round(now["placed"], 4) and first["placed, pairs short"] == "0"
    assert second["placed, good pair, EUR"] == second["placed, pairs short"] == ""
    cost = plan_cost(lambda loaded, seed: make_plan(loaded, passes=1, seed=seed))
    assert now["placed"] == float(cost(read_job(job), 1).order.exact_pair)


def test_a_bad_file_is_refused_and_nothing_is_written(tmp_path):
    """Exit code 2 in the program; here the error that carries it, and no table."""
    job = small_job(tmp_path / "job", pairs={"38": 2})
    (tmp_path / "try.toml").write_text("[[quantities]]\npairs = -4\n", encoding="utf-8")
    found = CliRunner().invoke(app, ["scenarios", str(job), str(tmp_path / "try.toml"), "-o", str(tmp_path / "t.csv")])
    assert "try.toml, line 2, quantities.1.pairs" in str(found.exception) and not (tmp_path / "t.csv").exists()
    found = CliRunner().invoke(app, ["scenarios", str(job), str(tmp_path / "try.toml"), "-o", str(tmp_path / "t.pdf")])
    assert "neither a .csv nor a .xlsx" in str(found.exception)
