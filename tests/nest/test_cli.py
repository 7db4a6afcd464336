"""The command line: what it writes and prints, and its exit codes."""

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
import shapely
from small_jobs import small_job
from tiny_plans import HIDE_WIDTH, box_plan, hide, in_pairs, moved, spots
from typer.main import get_command

from nest.cli import main
from nest.cli.app import app
from nest.cli.codes import Exit
from nest.cli.options import DxfVersion
from nest.cli.stopping import stop_on_interrupt
from nest.cutagain import folder_of
from nest.cutplan.cautions import CAUTIONS
from nest.cutplan.dxf import VERSIONS
from nest.plan import HideLayout
from nest.planfile import plan_text, read_plan, write_plan


@pytest.fixture
def saved(tmp_path):
    """Writes a plan and returns the path of its file."""

    def save(plan) -> str:
        path = tmp_path / "saved.json"
        write_plan(plan, path)
        return str(path)

    return save


def short_plan():
    """A plan that is right but lacks pairs."""
    plan = box_plan()
    return replace(plan, order=tuple(replace(line, pairs_wanted=9, pairs_to_cut=9) for line in plan.order))


def test_help_groups_the_commands(capsys):
    """Every command stands once, under what it is for."""
    assert main(["--help"]) == Exit.DONE
    shown = capsys.readouterr().out.split("\nPlan:\n")[1].split("\nFirst steps")[0]
    named = re.findall(r"^  (\w+)  ", shown, re.MULTILINE)
    titles = re.findall(r"^(\w[\w ]*):$", shown, re.MULTILINE)
    assert sorted(named) == sorted(get_command(app).commands)
    assert titles[:4] == ["Cost", "Cutting day", "Trials", "Files"]


@pytest.mark.parametrize("name", ["", *sorted(get_command(app).commands)])
def test_help_says_what_a_command_does_with_an_example(name, capsys):
    """Help ends well and holds an example."""
    assert main([*name.split(), "--help"]) == Exit.DONE
    assert f"vampyield {name}" in capsys.readouterr().out


def test_usage_errors_are_bad_input(capsys):
    """An unknown command, a missing option and a wrong value end with 2."""
    for words in (["fly"], ["run", "job.toml"], ["cut", "plan.json", "-o", "x", "--dxf", "R9"]):
        assert main(words) == Exit.BAD_INPUT
    assert "Traceback" not in capsys.readouterr().err


def test_drawing_versions_are_those_that_can_be_written():
    """The option offers what the writer knows."""
    assert [str(version) for version in DxfVersion] == list(VERSIONS)


@pytest.mark.parametrize(
    ("plan", "code", "words"),
    [
        (box_plan(), Exit.DONE, "verified"),
        (moved(box_plan(), 1, dx=-100.0), Exit.WRONG, "overlap"),
        (short_plan(), Exit.SHORT, "short of 9 pairs"),
        (moved(short_plan(), 1, dx=-100.0), Exit.WRONG, "overlap"),
    ],
    ids=["right", "wrong", "short", "wrong and short"],
)
def test_verify_tells_right_from_wrong_from_short(plan, code, words, saved, capsys):
    """Each verdict has its exit code, and says why."""
    assert main(["verify", saved(plan)]) == code
    assert words in capsys.readouterr().out


def test_verify_as_json(saved, capsys):
    """With --json standard output is one object and nothing else."""
    assert main(["verify", saved(moved(box_plan(), 1, dx=-100.0)), "--json"]) == Exit.WRONG
    data = json.loads(capsys.readouterr().out)
    assert not data["ok"] and data["order_met"]
    assert sum(len(check["wrong"]) for check in data["checks"]) == 1
    assert data["counted"]["pieces"] == 6


