"""A region problem made ready to be searched: its tables, its pairs, and what completes a layout."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from threading import Lock

import numpy as np
import shapely

from geometry.pose import Pose
from geometry.precision import OVERLAP_DEPTH_MM
from nest.placement import region
from nest.placement._cost import NOT_ALLOWED
from nest.placement.choose import QUICK, replacements
from nest.placement.gate import faults, on_ground, sound
from nest.placement.items import items_of, nearest_angle, on_grid_items, snapshot_of
from nest.placement.model import build_model
from nest.placement.parameters import RegionParameters
from nest.placement.partners import partners_by_size
from nest.placement.problem import Item, Kind, Layout, RegionProblem
from nest.placement.state import Snapshot
from nest.placement.tablestore import TableStore

GROUND_TOLERANCE_MM = 1e-4


class RegionStage:
    """A region problem made ready to be searched."""

    def __init__(self, problem: RegionProblem, store: TableStore, how: RegionParameters, workers: int | None = None):
        self.problem, self._how = problem, how
        self.model, self.angles_deg = build_model(
            problem.kinds, problem.gap_mm, problem.grounds, how.size_exponent, store, workers)
        self._units = pair_units(problem.kinds)
        self._pairs = len(self._units) < len(problem.kinds) or any(len(unit) > 1 for unit in self._units)
        self._places = store.places
        self._table = replacements(problem.kinds, store.places) if self._pairs else {}
        self._families = how.partners(problem.kinds, problem.grounds, self._table)
        self._one_at_a_time = Lock()

    def search(self, seed: int, passes: int | None) -> region.RegionSearch:
        """A search of its own."""
        kinds = self.problem.kinds
        limit = np.array([kind.limit for kind in kinds])
        ground = union_area([ground.outline for ground in self.problem.grounds])
        capacity = int(min(limit.sum(), self._how.capacity_factor * ground / self.model.size.min() ** 2 + 2))
        complete = self._complete_snapshot if self._pairs else None
        return region.RegionSearch(
            self.model, self._families, limit, self._units, capacity=capacity, seed=seed, passes=passes,
            complete=complete, how=self._how)

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
        items = on_grid_items(self._how.resize(
            problem, self.items(search.record), table, left, lambda: bool(search.state.stop[0])))
        if not faults(items, self.problem.kinds, self.problem.gap_mm, self.problem.grounds, OVERLAP_DEPTH_MM):
            search.offer(self.snapshot(items))

    def sound(self, kept: Snapshot) -> Layout:
        """The layout as it may be handed out."""
        kinds, grounds = self.problem.kinds, self.problem.grounds
        items = sound(self.items(kept), kinds, self.problem.gap_mm, grounds)
        if len(items) < len(kept.kind) and self._pairs:
            items = self._how.complete(kinds, items, self._table, self.problem.level, self._allowed)
        return Layout(items)

    def _level(self, kind: int, pose: Pose) -> int:
        level = self.problem.level
        with self._one_at_a_time:
            return level(kind, pose) if level else 0

    def _complete_snapshot(self, kept: Snapshot) -> Snapshot:
        # one at a time: `level` may ask prepared shapely geometries, which no two threads may share
        with self._one_at_a_time:
            kinds, items = self.problem.kinds, self.items(kept)
            table, level = self._table, self.problem.level
            found = partners_by_size(kinds, items, self._families, table, level, self._allowed)
            if found is None:
                found = self._how.complete(kinds, items, table, level, self._allowed, QUICK)
            return self.snapshot(found)

    def _allowed(self, item: Item, other: Item) -> bool:
        # a form without a place of its own has no tables to search with
        angle = nearest_angle(other.pose.heading_deg, self.angles_deg)
        if self.model.fit_id[other.kind, angle] == NOT_ALLOWED:
            return False
        grounds = self.problem.grounds
        if grounds[other.kind] is grounds[item.kind]:
            return True
        return on_ground(other, self.problem.kinds, grounds, GROUND_TOLERANCE_MM)


def union_area(parts: Sequence[shapely.Geometry]) -> float:
    """Area of grounds together, mm²."""
    # many kinds and headings share their ground
    return float(shapely.area(shapely.union_all(list({id(part): part for part in parts}.values()))))


def pair_units(kinds: Sequence[Kind]) -> list[tuple[int, ...]]:
    """Kinds that are placed together: a left and a right of one family, two of side 0, or one without family."""
    units: list[tuple[int, ...]] = []
    for k, kind in enumerate(kinds):
        if not kind.family:
            units.append((k,))
        elif kind.side == 0:
            units.append((k, k))
        elif kind.side < 0:
            units += [(k, c) for c, other in enumerate(kinds) if other.family == kind.family and other.side > 0]
    return units
