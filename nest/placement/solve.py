"""Solve a problem: the shortest strip, or the fullest region.

`solve_strip` and `solve_region` are the two entry points. A `store` keeps tables from one solve to the
next. Same problem, seed and passes give the same layout, however many workers
there are, when the stopping rule has no time limit.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import count
from threading import Lock

import numpy as np
import shapely

from geometry.pose import Pose
from geometry.precision import COORDINATE_GRID_MM, OVERLAP_DEPTH_MM, as_ring
from geometry.processors import processor_cores
from nest.placement import region, strip
from nest.placement._cost import NOT_ALLOWED
from nest.placement.choose import QUICK, complete_families, replacements
from nest.placement.cross import Crossings
from nest.placement.families import families_of
from nest.placement.gate import faults, on_ground, sound
from nest.placement.headings import forms, with_few_headings
from nest.placement.model import TableStore, build_model
from nest.placement.partners import partners_by_size
from nest.placement.portfolio import Clock, run_side_by_side
from nest.placement.problem import (
    Ground,
    Item,
    Kind,
    Layout,
    Limit,
    Listener,
    Progress,
    RegionProblem,
    Stop,
    StripProblem,
)
from nest.placement.propose import lattice_start
from nest.placement.resize import resized
from nest.placement.settle import settle_strip
from nest.placement.state import Snapshot

SIZE_EXPONENT = 0.7
"""Trial 031."""

COMPRESS_SHARE = 0.1
"""Trial 021."""

ROUNDS = 12
"""Trial 020."""

ROUND_PASSES = 1000
SEARCHES = 2
CAPACITY_FACTOR = 1.25
SETTLE_SHARE = 0.05
PROPOSE_SHARE = 0.3
ITEM_ROUNDS = 6000
"""Settling takes longer the more items there are: a few dozen rounds for a hundred, three for two thousand (trial
035)."""

GROUND_TOLERANCE_MM = 1e-4
FINE_SHARE = 0.1
"""Share of the search that closes up with all headings, where only few of them were searched with (trial 083)."""

FINE_TABLES, FINE_PASSES = 1.5, 3000
"""That share must be so many times what their tables are expected to take, and a limit on passes be no less."""

START_SECONDS, MOST_STARTS = 15.0, 16
"""Every search makes one start for so many seconds that it has, at least one; with a limit on passes one alone (trial
072)."""

FEW_PASSES = 20
"""With fewer passes than this, or stopped before anything was found, items are laid down one by one too."""

STARVED_PASSES = 200
"""The same where the time was over before this many passes were made."""

FEW_ROUNDS = 5
"""With so few passes settling has no more rounds than this."""

CROSS_FROM = 0.88
"""Share of the search after which the layouts found are crossed (trial 072)."""

CROSS_LAYOUTS = 64
"""So many of the best layouts are crossed."""

RESIZE_SHARE, RESIZE_SECONDS = 0.1, 4.0
"""Share of the search that resizes what was found; it must be so long, or nothing comes of it. With a limit on passes
it is left out, for what it finds depends on the time (trials 036 and 085)."""


def items_of(kept: Snapshot, angles_deg: np.ndarray, kinds: Sequence[Kind]) -> tuple[Item, ...]:
    """The items of a trial layout, positions on the coordinate grid, headings from the kinds' own lists."""
    return on_grid_items([
        Item(int(k), Pose(float(x), float(y), _own_heading(kinds[k], angles_deg[a])))
        for k, a, x, y in zip(kept.kind, kept.angle, kept.x, kept.y, strict=True)
    ])


def _own_heading(kind: Kind, angle_deg: float) -> float:
    return min(kind.headings_deg, key=lambda heading: _between(heading, angle_deg))


def on_grid_items(items: Sequence[Item]) -> tuple[Item, ...]:
    """The items with positions on the coordinate grid."""
    grid = COORDINATE_GRID_MM
    return tuple(
        Item(i.kind, Pose(round(i.pose.x / grid) * grid, round(i.pose.y / grid) * grid, i.pose.heading_deg))
        for i in items
    )


