"""Several searches side by side: start them, stop them, tell a listener.

Searches are compiled loops that release the interpreter lock, so threads use all cores and share
the tables. Each search owns its state and its random numbers: with a limit on passes the result does
not depend on timing.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from typing import Protocol, TypeVar

from nest.placement._cost import State
from nest.placement.budget import Budget

POLL_SECONDS = 0.1
SEARCHES = 2
FEW_PASSES = 20
"""With fewer passes than this the layout is closed up less, and items are laid down one by one too."""


class Stoppable(Protocol):
    """A search that looks at its state's stop flag."""

    @property
    def state(self) -> State:
        """Its trial layout."""


Search = TypeVar("Search", bound=Stoppable)


def searches_of(budget: Budget, workers: int) -> int:
    """How many searches run: one a worker against the clock; always SEARCHES with a limit on passes alone."""
    return workers if budget.seconds is not None else SEARCHES


def run_side_by_side(
    searches: Sequence[Search],
    work: Callable[[Search], None],
    budget: Budget,
    until: float,
    tell: Callable[[], None],
    workers: int,
) -> None:
    """Do `work(search)` for every search, on `workers` threads, until `until` seconds of the budget.

    Sets each search's stop flag when the time is up or the user cancels, and waits for the threads;
    `tell` is called from this thread now and then.
    """
    for search in searches:
        search.state.stop[0] = 0
    with ThreadPoolExecutor(max(1, workers)) as pool:
        futures = [pool.submit(work, search) for search in searches]
        try:
            while True:
                pending = wait(futures, timeout=min(POLL_SECONDS, max(0.001, until - budget.elapsed))).not_done
                tell()
                if not pending:
                    break
                if budget.elapsed >= until or budget.cancelled():
                    for search in searches:
                        search.state.stop[0] = 1
        finally:
            for search in searches:
                search.state.stop[0] = 1
    for future in futures:
        future.result()

