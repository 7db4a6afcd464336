"""On a screen of any width no number and no name is cut, and no word broken; help, progress and plurals are true."""

import re
from itertools import pairwise
from types import SimpleNamespace

import pytest
from rich.console import Console
from rich.table import Table
from rich.text import Text
from small_jobs import small_job
from tiny_plans import box_plan, vamp
from typer import Context
from typer.main import get_command
from whole_words import WIDTHS, held_whole, words

from nest.batch.jobs import BatchRow
from nest.cli import main, screen
from nest.cli.app import app
from nest.cli.batch import words as batch_words
from nest.cli.codes import Exit
from nest.cli.digitised_hides import _told as digitised_words
from nest.cli.fitting import fitted
from nest.cli.listing import Listing
from nest.cli.listing import drawn as drawn_list
from nest.cli.progress import clock, left_of
from nest.cutplan.legend import counts
from nest.planfile import write_plan
from nest.text import count_words


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    """A saved plan and a small job, for every command that shows something of them."""
    folder = tmp_path_factory.mktemp("whole")
    write_plan(box_plan(name="A name of a plan that is rather long, as names of orders are"), folder / "plan.json")
    job = small_job(folder / "job", pairs={"38": 1, "39": 1})
    (folder / "trial.csv").write_text("size,piece,toe_mm,rejected\n39,1,9,no\n39,2,11,no\n", encoding="utf-8")
    (folder / "script.json").write_text('[{"do": "hold", "hide": "H1", "numbers": [1, 2]}]', encoding="utf-8")
    ledger, orders = folder / "ledger.db", folder / "orders.csv"
    orders.write_text("order,size,pairs,due\nA-1 of a customer,38,12,2026-12-01\nA-2,39,1,2026-12-02\n")
    for given in (["stock", "receive", job.parent / "hides.csv"], ["orders", "take", orders]):
        assert main([*map(str, given), "--job", str(job), "--ledger", str(ledger), "-q"]) == Exit.DONE
    return folder


LEDGER = ("--ledger", "{ledger}")
COMMANDS = {
    "cost": ["cost", "{plan}"], "verify": ["verify", "{plan}"], "price": ["price", "{job}"],
    "price a plan": ["price", "{plan}"], "compare": ["compare", "{plan}", "{plan}"],
    "pieces": ["pieces", "{job}", "-o", "{out}"], "estimate": ["estimate", "{job}"], "lays": ["lays", "{job}"],
    "cut": ["cut", "{plan}", "-o", "{out}", "--no-figures"], "shortfall": ["shortfall", "{plan}"],
    "guide": ["guide"], "guide to costing": ["guide", "costing"],
    "trial": ["trial", "{job}", "{trial}", "-o", "{out}"],
    "edit": ["edit", "{plan}", "{script}", "-o", "{out}", "--no-figures"],
    "stock list": ["stock", "list", *LEDGER], "stock count": ["stock", "count", *LEDGER],
    "stock find": ["stock", "find", "H01", *LEDGER], "stock lots": ["stock", "lots", *LEDGER],
    "orders list": ["orders", "list", *LEDGER], "orders list lines": ["orders", "list", "--lines", *LEDGER],
    "orders plans": ["orders", "plans", *LEDGER],
}


@pytest.mark.parametrize("name", COMMANDS)
def test_no_command_cuts_or_breaks_a_word(name, plan, tmp_path, monkeypatch):
    """At 60, 80 and 120 columns there stands every word that stands at 400, and no line is longer than its words."""
    kept = []
    with monkeypatch.context() as patch:
        patch.setattr(screen.Screen, "result", lambda self, data, *tables: kept.extend(tables))
        given = {"plan": plan / "plan.json", "job": plan / "job/job.toml", "out": tmp_path / "out",
                 "trial": plan / "trial.csv", "script": plan / "script.json", "ledger": plan / "ledger.db"}
        assert main([word.format(**given) for word in COMMANDS[name]]) in (Exit.DONE, Exit.SHORT)
    assert kept
    held_whole(kept, monkeypatch)


