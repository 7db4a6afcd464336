"""What commands that search have in common: their options, and what goes on around a search."""

import inspect
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_type_hints

from nest.cli import options
from nest.cli.kept import kept_until_written
from nest.cli.progress import Watch, shown_progress
from nest.cli.screen import Screen
from nest.cli.stopping import stop_on_interrupt
from nest.cli.workers import place_of_work

if TYPE_CHECKING:
    from nest.job.job import Job
    from nest.plan import Plan

_OPTIONS = {
    "seconds": options.Seconds, "passes": options.Passes, "seed": options.Seed, "scheduler": options.Scheduler,
    "certificates": options.Certificates, "local": options.Local,
}


@dataclass(frozen=True, slots=True)
class Search:
    """How long to search, from which seed, and by whom: as the options say."""

    seconds: float | None = None
    passes: int | None = None
    seed: int | None = None
    scheduler: str | None = None
    certificates: Path | None = None
    local: int | None = None


NO_LIMITS = Search()


def with_search_options(command: Callable[..., None]) -> Callable[..., None]:
    """A command that takes the options of a search, in place of the parameter `search` that it has."""
    given = inspect.signature(command)
    hints = get_type_hints(command, include_extras=True)
    parameters: list[inspect.Parameter] = []
    for name, one in given.parameters.items():
        if name != "search":
            parameters.append(one.replace(annotation=hints[name]))
            continue
        parameters += [
            inspect.Parameter(option, one.kind, default=None, annotation=kind) for option, kind in _OPTIONS.items()
        ]

    @wraps(command)
    def taking(**said: Any) -> None:
        asked = Search(**{option: said.pop(option) for option in _OPTIONS})
        command(**said, search=asked)

    taking.__signature__ = given.replace(parameters=parameters)  # type: ignore[attr-defined]
    taking.__annotations__ = {one.name: one.annotation for one in parameters}
    return taking


@dataclass(frozen=True, slots=True)
class Searching:
    """A search that goes on: whether the user has asked to stop, what shows its progress, and its limits.

    limits : what `nest.planning.make.make_plan` takes: seconds, passes, seed, cancelled, listener, engine.
    """

    cancelled: Callable[[], bool]
    watch: Watch
    limits: dict[str, Any]

    def planned(self, make: "Callable[..., Plan]") -> "Plan":
        """The plan that `make` comes to within the limits. The engine's tables are freed: writing needs memory too."""
        plan = make(**self.limits)
        self.limits["engine"].release()
        return plan


@contextmanager
def searching(screen: Screen, out: Path, search: Search, job: "Job") -> Iterator[Searching]:
    """Yield what a search needs: Ctrl-C once keeps the best, progress is shown, and a run that was killed goes on.

    Where neither seconds nor passes are asked for, the job says for how many seconds.

    Raises
    ------
    PlanProblem
        As `nest.cli.workers.place_of_work` and `nest.cluster.engine.engine_on`.
    """
    where = place_of_work(screen.say, search.scheduler, search.local, search.certificates)
    own = job.settings.seconds if search.passes is None else None
    seconds = own if search.seconds is None else search.seconds
    with (
        stop_on_interrupt(screen.complain) as cancelled, shown_progress(screen, seconds) as watch,
        kept_until_written(out, screen.say, where) as engine,
    ):
        yield Searching(cancelled, watch, {
            "seconds": seconds, "passes": search.passes, "seed": search.seed, "cancelled": cancelled,
            "listener": watch.heard, "engine": engine,
        })
