"""Where the search is done: what the options say, within what the machine has."""

from collections.abc import Callable
from pathlib import Path

from geometry.processors import processor_cores
from nest.cluster.where import Where


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
