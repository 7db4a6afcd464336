"""Where the search is done: what the options say, within what the machine has."""

import os
from collections.abc import Callable
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path

from geometry.processors import processor_cores
from nest.cluster.where import Where

MANY_CORES = 8
"""Beyond this many, threads leave most cores idle: they keep some five of sixteen busy (trial 199)."""

LEAST_SECONDS = 30.0
"""In less, starting the workers takes too much of the time."""

WORKER_BYTES = 1_000_000_000
"""Memory that a worker process grows to."""


def place_of_work(
    say: Callable[[str], None], scheduler: str | None, local: int | None, certificates: Path | None
) -> Where:
    """What the options say; no more worker processes than the machine has cores, with a word about it.

    Raises
    ------
    PlanProblem
        As `nest.cluster.where.Where`.
    """
    where = Where(scheduler, local, certificates)
    if local is None or local <= (most := processor_cores()):
        return where
    say(f"{most} worker process{'es' * (most != 1)} instead of {local}: there is one core to each, more gain nothing.")
    return Where(scheduler, most, certificates)


def on_many_cores(where: Where, hides: int, seconds: float | None) -> Where:
    """Worker processes, one to a core, where none are asked for but threads would leave most of the cores idle.

    That is so on a machine of more than MANY_CORES, if there are two hides or more to a core and LEAST_SECONDS or more
    to search them. There are no more workers than the machine's memory allows.
    """
    cores = processor_cores()
    if (where != Where() or cores <= MANY_CORES or hides < 2 * cores or (seconds or 0.0) < LEAST_SECONDS
            or find_spec("distributed") is None):
        return where
    workers = min(cores, memory_bytes() // WORKER_BYTES)
    return Where(local=workers, asked=False) if workers > MANY_CORES else where


def memory_bytes() -> int:
    """Memory of this machine; 0 where the system does not say."""
    with suppress(AttributeError, OSError, ValueError):
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    return 0
