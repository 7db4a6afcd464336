"""A batch on a real scheduler with two worker processes on loopback, one of which is killed in the middle."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest
from small_jobs import small_job

from nest.batch.jobs import BatchLimits, find_jobs
from nest.batch.run import run_batch
from nest.cluster.where import Where
from nest.errors import PlanProblem

distributed = pytest.importorskip("distributed")

LIMITS = BatchLimits(passes=3)
START_SECONDS = 60.0


@pytest.fixture
def cluster(tmp_path):
    """Address of a scheduler, and its two workers by name; all end with the test."""
    file = tmp_path / "scheduler.json"
    program = [sys.executable, "-m", "distributed.cli"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    started = {
        "scheduler": subprocess.Popen(
            [*program[:2], "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
             "--scheduler-file", str(file)], **quiet)
    }
    try:
        address = json.loads(_waited_for(file))["address"]
        for name in ("first", "second"):
            started[name] = subprocess.Popen(
                [*program[:2], "distributed.cli.dask_worker", address, "--name", name, "--host", "127.0.0.1",
                 "--nthreads", "1", "--no-nanny", "--no-dashboard", "--death-timeout", "60",
                 "--local-directory", str(tmp_path / name)], **quiet)
        yield address, started
    finally:
        for process in started.values():
            process.kill()
            process.wait()


def _waited_for(file) -> str:
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end:
        if file.exists() and (text := file.read_text()):
            return text
        time.sleep(0.1)
    raise AssertionError("the scheduler did not start")


def test_every_result_is_there_after_a_worker_died(tmp_path, cluster):
    """A worker killed while it runs a job costs no job: all are done, and a second batch repeats none of them."""
    address, processes = cluster
    for number, size in enumerate(("37", "38", "39", "40"), start=1):
        small_job(tmp_path / "jobs" / f"order-{number}", pairs={size: 1})
    jobs = find_jobs(tmp_path / "jobs", tmp_path / "out")
    killed = []
    with distributed.Client(address) as watcher:
        watcher.wait_for_workers(2, timeout=START_SECONDS)
        names = {one["id"]: at for at, one in watcher.scheduler_info(n_workers=-1)["workers"].items()}

        def kill_a_busy_one(row, before) -> None:
            if killed:
                return
            busy = {at for at, tasks in watcher.processing().items() if tasks}
            name = next((name for name, at in names.items() if at in busy), None)
            if name is not None:
                os.kill(processes[name].pid, signal.SIGKILL)
                killed.append(name)

        rows = run_batch(jobs, LIMITS, where=Where(address), listener=kill_a_busy_one)
    assert len(killed) == 1
    assert processes[killed[0]].wait(timeout=10) == -signal.SIGKILL
    assert [row.name for row in rows] == [job.name for job in jobs]
    assert all(row.finished and row.state == "met" for row in rows)
    assert all((job.out / "plan.json").is_file() and job.record.is_file() for job in jobs)
    assert not list((tmp_path / "out").glob(".*.part"))
    before = {job.name: job.record.stat().st_mtime_ns for job in jobs}
    seen = []
    again = run_batch(jobs, LIMITS, where=Where(address), listener=lambda row, earlier: seen.append(earlier))
    assert again == rows and seen == [True] * 4
    assert before == {job.name: job.record.stat().st_mtime_ns for job in jobs}


def test_a_scheduler_that_is_not_there_is_said(tmp_path, monkeypatch):
    """No scheduler at the address: one sentence with the remedy."""
    monkeypatch.setattr("nest.cluster.connect.ANSWER_SECONDS", 0.5)
    small_job(tmp_path / "jobs" / "one", pairs={"39": 1})
    jobs = find_jobs(tmp_path / "jobs", tmp_path / "out")
    with pytest.raises(PlanProblem, match="does not answer"):
        run_batch(jobs, LIMITS, where=Where("tcp://127.0.0.1:1"))
