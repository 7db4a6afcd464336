"""The costing clerk's commands: `price`, `whatif`, `compare` and `trial`."""

import json
from dataclasses import replace
from decimal import Decimal

import openpyxl
import pytest
from small_jobs import small_job
from tiny_plans import box_plan, hide

from nest.cli import main
from nest.cli.codes import Exit
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.job.read import read_job
from nest.plan import ExpectedLeather, Search
from nest.planfile import write_plan
from nest.stock.material import Leather

TRIAL = """\
size,piece,toe_mm,left_mm,right_mm,back_mm,widening_percent,rejected,reason
39,1,9,5,5,-1,2.0,no,
39,2,9,5,5,1,2.0,no,
39,3,9,5,5,0,2.0,yes,short at the back
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """A job of one style of the demo, two sizes."""
    folder = tmp_path_factory.mktemp("job")
    path = small_job(folder / "job", pairs={"39": 4, "40": 3})
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[costing]", "[costing]\npairs_per_year = 1000\n#", 1), encoding="utf-8")
    return path


@pytest.fixture
def saved(tmp_path):
    """Writes plans and returns the paths of their files."""

    def save(*plans) -> list[str]:
        paths = [tmp_path / f"plan-{i}.json" for i in range(len(plans))]
        for plan, path in zip(plans, paths, strict=True):
            write_plan(plan, path)
        return [str(path) for path in paths]

    return save


def out_of(capsys) -> dict:
    """What a command printed as JSON."""
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("name", ["price", "whatif", "compare", "trial"])
def test_help(name, capsys):
    """Help ends well and holds an example."""
    assert main([name, "--help"]) == Exit.DONE
    assert f"vampyield {name}" in capsys.readouterr().out


def test_price_of_a_plan(saved, tmp_path, capsys):
    """The tiny plan by hand: 15.00 of leather and 2.875 of reinforcement; labour adds the table's own time."""
    costing = Costing(labour_per_hour=Decimal(36), candidates=(("calf", "kid"),))
    plan = box_plan(settings=Settings(costing=costing))
    plan = replace(plan, leathers=(*plan.leathers, Leather("kid", Decimal(60), "m2")))
    book = tmp_path / "costing.xlsx"
    assert main(["price", *saved(plan), "-o", str(book), "--trace", "--json"]) == Exit.DONE
    data = out_of(capsys)
    order = data["rows"][-1]
    # 2.875: the half cent goes where the parts add up to the total
    assert order["amounts"]["leather"] == "15.00" and order["amounts"]["reinforcement"] in ("2.87", "2.88")
    assert Decimal(order["amounts"]["cutting"]) > 0
    assert sum(map(Decimal, order["amounts"].values())) == Decimal(order["total"])
    assert data["candidates"][0]["dearer_per_pair"] == "7.50"
    assert {row["source"] for row in data["trace"]} == {"layout of hide H1", "lay L1"}
    assert openpyxl.load_workbook(book)["Sizes"]["A4"].value == "box"
    assert main(["price", *saved(plan), "-o", str(book)]) == Exit.BAD_INPUT
    assert "exists already" in capsys.readouterr().err
    assert main(["price", *saved(box_plan())]) == Exit.DONE
    assert "17.87" in capsys.readouterr().out


def test_price_of_a_job(job, capsys):
    """An estimate by size; the lines of each row add up."""
    assert main(["price", str(job), "--json"]) == Exit.DONE
    data = out_of(capsys)
    assert [row["size"] for row in data["rows"]] == ["39", "40", ""]
    for row in data["rows"]:
        assert sum(map(Decimal, row["per_pair"].values())) == Decimal(row["good_pair"])
    assert Decimal(data["rows"][0]["per_pair"]["leather"]) < Decimal(data["rows"][1]["per_pair"]["leather"])


def test_whatif_by_estimate(job, tmp_path, capsys):
    """More allowance costs more at every part, for a pair, the order and a year; a wider gap costs more too."""
    book = tmp_path / "what-if.xlsx"
    assert main(["whatif", str(job), "--rules", "--json", "-o", str(book)]) == Exit.DONE
    data = out_of(capsys)
    assert [one["part"] for one in data["allowances"]] == ["toe", "side", "back"]
    for one in data["allowances"]:
        pair = one["per_mm_pair"]["value"]
        assert 0.005 < pair < 0.2  # of a pair of some 4 EUR, a mm of 250 round it
        assert one["per_mm_order"]["value"] == pytest.approx(7 * pair)
        assert one["per_mm_year"]["value"] == pytest.approx(1000 * pair)
        assert [row["size"] for row in one["per_mm_by_size"]] == ["39", "40"]
    narrow, wide = (rule["pair"]["value"] for rule in data["rules"])
    assert narrow < 0.0 < wide
    assert openpyxl.load_workbook(book)["What-ifs"]["A4"].value == "Linden boot"
    assert main(["whatif", str(job), "--part", "heel"]) == Exit.BAD_INPUT
    assert "toe, side, back" in capsys.readouterr().err