def test_cost_by_hand(saved, capsys):
    """Figures of the tiny plan, worked out by hand.

    One hide of 50 dm² at 1 for four vamps of 2.24 × 1.24 dm²: 25 dm² a pair, cutting yield 4 × 2.7776 / 50; net
    4 × 2 / 50.
    """
    assert main(["cost", saved(box_plan()), "--json"]) == Exit.DONE
    data = json.loads(capsys.readouterr().out)
    assert data["leather"]["dm2_per_pair"] == pytest.approx(25.0)
    assert data["leather"]["cutting_yield"] == pytest.approx(4 * 2.7776 / 50)
    assert data["leather"]["net_yield"] == pytest.approx(4 * 2 / 50)
    assert data["order"] == {
        "pairs_wanted": 2, "pairs_to_cut": 2, "pairs_for_rejects": "pooled", "pairs_short": [], "rows": []}
    cost = data["cost"]
    whole = cost["per_pair"][-1]
    assert (whole["style"], whole["pairs_cut"]) == ("", 2.0)
    assert float(cost["leather"]) + float(cost["reinforcement"]) == pytest.approx(float(cost["total"]))
    # Trim-off is thrown away in proportion: 0.7776 of 2.7776 of the leather's cost.
    assert float(whole["trim_off_share"]) > 0.7776 / 2.7776 * float(cost["leather"]) / 2
    assert main(["cost", saved(box_plan())]) == Exit.DONE
    shown = capsys.readouterr().out
    assert f"{cost['total']} {cost['currency']}" in shown and whole["good_pair"] in shown


def test_cut_writes_the_folder_again(saved, tmp_path, capsys):
    """A saved plan is written in the version asked for, with cautions; the folder is a plan too."""
    out = tmp_path / "out"
    assert main(["cut", saved(box_plan()), "-o", str(out), "--dxf", "R12", "--no-figures"]) == Exit.DONE
    said = capsys.readouterr()
    assert all(line in said.err for line in CAUTIONS)
    assert str(out) in said.out.replace("\n", "")
    assert ezdxf.readfile(out / "drawings/hide-H1.dxf").dxfversion == "AC1009"
    assert not (out / "figures").exists()
    assert main(["verify", str(out)]) == Exit.DONE
    assert read_plan(out / "plan.json").settings.dxf_version == "R12"


def test_cut_of_a_wrong_plan_is_marked(saved, tmp_path):
    """Drawings of a plan that is wrong are named so, and the exit code says it."""
    out = tmp_path / "out"
    assert main(["cut", saved(moved(box_plan(), 1, dx=-100.0)), "-o", str(out), "--no-figures"]) == Exit.WRONG
    assert all(path.name.startswith("NOT-VERIFIED-") for path in out.rglob("*.dxf"))


def test_quiet_prints_nothing(saved, tmp_path, capsys):
    """With --quiet neither result nor note is printed."""
    for words in (["verify", saved(box_plan())], ["cost", saved(box_plan())],
                  ["cut", saved(box_plan()), "-o", str(tmp_path / "out"), "--no-figures"]):
        assert main([*words, "--quiet"]) == Exit.DONE
    said = capsys.readouterr()
    assert said.out == said.err == ""


def test_an_empty_plan_has_no_figures_but_a_verdict(saved, capsys):
    """Where nothing was cut, figures are missing, not zero, and the order is short."""
    empty = replace(box_plan(), layouts=(), lays=())
    assert main(["cost", saved(empty), "--json"]) == Exit.SHORT
    data = json.loads(capsys.readouterr().out)
    assert data["leather"]["cutting_yield"] is None and data["leather"]["dm2_per_pair"] is None
    assert data["hides"]["used"] == [] and data["hides"]["whole"] == ["H1"]
    assert main(["cost", saved(empty)]) == Exit.SHORT


def test_bad_input_is_told_in_one_sentence_each(tmp_path, capsys):
    """Every problem of a job is one line on standard error; nothing is written; the code is 2."""
    job = small_job(tmp_path / "job", pairs={"36": 1})
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace("toe_mm = 14", "toe_mm = -1").replace('currency = "EUR"', "currency = 3"))
    for name in ("run", "place", "pieces"):
        assert main([name, str(job), "-o", str(tmp_path / "out")]) == Exit.BAD_INPUT
        said = capsys.readouterr()
        assert said.out == "" and "Traceback" not in said.err
        assert "toe_mm" in said.err and "currency" in said.err
        assert len(said.err.splitlines()) == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job"]


@pytest.mark.parametrize("name", ["verify", "cost", "cut"])
def test_a_plan_that_is_none_is_bad_input(name, tmp_path, capsys):
    """A missing, foreign or damaged plan is one sentence and 2."""
    out = ["-o", str(tmp_path / "out")] if name == "cut" else []
    foreign = tmp_path / "foreign.json"
    foreign.write_text("{}")
    for path in (tmp_path / "none.json", foreign, tmp_path):
        assert main([name, str(path), *out]) == Exit.BAD_INPUT
        said = capsys.readouterr().err
        assert len(said.splitlines()) == 1 and "plan" in said
    assert not (tmp_path / "out").exists()