def _between(one_deg: float, other_deg: float) -> float:
    return abs((one_deg - other_deg + 180.0) % 360.0 - 180.0)


def snapshot_of(items: Sequence[Item], angles_deg: np.ndarray) -> Snapshot:
    """A trial layout from items whose headings are in the angle list."""
    angle = [int(np.argmin([_between(item.pose.heading_deg, a) for a in angles_deg])) for item in items]
    return Snapshot(
        np.array([item.kind for item in items], np.int64),
        np.array(angle, np.int64),
        np.array([item.pose.x for item in items], float),
        np.array([item.pose.y for item in items], float),
    )


def searches_of(stop: Stop, workers: int) -> int:
    """How many searches run: one a worker against the clock; always SEARCHES with a limit on passes alone."""
    return workers if stop.seconds is not None else SEARCHES


def _settled_enough(clock: Clock, share: float, items: int) -> Callable[[], bool]:
    """When settling is to stop: at this share of the time; without a limit on time, after rounds by the items."""
    rounds = count()
    most = ITEM_ROUNDS // items
    if clock.stop.passes is not None and clock.stop.passes < FEW_PASSES:
        most = min(most, FEW_ROUNDS)

    def enough() -> bool:
        seconds = clock.stop.seconds
        late = next(rounds) >= most if seconds is None else clock.elapsed > share * seconds
        return late or clock.stop.cancelled()

    return enough


