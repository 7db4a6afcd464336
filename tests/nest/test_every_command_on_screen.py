"""Every command at 60, 80 and 120 columns: nothing that it shows or says is cut, and no word is broken."""

import sys
from pathlib import Path

import cv2
import pytest
from small_jobs import small_job
from tiny_plans import box_plan
from typer.main import get_command
from whole_words import held_whole

from nest.cli import main, screen
from nest.cli.app import app
from nest.cli.codes import Exit
from nest.cutplan.compose import registration_points
from nest.planfile import write_plan

sys.path += [str(Path(__file__).parent / "digitise")]
from camera_scene import Look
from cards import vamp
from invented import make_case
from scans import scan

LEDGER, JOB = ("--ledger", "{ledger}"), ("--job", "{job}")
COMMANDS = {
    "run": ["run", "{job}", "-o", "{out}/run", "--passes", "1", "--no-figures"],
    "place": ["place", "{job}", "-o", "{out}/place", "--passes", "1"],
    "cost": ["cost", "{plan}"], "verify": ["verify", "{plan}"],
    "price": ["price", "{job}"], "price a plan": ["price", "{plan}"], "compare": ["compare", "{plan}", "{plan}"],
    "whatif": ["whatif", "{job}", "--part", "toe"], "scenarios": ["scenarios", "{job}", "{scenarios}"],
    "quote": ["quote", "{job}", "-o", "{out}/quote.xlsx"],
    "pieces": ["pieces", "{job}", "-o", "{out}/pieces"], "estimate": ["estimate", "{job}"], "lays": ["lays", "{job}"],
    "cut": ["cut", "{plan}", "-o", "{out}/cut", "--no-figures"], "shortfall": ["shortfall", "{plan}"],
    "recut": ["recut", "{plan}", "--hide", "H1", "--piece", "2", "-o", "{out}/recut"],
    "register": ["register", "{plan}", "--hide", "H1", "--points", "{points}", "-o", "{out}/registered"],
    "replan": ["replan", "{job}", "--plan", "{out}/run", "-o", "{out}/replan", "--passes", "1", "--no-figures"],
    "tickets": ["tickets", "{plan}", "-o", "{out}/tickets"], "used": ["used", "{plan}"],
    "outcomes": ["outcomes", "{plan}", "{outcomes}"], "teach": ["teach", "{plan}", "{outcomes}"],
    "guide": ["guide"], "guide to costing": ["guide", "costing"],
    "trial": ["trial", "{job}", "{trial}", "-o", "{out}/trial"], "stretch": ["stretch", "{readings}", *JOB],
    "edit": ["edit", "{plan}", "{script}", "-o", "{out}/edit", "--no-figures"],
    "desk": ["desk", "{out}/run"], "demo": ["demo", "{out}/demo"],
    "stock receive": ["stock", "receive", "{hides}", *JOB, *LEDGER],
    "orders take": ["orders", "take", "{orders}", *JOB, *LEDGER],
    "stock list": ["stock", "list", *LEDGER], "stock count": ["stock", "count", *LEDGER],
    "stock find": ["stock", "find", "H01", *LEDGER], "stock lots": ["stock", "lots", *LEDGER],
    "stock withdraw": ["stock", "withdraw", "H02", *LEDGER], "stock return": ["stock", "return", "H02", *LEDGER],
    "stock class": ["stock", "class", "2", "H02", *LEDGER], "stock place": ["stock", "place", "rack 4", "H02", *LEDGER],
    "stock labels": ["stock", "labels", "-o", "{out}/labels.pdf", *LEDGER],
    "stock stocktake": ["stock", "stocktake", "{counted}", *LEDGER],
    "stock export": ["stock", "export", "{out}/copy", *LEDGER],
    "stock import": ["stock", "import", "{out}/copy", "--ledger", "{out}/other.db"],
    "stock gone": ["stock", "gone", "H02", *LEDGER],
    "orders list": ["orders", "list", *LEDGER], "orders list lines": ["orders", "list", "--lines", *LEDGER],
    "orders plan": ["orders", "plan", "-o", "{out}/due", "--passes", "1", "--no-figures", *JOB, *LEDGER],
    "orders plans": ["orders", "plans", *LEDGER],
    "orders write": ["orders", "write", "P0001", "-o", "{out}/again", "--no-figures", *LEDGER],
    "orders close": ["orders", "close", "P0001", *JOB, *LEDGER], "orders used": ["orders", "used", *LEDGER],
    "orders release": ["orders", "release", "P0001", *LEDGER],
    "digitise marks": ["digitise", "marks", "-o", "{out}/marks.pdf", "--count", "1"],
    "digitise table": ["digitise", "table", "{photograph}", "-o", "{out}/table.json"],
    "digitise hide": ["digitise", "hide", "{photograph}", "-o", "{out}/H17.dxf", "--table", "{out}/table.json"],
    "digitise check": ["digitise", "check", "{out}/H17.dxf", "--over", "{photograph}", "-o", "{out}/over.png",
                       "--table", "{out}/table.json"],
    "digitise template": ["digitise", "template", "{scan}", "--dpi", "{dpi}", "-o", "{out}/vamp.dxf"],
}
"""Commands in the order in which they are run: some need what others wrote."""

