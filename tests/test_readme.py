"""README.md: its commands and its tables are those of the program."""

import re
import shlex
from pathlib import Path

import pytest
from typer.main import get_command

from nest.cli.app import app
from nest.cli.codes import Exit

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def below(heading: str) -> str:
    """The first shell block under a heading, as `.ci/run` takes it."""
    section = README.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    return re.search(r"^```sh\n(.*?)^```$", section, flags=re.DOTALL | re.MULTILINE)[1]


def test_two_commands_each_on_one_line():
    """One line sets up and runs the demo job, one sets up and runs the tests; both make the same environment."""
    demo, tests = below("Try it"), below("Test it")
    assert demo.count("\n") == tests.count("\n") == 1
    assert demo.split("&&")[0] == tests.split("&&")[0]
    assert "demo_data/job.toml" in demo
    assert tests.rstrip().endswith("pytest")


def test_demo_command_parses():
    """The demo command names a command, a job file and options that there are."""
    words = shlex.split(below("Try it").split("&&")[-1])
    assert words[0].endswith("vampyield")
    command = get_command(app).commands[words[1]]
    context = command.make_context(words[1], words[2:])
    assert (ROOT / context.params["job"]).is_file()


def test_continuous_integration_runs_these_commands():
    """`.ci/run` takes the first shell block under these two headings."""
    script = (ROOT / ".ci/run").read_text(encoding="utf-8")
    assert re.findall(r'^run_block "(.*)"$', script, flags=re.MULTILINE) == ["Try it", "Test it"]


def test_every_command_and_exit_code_is_in_its_table():
    """The tables list every command and every exit code, and no other."""
    first_cells = re.findall(r"^\|(.*?)\|", README, flags=re.MULTILINE)
    named = [name for cell in first_cells for name in re.findall(r"`vampyield (\w+)", cell)]
    assert sorted(named) == sorted(get_command(app).commands)
    codes = re.findall(r"^\| (\d+) \|", README, flags=re.MULTILINE)
    assert [int(code) for code in codes] == sorted(Exit)


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "demo_data/README.md"])
def test_links_and_paths_lead_somewhere(name):
    """Every relative link, and every path of ours in code marks, is a file or a folder that there is."""
    text = (ROOT / name).read_text(encoding="utf-8")
    links = [link for link in re.findall(r"\]\(([^)]+)\)", text) if "://" not in link]
    paths = re.findall(r"`((?:nest|geometry|tests|demo_data)/[\w./-]*)`", text)
    for target in links:
        assert ((ROOT / name).parent / target).exists(), target
    for target in paths:
        assert (ROOT / target).exists(), target
