"""The command drift, and the records that outcomes and trial keep, on the command line. All figures are invented."""

import json
from dataclasses import replace

import pytest
from small_jobs import small_job
from tiny_plans import box_plan
from trim_worlds import world

from nest.cli import main
from nest.drift import Conclusion, Measured, advised, drift_of, revisions_of
from nest.job.read import read_job
from nest.pieces.piece import Part
from nest.planfile import write_plan
from nest.report.drift import write_record


def test_outcomes_and_a_trial_keep_a_record(tmp_path, capsys):
    """Each adds its rows once; without a day nothing is added."""
    plan, listed, record = tmp_path / "plan.json", tmp_path / "list.csv", tmp_path / "trim.csv"
    write_plan(box_plan(), plan)
    listed.write_text("hide,piece,outcome,toe_mm\nH1,1,good,9.5\nH1,2,good,8.5\n", encoding="utf-8")
    assert main(["outcomes", str(plan), str(listed), "--record", str(record)]) == 2 and not record.exists()
    asked = ["outcomes", str(plan), str(listed), "--record", str(record), "--day", "2026-03-02"]
    assert main(asked) == 0 and main(asked) == 0
    said = capsys.readouterr().out
    assert "2 rows added, 0 were there already" in said and "0 rows added, 2 were there already, 2 in all" in said
    assert main([*asked[:-1], "yesterday"]) == 2


@pytest.mark.parametrize("leads", ["nowhere.csv", "trim.csv", "there.csv"], ids=["nowhere", "to itself", "to a record"])
def test_a_record_that_is_a_link_is_refused(leads, tmp_path, capsys):
    """Wherever it leads, and though the list holds nothing to add: rows would go where nobody looks for them."""
    plan, listed, record = tmp_path / "plan.json", tmp_path / "list.csv", tmp_path / "trim.csv"
    write_plan(box_plan(), plan)
    listed.write_text("hide,piece,outcome\nH1,1,good\n", encoding="utf-8")
    (tmp_path / "there.csv").write_text("date,plan,id,style,size,part,leather,allowance_mm,trim_mm\n")
    record.symlink_to(leads)
    assert main(["outcomes", str(plan), str(listed), "--record", str(record), "--day", "2026-03-02"]) == 2
    (said,) = capsys.readouterr().err.splitlines()
    assert said.endswith(f"trim.csv is a link to {leads}; name the file itself") and record.is_symlink()


@pytest.fixture
def weeks(tmp_path):
    """A small job and a record of ten weeks of its style in which the toe is left with 4 mm too much."""
    path = small_job(tmp_path, pairs={"38": 6, "39": 6})
    loaded = read_job(path)
    (style,) = loaded.styles
    rows = []
    for i, one in enumerate(world(2, null=1.0, weeks=10, hides=4).record):
        trim = style.allowances.least_toe_mm + 6.5 + (one.trim_mm % 1.0)
        rows.append(replace(
            one, style=style.name, size=("38", "39")[i % 2], leather=style.leather, trim_mm=round(trim, 2),
            allowance_mm=style.allowances.for_size("38").toe_mm))
    write_record(tuple(rows), tmp_path / "trim.csv")
    return path


def test_an_allowance_shrinks_and_the_new_job_is_ready(weeks, tmp_path, capsys):
    """The toe goes down, in the new job too; the saving is negative, and chart and tables are written."""
    into, out = tmp_path / "new.toml", tmp_path / "found"
    asked = ["drift", str(tmp_path / "trim.csv"), "--job", str(weeks), "--into", str(into)]
    assert main([*asked, "-o", str(out), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert {row["conclusion"] for row in data["allowances"]} == {"less"}
    assert not any(one["told"] for one in data["effects"])
    old, new = (read_job(path).styles[0].allowances for path in (weeks, into))
    for row in data["allowances"]:
        assert new.for_size(row["size"]).toe_mm == row["new_mm"] < old.for_size(row["size"]).toe_mm
        assert row["new_mm"] >= old.least_toe_mm
    assert new.back_mm == old.back_mm and data["saving"][-1]["order"] < 0.0
    assert {path.name for path in out.iterdir()} >= {"allowances.csv", "effects.csv", "drift.png"}
    assert main(asked) == 2


def one_size(trims, least=8.0, now=12.0):
    """Advice on the toe of one size after pieces with these trims, a hide each, lots and weeks in turn."""
    from box_jobs import job

    rows = [
        Measured(f"2026-0{1 + i // 28}-{1 + i % 28:02}", "p", str(i), "box", "38", "", Part.TOE, "calf", f"l{i % 7}",
                 f"H{i}", "1", now, float(trim)) for i, trim in enumerate(trims)
    ]
    asked = job()
    style = asked.styles[0]
    allowances = replace(style.allowances, toe_mm=now, least_toe_mm=least)
    asked = replace(asked, styles=(replace(style, allowances=allowances),))
    (advice,) = advised(drift_of(rows, asked), asked, 2.0)
    return advice, revisions_of(asked, [advice])


def test_verdicts():
    """More where it is too lean, less where there is too much, never below the least, nor where a piece was short."""
    swing = [0.3, -0.2, 0.1, -0.4, 0.2] * 22
    more, revised = one_size([4.0 + d for d in swing])
    assert more.conclusion is Conclusion.MORE and more.new_mm >= 16.0
    assert revised[0].revised.allowances.for_size("38").toe_mm == more.new_mm
    less, _ = one_size([11.0 + d for d in swing], now=14.0)
    assert less.conclusion is Conclusion.LESS and 11.0 <= less.new_mm <= 13.0
    held, revised = one_size([11.0 + d for d in swing], least=8.0, now=8.0)
    assert held.conclusion is Conclusion.LEAST and held.new_mm == 8.0 and not revised
    short, _ = one_size([13.0 + d for d in swing[:-1]] + [-0.5], now=14.0)
    assert short.conclusion is Conclusion.SHORT and short.new_mm == 14.0
