"""Steps of the costing commands: cutting times, what-ifs by estimate or by placing, with progress and Ctrl-C."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from nest.accounts.estimate import GroundMemory, estimate_sheet
from nest.cli.progress import Watch, shown_progress
from nest.cli.screen import Screen
from nest.cli.stopping import stop_on_interrupt
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.pieces.remembered import PieceMemory
from nest.plan import Plan
from nest.whatif import plan_cost
from nest.whatif.between import BetweenSizes
from nest.whatif.runs import Cost


def by_estimate(job: Job, ground: GroundMemory | None = None, make: PieceMemory | None = None) -> Cost:
    """Cost of a job and its changes by estimate, whatever the seed; the memories hold what is known already."""
    make = make or PieceMemory()
    ground, between = ground or GroundMemory(job, make), BetweenSizes(job, make)
    return lambda changed, seed: estimate_sheet(changed, ground=ground, estimates=between)


def by_placing(passes: int, cancelled: Callable[[], bool], watch: Watch) -> Cost:
    """Cost of a job by placing it with a seed."""
    from nest.planning.make import make_plan  # the search's libraries take a second to load

    def place(job: Job, seed: int) -> Plan:
        return make_plan(job, passes=passes, seed=seed, cancelled=cancelled, listener=watch.heard)

    return plan_cost(place)


@contextmanager
def watched(screen: Screen) -> Iterator[tuple[Callable[[], bool], Watch, Callable[[str, int, int], None]]]:
    """Yield what says whether Ctrl-C was pressed, the watch, and what is called before each run."""

    def say(words: str) -> None:
        stopping = words.startswith("Stopping")
        screen.complain("Stopping: what is finished is shown. Ctrl-C again aborts." if stopping else words)

    with stop_on_interrupt(say) as cancelled, shown_progress(screen) as watch:
        yield cancelled, watch, lambda name, done, total: watch.stage(f"{done + 1} of {total}: {name}")


def seeds_of(job: Job, count: int) -> tuple[int, ...]:
    """This many seeds, from the job's own on."""
    return tuple(range(job.settings.seed, job.settings.seed + count))


def new_file(path: Path | None) -> None:
    """Refuse a file that is there already, before time is spent.

    Raises
    ------
    PlanProblem
        If it exists, or its folder does not.
    """
    if path is not None and path.exists():
        raise PlanProblem(f"{path} exists already; name a new file")
    if path is not None and not path.parent.is_dir():
        raise PlanProblem(f"the folder {path.parent} does not exist; make it first")
