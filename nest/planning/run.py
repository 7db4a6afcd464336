"""How one run of the planner is limited, watched and stopped, and which engine places the pieces."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

from geometry.processors import processor_cores
from nest.job.job import Settings
from nest.placement.budget import Budget
from nest.placement.model import TableStore
from nest.placement.problem import Layout, Listener, Progress
from nest.placement.solve import solve_region, solve_strip, warm_up
from nest.planning.course import Courses

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

    @classmethod
    def fresh(cls) -> "Engine":
        """The two solvers, compiled, with one store of tables between them."""
        warm_up()
        store = TableStore()
        return cls(partial(solve_region, store=store), partial(solve_strip, store=store))


@dataclass(frozen=True, slots=True)
class PlanProgress:
    """What a listener is told while a plan is made."""

    stage: str
    """"rolls", "hides", "choice" or "finish"."""
    material_id: str
    """Hide or roll that is worked on; "" for none."""
    done_pieces: int
    total_pieces: int
    yield_so_far: float
    """Share of the ground of this hide, or of the strip of this roll, that pieces cover so far; 0..1."""
    seconds: float


@dataclass(frozen=True, slots=True)
class Run:
    """One run: its engine, its seed, how long it may take and who is told.

    seconds : wall-clock time for the whole plan, or None.
    passes : search passes for every single solve, or None; without `seconds` the plan is reproducible.
    """

    engine: Engine
    seed: int
    seconds: float | None
    passes: int | None
    cancelled: Callable[[], bool]
    listener: Callable[[PlanProgress], None] | None
    total_pieces: int
    begin: float = field(default_factory=time.monotonic)
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
    def elapsed(self) -> float:
        """Seconds since the run began."""
        return time.monotonic() - self.begin

    def limit(self, seconds: float | None) -> Budget:
        """The limit of one solve that may take `seconds`; no less than LEAST_SECONDS, or nothing would come of it."""
        return Budget(None if seconds is None else max(seconds, LEAST_SECONDS), self.passes, self.cancelled)

    def tell(self, stage: str, material_id: str = "", done: int = 0, share: float = 0.0) -> None:
        """Tell the listener how far the run is."""
        if self.listener is not None:
            self.listener(PlanProgress(stage, material_id, done, self.total_pieces, share, self.elapsed))

    def fail(self, material: str, error: Exception) -> None:
        """Note that one material failed, so that it does not lose the others."""
        reason = " ".join(f"{type(error).__name__} {error}".split())
        said = f"{material}: placing failed ({reason}); what is planned does without. Please report it with the job"
        if said not in self.failed:
            self.failed.append(said)

    def hears(self, stage: str, material_id: str, done: int) -> Listener | None:
        """A listener for one solve, `done` pieces being placed elsewhere."""
        if self.listener is None:
            return None

        def hear(progress: Progress) -> None:
            self.tell(stage, material_id, done + progress.placed, progress.figure)

        return hear


def start_run(
    settings: Settings,
    total_pieces: int,
    seconds: float | None,
    passes: int | None,
    seed: int | None,
    cancelled: Callable[[], bool],
    listener: Callable[[PlanProgress], None] | None,
    engine: Engine,
    begin: float,
) -> Run:
    """A run that began at `begin`, by `time.monotonic`; what is not given is the job's own."""
    if seconds is None and passes is None:
        seconds = settings.seconds
    return Run(
        engine, settings.seed if seed is None else seed, seconds, passes, cancelled, listener, total_pieces, begin
    )


@dataclass(frozen=True, slots=True)
class Share:
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
