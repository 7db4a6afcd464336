"""The commands `stock` and `orders`, and what other commands take from the ledger, as a shop uses them. Invented."""

import json
import shutil
from dataclasses import replace
from datetime import date

import pytest
from box_jobs import hide
from small_jobs import small_job

from nest.cli import main
from nest.cli.codes import Exit
from nest.cli.fromledger import like_lot
from nest.job.read import read_job
from nest.ledger.stock import receive_hides
from nest.ledger.store import open_ledger
from nest.planfile import read_plan


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A folder with a job file that names neither order nor hides, two hides, a roll, and two orders."""
    job = small_job(tmp_path / "shop", pairs={"38": 1}, hides=2)
    text = job.read_text(encoding="utf-8").replace('order = "order.csv"\n', "").replace('hides = "hides.csv"\n', "")
    job.write_text(text, encoding="utf-8")
    folder = job.parent
    (folder / "order.csv").unlink()
    (folder / "rolls.csv").write_text("id;roll;length_m;splices_m\nR7;Knit 90;12,5;3.5 9\n", encoding="utf-8")
    (folder / "orders.csv").write_text(
        "order,size,pairs,due\nA-1,38,1,2026-12-01\nA-1,39,1,2026-12-02\nB-2,38,1,2026-12-24\n", encoding="utf-8"
    )
    monkeypatch.chdir(folder)
    monkeypatch.setenv("VAMPYIELD_BY", "Ann")
    monkeypatch.delenv("VAMPYIELD_LEDGER", raising=False)
    return folder


def said(capsys, *words, code=Exit.DONE):
    """What a command says, on either stream."""
    assert main(list(words)) == code, capsys.readouterr().err
    out = capsys.readouterr()
    return out.out + out.err


def asked(capsys, *words, code=Exit.DONE):
    """What a command says with --json."""
    assert main([*words, "--json", "--quiet"]) == code
    return json.loads(capsys.readouterr().out)


def test_two_days_of_a_shop(shop, capsys):
    """From the delivery to the next morning: every command does its part, and the figures agree."""
    assert "2 hides received" in said(capsys, "stock", "receive", "hides.csv", "--supplier", "T", "--on", "2026-11-02")
    assert "1 roll received" in said(capsys, "stock", "receive", "rolls.csv")
    assert "2 new orders, 3 new lines" in said(capsys, "orders", "take", "orders.csv")
    assert "0 new orders, 0 new lines, 0 lines changed" in said(capsys, "orders", "take", "orders.csv")
    told = said(capsys, "orders", "plan", "--until", "2026-12-04", "--out", "out", "--passes", "1", "--no-figures",
                "--compare")
    assert "Reserved as plan P0001: 1 hide for 1 order: A-1." in told
    plan = read_plan(shop / "out" / "plan.json")
    assert plan.name == "P0001 until 2026-12-04" and {line.pairs_wanted for line in plan.order} == {1}
    (layout,) = plan.layouts
    (row,) = asked(capsys, "stock", "list", "--state", "reserved")["hides"]
    assert (row["id"], row["plan"], row["since"], row["supplier"]) == (layout.hide_id, "P0001", "2026-11-02", "T")
    (shop / "cut.csv").write_text(f"material,state,cutter\n{layout.hide_id},cut,Cem\nR7,cut,\n", encoding="utf-8")
    done = asked(capsys, "orders", "close", "out", "--cut", "cut.csv")
    assert (done["state"], done["cut"], done["remnants"]) == ("done", [layout.hide_id], [f"{layout.hide_id}-r1"])
    assert done["open_work"] == [
        {"order": "B-2", "due": "2026-12-24", "wanted": 1, "finished": 0, "to_cut": 0, "not_planned": 1}
    ]
    lines = asked(capsys, "orders", "list", "--lines")["order_lines"]
    assert [(line["order"], line["finished"], line["short"]) for line in lines] == [
        ("A-1", 1, 0), ("A-1", 1, 0), ("B-2", 0, 1),
    ]
    used = asked(capsys, "orders", "used", "--by", "cutter")["used_against_planned"]
    assert {line["cutter"] for line in used} == {"Cem", "not stated"}
    booked = asked(capsys, "used", "out", "--ledger", "ledger.db")["rows"]
    assert float(booked[-1]["pairs_finished"]) == 3  # two wanted and one for rejects: 2 / 0.97, rounded up
    assert "1 label written" in said(capsys, "stock", "labels", "-o", "labels.pdf")
    (lot,) = [one for one in asked(capsys, "stock", "lots")["lots"] if one["cut"]]
    assert lot["pairs_cut"] >= 2
    _estimates_like_a_lot(shop, capsys, lot["lot"])


def _estimates_like_a_lot(shop, capsys, lot):
    """An estimate on the lot's hides says on how many it rests."""
    text = (shop / "job.toml").read_text(encoding="utf-8")
    (shop / "job.toml").write_text(text.replace("unit =", 'order = "order.csv"\nunit =', 1), encoding="utf-8")
    (shop / "order.csv").write_text("size,pairs\n38,20\n", encoding="utf-8")
    found = asked(capsys, "estimate", "job.toml", "--like", lot)
    assert "estimated on the 2 hides of lot" in found["like"]["said"][0]
    assert "no lot 'X'" in said(capsys, "estimate", "job.toml", "--like", "X", code=Exit.BAD_INPUT)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("stock", "list"), "there is no ledger; begin one with"),
        (("orders", "plan", "--out", "out"), "there is no ledger"),
        (("stock", "receive", "hides.csv", "--on", "2.11.26"), "write it as 2026-03-31"),
        (("orders", "list", "--until", "Friday"), "--until: expected"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(shop, capsys, words, sentence):
    """Bad dates and a ledger that is not there end with code 2, in a sentence; no ledger is made."""
    told = said(capsys, *words, code=Exit.BAD_INPUT)
    assert sentence in told and len(told.strip().splitlines()) == 1
    assert not (shop / "ledger.db").exists()


def test_an_estimate_on_a_lot_of_two_suppliers_says_what_is_from_whom(shop):
    """Hides of one lot are counted by supplier; they are little to go by if all together are fewer than three."""
    hides = [replace(hide(f"K{n}"), leather="Black side", lot="L") for n in range(4)]
    ledger, job = open_ledger(shop / "ledger.db", make=True), read_job(shop / "job.toml", alone=True)
    for supplier, some in (("Ash", hides[:1]), ("Bay", hides[1:2])):
        receive_hides(ledger, some, job.leathers, by="Ann", since="2026-11-02", supplier=supplier)
    said = like_lot(job, "L", "ledger.db")[1]
    assert said[0].startswith("Black side: estimated on the 1 hide of lot L from Ash; none cut yet")
    assert "on the 1 hide of lot L from Bay" in said[1] and said[2] == "Black side: only 2 hides to go by."
    receive_hides(ledger, hides[2:], job.leathers, by="Ann", since="2026-11-02", supplier="Bay")
    assert len(like_lot(job, "L", "ledger.db")[1]) == 2


def test_a_refused_command_leaves_no_ledger_behind(shop, capsys):
    """Whatever is refused, and however late, begins no ledger and leaves no file; what is right begins one then."""
    said(capsys, "stock", "receive", "hides.csv", "--ledger", "first.db")
    said(capsys, "stock", "export", "copy", "--ledger", "first.db")
    shutil.copytree(shop / "copy", shop / "damaged")
    moves = shop / "damaged" / "hide_move.csv"
    moves.write_text(moves.read_text(encoding="utf-8").replace(",received,", ",received,x", 1), encoding="utf-8")
    before = sorted(one.name for one in shop.iterdir())
    for words, sentence in (
        (("stock", "import", "damaged"), "hide_move.csv, line 2"),
        (("stock", "import", "nowhere"), "a file of the export"),
        (("stock", "receive", "hides.csv", "--supplier", "T\u202e"), "supplier: the text holds the character U+202E"),
        (("stock", "receive", "rolls.csv", "--by", "A\u202e"), "the name of who books (--by)"),
        (("orders", "take", "orders.csv", "--by", "A\u202e"), "the name of who books (--by)"),
        (("orders", "close", "--cut", "cut.csv"), "there is no ledger"),
    ):
        assert sentence in said(capsys, *words, code=Exit.BAD_INPUT), words
        assert sorted(one.name for one in shop.iterdir()) == before, words
    said(capsys, "stock", "import", "copy")
    assert len(asked(capsys, "stock", "list")["hides"]) == 2


def test_names_that_the_ledger_does_not_have_are_said(shop, capsys):
    """A leather, lot, order or plan that is not there gets a sentence, not an empty list; so do places of rolls."""
    said(capsys, "stock", "receive", "hides.csv")
    said(capsys, "stock", "receive", "rolls.csv")
    said(capsys, "orders", "take", "orders.csv")
    (shop / "counted.csv").write_text("id\nR7\n", encoding="utf-8")
    for words, sentence in (
        (("stock", "list", "--leather", "Blck"), "no leather 'Blck'"),
        (("stock", "list", "--rolls", "--lot", "X"), "no lot 'X'"),
        (("stock", "list", "--rolls", "--class", "1"), "rolls have no leather and no class"),
        (("stock", "list", "--free", "--state", "cut"), "leave --state out"),
        (("stock", "count", "--lot", "X"), "no lot 'X'"),
        (("stock", "lots", "--lot", "X"), "no lot 'X'"),
        (("stock", "stocktake", "counted.csv", "--leather", "Blck"), "no leather 'Blck'"),
        (("stock", "place", "rack 4", "R7"), "R7 is a roll; places are kept of hides alone"),
        (("orders", "list", "--order", "A-7"), "order 'A-7' is not in the ledger"),
        (("orders", "used", "--plan", "P0009"), "no plan 'P0009'"),
        (("orders", "plan", "--reinforcements", "--out", "o"), "no reinforcement is lacking"),
        (("orders", "plan", "--reinforcements", "--compare", "--out", "o"), "leave --until"),
    ):
        assert sentence in said(capsys, *words, code=Exit.BAD_INPUT), words


def test_orders_come_as_a_workbook_too(shop, capsys):
    """A workbook with date cells is the same list; a size due in two parts is two lines, delivered one by one."""
    from openpyxl import Workbook

    book = Workbook()
    rows = ("order", "size", "pairs", "due"), ("A-1", 38, 6, date(2026, 12, 1)), ("A-1", 38, 4, date(2026, 12, 9))
    for row in rows:
        book.active.append(row)
    book.save(shop / "orders.xlsx")
    assert "1 new order, 2 new lines" in said(capsys, "orders", "take", "orders.xlsx")
    lines = asked(capsys, "orders", "list", "--order", "A-1")["order_lines"]
    assert [(line["size"], line["due"], line["wanted"]) for line in lines] == [
        ("38", "2026-12-01", 6), ("38", "2026-12-09", 4),
    ]
    said(capsys, "orders", "list", "--lines", "-o", "list.xlsx")
    said(capsys, "stock", "count", code=Exit.DONE)
    assert (shop / "list.xlsx").is_file()


def test_lists_that_are_wrong_are_refused_line_by_line(shop, capsys):
    """Every fault of a list of orders or rolls has its line; nothing is booked."""
    (shop / "orders.csv").write_text("order,size,pairs,due\n,38,1,\nA,fifty,x,4/5/26\n", encoding="utf-8")
    told = said(capsys, "orders", "take", "orders.csv", code=Exit.BAD_INPUT)
    for words in ("line 2, order", "line 3, size", "line 3, pairs", "line 3, due"):
        assert words in told
    (shop / "rolls.csv").write_text("id,roll,length_m,splices_m\nR1,Silk,5,6\nR1,Knit 90,0,\n", encoding="utf-8")
    told = said(capsys, "stock", "receive", "rolls.csv", code=Exit.BAD_INPUT)
    for words in ("line 2, roll", "line 2, splices_m", "line 3, id", "line 3, length_m"):
        assert words in told
    assert not (shop / "ledger.db").exists()


def test_a_job_in_a_folder_still_needs_its_order(shop, capsys):
    """Without a ledger a job file names its order, as before."""
    told = said(capsys, "run", "job.toml", "--out", "out", code=Exit.BAD_INPUT)
    assert "a value for order" in told
