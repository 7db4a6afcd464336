"""How many threads pay, and work shared out among them."""

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from itertools import chain
from typing import TypeVar

Item = TypeVar("Item")
Made = TypeVar("Made")

CORES_VARIABLE = "VAMPYIELD_CORES"
"""Environment variable with the most cores that a process may use, where several share the machine."""


def processor_cores() -> int:
    """How many processor cores this process may use, at least one: those it is bound to, and no more than is said."""
    allowed = getattr(os, "sched_getaffinity", None)  # not on every system
    found = len(allowed(0)) if allowed else os.cpu_count() or 1
    said = os.environ.get(CORES_VARIABLE, "")
    return max(1, min(found, int(said))) if said.isdecimal() else found


def one_core() -> None:
    """Limit this process to one core for each thing it does, unless its environment says otherwise."""
    os.environ.setdefault(CORES_VARIABLE, "1")


RUNS = 16
"""A thread gets its items in about this many runs, for handing one item over takes as long as making a small table."""


def for_all(work: Callable[[Item], Made], items: Iterable[Item], workers: int | None = None) -> list[Made]:
    """Do `work` for all items on threads, one to a core without `workers`; the results are in the items' order."""
    given, workers = list(items), workers or processor_cores()
    run = max(1, len(given) // (RUNS * workers))
    runs = [given[first:first + run] for first in range(0, len(given), run)]
    with ThreadPoolExecutor(workers) as pool:
        return list(chain.from_iterable(pool.map(lambda some: [work(one) for one in some], runs)))