def test_a_folder_in_use_is_refused_before_placing(tmp_path, capsys):
    """The output folder is tried first: no time is spent on a plan that could not be written."""
    job = small_job(tmp_path / "job", pairs={"36": 1})
    start = time.monotonic()
    for target in (tmp_path / "job", job, Path(os.devnull) / "x"):
        assert main(["run", str(job), "-o", str(target), "--seconds", "50"]) == Exit.BAD_INPUT
    assert time.monotonic() - start < 20.0
    assert len(capsys.readouterr().err.splitlines()) == 3


def test_a_fault_is_one_sentence_unless_debugged(saved, capsys, monkeypatch):
    """An unexpected exception says how to report it; --debug shows where it arose."""

    def broken(*_):
        raise RuntimeError("gone wrong")

    monkeypatch.setattr("nest.cli.steps.read_to_judge", broken)
    assert main(["verify", "plan.json"]) == Exit.FAULT
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1 and "gone wrong" in said and "--debug" in said
    assert main(["--debug", "verify", "plan.json"]) == Exit.FAULT
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "code"),
    [(OSError(28, "No space left on device", "out"), Exit.BAD_INPUT), (MemoryError(), Exit.BAD_INPUT),
     (FileNotFoundError("a template"), Exit.FAULT)],
    ids=["of the system", "too little memory", "of a library"],
)
def test_only_the_systems_own_errors_are_the_users(error, code, capsys, monkeypatch):
    """A full disk and short memory are named; an error of a library that looks like one of the system is a fault."""

    def broken(*_):
        raise error

    monkeypatch.setattr("nest.cli.steps.read_to_judge", broken)
    assert main(["verify", "plan.json"]) == code
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_closed_pipe_is_no_fault(saved):
    """A reader that goes away, such as `head`, is not complained of."""
    code = "import sys; from nest.cli import main; sys.exit(main(sys.argv[1:]))"
    with subprocess.Popen(
        [sys.executable, "-c", code, "cost", saved(box_plan())], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        process.stdout.close()
        said = process.stderr.read().decode()
    assert "Traceback" not in said and "Broken" not in said
    assert process.returncode == Exit.DONE


def test_demo_is_copied_whole_into_an_empty_folder(tmp_path, capsys):
    """The copy is a job of its own; a folder with files in it is refused and left alone."""
    assert main(["demo", str(tmp_path / "try")]) == Exit.DONE
    assert "run" in capsys.readouterr().err
    names = {path.name for path in (tmp_path / "try").rglob("*")}
    assert {"job.toml", "order.csv", "hides.csv", "H01.dxf", "README.md"} <= names
    assert not any(name.endswith((".py", ".png", ".pyc")) for name in names)
    before = sorted((tmp_path / "try").rglob("*"))
    assert main(["demo", str(tmp_path / "try")]) == Exit.BAD_INPUT
    assert sorted((tmp_path / "try").rglob("*")) == before


def test_pieces_are_written_with_their_areas(tmp_path, capsys):
    """One drawing a piece and an index; trim-off is what is cut less what stays."""
    job, out = small_job(tmp_path / "job", pairs={"36": 1, "39": 1}), tmp_path / "out"
    assert main(["pieces", str(job), "-o", str(out), "--json"]) == Exit.DONE
    rows = json.loads(capsys.readouterr().out)["pieces"]
    assert {(row["size"], row["role"]) for row in rows} == {
        (size, role) for size in ("36", "39") for role in ("vamp", "reinforcement")
    }
    assert len(list(out.glob("*.dxf"))) == len(rows) == 4
    assert (out / "pieces.csv").is_file()
    for row in rows:
        assert row["trim_off_dm2"] == pytest.approx(row["cut_dm2"] - row["net_dm2"], abs=2e-4)


def test_run_and_place(tmp_path, capsys):
    """A small job is placed, checked, and written; both commands give the same plan for the same passes."""
    job = small_job(tmp_path / "job", pairs={"38": 2, "39": 2})
    words = [str(job), "--passes", "10", "--seed", "7"]
    assert main(["run", *words, "-o", str(tmp_path / "out"), "--json", "--no-figures"]) == Exit.DONE
    said = capsys.readouterr()
    data = json.loads(said.out)
    assert data["verdict"]["ok"] and data["verdict"]["order_met"]
    assert data["hides"]["used"] == ["H01"] and data["reinforcement"]["metres"] > 0.0
    assert Path(data["folder"], "report.html").is_file()
    assert all(line in said.err for line in CAUTIONS)
    assert main(["place", *words, "-o", str(tmp_path / "placed"), "--quiet"]) == Exit.DONE
    assert [path.name for path in (tmp_path / "placed").iterdir()] == ["plan.json"]
    assert (tmp_path / "placed/plan.json").read_bytes() == (tmp_path / "out/plan.json").read_bytes()


def test_too_little_leather_is_short(tmp_path, capsys):
    """An order that one side cannot hold ends with 3, and says what is missing."""
    job = small_job(tmp_path / "job", pairs={"39": 60})
    assert main(["run", str(job), "-o", str(tmp_path / "out"), "--seconds", "3", "--no-figures"]) == Exit.SHORT
    said = capsys.readouterr()
    assert "pairs short" in said.out and "Linden boot 39" in said.out
    assert re.search(r"size 39: \d+ pairs of 62 to cut find no place", said.err)


def test_first_interrupt_asks_second_aborts():
    """Ctrl-C once is only noted; twice raises; the handler that stood before is put back."""
    before = signal.getsignal(signal.SIGINT)
    said = []
    with pytest.raises(KeyboardInterrupt), stop_on_interrupt(said.append) as cancelled:
        assert not cancelled()
        signal.raise_signal(signal.SIGINT)
        assert cancelled() and len(said) == 1
        signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before


INTERRUPTED_RUN = """
import os, signal, sys, threading
from nest.cli import main
from nest.cli.progress import Watch

show, sent = Watch.heard, []


def heard(watch, told):
    show(watch, told)
    if told.stage == "hides" and not sent:
        sent.append(threading.Timer(1.0, os.kill, (os.getpid(), signal.SIGINT)))
        sent[0].start()


Watch.heard = heard
sys.exit(main(sys.argv[1:]))
"""
"""A run that is interrupted a second after it began to fill hides."""


def test_ctrl_c_keeps_the_best_plan(tmp_path):
    """A run stopped half-way writes what it has, judged, and ends with 130; no solver takes the signal for itself."""
    job, out = small_job(tmp_path / "job", pairs={"39": 40}), tmp_path / "out"
    words = ["run", str(job), "-o", str(out), "--seconds", "900", "--no-figures"]
    done = subprocess.run(
        [sys.executable, "-c", INTERRUPTED_RUN, *words], capture_output=True, text=True, check=False, timeout=300
    )
    assert done.returncode == Exit.STOPPED, done.stderr
    assert "Stopping" in done.stderr
    assert main(["verify", str(out)]) in (Exit.DONE, Exit.SHORT)


def test_a_cutting_drawing_is_verified_from_itself(saved, tmp_path, capsys):
    """verify takes a drawing written by cut; one of a wrong plan ends with 1, another DXF file with 2."""
    assert main(["cut", saved(box_plan()), "-o", str(tmp_path / "out"), "--no-figures"]) == Exit.DONE
    assert main(["verify", str(tmp_path / "out/drawings/hide-H1.dxf")]) == Exit.DONE
    assert main(["verify", str(tmp_path / "out/drawings/lay-L1.dxf")]) == Exit.DONE
    assert "hides 0, lays 1" in capsys.readouterr().out
    wrong = saved(moved(box_plan(), 1, dx=-100.0))
    assert main(["cut", wrong, "-o", str(tmp_path / "bad"), "--no-figures"]) == Exit.WRONG
    assert main(["verify", str(tmp_path / "bad/drawings/NOT-VERIFIED-hide-H1.dxf")]) == Exit.WRONG
    assert main(["verify", str(tmp_path / "out/pieces/V38.dxf")]) == Exit.BAD_INPUT
    assert "no cutting drawing" in capsys.readouterr().err


def test_one_piece_again(saved, tmp_path, capsys):
    """recut writes a plan, a drawing and a sheet with one piece; a number that is not there ends with 2."""
    path = saved(box_plan())
    assert main(["recut", path, "--hide", "H1", "--piece", "2", "-o", str(tmp_path / "again")]) == Exit.DONE
    assert "may be moved by" in capsys.readouterr().err
    assert len(read_plan(tmp_path / "again/plan.json").layouts[0].placed) == 1
    assert (tmp_path / "again/sheets/hide-H1.pdf").is_file()
    assert main(["verify", str(tmp_path / "again/drawings/hide-H1.dxf")]) == Exit.DONE
    assert main(["recut", path, "--hide", "H1", "--piece", "9", "-o", str(tmp_path / "none")]) == Exit.BAD_INPUT
    assert "no. 1 to 4" in capsys.readouterr().err and not (tmp_path / "none").exists()


def test_several_pieces_again_and_what_was_cut_again_before(saved, tmp_path, capsys):
    """Two pieces in one go; it is noted beside the plan, and the next recut keeps clear; a foreign note is refused."""
    path = saved(box_plan())
    words = ["recut", path, "--hide", "H1", "--quiet", "--json", "-o"]
    assert main([*words, str(tmp_path / "a"), "--piece", "1", "--piece", "H1:2"]) == Exit.DONE
    data = json.loads(capsys.readouterr().out)
    assert data["pieces"] == [{"hide": "H1", "piece": 1}, {"hide": "H1", "piece": 2}] and not data["cut_again_before"]
    assert main([*words, str(tmp_path / "b"), "--piece", "3"]) == Exit.DONE
    assert json.loads(capsys.readouterr().out)["cut_again_before"] == 2
    second = read_plan(tmp_path / "b/plan.json")
    assert len(second.hides[0].flaws) == 4 + 2
    for piece in ("x", "0", "H1:"):
        assert main([*words, str(tmp_path / "c"), "--piece", piece]) == Exit.BAD_INPUT
        assert "ID:N" in capsys.readouterr().err
    (note, _) = sorted(folder_of(Path(path)).glob("*.json"))
    note.write_text(plan_text(replace(second, hides=(replace(hide(), outline=shapely.box(0, 0, 900, HIDE_WIDTH)),))))
    assert main([*words, str(tmp_path / "c"), "--piece", "3"]) == Exit.BAD_INPUT
    assert "of another plan" in capsys.readouterr().err
    note.write_text("no plan")
    assert main([*words, str(tmp_path / "c"), "--piece", "3"]) == Exit.BAD_INPUT
    assert "cannot be read" in capsys.readouterr().err and not (tmp_path / "c").exists()


def full_and_free(free: str):
    """A plan of two full hides, and one that is left whole if its id is given."""
    dense = in_pairs(["V38"] * 12, spots(12, first=(113.0, 64.0), pitch=(225.0, 125.0)))
    names = [name for name in ("H1", "H2", free) if name]
    return box_plan(hides=tuple(map(hide, names)), layouts=(HideLayout("H1", dense), HideLayout("H2", dense)), lays=())


def test_a_piece_that_fits_nowhere_is_said_with_the_command_that_helps(saved, tmp_path, capsys):
    """Exit code 3, nothing written, why, and a command that can be run as it stands; the same as data."""
    words = ["recut", saved(full_and_free("H 3")), "--hide", "H1", "--piece", "5", "-o", str(tmp_path / "new out")]
    assert main([*words, "--json"]) == Exit.SHORT
    said = capsys.readouterr()
    data = json.loads(said.out)
    assert data["other_hide"] == "H 3" and data["why"].startswith("piece no. 5 of hide H1 (box 38) fits nowhere")
    (command,) = data["commands"]
    assert f"Hide H 3 has room for it: {command}" in said.err and not (tmp_path / "new out").exists()
    assert main(shlex.split(command)[1:]) == Exit.DONE
    said = capsys.readouterr()
    assert "match the two by hand" in said.err and "more than" not in said.out
    assert read_plan(tmp_path / "new out/plan.json").layouts[0].hide_id == "H 3"
    write_plan(full_and_free(""), tmp_path / "full.json")
    assert main(["recut", str(tmp_path / "full.json"), *words[2:], "--quiet"]) == Exit.SHORT
    assert "No other hide of calf in the plan has room for it" in capsys.readouterr().err


def test_a_piece_keeps_its_number(saved, tmp_path, capsys):
    """Piece 3 is no. 3 on its drawing, not the first of it, and belongs to no order: no word of too many."""
    out = tmp_path / "again"
    assert main(["recut", saved(box_plan()), "--hide", "H1", "--piece", "3", "-o", str(out)]) == Exit.DONE
    said = capsys.readouterr()
    assert "more than" not in said.out + said.err and "short" not in said.out
    space = ezdxf.readfile(out / "drawings/hide-H1.dxf").modelspace()
    assert [text.dxf.text for text in space.query('TEXT[layer=="REF_LABELS"]')] == ["box 38 no. 3"]
    assert main(["verify", str(out), "--json"]) == Exit.DONE
    data = json.loads(capsys.readouterr().out)
    assert data["order_met"] and not data["over"] and not data["short"]
