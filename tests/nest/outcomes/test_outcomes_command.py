"""The command outcomes, and the lists it is about, on the command line."""

import csv
import json

from tiny_plans import box_plan

from nest.cli import main
from nest.planfile import write_plan


def test_a_list_is_written_filled_and_counted(tmp_path, capsys):
    """Empty list out, filled list in, and used counts what failed by the same file; a list is never written over."""
    plan, blank = tmp_path / "plan.json", tmp_path / "list.csv"
    write_plan(box_plan(), plan)
    assert main(["outcomes", str(plan), "-o", str(blank)]) == 0
    with open(blank, encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["piece"] for row in rows] == ["1", "2", "3", "4"]
    filled = tmp_path / "filled.csv"
    filled.write_text("hide,piece,outcome\nH1,1,pleats\nH1,others,good\n", encoding="utf-8")
    (tmp_path / "cut.csv").write_text("material,state\nH1,cut\n", encoding="utf-8")
    capsys.readouterr()
    assert main(["outcomes", str(plan), str(filled), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["rows"][-1] | {"style": "", "known": 4, "good": 3, "pleats": 1, "crack": 0} == data["rows"][-1]
    assert main(["used", str(plan), "--cut", str(tmp_path / "cut.csv"), "--spoiled", str(filled), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["rows"][-1]["vamps_spoiled"] == 1
    assert main(["outcomes", str(plan), "-o", str(blank)]) == 2
    assert main(["outcomes", str(plan)]) == 2
