"""An engine that has regions searched by Dask workers; strips stay here.

A hide is one task: a problem goes out, its layouts come back, nothing is kept on the cluster. A task whose worker dies
is done again by another, which is Dask's doing; if the scheduler is lost, or its last worker, hides are searched here.
"""

import pickle
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from nest.cluster import task
from nest.cluster.connect import connected
from nest.cluster.where import Where
from nest.errors import PlanProblem
from nest.placement.budget import Budget
from nest.placement.problem import Layout, Listener, RegionProblem
from nest.planning.run import Engine

POLL_SECONDS = 0.1

STOP_SECONDS = 10.0
"""A search that was asked to stop is waited for this long; what it found is lost then."""

ALONE_SECONDS, ASK_SECONDS = 60.0, 5.0
"""Without any worker for this long the hides are searched here; how often the scheduler is asked for its workers."""


@contextmanager
def engine_on(where: Where, say: Callable[[str], None]) -> Iterator[Engine | None]:
    """An engine that works there as long as the block lasts; None, for the usual one, where that is here.

    Raises
    ------
    PlanProblem
        As `nest.cluster.connect.connected`; and if workers run another version of the program.
    """
    if where.scheduler is None and where.local is None:
        yield None
        return
    with connected(where, say) as client:
        if where.scheduler is not None:
            _check_versions(client)
        away = _Away(client, say)
        try:
            yield Engine(away.solve_region, away.here.solve_strip, away.at_once, away.here.release)
        finally:
            away.stop()


def _check_versions(client) -> None:
    try:
        marks = client.run(task.code_mark) | {"the scheduler": client.run_on_scheduler(task.code_mark)}
    except Exception as error:
        raise PlanProblem(f"vampyield cannot be run by the workers ({type(error).__name__}: {error}).") from error
    others = [place for place, mark in marks.items() if mark != task.code_mark()]
    if others:
        raise PlanProblem(
            f"{others[0]} has another version of vampyield or of {', '.join(task.LIBRARIES)}; "
            "install the same everywhere"
        )


class _Away:
    """Sends searches out, waits for them, and tells them to stop."""

    def __init__(self, client, say: Callable[[str], None]):
        self.here = Engine.fresh()
        self._client = client
        self._say = say
        self._run = uuid.uuid4().hex
        self._lock, self._one_here = threading.Lock(), threading.Lock()
        self._told = self._said = False
        self._threads, self._asked, self._manned = 0, -ASK_SECONDS, time.monotonic()

    def at_once(self) -> int:
        """How many hides can be searched at once: one a thread of the workers that are there now."""
        with self._lock:
            now = time.monotonic()
            if now - self._asked >= ASK_SECONDS:
                with suppress(Exception):  # a scheduler that is lost is noticed by the searches
                    self._threads = sum(self._client.nthreads().values())
                self._asked = now
            if self._threads:
                self._manned = now
            return max(1, self._threads)

    def solve_region(
        self, problem: RegionProblem, budget: Budget, *, seed: int, listener: Listener | None = None,
        workers: int | None = None,
    ) -> tuple[Layout, ...]:
        """As `nest.placement.solve.solve_region`, by a worker; how many threads it has is the worker's own affair.

        Raises
        ------
        distributed.KilledWorker
            If worker after worker died over this hide.
        """
        from distributed import KilledWorker

        try:
            answer = self._answer(problem, budget, seed)
        except KilledWorker:
            raise
        except Exception as error:
            # The cluster failed, or the search: the search fails here again, and is reported then.
            self._say_once(f"the workers are lost ({type(error).__name__}); hides are searched here.")
            with self._one_here:
                return self.here.solve_region(problem, budget, seed=seed, listener=listener)
        if answer is None:
            return ()
        layouts, progress = answer
        if listener is not None and progress is not None:
            listener(progress)
        return layouts

    def stop(self) -> None:
        """Tell the searches of this run to end, once."""
        with self._lock:
            told, self._told = self._told, True
        if not told:
            with suppress(Exception):  # who cannot be told has gone
                self._client.run(task.stop, self._run, wait=False)

    def _answer(self, problem: RegionProblem, budget: Budget, seed: int):
        """What the task returns; None if it was asked to stop and did not answer."""
        asked = task.Asked(self._run, pickle.dumps(problem), seed, budget.seconds, budget.passes)
        future = self._client.submit(task.search, asked, key=f"hide-{uuid.uuid4().hex}", pure=False)
        done = threading.Event()
        future.add_done_callback(lambda _: done.set())
        until = float("inf")
        try:
            while not done.wait(POLL_SECONDS) and future.status == "pending":
                now = time.monotonic()
                if until == float("inf") and budget.cancelled():
                    self.stop()
                    until = now + STOP_SECONDS
                if now > until:
                    return None
                self.at_once()
                if now - self._manned > ALONE_SECONDS:
                    raise TimeoutError("no worker")
            return future.result()
        finally:
            future.release()

    def _say_once(self, sentence: str) -> None:
        with self._lock:
            said, self._said = self._said, True
        if not said:
            self._say(sentence)
