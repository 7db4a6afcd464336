"""Standard streams that close, fill up or know ASCII alone: the result, the exit code and one sentence at most."""

import io
import json
import os
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest
from rich.table import Table
from rich.text import Text
from tiny_plans import box_plan, moved

import nest
from nest.cli import main
from nest.cli.codes import Exit
from nest.cli.listing import Listing
from nest.cli.screen import Screen
from nest.cli.streams import lookalike
from nest.planfile import write_plan
from nest.text import hidden_in

RUN = [sys.executable, "-c", "import sys; from nest.cli import main; sys.exit(main())"]
ROOT = str(Path(nest.__file__).parent.parent)


@pytest.fixture(scope="module")
def plans(tmp_path_factory):
    """A plan that is right and one that is wrong, as files."""
    folder = tmp_path_factory.mktemp("plans")
    write_plan(box_plan(name="Schuh, größer"), folder / "right.json")
    write_plan(moved(box_plan(), 1, dx=-100.0), folder / "wrong.json")
    return folder


def ended(words, folder, **options):
    """The finished process of a command; standard output and error are caught unless given otherwise."""
    environment = {**os.environ, "PYTHONPATH": ROOT, **options.pop("environment", {})}
    caught = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | options
    return subprocess.run([*RUN, *words], cwd=folder, env=environment, check=False, timeout=120, **caught)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="the system has no full device")
def test_a_full_disk_behind_standard_output(plans):
    """The verdict is the same and so is its code; that it cannot be shown is said once."""
    with open("/dev/full", "w") as full:
        done = ended(["verify", "wrong.json", "--json"], plans, stdout=full)
    assert done.returncode == Exit.WRONG
    lines = done.stderr.decode().splitlines()
    assert lines == ["Standard output cannot be written (No space left on device): the result is not shown whole."]


@pytest.mark.parametrize("words", [["--version"], ["fly"]])
def test_streams_that_are_closed_or_read_no_further(plans, words):
    """A reader that goes away, or streams closed from the start, change no code and leave no word behind."""
    code = Exit.BAD_INPUT if words == ["fly"] else Exit.DONE
    reading, writing = os.pipe()
    os.close(reading)
    done = ended(words, plans, stdout=writing, stderr=writing)
    os.close(writing)
    assert done.returncode == code
    shell = subprocess.run(
        ["sh", "-c", 'exec "$@" >&- 2>&-', "sh", *RUN, *words], cwd=plans, check=False, timeout=120,
        env={**os.environ, "PYTHONPATH": ROOT},
    )
    assert shell.returncode == code


def test_terminals_that_know_ascii_alone(plans, monkeypatch):
    """Tables are drawn with plain lines and units without signs; JSON is whole, its letters escaped."""

    def shown(*words):
        streams = [io.TextIOWrapper(io.BytesIO(), encoding="ascii") for _ in range(2)]
        monkeypatch.setattr(sys, "stdout", streams[0])
        monkeypatch.setattr(sys, "stderr", streams[1])
        assert main(["cost", str(plans / "right.json"), *words]) == Exit.DONE
        return [stream.buffer.getvalue().decode("ascii") for stream in streams]

    table, _ = shown()
    assert "dm2" in table and "?" not in table and "+--" in table
    assert json.loads(shown("--json")[0])["plan"] == "Schuh, größer"


def test_lookalikes():
    """Signs and letters that ASCII lacks, as people would write them; anything else as a question mark."""
    def plain(text):
        made, end = lookalike(UnicodeEncodeError("ascii", text, 0, len(text), "not there"))
        assert end == len(text) and made.isascii()
        return made

    assert plain("²½°–×┏━┃") == "21/2 deg-x+-|"
    assert plain("éÅß") == "eAss" and plain("皮\udcff") == "??"


@pytest.mark.parametrize("name", ["a\x1b[31mb", "a\x1b[2Jb", "a\x1b]0;title\x07b", "a\u202eb", "a\x9bb", "a\rb"])
@pytest.mark.parametrize("command", ["verify", "run", "verify --json", "batch"])
def test_what_a_name_holds_never_reaches_the_terminal_raw(command, name, tmp_path):
    """A file's name may clear a screen or turn the direction of reading; it is shown with escapes instead."""
    out, err = io.StringIO(), io.StringIO()
    words = [*command.split(), name + ("" if command == "batch" else ".json")]
    with redirect_stdout(out), redirect_stderr(err):
        code = main([*words, *(["-o", str(tmp_path / "out")] if command in ("run", "batch") else [])])
    said = out.getvalue() + err.getvalue()
    assert code == Exit.BAD_INPUT
    assert "a" in said and "b" in said
    assert hidden_in(said.replace("\r", "\x07")) is None


HOSTILE = "a\x1b[31mb\u202ec\x9bd"
"""A name that sets a colour, turns the direction of reading and begins a command of a terminal by its other sign."""


def test_what_a_name_holds_is_escaped_wherever_it_stands(capsys, monkeypatch):
    """In a line, a table, a list, a note and JSON; colours that are ours stay on a terminal, and JSON says the name."""
    table = Table("file")
    table.add_row(HOSTILE)
    table.add_row(Text(HOSTILE, style="bold"))
    for colours in ("", "1"):
        monkeypatch.setenv("FORCE_COLOR", colours)
        monkeypatch.setenv("TERM", "xterm")
        screen = Screen()
        screen.result({}, f"Written to {HOSTILE}.", table, Listing("files", ("file",), ((HOSTILE,),), (False,)))
        screen.complain(f"{HOSTILE} is there")
        out, err = capsys.readouterr()
        assert ("\x1b[1m" in out) == bool(colours)
        for ours in ("\x1b[1m", "\x1b[3m", "\x1b[0m"):
            out = out.replace(ours, "")
        assert hidden_in(out + err) is None
        assert out.count(r"a\x1b[31mb\u202ec\x9bd") == 4 and err.startswith(r"a\x1b[31mb\u202ec\x9bd")
    Screen(as_json=True).result({"file": HOSTILE})
    said = capsys.readouterr().out
    assert hidden_in(said) is None and json.loads(said) == {"file": HOSTILE}


def test_the_name_of_an_output_is_escaped(plans, tmp_path, capsys):
    """The file itself has the name that was typed."""
    out = tmp_path / f"{HOSTILE}.csv"
    assert main(["outcomes", str(plans / "right.json"), "-o", str(out)]) == Exit.DONE
    said = capsys.readouterr().out
    assert out.is_file() and hidden_in(said) is None and r"a\x1b[31mb\u202ec\x9bd.csv; leave" in said