ELSEWHERE = {"batch"}
"""It starts processes; its words are held to the same in `test_whole_on_screen.py`."""


def leaves(group, above=()):
    """The names of all commands."""
    for name, one in group.commands.items():
        yield from leaves(one, (*above, name)) if hasattr(one, "commands") else [" ".join((*above, name))]


def test_no_command_is_forgotten():
    """Each command of the program is shown here."""
    shown = {" ".join(words[: 2 if words[0] in ("stock", "orders", "digitise") else 1]) for words in COMMANDS.values()}
    assert shown | ELSEWHERE == set(leaves(get_command(app)))


def photographs(folder):
    """A side photographed in few pixels, and a card scanned."""
    look = Look(uneven=0.2, blur=0.7, grain=0.04, noise=0.005, quality=92)
    case = make_case(12, 1600, 1200, look=look, leather="black", table="light wood", side_seed=12)
    cv2.imwrite(str(folder / "H17.jpg"), case.pixels, (cv2.IMWRITE_JPEG_QUALITY, 95))
    card = scan(vamp(), 17.0, (60.0, 90.0), holes=((50.0, 0.0), (105.0, 0.0)), dpi=100.0, page=(200.0, 190.0))
    cv2.imwrite(str(folder / "card.png"), card)
    return {"photograph": folder / "H17.jpg", "scan": folder / "card.png", "dpi": "100"}


@pytest.fixture(scope="module")
def given(tmp_path_factory):
    """What the commands are given: a plan, a small job, lists, photographs."""
    folder = tmp_path_factory.mktemp("whole")
    plan = box_plan(name="A name of a plan that is rather long, as names of orders are")
    write_plan(plan, folder / "plan.json")
    job = small_job(folder / "job", pairs={"38": 1, "39": 1}, hides=2)
    points = [f"{name},{x},{y}\n" for name, (x, y) in zip("AB", registration_points(plan.hides[0]), strict=False)]
    texts = {
        "trial.csv": "size,piece,toe_mm,rejected\n39,1,9,no\n39,2,11,no\n",
        "script.json": '[{"do": "hold", "hide": "H1", "numbers": [1, 2]}]',
        "orders.csv": "order,size,pairs,due\nA-1 of a customer,38,1,2026-12-01\nA-2,39,1,2026-12-02\n",
        "points.csv": "point,x,y\n" + "".join(points),
        "outcomes.csv": "hide,piece,outcome\nH1,1,good\nH1,2,pleats\nH1,3,good\n",
        "counted.csv": "id\nH01\nH09\n",
        "readings.csv": "material,zone,angle_deg,extension_percent\nKnit 90,,0,2.1\nKnit 90,,45,2.3\nKnit 90,,90,4.5\n"
                        "Knit 90,,0,2.0\nKnit 90,,45,2.4\nKnit 90,,90,4.4\n",
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "out").mkdir()
    return {name.partition(".")[0]: folder / name for name in texts} | {
        "plan": folder / "plan.json", "job": job, "hides": job.parent / "hides.csv", "out": folder / "out",
        "scenarios": job.parent / "scenarios.toml", "ledger": folder / "ledger.db",
    } | photographs(folder)


@pytest.fixture(scope="module")
def shown(given):
    """What each command showed and said, line by line and table by table, and its exit code."""
    found = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("nest.desk.serve.serve", lambda plan, folder, writers, ready, port, listening: ready(
            "http://127.0.0.1:40123/?key=9J4nQm2sX0"))
        for name, command in COMMANDS.items():
            kept = []
            patch.setattr(screen.Screen, "result", lambda self, data, *tables, kept=kept: kept.extend(tables))
            patch.setattr(screen.Screen, "complain", lambda self, line, kept=kept: kept.append(line))
            found[name] = main([word.format(**given) for word in command]), kept
    return found


@pytest.mark.parametrize("name", COMMANDS)
def test_no_command_cuts_or_breaks_a_word(name, shown, monkeypatch):
    """At 60, 80 and 120 columns there stands every word that stands at 400, and no line is longer than its words."""
    code, kept = shown[name]
    assert code in (Exit.DONE, Exit.SHORT) and kept, kept
    held_whole(kept, monkeypatch)
