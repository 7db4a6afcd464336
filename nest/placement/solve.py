"""Solve a problem: the shortest strip, or the fullest region.

`solve_strip` and `solve_region` are the two entry points. A `store` keeps tables from one solve to the
next. Same problem, seed and passes give the same layout, however many workers
there are, when the stopping rule has no time limit.
"""

from collections.abc import Callable, Sequence
from itertools import count
from threading import Lock

import numpy as np
import shapely

from geometry.pose import Pose
from geometry.precision import COORDINATE_GRID_MM, OVERLAP_DEPTH_MM, as_ring
from nest.placement import region, strip
from nest.placement._cost import NOT_ALLOWED
from nest.placement.choose import QUICK, complete_families, replacements
from nest.placement.families import families_of
from nest.placement.gate import faults, on_ground, sound
from nest.placement.model import TableStore, build_model
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
from nest.placement.settle import settle_strip
from nest.placement.state import Snapshot

SIZE_EXPONENT = 0.7
COMPRESS_SHARE = 0.1
ROUNDS = 12
ROUND_PASSES = 1000
SEARCHES = 2
CAPACITY_FACTOR = 1.25
SETTLE_SHARE = 0.05
PROPOSE_SHARE = 0.3
ITEM_ROUNDS = 6000
"""Settling takes longer the more items there are: a few dozen rounds for a hundred, three for two thousand."""

GROUND_TOLERANCE_MM = 1e-4


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

    def enough() -> bool:
        seconds = clock.stop.seconds
        late = next(rounds) >= ITEM_ROUNDS // items if seconds is None else clock.elapsed > share * seconds
        return late or clock.stop.cancelled()

    return enough


def solve_strip(
    problem: StripProblem, stop: Stop, *, seed: int, workers: int = 2, listener: Listener | None = None,
    store: TableStore | None = None,
) -> Layout:
    """Place `limit` items of every kind on the shortest strip found.

    Raises
    ------
    ValueError
        If a kind fits the width at none of its headings.
    """
    clock = Clock(stop)
    model, angles_deg = build_model(problem.kinds, problem.gap_mm, None, SIZE_EXPONENT, store)
    demand = np.array([kind.limit for kind in problem.kinds])
    if demand.sum() == 0:
        return Layout(())
    model = strip.fitting(model, problem.kinds, problem.width_mm)
    searches = [
        strip.StripSearch(model, problem.width_mm, demand, seed * 1009 + w, stop.passes)
        for w in range(searches_of(stop, workers))
    ]
    total = float((model.area * demand).sum())

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


def solve_region(
    problem: RegionProblem, stop: Stop, *, seed: int, workers: int = 2, listener: Listener | None = None,
    store: TableStore | None = None,
) -> tuple[Layout, ...]:
    """Fill a region with as much outline area as found, families complete; distinct good layouts, best first."""
    clock = Clock(stop)
    model, angles_deg = build_model(problem.kinds, problem.gap_mm, problem.grounds, SIZE_EXPONENT, store)
    limit = np.array([kind.limit for kind in problem.kinds])
    ground = float(shapely.area(shapely.union_all([g.outline for g in problem.grounds])))
    start_ground = float(shapely.area(shapely.union_all([part for g in problem.grounds for part in g.core])))
    if limit.sum() == 0 or len(model.form_angle) == 0:
        return (Layout(()),)
    capacity = int(min(limit.sum(), CAPACITY_FACTOR * ground / model.area.min() + 2))
    units = pair_units(problem.kinds)
    complete = None
    if len(units) < len(problem.kinds) or any(len(unit) > 1 for unit in units):
        table = replacements(problem.kinds)

        one_at_a_time = Lock()

        def allowed(item: Item, other: Item) -> bool:
            # a form without a place of its own has no tables to search with
            angle = int(np.argmin([_between(other.pose.heading_deg, a) for a in angles_deg]))
            if model.fit_id[other.kind, angle] == NOT_ALLOWED:
                return False
            if problem.grounds[other.kind] is problem.grounds[item.kind]:
                return True
            return on_ground(other, problem.kinds, problem.grounds, GROUND_TOLERANCE_MM)

        def complete(kept: Snapshot) -> Snapshot:
            items = items_of(kept, angles_deg, problem.kinds)
            # one at a time: `level` may ask prepared shapely geometries, which no two threads may share
            with one_at_a_time:
                items = complete_families(problem.kinds, items, table, problem.level, allowed, QUICK)
            return snapshot_of(items, angles_deg)

    families = families_of(problem.kinds, problem.grounds)
    searches = [
        region.RegionSearch(model, families, limit, capacity, seed * 1009 + w, stop.passes, units, complete)
        for w in range(searches_of(stop, workers))
    ]

    def tell() -> None:
        if listener is not None:
            best = max(searches, key=lambda search: search.record_area)
            listener(Progress(clock.elapsed, len(best.record.kind), best.record_area / ground))

    until = clock.elapsed + clock.left_for_search()

    def work(search: region.RegionSearch) -> None:
        search.start(region.START_SHARE * start_ground, lambda: until - clock.elapsed)
        search.explore(lambda: until - clock.elapsed)

    run_side_by_side(searches, work, clock, until, tell, workers)
    found = [search.record for search in searches]
    layouts = []
    for kept in sorted(found, key=lambda kept: -float(model.area[kept.kind].sum())):
        items = sound(items_of(kept, angles_deg, problem.kinds), problem.kinds, problem.gap_mm, problem.grounds)
        if len(items) < len(kept.kind) and complete is not None:
            items = complete_families(problem.kinds, items, table, problem.level, allowed)
        layouts.append(Layout(items))
    return tuple(layouts)


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
