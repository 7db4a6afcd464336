"""Every file that a command is given by name is a plain file with plain words, or one sentence says why not."""

import os

import pytest
from small_jobs import small_job
from tiny_plans import box_plan

from nest.cli import main
from nest.cli.codes import Exit
from nest.planfile import write_plan
from nest.text import hidden_in

DOORS = {
    "commands": "edit plan.json GIVEN -o out",
    "points": "register plan.json --hide H1 --points GIVEN -o out",
    "table": "cut plan.json --table GIVEN -o out",
    "outcomes": "outcomes plan.json GIVEN",
    "record": "drift GIVEN --job job/job.toml",
    "shifts": "tickets plan.json --shifts GIVEN -o out",
    "taught": "teach plan.json GIVEN -o out",
    "what was cut": "used plan.json --cut GIVEN -o out",
    "hides": "stock receive GIVEN --job job/job.toml --ledger l.db",
    "orders": "orders take GIVEN --job job/job.toml --ledger l.db",
    "photograph": "digitise hide GIVEN -o out.dxf",
    "scan": "digitise template GIVEN --dpi 300 -o out.dxf",
    "scenarios": "scenarios job/job.toml GIVEN",
    "trial": "trial job/job.toml GIVEN -o out",
    "readings": "stretch GIVEN",
    "drawing": "verify GIVEN",
}
"""Commands by what is given to them; GIVEN is its name."""

HIDDEN = "a,b\u202ec,\x1b[31mred\x07\nH\u202e1,\x1b[2J,3\n".encode()


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A plan and a job, and a letter of somebody else's beside their folder."""
    folder = tmp_path_factory.mktemp("doors") / "mine"
    folder.mkdir()
    write_plan(box_plan(), folder / "plan.json")
    small_job(folder / "job", pairs={"39": 1})
    (folder / "cut.csv").write_text("material,state\nH1,cut\n")
    (folder.parent / "letter").write_text("not for you")
    return folder


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name on this system")
@pytest.mark.parametrize("kind", ["a pipe", "a link out", "hidden letters"])
def test_what_is_given_is_plain_or_refused(kind, place, monkeypatch, capsys):
    """A pipe does not keep the command waiting, a link out is not followed, and hidden letters stay off the screen."""
    monkeypatch.chdir(place)
    given = place / f"given-{kind.replace(' ', '-')}.csv"
    if kind == "a pipe":
        os.mkfifo(given)
    elif kind == "a link out":
        given.symlink_to(place.parent / "letter")
    else:
        given.write_bytes(HIDDEN)
    before = sorted(place.rglob("*"))
    for door, words in DOORS.items():
        assert main(words.replace("GIVEN", given.name).split()) == Exit.BAD_INPUT, door
        said = capsys.readouterr()
        lines = (said.out + said.err).splitlines()
        assert lines and all(hidden_in(line) is None for line in lines), door
        assert kind == "hidden letters" or (len(lines) == 1 and kind in lines[0]), (door, lines)
        assert "not for you" not in said.err, door
        assert sorted(place.rglob("*")) == before, door
    given.unlink()
