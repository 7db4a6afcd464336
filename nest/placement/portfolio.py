"""Several searches side by side: start them, stop them, tell a listener.

Searches are compiled loops that release the interpreter lock, so threads use all cores and share
the tables. Each search owns its state and its random numbers: with a limit on passes the result does
not depend on timing.
"""

import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait

from nest.placement.problem import Stop

POLL_SECONDS = 0.1
LEAST_SHARE = 0.25


class Clock:
    """Seconds since the start, and how many are left of a stopping rule."""

    def __init__(self, stop: Stop):
        self.stop = stop
        self.begin = time.monotonic()

    @property
    def elapsed(self) -> float:
        """Seconds since the start."""
        return time.monotonic() - self.begin

    def left_for_search(self) -> float:
        """Seconds left of the limit, infinite without one; however long the tables took, a quarter of the limit."""
        if self.stop.seconds is None:
            return float("inf")
        return max(self.stop.seconds - self.elapsed, LEAST_SHARE * self.stop.seconds)


def run_side_by_side(
    searches: Sequence,
    work: Callable,
    clock: Clock,
    until: float,
    tell: Callable[[], None],
    workers: int,
) -> None:
    """Do `work(search)` for every search, on `workers` threads, until `clock` reaches `until` seconds.

    Sets each search's stop flag when the time is up or the user cancels, and waits for the threads;
    `tell` is called from this thread now and then.
    """
    for search in searches:
        search.state.stop[0] = 0
    with ThreadPoolExecutor(max(1, workers)) as pool:
        futures = [pool.submit(work, search) for search in searches]
        try:
            while True:
                pending = wait(futures, timeout=min(POLL_SECONDS, max(0.001, until - clock.elapsed))).not_done
                tell()
                if not pending:
                    break
                if clock.elapsed >= until or clock.stop.cancelled():
                    for search in searches:
                        search.state.stop[0] = 1
        finally:
            for search in searches:
                search.state.stop[0] = 1
    for future in futures:
        future.result()

