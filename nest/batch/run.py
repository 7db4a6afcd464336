"""Run the jobs of a batch on a Dask cluster: one of its own on this machine, or one that is there already.

Scheduling, retries and the loss of workers are Dask's: a job whose worker dies goes to another. A worker writes its
results itself, whole or not at all, so every worker must see the folders of the jobs and of the results under the same
paths.
"""

import logging
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from nest.atomic import parts_of
from nest.batch.jobs import BatchJob, BatchLimits, BatchRow, fingerprint, finished_row
from nest.batch.task import run_one
from nest.errors import PlanProblem

RETRIES = 3
"""A job whose worker was lost is tried so often again."""

WAIT_SECONDS = 15.0
"""A scheduler or its first worker that does not answer within this is not there."""


def run_batch(
    jobs: Sequence[BatchJob],
    limits: BatchLimits,
    *,
    scheduler: str | None = None,
    workers: int = 2,
    listener: Callable[[BatchRow, bool], None] | None = None,
) -> tuple[BatchRow, ...]:
    """Run every job that is not finished, and return a row for each, in the sequence of `jobs`.

    A job is finished when its results and its record are there and neither its files nor the limits have changed.
    Stopping (KeyboardInterrupt) loses nothing of the jobs that are finished.

    Parameters
    ----------
    scheduler : address of a running scheduler, such as tcp://10.0.0.5:8786; without it a cluster of `workers`
        processes on this machine is started and ended.
    listener : told of each row as it comes, and whether it was finished before.

    Raises
    ------
    PlanProblem
        If Dask is not installed, or the scheduler does not answer.
    """
    marks = {job.name: fingerprint(job, limits) for job in jobs}
    rows: dict[str, BatchRow] = {}

    def take(row: BatchRow, before: bool) -> None:
        rows[row.name] = row
        if listener is not None:
            listener(row, before)

    for job in jobs:
        row = finished_row(job, marks[job.name])
        if row is not None:
            take(row, True)
    waiting = [job for job in jobs if job.name not in rows]
    if waiting:
        before = _unfinished(waiting)
        with _cluster(scheduler, min(workers, len(waiting))) as client:
            for row in _results(client, waiting, limits, marks):
                take(row, False)
        # Every job has come to its end: what is half written now was left by a worker that died.
        for part in _unfinished(waiting) - before:
            shutil.rmtree(part, ignore_errors=True)
    return tuple(rows[job.name] for job in jobs)


def _unfinished(jobs: Sequence[BatchJob]) -> set[Path]:
    """Folders in which results of these jobs are being written, or were when their worker died; no others."""
    return {part for job in jobs for part in parts_of(job.out)}


def _results(client, waiting: Sequence[BatchJob], limits: BatchLimits, marks: dict[str, str]) -> Iterator[BatchRow]:
    from distributed import as_completed

    futures = {
        client.submit(run_one, job, limits, marks[job.name], key=f"{job.name}-{marks[job.name]}", retries=RETRIES): job
        for job in waiting
    }
    for future in as_completed(futures):
        job = futures[future]
        error = future.exception()
        if error is None:
            yield future.result()
        else:
            yield BatchRow(job.name, "failed", message=f"{type(error).__name__}: {error}")


@contextmanager
def _cluster(scheduler: str | None, workers: int):
    """A client of the scheduler, or of a cluster of our own that lives as long as the block."""
    try:
        import dask
        from distributed import Client, LocalCluster
    except ImportError as error:
        raise PlanProblem(
            'running many jobs needs Dask: install the extra "cluster" (pip install "vampyield[cluster]").'
        ) from error
    if scheduler is not None:
        try:
            client = Client(scheduler, timeout=WAIT_SECONDS)
        except (OSError, TimeoutError, ValueError) as error:
            said = f"the scheduler {scheduler} does not answer; check its address, and that it runs."
            raise PlanProblem(said) from error
        with client:
            yield client
        return
    # A worker is lost only with its process: long compiled loops must not look like a dead one.
    with dask.config.set({"distributed.scheduler.worker-ttl": None}):
        local = LocalCluster(
            n_workers=workers, threads_per_worker=1, host="127.0.0.1", dashboard_address=None,
            silence_logs=logging.CRITICAL,
        )
        with local, Client(local) as client:
            yield client
