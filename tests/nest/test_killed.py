"""Power cuts, full disks and killed processes: what stands under its final name is whole, and a run goes on.

The real command line and engine run in processes that are ended hard (`killed_runs.py`). Fifty kills at random times
are marked slow; a few are part of every test run.
"""

import errno
import json
import os
import random
import subprocess
import sys
from pathlib import Path

import killed_runs
import pytest
from small_jobs import small_job
from tiny_plans import box_plan

from nest.accounts import account
from nest.batch.jobs import BatchJob, BatchLimits
from nest.batch.task import run_one
from nest.cli import main
from nest.cli.codes import Exit
from nest.errors import PlanProblem
from nest.output import write_outputs
from nest.planfile import plan_text, read_plan, write_plan
from nest.verify import verify


def runs(folder: Path, mode: str, values) -> list[dict]:
    """What became of a run for each value."""
    job, out = small_job(folder / "job", pairs={"38": 3, "39": 4}, hides=2), folder / "work" / "out"
    out.parent.mkdir()
    done = subprocess.run(
        [sys.executable, killed_runs.__file__, str(job), str(out), mode, *map(str, values)],
        capture_output=True, text=True, timeout=900, check=False,
    )
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]


def check_killed(folder: Path, mode: str, values) -> None:
    """After every kill the folders of runs are whole; a run that is let be ends well, as an undisturbed one."""
    ends = runs(folder, mode, values)
    assert len(ends) == len(values) and any(end["code"] == -9 for end in ends)
    for end in ends:
        assert end["code"] in (-9, Exit.DONE, Exit.SHORT), end
        assert set(end["standing"].values()) == {"whole"}, end
        assert "Traceback" not in end["said"]
    out = folder / "work" / "out"
    code = main(["run", str(folder / "job" / "job.toml"), "-o", str(out), *killed_runs.WORDS])
    assert code in (Exit.DONE, Exit.SHORT) and killed_runs.state_of(out) == "whole"
    undisturbed = out.with_name("out-first")
    assert (out / "plan.json").read_bytes() == (undisturbed / "plan.json").read_bytes()
    assert not out.with_name("out.unfinished").exists()


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processor time is read from /proc")
def test_killed_at_some_times(tmp_path):
    """Four kills, one of each quarter of a run."""
    rng = random.Random(8)
    check_killed(tmp_path, "kill", [round((i + rng.random()) / 4, 3) for i in range(4)])


@pytest.mark.slow
def test_killed_at_fifty_random_times(tmp_path):
    """Fifty kills at any time of a run."""
    rng = random.Random(50)
    check_killed(tmp_path, "kill", [round(rng.random(), 4) for _ in range(50)])


def test_killed_while_names_change(tmp_path):
    """Kills before each of the last steps of writing, where folders take each other's place, and before earlier ones.

    Between the two renames that put a folder in the place of an earlier one, the earlier one stands under the name it
    is kept by; nothing is lost.
    """
    check_killed(tmp_path, "file", [1, 2, 3, 4, 12])


def test_a_full_disk_is_one_sentence(tmp_path):
    """Files that cannot grow: exit code 2 with a sentence, nothing under the final name, and earlier results stay."""
    ends = runs(tmp_path, "size", [200, 20_000, 90_000])
    for end in ends:
        assert end["code"] == Exit.BAD_INPUT, end
        assert "Traceback" not in end["said"] and len(end["said"].strip().splitlines()) == 1
        assert "out" not in end["standing"] and set(end["standing"].values()) == {"whole"}
        assert not [name for name in os.listdir(tmp_path / "work") if name.endswith(".part")]


def test_one_core_or_two_give_the_same_bytes(tmp_path):
    """Same job, seed and passes: plan.json is the same on one core and on two, and from run to run."""
    ends = runs(tmp_path, "cores", [1, 2, 1])
    assert {end["code"] for end in ends} <= {Exit.DONE, Exit.SHORT}
    plans = sorted((tmp_path / "work").glob("*/plan.json"))
    assert len(plans) >= 4 and len({plan.read_bytes() for plan in plans}) == 1