def test_what_the_desk_says_is_whole(plan, monkeypatch):
    """Where the desk is open, and that its address is to be kept, is broken between words alone."""
    said = []
    monkeypatch.setattr("nest.desk.serve.serve", lambda first, folder, writers, ready, port, listening: ready(
        "http://127.0.0.1:40123/?key=9J4nQm2sX0"))
    monkeypatch.setattr(screen.Screen, "complain", lambda self, line: said.append(line))
    assert main(["desk", str(plan)]) == Exit.DONE and len(said) == 2
    held_whole(said, monkeypatch)


def test_rows_of_batches_and_photographs_are_whole(monkeypatch):
    """What `batch` says of each job, and `digitise` of each photograph, is broken between words alone."""
    rows = [
        BatchRow("summer/a-job-with-a-name-that-is-long", "short", hides_used=12, leather_m2=23.451,
                 cutting_yield=0.531, reinforcement_m=12.31, cost="1301.04", currency="EUR",
                 message="size 42 is 3 pairs short"),
        BatchRow("b", "refused", message="order.csv, line 3: expected a size, found 'forty'; correct the size"),
    ]
    seen = SimpleNamespace(photograph="H17-from-the-telephone.jpg", area_mm2=2.31e6, area_within_mm2=4.1e3,
                           within_mm=1.4, holes=1, zones=3, flaws=7, marks=12, tilt_deg=3.0,
                           drawing="out/H17-from-the-telephone.dxf")
    held_whole([*(f"{row.name}: {batch_words(row)}" for row in rows), digitised_words(seen)], monkeypatch)
    assert " 1 hole, 3 zones, " in digitised_words(seen)


def narrow(table, width):
    """A table as it comes out at a width, line by line."""
    out = Console(width=width, force_terminal=True, color_system=None)
    with out.capture() as printed:
        out.print(fitted(table, out), markup=False, crop=False)
    return printed.get()


