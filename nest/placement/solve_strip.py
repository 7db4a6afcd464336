"""Solve a strip: propose, search side by side, close up."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import count

import numpy as np

from geometry.precision import OVERLAP_DEPTH_MM
from geometry.processors import processor_cores
from nest.placement import strip
from nest.placement._cost import Model
from nest.placement._cost_raster import NO_RASTERS
from nest.placement.budget import Budget
from nest.placement.gate import faults
from nest.placement.items import items_of, on_grid_items, snapshot_of
from nest.placement.model import build_model
from nest.placement.parameters import STRIPS, StripParameters
from nest.placement.portfolio import FEW_PASSES, run_side_by_side, searches_of
from nest.placement.problem import Layout, Listener, Progress, StripProblem
from nest.placement.tablestore import TableStore

FEW_ROUNDS = 5
"""With a limit of few passes settling has no more rounds than this."""


def solve_strip(
    problem: StripProblem, budget: Budget, *, seed: int, workers: int | None = None, listener: Listener | None = None,
    store: TableStore | None = None, how: StripParameters = STRIPS,
) -> Layout:
    """Place `limit` items of every kind on the shortest strip found. Without `workers` there is one to a core.

    Same problem, seed and passes give the same layout, however many workers there are, where time has no limit.

    Raises
    ------
    ValueError
        If a kind fits the width at none of its headings.
    """
    budget = budget.started()
    workers = workers or processor_cores()
    model, angles_deg = build_model(problem.kinds, problem.gap_mm, None, how.size_exponent, store)
    demand = np.array([kind.limit for kind in problem.kinds])
    if demand.sum() == 0:
        return Layout(())
    model = strip.fitting(model, problem.kinds, problem.width_mm)
    rasters = strip.strip_rasters(model, problem.width_mm, demand, budget.seconds) if how.looks else NO_RASTERS
    searches = [
        strip.StripSearch(
            model, rasters, problem.width_mm, demand, seed=seed * 1009 + w, passes=budget.passes, number=w, how=how)
        for w in range(searches_of(budget, workers))
    ]
    _StripRun(problem, model, angles_deg, demand, searches, budget, workers, listener, how).search()
    return _closed_up(problem, budget, searches, angles_deg, how) or _on_shelves(problem, model, angles_deg, demand)


@dataclass(frozen=True, slots=True)
class _StripRun:
    """One search for the shortest strip: who takes part, and for how long."""

    problem: StripProblem
    model: Model
    angles_deg: np.ndarray
    demand: np.ndarray
    searches: list[strip.StripSearch]
    budget: Budget
    workers: int
    listener: Listener | None
    how: StripParameters

    def search(self) -> None:
        """Begin, explore in rounds, close the last gaps."""
        budget, how = self.budget, self.how
        scattered = self._propose()
        left, begin = budget.left, budget.elapsed
        explored = begin + (1.0 - how.compress_share) * left

        def start(search: strip.StripSearch) -> None:
            search.allow(1.0 - how.compress_share)
            search.start()

        self._side_by_side(scattered, start, explored)
        self._explore(explored)
        if budget.cancelled():
            return
        middle = budget.elapsed
        room = max(begin + left - middle, 1e-9)
        for search in self.searches:
            search.allow(1.0)

        def compress(search: strip.StripSearch) -> None:
            search.compress(None if budget.seconds is None else lambda: 1.0 - (budget.elapsed - middle) / room)

        self._side_by_side(self.searches, compress, begin + left)

    def _propose(self) -> list[strip.StripSearch]:
        """Give the first search what is proposed, if that is sound; the searches that have nothing to begin with."""
        problem, searches = self.problem, self.searches
        proposed = self.how.propose(problem.kinds, problem.gap_mm, problem.width_mm)
        if not proposed:
            return searches
        enough = _settled_enough(self.budget, self.how.propose_share, len(proposed), self.how)
        proposed, length = self.how.settle(proposed, problem.kinds, problem.gap_mm, problem.width_mm, enough)
        if faults(proposed, problem.kinds, problem.gap_mm, None, OVERLAP_DEPTH_MM):
            return searches
        searches[0].adopt(snapshot_of(proposed, self.angles_deg), length)
        return searches[1:]

    def _explore(self, until: float) -> None:
        """Explore in rounds. After each all go on from the best: late gains are rare, this halves the wait for them."""
        budget, searches = self.budget, self.searches
        passes = budget.passes
        rounds = self.how.rounds if passes is None else min(self.how.rounds, 1 + passes // self.how.round_passes)
        started = budget.elapsed
        for part in range(1, rounds + 1):
            def explore(
                search: strip.StripSearch, share: float = (1.0 - self.how.compress_share) * part / rounds
            ) -> None:
                search.allow(share)
                search.explore()
                if search.at_best and budget.seconds is not None:
                    for other in searches:
                        other.state.stop[0] = 1

            self._side_by_side(searches, explore, started + (until - started) * part / rounds)
            if budget.cancelled():
                break
            best = min(searches, key=lambda search: search.length)
            for search in searches:
                if search.length > best.length:
                    search.adopt(best.best, best.length)

    def _side_by_side(
        self, searches: list[strip.StripSearch], work: Callable[[strip.StripSearch], None], until: float
    ) -> None:
        run_side_by_side(searches, work, self.budget, until, self._tell, self.workers)

    def _tell(self) -> None:
        if self.listener is not None:
            length = min(search.length for search in self.searches)
            total = float((self.model.worth * self.demand).sum())
            density = total / (length * self.problem.width_mm)
            self.listener(Progress(self.budget.elapsed, int(self.demand.sum()), density))


def _closed_up(
    problem: StripProblem, budget: Budget, searches: list[strip.StripSearch], angles_deg: np.ndarray,
    how: StripParameters,
) -> Layout | None:
    """The shortest sound layout of the searches, settled where that holds; None if there is none."""
    for search in sorted(searches, key=lambda search: search.length):
        plain = items_of(search.best, angles_deg, problem.kinds)
        enough = _settled_enough(budget, 1.0 + how.settle_share, len(plain), how)
        settled, length = how.settle(plain, problem.kinds, problem.gap_mm, problem.width_mm, enough)
        for items, used in ((on_grid_items(settled), length), (plain, search.length)):
            if used <= search.length and not faults(items, problem.kinds, problem.gap_mm, None, OVERLAP_DEPTH_MM):
                return Layout(items, used)
    return None


def _on_shelves(problem: StripProblem, model: Model, angles_deg: np.ndarray, demand: np.ndarray) -> Layout:
    kept = strip.shelves(model, demand, problem.width_mm)
    return Layout(items_of(kept, angles_deg, problem.kinds), strip.used_length(model, kept))


def _settled_enough(budget: Budget, share: float, items: int, how: StripParameters) -> Callable[[], bool]:
    """When settling is to stop: at this share of the time; without a limit on time, after rounds by the items."""
    rounds = count()
    most = how.item_rounds // items
    if budget.passes is not None and budget.passes < FEW_PASSES:
        most = min(most, FEW_ROUNDS)

    def enough() -> bool:
        seconds = budget.seconds
        late = next(rounds) >= most if seconds is None else budget.elapsed > share * seconds
        return late or budget.cancelled()

    return enough