# --- folders and disks that refuse ---------------------------------------------------------------


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EIO, errno.EDQUOT])
@pytest.mark.parametrize(
    "call", ["os.fsync", "os.replace", "os.rename", "pathlib.Path.mkdir", "pathlib.Path.write_text"]
)
def test_a_disk_that_refuses_leaves_what_was_there(tmp_path, monkeypatch, capsys, call, number):
    """Whatever call fails, and why: a sentence and code 2, the earlier folder untouched, nothing beside it."""
    plan = box_plan()
    out = tmp_path / "out"
    write_outputs(plan, account(plan), verify(plan), out, figures=False)
    write_plan(plan, tmp_path / "saved.json")
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}

    def refuse(*args, **more):
        raise OSError(number, os.strerror(number), "somewhere")

    with monkeypatch.context() as patched:
        patched.setattr(call, refuse)
        assert main(["cut", str(tmp_path / "saved.json"), "-o", str(out), "--no-figures", "--quiet"]) == Exit.BAD_INPUT
    said = capsys.readouterr().err
    assert "Traceback" not in said and os.strerror(number) in said
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before
    assert sorted(os.listdir(tmp_path)) == ["out", "saved.json"]


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is read-only for root")
def test_a_read_only_folder(tmp_path):
    """A folder without the right to write is refused before placing."""
    (tmp_path / "ro").mkdir(mode=0o500)
    job = small_job(tmp_path / "job", pairs={"39": 1})
    assert main(["run", str(job), "-o", str(tmp_path / "ro" / "out"), *killed_runs.WORDS]) == Exit.BAD_INPUT


def test_a_folder_of_the_system_that_takes_no_files(tmp_path, capsys):
    """A place where nobody can make a folder is refused before placing, in one sentence."""
    job = small_job(tmp_path / "job", pairs={"39": 1})
    assert main(["run", str(job), "-o", "/proc/out", *killed_runs.WORDS]) == Exit.BAD_INPUT
    assert "cannot be written" in capsys.readouterr().err


# --- memory, clocks, workers ---------------------------------------------------------------------


@pytest.mark.parametrize(
    "error", [MemoryError(), RuntimeError("a library's own"), OSError(errno.ENOSPC, "No space left")]
)
def test_a_job_that_fails_is_a_row_of_the_batch(tmp_path, monkeypatch, error):
    """Out of memory or out of disk in a worker: the job is told as failed, and nothing of it is written."""

    def fail(*args, **more):
        raise error

    monkeypatch.setattr("nest.planning.make.make_plan", fail)
    job = BatchJob("one", small_job(tmp_path / "job", pairs={"39": 1}), tmp_path / "out" / "one")
    row = run_one(job, BatchLimits(passes=1), "mark")
    assert row.state == "failed" and type(error).__name__ in row.message
    assert not job.out.exists() and not job.record.exists()


def test_no_clock_on_the_wall_is_asked():
    """A clock that is set back or forth changes nothing: only the monotonic one is read (and dates of cells)."""
    root = Path(killed_runs.__file__).parents[2]
    for path in (*root.glob("nest/**/*.py"), *root.glob("geometry/**/*.py")):
        text = path.read_text(encoding="utf-8")
        for clock in ("time.time(", "perf_counter", "datetime.now", "date.today", "localtime", "strftime", "gmtime"):
            assert clock not in text, f"{path.name} asks {clock}"


def test_a_plan_survives_a_failed_write(tmp_path, monkeypatch):
    """A write that fails half-way leaves the old plan readable and right."""
    path = tmp_path / "plan.json"
    write_plan(box_plan(), path)

    def half(self, text, **more):
        with open(self, "w") as stream:
            stream.write(text[: len(text) // 2])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr("pathlib.Path.write_text", half)
        with pytest.raises(PlanProblem, match="cannot be written"):
            write_plan(box_plan(name="other"), path)
    assert plan_text(read_plan(path)) == plan_text(box_plan()) and os.listdir(tmp_path) == ["plan.json"]
