"""Solve a region: starts side by side, crossing, closing up with all headings, resizing."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from geometry.processors import processor_cores
from nest.placement import region
from nest.placement.budget import Budget
from nest.placement.cross import Crossings
from nest.placement.headings import forms, with_few_headings
from nest.placement.parameters import REGIONS, RegionParameters
from nest.placement.portfolio import FEW_PASSES, run_side_by_side, searches_of
from nest.placement.problem import Layout, Listener, Progress, RegionProblem
from nest.placement.region_stage import RegionStage, union_area
from nest.placement.tablestore import TableStore


@dataclass(frozen=True, slots=True)
class _Schedule:
    """When the parts of the search of a region end, in seconds of its budget, and which of them there are."""

    begin: float
    starts: int
    searched: float
    """Starts and crossing end, closing up with all headings begins, if it is `fine`."""
    until: float
    """Closing up ends, resizing begins, if it `resizes`."""
    end: float
    fine: bool
    resizes: bool


def _schedule(
    problem: RegionProblem, few: RegionProblem, stage: RegionStage, budget: Budget, how: RegionParameters
) -> _Schedule:
    """The schedule from now on, when the tables of `few` of the headings are made."""
    begin = budget.elapsed
    seconds = budget.left
    end = begin + seconds
    several = len(set(np.round(stage.model.worth))) > 1
    resizes = several and budget.timed and how.resize_share * seconds >= how.resize_seconds
    until = end - how.resize_share * seconds if resizes else end
    room = how.fine_share * seconds > how.fine_tables * begin * forms(problem) / forms(few)
    fine = few is not problem and room and (budget.passes is None or budget.passes >= how.fine_passes)
    searched = until - how.fine_share * seconds if fine and budget.seconds is not None else until
    starts = 1
    if budget.timed and not problem.begin_from:
        starts = min(max(1, round(how.cross_from * (searched - begin) / how.start_seconds)), how.most_starts)
    return _Schedule(begin, starts, searched, until, end, fine, resizes)


def solve_region(
    problem: RegionProblem, budget: Budget, *, seed: int, workers: int | None = None, listener: Listener | None = None,
    store: TableStore | None = None, how: RegionParameters = REGIONS,
) -> tuple[Layout, ...]:
    """Fill a region with items of as much worth as found, families complete; distinct good layouts, best first.

    Every search makes one start after the other, as many as there is time for; then what any two of the layouts found
    make up together is gone on from. Where headings lie close together a few of them are searched with; at the end all
    of them serve to anneal what was found, if there is time to make their tables, and what was found is resized, if
    there is time for that. Without `workers` there is one to a core. A `store` keeps tables from one solve to the next.
    Same problem, seed and passes give the same layouts, however many workers there are, where time has no limit.
    """
    budget = budget.started()
    store = store or TableStore()
    few = with_few_headings(problem)
    stage = RegionStage(few, store, how, workers)
    if sum(kind.limit for kind in problem.kinds) == 0 or len(stage.model.form_angle) == 0:
        return (Layout(()),)
    ground = union_area([ground.outline for ground in problem.grounds])
    schedule = _schedule(problem, few, stage, budget, how)
    workers = workers or processor_cores()
    searches = [stage.search(seed * 1009 + w, budget.passes) for w in range(searches_of(budget, workers))]
    run = _RegionRun(problem, stage, searches, schedule, budget, workers, listener, ground, how)
    placed = run.explore()
    if schedule.fine and not placed and not budget.cancelled():
        run = run.close_up(store, seed)
    if schedule.resizes and not placed and not budget.cancelled():
        run.resize()
    if run.hardly_searched():
        run.searches[0].lay_out()
    found = sorted(run.searches, key=lambda search: -search.record_area)
    return tuple(run.stage.sound(search.record) for search in found)


@dataclass(frozen=True, slots=True)
class _RegionRun:
    """One search of a region: who takes part, and for how long."""

    problem: RegionProblem
    stage: RegionStage
    searches: list[region.RegionSearch]
    schedule: _Schedule
    budget: Budget
    workers: int
    listener: Listener | None
    ground_mm2: float
    how: RegionParameters

    def explore(self) -> bool:
        """Make one start after the other, then cross what was found; whether all there is to place was placed."""
        schedule, how = self.schedule, self.how
        crossings = Crossings(self.stage.model, how.cross_layouts)
        for share in how.cross_from * np.arange(1, schedule.starts + 1) / schedule.starts:
            ends = schedule.begin + share * (schedule.searched - schedule.begin)
            self._side_by_side(partial(self._start, share=share, worth=self._start_worth(), ends=ends), ends)
            if self._all_placed or self.budget.cancelled():
                return self._all_placed
            self._hand_in(crossings)
        hands = dict(zip(self.searches, crossings.dealt(len(self.searches)), strict=True))
        self._side_by_side(partial(self._cross, hands=hands), schedule.searched)
        return self._all_placed

    def _hand_in(self, crossings: Crossings) -> None:
        """Add the best layouts of a start; where searches and starts are too many for one of each, the best of all."""
        each = self.how.cross_layouts // (self.schedule.starts * len(self.searches))
        heaps = [search.found for search in self.searches]
        if not each:
            heaps = [[kept for heap in heaps for kept in heap]]
            each = max(1, self.how.cross_layouts // self.schedule.starts)
        for heap in heaps:
            crossings.add_best(heap, each)
        for search in self.searches:
            search.found.clear()

    def close_up(self, store: TableStore, seed: int) -> "_RegionRun":
        """Anneal what was found with all headings of the problem; the run that did."""
        found = [self.stage.items(search.record) for search in self.searches]
        stage = RegionStage(self.problem, store, self.how, self.workers)
        searches = [
            stage.search(seed * 1009 + w, self.budget.passes).resume(stage.snapshot(items), search)
            for w, (items, search) in enumerate(zip(found, self.searches, strict=True))
        ]

        def work(search: region.RegionSearch) -> None:
            search.allow(1.0)
            search.close_up(lambda: self.schedule.until - self.budget.elapsed)

        run = replace(self, stage=stage, searches=searches)
        run._side_by_side(work, self.schedule.until)
        return run

    def resize(self) -> None:
        """Give the items of every record other sizes and places."""
        def work(search: region.RegionSearch) -> None:
            self.stage.resize(search, lambda: self.schedule.end - self.budget.elapsed)

        self._side_by_side(work, self.schedule.end)

    def hardly_searched(self) -> bool:
        """Whether so little was searched that laying items down one by one may find more."""
        if all(search.record_area == 0.0 for search in self.searches):
            return True
        if self.budget.seconds is not None:
            return max(int(search.state.passes[0]) for search in self.searches) < self.how.starved_passes
        return self.budget.passes is not None and self.budget.passes < FEW_PASSES

    def _start(self, search: region.RegionSearch, share: float, worth: float, ends: float) -> None:
        def left() -> float:
            return ends - self.budget.elapsed

        search.allow(self._whole * share)
        if self.problem.begin_from:
            search.adopt(self.stage.snapshot(self.problem.begin_from))
        else:
            search.start(worth, left)
        search.explore(left)

    def _cross(self, search: region.RegionSearch, hands: Mapping[region.RegionSearch, Crossings]) -> None:
        def left() -> float:
            return self.schedule.searched - self.budget.elapsed

        search.allow(self._whole)
        search.cross(hands[search], left)
        search.explore(left)

    @property
    def _whole(self) -> float:
        """Share of the passes for starts and crossing."""
        return 1.0 - self.how.fine_share if self.schedule.fine else 1.0

    @property
    def _all_placed(self) -> bool:
        return any(search.all_placed for search in self.searches)

    def _start_worth(self) -> float:
        """What the items of a start are worth together."""
        model, problem = self.stage.model, self.problem
        worth = self.how.start_share * union_area([part for ground in problem.grounds for part in ground.core])
        if any(kind.worth is not None for kind in problem.kinds):
            worth *= model.worth.sum() / (model.size**2).sum()
        return worth

    def _side_by_side(self, work: Callable[[region.RegionSearch], None], until: float) -> None:
        run_side_by_side(self.searches, work, self.budget, until, self._tell, self.workers)

    def _tell(self) -> None:
        if self.listener is not None:
            best = max(self.searches, key=lambda search: search.record_area)
            covered = float((self.stage.model.size[best.record.kind] ** 2).sum())
            self.listener(Progress(self.budget.elapsed, len(best.record.kind), covered / self.ground_mm2))
