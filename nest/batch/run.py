"""Run the jobs of a batch on a Dask cluster: one of its own on this machine, or one that is there already.

Scheduling, retries and the loss of workers are Dask's: a job whose worker dies goes to another. A worker writes its
results itself, whole or not at all, so every worker must see the folders of the jobs and of the results under the same
paths.
"""

import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from nest.atomic import parts_of
from nest.batch.jobs import BatchJob, BatchLimits, BatchRow, fingerprint, finished_row
from nest.batch.task import run_one
from nest.cluster.connect import as_they_come, connected
from nest.cluster.where import Where

RETRIES = 3
"""A job whose worker was lost is tried so often again."""


def run_batch(
    jobs: Sequence[BatchJob], limits: BatchLimits, *, where: Where,
    listener: Callable[[BatchRow, bool], None] | None = None, say: Callable[[str], None] = lambda sentence: None,
) -> tuple[BatchRow, ...]:
    """Run every job that is not finished, and return a row for each, in the sequence of `jobs`.

    A job is finished when its results and its record are there and neither its files nor the limits have changed.
    Stopping (KeyboardInterrupt) loses nothing of the jobs that are finished.

    Parameters
    ----------
    where : the scheduler, or how many worker processes are started and ended on this machine.
    listener : told of each row as it comes, and whether it was finished before.

    Raises
    ------
    PlanProblem
        As `nest.cluster.connect.connected`.
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
        if where.local is not None:
            where = replace(where, local=min(where.local, len(waiting)))
        with connected(where, say) as client:
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
    futures = {
        client.submit(run_one, job, limits, marks[job.name], key=f"{job.name}-{marks[job.name]}", retries=RETRIES): job
        for job in waiting
    }
    for job, future in as_they_come(futures):
        error = future.exception()
        if error is None:
            yield future.result()
        else:
            yield BatchRow(job.name, "failed", message=f"{type(error).__name__}: {error}")
