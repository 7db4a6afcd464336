"""How one run of the planner is limited, watched and stopped, and which engine places the pieces."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

from geometry.processors import processor_cores
from nest.job.job import Settings
from nest.placement.budget import Budget
from nest.placement.problem import Layout
from nest.placement.solve import solve_region, solve_strip, warm_up
from nest.placement.tablestore import TableStore
from nest.planning.course import Courses
from nest.planning.watch import Watch

LEAST_SECONDS = 0.25


SEARCHES = 2
"""Searches of one region, where several are solved at once."""


def at_once() -> int:
    """How many regions are solved at once on this machine: two cores to each, for two searches of one differ."""
    return max(1, processor_cores() // SEARCHES)


@dataclass(frozen=True, slots=True)
class Engine:
    """The two solvers, so that another pair may stand in for them, and how many regions they can solve at once."""

    solve_region: Callable[..., tuple[Layout, ...]] = solve_region
    solve_strip: Callable[..., Layout] = solve_strip
    at_once: Callable[[], int] = at_once
    release: Callable[[], None] = lambda: None
    """Frees the memory of its tables; a later search takes longer and finds the same."""

    @classmethod
    def fresh(cls) -> "Engine":
        """The two solvers, compiled, with one store of tables between them."""
        warm_up()
        store = TableStore()
        return cls(partial(solve_region, store=store), partial(solve_strip, store=store), release=store.release)


@dataclass(frozen=True, slots=True)
class Run:
    """One run: its engine, its seed, what it may spend, and who watches it.

    budget : seconds for the whole plan, passes for every single solve; without `seconds` the plan is reproducible.
    """

    engine: Engine
    seed: int
    budget: Budget
    watch: Watch = field(default_factory=Watch)
    failed: list[str] = field(default_factory=list)
    """Grows by a sentence for each hide or roll that could not be placed; the others are."""
    searched: list[str] = field(default_factory=list)
    """Grows by the id of a hide each time one is searched."""
    courses: Courses = field(default_factory=Courses)
    """Grows each time the plan of a leather becomes better."""

    @property
    def spent(self) -> float:
        """Effort so far: seconds, to a tenth; by passes alone searches of hides, so that equal runs spend as much."""
        return float(len(self.searched)) if self.seconds is None else round(self.elapsed, 1)

    @property
    def seconds(self) -> float | None:
        """Wall-clock time for the whole plan, or None."""
        return self.budget.seconds

    @property
    def passes(self) -> int | None:
        """Search passes of every single solve, or None."""
        return self.budget.passes

    @property
    def elapsed(self) -> float:
        """Seconds since the run began."""
        return self.budget.elapsed

    def cancelled(self) -> bool:
        """Whether the user has asked to stop."""
        return self.budget.cancelled()

    def limit(self, seconds: float | None) -> Budget:
        """The limit of one solve that may take `seconds`; no less than LEAST_SECONDS, or nothing would come of it."""
        return Budget(None if seconds is None else max(seconds, LEAST_SECONDS), self.passes, self.budget.cancelled)

    def fail(self, material: str, error: Exception) -> None:
        """Note that one material failed, so that it does not lose the others."""
        reason = " ".join(f"{type(error).__name__} {error}".split())
        said = f"{material}: placing failed ({reason}); what is planned does without. Please report it with the job"
        if said not in self.failed:
            self.failed.append(said)


def run_of(settings: Settings, budget: Budget, watch: Watch, *, seed: int | None, engine: Engine) -> Run:
    """A run; what is not given is the job's own."""
    if budget.seconds is None and budget.passes is None:
        budget = replace(budget, seconds=settings.seconds)
    return Run(engine, settings.seed if seed is None else seed, budget, watch)


@dataclass(frozen=True, slots=True)
class TimeShare:
    """A share of a run's time, handed out to solves: what is left is spread over those still expected."""

    run: Run
    until: float | None
    """Seconds since the run began at which the share ends; None without a time limit."""

    @property
    def left(self) -> float | None:
        """Seconds left; None without a time limit."""
        return None if self.until is None else max(0.0, self.until - self.run.elapsed)

    def limit(self, solves: float) -> Budget:
        """Budget of the next of about `solves` solves that are still to come."""
        left = self.left
        return self.run.limit(None if left is None else left / max(1.0, solves))
