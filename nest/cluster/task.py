"""The search of one hide; runs on a worker."""

import hashlib
import pickle
from functools import cache, lru_cache
from importlib.metadata import version
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, NamedTuple

from geometry.processors import one_core

if TYPE_CHECKING:
    from nest.placement.problem import Layout, Progress
    from nest.planning.run import Engine

LIBRARIES = ("numpy", "numba", "ortools", "shapely")

_stopped: set[str] = set()
"""Runs whose searches are to end."""

_one_at_a_time = Lock()


class Asked(NamedTuple):
    """One search: the run it is for, the pickled problem, seed, and limits as in `nest.placement.budget.Budget`."""

    run: str
    problem: bytes
    seed: int
    seconds: float | None
    passes: int | None


def search(asked: Asked) -> "tuple[tuple[Layout, ...], Progress | None]":
    """Layouts as `nest.placement.solve.solve_region` finds them, and the last that it said of its progress.

    Time counts from here, whatever the task waited. A thread of Dask is a core: a worker of several searches several
    hides, one core to each, unless its environment says otherwise.
    """
    from nest.placement.budget import Budget

    one_core()
    with _one_at_a_time:
        engine = _engine(asked.run)
    said: list[Progress] = []
    limit = Budget(asked.seconds, asked.passes, lambda: asked.run in _stopped)
    layouts = engine.solve_region(pickle.loads(asked.problem), limit, seed=asked.seed, listener=said.append)
    return layouts, said[-1] if said else None


@lru_cache(maxsize=2)
def _engine(run: str) -> "Engine":
    """The engine of a run, with tables that are kept from one hide to the next; compiled once."""
    from nest.placement.solve import warm_up
    from nest.planning.run import Engine

    warm_up()
    return Engine.fresh()


async def stop(run: str) -> None:
    """End the searches of a run on this worker, which then hand over what they found.

    It is called on the worker's loop: Dask waits for nobody's answer only where the function is a coroutine.
    """
    _stopped.add(run)


@cache
def code_mark() -> str:
    """Changes with the program that searches, and with the libraries it uses."""
    root = Path(__file__).parents[2]
    digest = hashlib.sha256(" ".join(map(version, LIBRARIES)).encode())
    for folder in ("geometry", "nest/placement", "nest/cluster"):
        for path in sorted((root / folder).glob("*.py")):
            digest.update(path.read_bytes())
    return digest.hexdigest()