def costs():
    """A table of names and numbers."""
    table = Table(title="Cost of a pair in EUR", title_justify="left")
    table.add_column("")
    for name in ("pairs\ncut", "leather", "reinforcement"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_row(Text("Linden boot"))
    table.add_row("  36", "12", "1,234.56", "0.27")
    table.add_row("  37", "8", "0.02", "")
    return table


def test_a_table_that_is_too_wide_becomes_blocks():
    """Wide enough it is a table; else each row a block: its name, then each number after its heading."""
    assert "1,234.56" in narrow(costs(), 60) and "─" in narrow(costs(), 60)
    lines = [line.rstrip() for line in narrow(costs(), 30).splitlines()]
    assert lines[:6] == [
        "Cost of a pair in EUR", "Linden boot", "  36", "    pairs cut: 12", "    leather: 1,234.56",
        "    reinforcement: 0.27",
    ]
    assert lines[6:9] == ["  37", "    pairs cut: 8", "    leather: 0.02"]


def test_a_table_without_rows_still_has_its_headings():
    """An empty list shows its title and headings, on a narrow screen too."""
    empty = Table("order", "leather dm2 planned", "leather dm2 used", title="used against planned")
    assert words(narrow(empty, 30)) == words(narrow(empty, 100)) >= {"order", "planned", "used"}
    listed = Listing("used against planned", ("order", "leather planned", "leather used"), (), (False, True, True))
    narrow_list, wide_list = (drawn_list(listed, Console(width=width)) for width in (25, 100))
    assert words(narrow_list) == words(wide_list) >= {"order", "planned", "used"}


def test_columns_of_words_give_way_before_numbers_do():
    """A sentence is folded between words, down to its longest; a path longer than the screen stays one word."""
    table = Table("name", "what is said of it", show_header=True)
    table.add_row("H01", "no layout of this hide can yield more than that")
    table.add_row("H02", "written to /a/folder/far/away/that/has/a/long/name")
    for width in (70, 62, 40, 20):
        text = narrow(table, width)
        assert {"yield", "H01", "/a/folder/far/away/that/has/a/long/name", "layout"} <= words(text), width


def every_command(group=None, above=None):
    """Help of every command and group, as a function of the width."""
    group = group or get_command(app)
    name = "vampyield" if above is None else group.name
    here = Context(group, info_name=name, parent=above)

    def at(command, width):
        return command.get_help(Context(command, info_name=command.name, parent=here, terminal_width=width))

    yield lambda width: at(group, width)
    for one in group.commands.values():
        if hasattr(one, "commands"):
            yield from every_command(one, here)
        else:
            yield lambda width, one=one: at(one, width)


@pytest.mark.parametrize("width", WIDTHS)
def test_help_is_whole_at_every_width(width):
    """No option, command or sentence of any help is cut or broken: each word stands there as in wide help."""
    shown = list(every_command())
    assert len(shown) > 30
    for help_at in shown:
        narrow, wide = help_at(width), help_at(400)
        # words with a hyphen may be parted there; two lines are then one word
        parted = {one for one in words(wide) if "-" in one or "/" in one or len(one) > 26}
        assert words(wide) - words(narrow) <= parted
        assert narrow.count("...") == wide.count("...")
        again = re.sub(r"-\n\s+", "-", narrow)
        assert all(option in again for option in re.findall(r"--[a-z][a-z-]+", wide))


def test_help_is_a_command_too(capsys):
    """`help run` shows what `run --help` shows, `help` all commands; -V is the version."""
    assert main(["help", "run"]) == main(["run", "--help"]) == Exit.DONE
    first, second = capsys.readouterr().out.split("Usage: ")[1:]
    assert first == second
    assert main(["help"]) == Exit.DONE and "First steps" in capsys.readouterr().out
    assert main(["-V"]) == Exit.DONE and re.fullmatch(r"vampyield \d+(\.\d+)+\n", capsys.readouterr().out)


def test_the_page_is_opened_when_it_is_wanted(plan, tmp_path, monkeypatch, capsys):
    """--open gives the page to the browser, once it is written; without a browser it is said where it lies."""
    opened = []
    monkeypatch.setattr("webbrowser.open", lambda address: opened.append(address) or len(opened) == 1)
    for name in ("a", "b"):
        given = ["cut", str(plan / "plan.json"), "-o", str(tmp_path / name), "--no-figures", "--open", "-q"]
        assert main(given) == Exit.DONE
    assert opened == [(tmp_path / name / "report.html").as_uri() for name in ("a", "b")]
    assert capsys.readouterr().err == f"No browser could be opened; the page is {tmp_path / 'b/report.html'}.\n"


def test_time_left_is_never_said_to_be_none():
    """To the last second there is time left; afterwards it is said by how much it is over."""
    assert left_of(61.0) == "1:01 left" and left_of(0.6) == "0:01 left"
    assert left_of(0.0) == "0:00 over time" and left_of(-45.2) == "0:45 over time"
    said = [left_of(float(rest)) for rest in range(90, -60, -1)]
    assert not any(one == "0:00 left" for one in said) and len(set(said)) == len(said)
    assert all(clock(a) != clock(b) for a, b in pairwise(range(5)))


def test_one_is_not_many(tmp_path, capsys):
    """One hide, two hides; plies are no "plys"; a half takes the plural; so in drawings and in what commands say."""
    assert [count_words(n, "hide") for n in (0, 1, 2, 1.5)] == ["0 hides", "1 hide", "2 hides", "1.5 hides"]
    assert count_words(1, "ply", "plies") == "1 ply" and count_words(3, "ply", "plies") == "3 plies"
    assert [counts([vamp()] * n)[0] for n in (1, 2)] == ["1 piece.", "2 pieces."]
    assert main(["digitise", "marks", "-o", str(tmp_path / "a.pdf"), "--count", "1"]) == Exit.DONE
    assert capsys.readouterr().err.startswith("1 mark sheet written to ")