def test_compare(saved, capsys):
    """A dearer leather: all of the change is price."""
    dearer = box_plan(leathers=(Leather("calf", Decimal(33), "m2"),))
    assert main(["compare", *saved(box_plan(), dearer), "--json"]) == Exit.DONE
    data = out_of(capsys)
    assert data["change"] == "1.50" and data["causes"] == [
        {"cause": "price", "leather": "1.50", "reinforcement": "0.00", "amount": "1.50"}
    ]
    assert main(["compare", *saved(box_plan(), dearer)]) == Exit.DONE
    assert "19.37" in capsys.readouterr().out


def test_trial(job, tmp_path, capsys):
    """A shortage is said first; the revised job is written beside all it needs, and reads; the old one stays."""
    table, out, before = tmp_path / "trial.csv", tmp_path / "out", job.read_bytes()
    table.write_text(TRIAL, encoding="utf-8")
    words = ["trial", str(job), str(table), "-o", str(out), "--toe-left", "4", "--side-left", "3", "--back-left", "2"]
    assert main([*words, "--json"]) == Exit.DONE
    said = capsys.readouterr()
    assert said.err.index("SHORT: Linden boot, size 39, back") < said.err.index("Rejected")
    data = json.loads(said.out)
    style = data["styles"][0]
    assert style["shortages"] == [{"size": "39", "part": "back", "short_mm": 1.0}]
    # Toe: 9 left, 4 wanted, no spread: 14 to its least, 10. Back: 0 left, 2 wanted, sd 1: 11 + 2 + 2.
    assert [(row["size"], row["toe_mm"], row["back_mm"]) for row in style["allowances"]] == [
        ("39", 10.0, 15.0), ("40", 10.0, 15.0)
    ]
    assert style["rejects"]["reasons"] == [{"reason": "short at the back", "pieces": 1}]
    revised = read_job(out / "job.toml")
    assert (revised.styles[0].allowances.toe_mm, revised.styles[0].allowances.back_mm) == (10.0, 15.0)
    assert job.read_bytes() == before
    assert (out / "trial.csv").is_file() and len(list((out / "new-pieces").glob("*.dxf"))) == 4
    first = data["saving"][0]
    assert first["after"] - first["before"] == pytest.approx(first["pair"]["value"])
    assert first["order"] == pytest.approx(7 * first["pair"]["value"])
    assert main(["trial", str(job), str(table), "-o", str(job.parent)]) == Exit.BAD_INPUT
    assert "the old job stays" in capsys.readouterr().err


def test_trial_with_faults_writes_nothing(job, tmp_path, capsys):
    """Every fault of the table is said, and no folder is made."""
    table, out = tmp_path / "trial.csv", tmp_path / "out"
    table.write_text(TRIAL.replace("39,1,9", "39,1,nine").replace("39,2", "banana,2"), encoding="utf-8")
    assert main(["trial", str(job), str(table), "-o", str(out)]) == Exit.BAD_INPUT
    said = capsys.readouterr().err
    assert "line 2, toe_mm" in said and "line 3, size" in said and not out.exists()


def test_the_search_is_said_wherever_a_plan_is_costed(saved, capsys):
    """A plan that lies far above its estimate says so in `price`, and in `compare` under the plan's own name."""
    plan = box_plan()
    second = replace(plan.layouts[0], hide_id="H2")
    plan = replace(plan, hides=(*plan.hides, hide("H2")), layouts=(*plan.layouts, second))
    starved = replace(plan, search=Search(60.0, 25.0, None, False, (ExpectedLeather("calf", 5e5, 8 * 27776.0, 3.0),)))
    assert main(["price", *saved(starved), "--json"]) in (Exit.DONE, Exit.WRONG, Exit.SHORT)
    said = out_of(capsys)["search"]
    assert said[0] == "Searched for 25 s; 60 s were asked for." and "100% above the 0.50 m²" in said[1]
    assert said[2].startswith("More time would pay: calf")
    main(["compare", *(paths := saved(starved, plan)), "--json"])
    data = out_of(capsys)
    assert data["before"]["search"] == said and data["after"]["search"] == []
    main(["compare", *paths])
    assert "Searched for 25 s" in capsys.readouterr().out
