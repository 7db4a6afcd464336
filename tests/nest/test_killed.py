"""Power cuts, full disks and killed processes: what stands under its final name is whole, and a run goes on.

The real command line and engine run in processes that are ended hard (`killed_runs.py`). Fifty kills at random times
are marked slow; some of each kind are part of every test run.
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

from geometry.processors import CORES_VARIABLE
from nest.accounts import account
from nest.batch.jobs import BatchJob, BatchLimits
from nest.batch.task import run_one
from nest.cli import main
from nest.cli.codes import Exit
from nest.errors import PlanProblem
from nest.output import write_outputs
from nest.planfile import plan_text, read_plan, write_plan
from nest.verify import verify

pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processor time is read from /proc")


@pytest.fixture(autouse=True)
def cores_as_before(monkeypatch):
    """A task run within a test limits this process to one core: afterwards it has all again."""
    monkeypatch.setenv(CORES_VARIABLE, "1")
    monkeypatch.delenv(CORES_VARIABLE)


def runs(folder: Path, *wanted: str) -> list[dict]:
    """What became of a run for each mode and value."""
    job, work = small_job(folder / "job", pairs={"38": 1}), folder / "work"
    work.mkdir()
    done = subprocess.run(
        [sys.executable, killed_runs.__file__, str(job), str(work), *wanted],
        capture_output=True, text=True, timeout=1800, check=False,
    )
    assert done.returncode == 0, done.stderr
    ends = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]
    assert len(ends) == len(wanted)
    return ends


@pytest.fixture(scope="module")
def disturbed(tmp_path_factory):
    """The folder of some disturbed runs, and what became of them by mode."""
    folder = tmp_path_factory.mktemp("disturbed")
    rng = random.Random(8)
    kills = [f"kill:{(i + rng.random()) / 2:.3f}" for i in range(2)]
    ends = runs(folder, *kills, "file:3", "file:2", "file:1", "size:20000", "cores:1")
    return folder, {mode: [end for end in ends if end["mode"] == mode] for mode in ("kill", "file", "size", "cores")}


def check_killed(folder: Path, mode: str, ends: list[dict]) -> None:
    """After every kill the folders of runs are whole; a run that is let be ends well, as an undisturbed one."""
    assert any(end["code"] == -9 for end in ends)
    for end in ends:
        assert end["code"] in (-9, Exit.DONE, Exit.SHORT), end
        assert set(end["standing"].values()) <= {"whole"}, end
        assert end["mode"] != "file" or end["standing"]
        assert "Traceback" not in end["said"]
    out = folder / "work" / mode / "out"
    code = main(["run", str(folder / "job" / "job.toml"), "-o", str(out), *killed_runs.WORDS])
    assert code in (Exit.DONE, Exit.SHORT) and killed_runs.state_of(out) == "whole"
    undisturbed = folder / "work" / "undisturbed" / "out"
    assert (out / "plan.json").read_bytes() == (undisturbed / "plan.json").read_bytes()
    assert not out.with_name("out.unfinished").exists()


def test_killed_at_some_times(disturbed):
    """Two kills, one in each half of a run."""
    check_killed(disturbed[0], "kill", disturbed[1]["kill"])


@pytest.mark.slow
def test_killed_at_fifty_random_times(tmp_path):
    """Fifty kills at any time of a run."""
    rng = random.Random(50)
    check_killed(tmp_path, "kill", runs(tmp_path, *(f"kill:{rng.random():.4f}" for _ in range(50))))


def test_killed_while_names_change(disturbed):
    """Kills before each of the last steps of writing, where folders take each other's place.

    Between the two renames that put a folder in the place of an earlier one, the earlier one stands under the name it
    is kept by; nothing is lost.
    """
    folder, ends = disturbed
    assert [end["code"] for end in ends["file"]] == [-9] * 3
    assert [sorted(end["standing"]) for end in ends["file"]] == [["out"], ["out.old-1"], ["out", "out.old-1"]]
    check_killed(folder, "file-2", ends["file"])


def test_a_full_disk_is_one_sentence(disturbed):
    """Files that cannot grow: exit code 2 with a sentence, and nothing under the final name."""
    folder, ends = disturbed
    for end in ends["size"]:
        assert end["code"] == Exit.BAD_INPUT and end["standing"] == {}, end
        assert "Traceback" not in end["said"] and len(end["said"].strip().splitlines()) == 1
    assert not [name for name in os.listdir(folder / "work" / "size") if name.endswith(".part")]


def test_one_core_or_two_give_the_same_bytes(disturbed):
    """Same job, seed and passes: plan.json is the same on one core and on all, and from run to run."""
    folder, ends = disturbed
    assert {end["code"] for end in ends["cores"]} <= {Exit.DONE, Exit.SHORT}
    plans = [*(folder / "work" / "cores").glob("*/plan.json"), *(folder / "work" / "undisturbed").glob("*/plan.json")]
    assert len(plans) >= 3 and len({plan.read_bytes() for plan in plans}) == 1


# --- folders and disks that refuse ---------------------------------------------------------------


@pytest.mark.parametrize(("call", "number"), [
    ("os.fsync", errno.ENOSPC), ("os.replace", errno.EIO), ("os.rename", errno.EACCES),
    ("pathlib.Path.mkdir", errno.EROFS), ("pathlib.Path.write_text", errno.EDQUOT),
])
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
    """A clock that is set back changes nothing but the time that is written down: else the monotonic one is read."""
    root = Path(killed_runs.__file__).parents[2]
    for path in (*root.glob("nest/**/*.py"), *root.glob("geometry/**/*.py")):
        text = path.read_text(encoding="utf-8")
        for clock in ("time.time(", "perf_counter", "datetime.now", "date.today", "localtime", "strftime", "gmtime"):
            stated = path.relative_to(root).as_posix() == "nest/clock.py"
            assert stated or clock not in text, f"{path.name} asks {clock}"


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
