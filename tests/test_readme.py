"""README.md: its commands, its example and its tables are those of the program."""

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from small_jobs import small_job
from typer.main import get_command

import nest
from nest.cli.app import app
from nest.cli.codes import Exit
from nest.output import PLAN_FILE

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    """Every fenced block of this language."""
    return re.findall(rf"^```{language}\n(.*?)^```$", README, flags=re.DOTALL | re.MULTILINE)


def test_two_commands_each_on_one_line():
    """One line sets up and runs the demo job, one sets up and runs the tests; both make the same environment."""
    demo, tests = blocks("sh")
    assert demo.count("\n") == tests.count("\n") == 1
    assert demo.split("&&")[0] == tests.split("&&")[0]
    assert "demo_data/job.toml" in demo
    assert tests.rstrip().endswith("pytest")


def test_demo_command_parses():
    """The demo command names a command, a job file and options that there are."""
    words = shlex.split(blocks("sh")[0].split("&&")[-1])
    assert words[0].endswith("vampyield")
    command = get_command(app).commands[words[1]]
    context = command.make_context(words[1], words[2:])
    assert (ROOT / context.params["job"]).is_file()


def test_continuous_integration_runs_these_commands():
    """`.ci/run` takes the first shell block under two headings of README.md; each heading is there with its block."""
    script = (ROOT / ".ci/run").read_text(encoding="utf-8")
    headings = re.findall(r'^run_block "(.*)"$', script, flags=re.MULTILINE)
    assert headings == ["Try it", "Test it"]
    for heading, block in zip(headings, blocks("sh"), strict=True):
        section = README.split(f"\n## {heading}\n")[1].split("\n## ")[0]
        assert block in section


def test_python_example_runs(tmp_path):
    """The Python example runs on a small job in place of the demo, and writes a plan that passes its checks."""
    (code,) = blocks("python")
    short = code.replace("seconds=20", "seconds=4")
    assert short != code
    small_job(tmp_path / "demo_data", pairs={"38": 1, "39": 2})
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", short], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert re.fullmatch(r"True \d+\.\d\d EUR\n", done.stdout)
    assert nest.verify_plan(nest.read_plan(tmp_path / "out-python" / PLAN_FILE)).ok


def test_every_command_and_exit_code_is_in_its_table():
    """The tables list every command and every exit code, and no other."""
    named = re.findall(r"^\| `vampyield (\w+)", README, flags=re.MULTILINE)
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