def solve_strip(
    problem: StripProblem, stop: Stop, *, seed: int, workers: int | None = None, listener: Listener | None = None,
    store: TableStore | None = None,
) -> Layout:
    """Place `limit` items of every kind on the shortest strip found. Without `workers` there is one to a core.

    Raises
    ------
    ValueError
        If a kind fits the width at none of its headings.
    """
    clock = Clock(stop)
    workers = workers or processor_cores()
    model, angles_deg = build_model(problem.kinds, problem.gap_mm, None, SIZE_EXPONENT, store)
    demand = np.array([kind.limit for kind in problem.kinds])
    if demand.sum() == 0:
        return Layout(())
    model = strip.fitting(model, problem.kinds, problem.width_mm)
    rasters = strip.strip_rasters(model, problem.width_mm, demand, stop.seconds)
    searches = [
        strip.StripSearch(model, rasters, problem.width_mm, demand, seed * 1009 + w, stop.passes)
        for w in range(searches_of(stop, workers))
    ]
    total = float((model.worth * demand).sum())

    def tell() -> None:
        if listener is not None:
            length = min(search.length for search in searches)
            listener(Progress(clock.elapsed, int(demand.sum()), total / (length * problem.width_mm)))

    scattered = searches
    if proposed := lattice_start(problem.kinds, problem.gap_mm, problem.width_mm):
        proposed, length = settle_strip(
            proposed, problem.kinds, problem.gap_mm, problem.width_mm,
            _settled_enough(clock, PROPOSE_SHARE, len(proposed)),
        )
        if not faults(proposed, problem.kinds, problem.gap_mm, None, OVERLAP_DEPTH_MM):
            searches[0].adopt(snapshot_of(proposed, angles_deg), length)
            scattered = searches[1:]
    left, begin = clock.left_for_search(), clock.elapsed
    explored = begin + (1.0 - COMPRESS_SHARE) * left

    def start(search: strip.StripSearch) -> None:
        search.allow(1.0 - COMPRESS_SHARE)
        search.start()

    run_side_by_side(scattered, start, clock, explored, tell, workers)
    # after every round the searches go on from the best: late gains are rare, and this halves the wait for them
    rounds = ROUNDS if stop.passes is None else min(ROUNDS, 1 + stop.passes // ROUND_PASSES)
    started = clock.elapsed
    for part in range(1, rounds + 1):
        def explore(search: strip.StripSearch, share: float = (1.0 - COMPRESS_SHARE) * part / rounds) -> None:
            search.allow(share)
            search.explore()
            if search.at_best and stop.seconds is not None:
                for other in searches:
                    other.state.stop[0] = 1

        run_side_by_side(searches, explore, clock, started + (explored - started) * part / rounds, tell, workers)
        if stop.cancelled():
            break
        best = min(searches, key=lambda search: search.length)
        for search in searches:
            if search.length > best.length:
                search.adopt(best.best, best.length)
    if not stop.cancelled():
        middle = clock.elapsed
        room = max(begin + left - middle, 1e-9)
        for search in searches:
            search.allow(1.0)

        def compress(search: strip.StripSearch) -> None:
            search.compress(None if stop.seconds is None else lambda: 1.0 - (clock.elapsed - middle) / room)

        run_side_by_side(searches, compress, clock, begin + left, tell, workers)

    for search in sorted(searches, key=lambda search: search.length):
        plain = items_of(search.best, angles_deg, problem.kinds)
        enough = _settled_enough(clock, 1.0 + SETTLE_SHARE, len(plain))
        settled, length = settle_strip(plain, problem.kinds, problem.gap_mm, problem.width_mm, enough)
        for items, used in ((on_grid_items(settled), length), (plain, search.length)):
            if used <= search.length and not faults(items, problem.kinds, problem.gap_mm, None, OVERLAP_DEPTH_MM):
                return Layout(items, used)
    kept = strip.shelves(model, demand, problem.width_mm)
    return Layout(items_of(kept, angles_deg, problem.kinds), strip.used_length(model, kept))


class _Stage:
    """A region problem made ready to be searched."""

    def __init__(self, problem: RegionProblem, store: TableStore):
        self.problem = problem
        self.model, self.angles_deg = build_model(problem.kinds, problem.gap_mm, problem.grounds, SIZE_EXPONENT, store)
        self._units = pair_units(problem.kinds)
        self._pairs = len(self._units) < len(problem.kinds) or any(len(unit) > 1 for unit in self._units)
        self._places = store.places
        self._table = replacements(problem.kinds, store.places) if self._pairs else None
        self._families = families_of(problem.kinds, problem.grounds, self._table)
        self._one_at_a_time = Lock()

    def search(self, seed: int, passes: int | None) -> region.RegionSearch:
        """A search of its own."""
        kinds = self.problem.kinds
        limit = np.array([kind.limit for kind in kinds])
        ground = _area([ground.outline for ground in self.problem.grounds])
        capacity = int(min(limit.sum(), CAPACITY_FACTOR * ground / self.model.size.min() ** 2 + 2))
        complete = self._complete_snapshot if self._pairs else None
        return region.RegionSearch(self.model, self._families, limit, capacity, seed, passes, self._units, complete)

    def items(self, kept: Snapshot) -> tuple[Item, ...]:
        """The items of a layout."""
        return items_of(kept, self.angles_deg, self.problem.kinds)

    def snapshot(self, items: Sequence[Item]) -> Snapshot:
        """The trial layout of some items."""
        return snapshot_of(items, self.angles_deg)

    def resize(self, search: region.RegionSearch, left: Callable[[], float]) -> None:
        """Give the items of the record other sizes and places, all at once."""
        table = self._table or replacements(self.problem.kinds, self._places)
        problem = self.problem if self.problem.level is None else replace(self.problem, level=self._level)
        items = on_grid_items(resized(
            problem, self.items(search.record), table, left, lambda: bool(search.state.stop[0])))
        if not faults(items, self.problem.kinds, self.problem.gap_mm, self.problem.grounds, OVERLAP_DEPTH_MM):
            search.offer(self.snapshot(items))

    def sound(self, kept: Snapshot) -> Layout:
        """The layout as it may be handed out."""
        kinds, grounds = self.problem.kinds, self.problem.grounds
        items = sound(self.items(kept), kinds, self.problem.gap_mm, grounds)
        if len(items) < len(kept.kind) and self._pairs:
            items = complete_families(kinds, items, self._table, self.problem.level, self._allowed)
        return Layout(items)

    def _level(self, kind: int, pose: Pose) -> int:
        with self._one_at_a_time:
            return self.problem.level(kind, pose)

    def _complete_snapshot(self, kept: Snapshot) -> Snapshot:
        # one at a time: `level` may ask prepared shapely geometries, which no two threads may share
        with self._one_at_a_time:
            kinds, items = self.problem.kinds, self.items(kept)
            asked = self._table, self.problem.level, self._allowed
            found = partners_by_size(kinds, items, self._families, *asked)
            return self.snapshot(complete_families(kinds, items, *asked, QUICK) if found is None else found)

    def _allowed(self, item: Item, other: Item) -> bool:
        # a form without a place of its own has no tables to search with
        angle = int(np.argmin([_between(other.pose.heading_deg, a) for a in self.angles_deg]))
        if self.model.fit_id[other.kind, angle] == NOT_ALLOWED:
            return False
        grounds = self.problem.grounds
        if grounds[other.kind] is grounds[item.kind]:
            return True
        return on_ground(other, self.problem.kinds, grounds, GROUND_TOLERANCE_MM)


@dataclass(frozen=True, slots=True)
class _Schedule:
    """When the parts of the search of a region end, in seconds on its clock, and which of them there are."""

    begin: float
    starts: int
    searched: float
    """Starts and crossing end, closing up with all headings begins, if it is `fine`."""
    until: float
    """Closing up ends, resizing begins, if it `resizes`."""
    end: float
    fine: bool
    resizes: bool


def _schedule(problem: RegionProblem, few: RegionProblem, stage: _Stage, clock: Clock) -> _Schedule:
    """The schedule from now on, when the tables of `few` of the headings are made."""
    stop = clock.stop
    begin = clock.elapsed
    seconds = clock.left_for_search()
    end = begin + seconds
    several = len(set(np.round(stage.model.worth))) > 1
    timed = stop.seconds is not None and stop.passes is None
    resizes = several and timed and RESIZE_SHARE * seconds >= RESIZE_SECONDS
    until = end - RESIZE_SHARE * seconds if resizes else end
    room = FINE_SHARE * seconds > FINE_TABLES * begin * forms(problem) / forms(few)
    fine = few is not problem and room and (stop.passes is None or stop.passes >= FINE_PASSES)
    searched = until - FINE_SHARE * seconds if fine and stop.seconds is not None else until
    starts = min(max(1, round(CROSS_FROM * (searched - begin) / START_SECONDS)), MOST_STARTS) if timed else 1
    return _Schedule(begin, starts, searched, until, end, fine, resizes)


def _hardly_searched(searches: Sequence[region.RegionSearch], stop: Stop) -> bool:
    """Whether so little was searched that laying items down one by one may find more."""
    if all(search.record_area == 0.0 for search in searches):
        return True
    if stop.seconds is not None:
        return max(int(search.state.passes[0]) for search in searches) < STARVED_PASSES
    return stop.passes is not None and stop.passes < FEW_PASSES


def _area(parts: Sequence[shapely.Geometry]) -> float:
    # many kinds and headings share their ground
    return float(shapely.area(shapely.union_all(list({id(part): part for part in parts}.values()))))


def solve_region(
    problem: RegionProblem, stop: Stop, *, seed: int, workers: int | None = None, listener: Listener | None = None,
    store: TableStore | None = None,
) -> tuple[Layout, ...]:
    """Fill a region with items of as much worth as found, families complete; distinct good layouts, best first.

    Every search makes one start after the other, as many as there is time for; then what any two of the layouts found
    make up together is gone on from. Where headings lie close together a few of them are searched with; at the end all
    of them serve to anneal what was found, if there is time to make their tables, and what was found is resized, if
    there is time for that. Without `workers` there is one to a core.
    """
    clock = Clock(stop)
    workers = workers or processor_cores()
    store = store or TableStore()
    few = with_few_headings(problem)
    stage = _Stage(few, store)
    if sum(kind.limit for kind in problem.kinds) == 0 or len(stage.model.form_angle) == 0:
        return (Layout(()),)
    ground = _area([ground.outline for ground in problem.grounds])
    start_worth = region.START_SHARE * _area([part for ground in problem.grounds for part in ground.core])
    if any(kind.worth is not None for kind in problem.kinds):
        start_worth *= stage.model.worth.sum() / (stage.model.size**2).sum()
    schedule = _schedule(problem, few, stage, clock)
    if problem.begin_from:
        schedule = replace(schedule, starts=1)
    searches = [stage.search(seed * 1009 + w, stop.passes) for w in range(searches_of(stop, workers))]

    def tell() -> None:
        if listener is not None:
            best = max(searches, key=lambda search: search.record_area)
            covered = float((stage.model.size[best.record.kind] ** 2).sum())
            listener(Progress(clock.elapsed, len(best.record.kind), covered / ground))

    whole = 1.0 - FINE_SHARE if schedule.fine else 1.0
    crossings = Crossings(stage.model, CROSS_LAYOUTS)

    def explore_anew(search: region.RegionSearch, share: float, left: Callable[[], float]) -> None:
        search.allow(whole * share)
        if problem.begin_from:
            search.adopt(stage.snapshot(problem.begin_from))
        else:
            search.start(start_worth, left)
        search.explore(left)

    def cross(search: region.RegionSearch, hands: Mapping[region.RegionSearch, Crossings]) -> None:
        search.allow(whole)
        search.cross(hands[search], lambda: schedule.searched - clock.elapsed)
        search.explore(lambda: schedule.searched - clock.elapsed)

    def close_up(search: region.RegionSearch) -> None:
        search.allow(1.0)
        search.close_up(lambda: schedule.until - clock.elapsed)

    def resize(search: region.RegionSearch) -> None:
        stage.resize(search, lambda: schedule.end - clock.elapsed)

    placed = False
    for share in CROSS_FROM * np.arange(1, schedule.starts + 1) / schedule.starts:
        ends = schedule.begin + share * (schedule.searched - schedule.begin)
        work = partial(explore_anew, share=share, left=lambda ends=ends: ends - clock.elapsed)
        run_side_by_side(searches, work, clock, ends, tell, workers)
        placed = any(search.all_placed for search in searches)
        if placed or stop.cancelled():
            break
        for search in searches:
            crossings.add_best(search.found, CROSS_LAYOUTS // (schedule.starts * len(searches)))
            search.found.clear()
    if not placed and not stop.cancelled():
        hands = dict(zip(searches, crossings.dealt(len(searches)), strict=True))
        run_side_by_side(searches, partial(cross, hands=hands), clock, schedule.searched, tell, workers)
        placed = any(search.all_placed for search in searches)
    if schedule.fine and not placed and not stop.cancelled():
        found = [stage.items(search.record) for search in searches]
        stage = _Stage(problem, store)
        searches = [
            stage.search(seed * 1009 + w, stop.passes).resume(stage.snapshot(items), search)
            for w, (items, search) in enumerate(zip(found, searches, strict=True))
        ]
        run_side_by_side(searches, close_up, clock, schedule.until, tell, workers)
    if schedule.resizes and not placed and not stop.cancelled():
        run_side_by_side(searches, resize, clock, schedule.end, tell, workers)
    if _hardly_searched(searches, stop):
        searches[0].lay_out()
    searches.sort(key=lambda search: -search.record_area)
    return tuple(stage.sound(search.record) for search in searches)


def pair_units(kinds: Sequence[Kind]) -> list[tuple[int, ...]]:
    """Kinds that are placed together: a left and a right of one family, two of side 0, or one without family."""
    units = []
    for k, kind in enumerate(kinds):
        if not kind.family:
            units.append((k,))
        elif kind.side == 0:
            units.append((k, k))
        elif kind.side < 0:
            units += [(k, c) for c, other in enumerate(kinds) if other.family == kind.family and other.side > 0]
    return units


def warm_up() -> None:
    """Compile the search, so that the first solve's time limit is all its own; instant once it is cached on disk."""
    square = as_ring(((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)))
    sheet = shapely.box(0.0, 0.0, 25.0, 12.0)
    kinds = (Kind("square", square, square, (0.0, 180.0), 2, "squares"),)
    # enough passes to come to the annealing
    solve_region(RegionProblem(kinds, (Ground(sheet, (sheet, sheet)),)), Limit(passes=40), seed=1, workers=1)
    solve_strip(StripProblem(kinds, 12.0), Limit(passes=3), seed=1, workers=1)
