"""By passes the same job gives the same plan and the same bytes on any number of cores, anywhere, in any locale."""

import builtins
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from same_everywhere import sums
from small_jobs import small_job
from tiny_plans import box_plan

from nest.accounts import account
from nest.output import write_again, write_outputs
from nest.verify import verify

TESTS = Path(__file__).parent
PASSES = ("--passes", "2")


def written(folder: Path, name: str, *options: str, **environment: str) -> subprocess.Popen:
    """Start a run of the small job in a folder of this name, in its own process with its own environment."""
    (folder / name).mkdir(parents=True)
    job = small_job(folder / name / "job", pairs={"39": 1, "40": 1})
    paths = os.pathsep.join((str(TESTS.parents[1]), str(TESTS)))
    return subprocess.Popen(
        [sys.executable, TESTS / "same_everywhere.py", job, folder / name / "out", *PASSES, *options],
        env=os.environ | {"PYTHONPATH": paths} | environment, cwd=folder / name, stdout=subprocess.PIPE,
    )


def sums_of(run: subprocess.Popen) -> dict:
    """What a run printed: its exit code, and the sum of every file."""
    out, _ = run.communicate(timeout=600)
    assert run.returncode == 0
    return json.loads(out)


ELSEWHERE = {"VAMPYIELD_CORES": "4", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "TZ": "Asia/Tokyo",
             "PYTHONHASHSEED": "77", "OPENBLAS_NUM_THREADS": "4"}


def test_the_same_bytes_twice(tmp_path, monkeypatch):
    """Drawings, sheets and tables of one plan, in two folders and with other cores: equal but for the time stated."""
    for name, cores in (("one", "1"), ("other", "4")):
        monkeypatch.setenv("VAMPYIELD_CORES", cores)
        write_again(box_plan(), verify(box_plan()), tmp_path / name, time="2026-03-31T12:00:00Z")
    assert sums(tmp_path / "one") == sums(tmp_path / "other")


def test_no_digit_depends_on_how_a_python_adds_up(tmp_path, monkeypatch):
    """With a built-in `sum` whose floats come out a last digit larger all files of a plan are the same.

    From Python 3.12 on `sum` makes up for what is lost in adding up floats (What's New In Python 3.12, "sum() now uses
    Neumaier summation"); what is written must not tell which Python wrote it.
    """
    plain = builtins.sum

    def other(items, /, start=0):
        found = plain(items, start)
        return found * (1.0 + 2.0**-52) if type(found) is float else found

    for name, adds in (("one", plain), ("other", other)):
        monkeypatch.setattr(builtins, "sum", adds)
        verdict, accounts = verify(box_plan()), account(box_plan())
        write_outputs(box_plan(), accounts, verdict, tmp_path / name, figures=False, time="2026-03-31T12:00:00Z")
    assert sums(tmp_path / "one") == sums(tmp_path / "other")


@pytest.mark.slow
def test_the_same_bytes_in_another_folder_locale_and_hash_seed(tmp_path):
    """Two runs by passes, with all of these different at once: plan, drawings, workbook, sheets and page are equal."""
    runs = [written(tmp_path, "one", "--no-figures", VAMPYIELD_CORES="1", PYTHONHASHSEED="1"),
            written(tmp_path, "Häuteß 日", "--no-figures", **ELSEWHERE)]
    first, second = map(sums_of, runs)
    assert first == second and first["code"] in (0, 3)
    assert {"plan.json", "consumption.xlsx", "print.pdf", "drawings/hide-H01.dxf"} <= first.keys()


@pytest.mark.slow
@pytest.mark.parametrize("options", [(), ("--local", "1"), ("--local", "2"), ("--local", "4")], ids=" ".join)
@pytest.mark.parametrize("cores", ["1", "2", "4"])
def test_the_same_bytes_on_any_number_of_workers_and_cores(tmp_path, cores, options):
    """One, two and four workers and cores, figures too."""
    if options:
        pytest.importorskip("distributed")
    one = sums_of(written(tmp_path, "one", VAMPYIELD_CORES="2"))
    assert sums_of(written(tmp_path, "other", *options, **ELSEWHERE | {"VAMPYIELD_CORES": cores})) == one
