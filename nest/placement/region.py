"""Fill a region: a rough start, then annealing from one kick to the next.

Items are scattered, separated and made more and larger while that is easy. Then `anneal` gathers what room
there is; a kick inserts an item, removes one or shuffles some, `separate` parts what overlaps then, and the
next annealing begins (iterated local search with threshold acceptance: Lourenço, Martin & Stützle 2003,
doi:10.1007/0-306-48056-5_11; the threshold as in Dueck & Scheuer 1990, doi:10.1016/0021-9991(90)90201-B). At last
what two of the layouts found make up together (`cross.py`) is separated and annealed in the same way.
"""

import time
from collections.abc import Callable, Sequence

import numpy as np

from nest.placement._cost import Model, angles_of, depths, put, put_all
from nest.placement._cost_raster import NO_RASTERS
from nest.placement._poses import grow, make_scratch
from nest.placement.anneal import anneal
from nest.placement.cross import Crossings
from nest.placement.families import Families, left_over
from nest.placement.pair_moves import UnitEdits
from nest.placement.parameters import REGIONS, RegionParameters
from nest.placement.separate import UNLIMITED, separate
from nest.placement.state import Snapshot, new_state, restore, snapshot

NOTHING = Snapshot(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0), np.empty(0))


class RegionSearch(UnitEdits):
    """One worker's search: owns its trial layout.

    `best` is the layout it goes on from, `record` the best so far; with `complete`, which makes the families of a
    layout complete, records have complete families. Kicks insert and remove *units*, tuples of kinds: whole pairs, or
    single kinds. `found` is what annealings came to; `all_placed` tells that no unit was left to place.
    """

    def __init__(
        self,
        model: Model,
        families: Families,
        limit: np.ndarray,
        units: Sequence[tuple[int, ...]],
        *,
        capacity: int,
        seed: int,
        passes: int | None,
        complete: Callable[[Snapshot], Snapshot] | None = None,
        how: RegionParameters = REGIONS,
    ):
        self.how = how
        self.model = model
        self.families = families
        self.limit = np.where(model.form_start[1:] > model.form_start[:-1], limit, 0)
        self.state = new_state(len(limit), capacity, seed, passes)
        self.rng = np.random.default_rng(seed)
        self.best = NOTHING
        self.area = 0.0
        self.record, self.record_area = self.best, 0.0
        self.found: list[Snapshot] = []
        self.all_placed = False
        self.complete = complete
        self._passes = passes
        self._units = [(k,) for k in range(len(limit)) if self.limit[k] > 0]
        self._unit_areas: dict[tuple[int, ...], float] = {}
        self._whole_units = [unit for unit in units if all(self.limit[k] > 0 for k in unit)]
        self._scratch, self._kinds = make_scratch(NO_RASTERS), np.empty(len(limit) + 1, np.int64)

    @property
    def ended(self) -> bool:
        """Whether the pass limit is reached or a stop was asked for."""
        return bool(self.state.stop[0]) or self.state.passes[0] >= self.state.passes[1]

    def allow(self, share: float) -> None:
        """Let the search use this share of its passes."""
        if self._passes is not None:
            self.state.passes[1] = int(self._passes * share)

    def resume(self, record: Snapshot, search: "RegionSearch") -> "RegionSearch":
        """This search, gone on from another one's record, by other headings; passes count on."""
        self.best = self.record = record
        self.area = self.record_area = float(self.model.worth[record.kind].sum())
        self.state.passes[0] = search.state.passes[0]
        return self

    def close_up(self, left: Callable[[], float] = lambda: np.inf) -> None:
        """Anneal the record once, for as long as there is."""
        if len(self.record.kind) > 0 and not self.ended:
            self._go_back()
            self._anneal(left, np.inf)

    def offer(self, kept: Snapshot) -> None:
        """Take a layout found elsewhere as the record, if it is better with its families complete."""
        if self.complete is not None:
            kept = self.complete(kept)
        self._note(kept, float(self.model.worth[kept.kind].sum()))

    def lay_out(self) -> None:
        """Lay whole units down one after the other, the largest first: a record for whoever has no passes to search."""
        restore(self.state, NOTHING)
        put_all(self.model, self.state)
        for unit in sorted(self._whole_units, key=lambda unit: (-self._unit_area(unit), unit)):
            while self._has_room(unit) and self._lay_unit(unit):
                pass
        self.offer(snapshot(self.state))

    def start(self, area: float, left: Callable[[], float] = lambda: np.inf) -> None:
        """Scatter items of about `area` in all, separate, raise; the best of as many tries as `start_time` allows."""
        best, most = self.best, -np.inf
        seconds, limited = left(), self.state.passes[1] < np.iinfo(np.int64).max
        passes = self.how.start_time * self.state.passes[1] if limited else 0
        while not self.ended:
            self.best, self.area = NOTHING, 0.0
            self._scatter(area)
            self._climb()
            restore(self.state, self.best)
            score = self.area - self._left_over() * float(self.model.worth.mean())
            if score > most:
                best, most = self.best, score
            late = left() < (1.0 - self.how.start_time) * seconds
            if late if seconds < np.inf else self.state.passes[0] >= passes:
                break
        self.best, self.area = best, float(self.model.worth[best.kind].sum())

    def adopt(self, kept: Snapshot) -> None:
        """Begin from a layout found elsewhere, in place of `start`; what overlaps in it is parted or left out."""
        if len(kept.kind) > len(self.state.kind):
            return
        restore(self.state, kept)
        put_all(self.model, self.state)
        self._keep_limits()
        if self._separate(self._total(), self.how.patience, self.how.strikes) > 0.0:
            self._drop_overlapped()
        self._units = self._whole_units
        self._pack()
        self.best, self.area = snapshot(self.state), self._total()
        self._consider(self.best)

    def _pack(self) -> None:
        """Insert units one by one while room is soon found for them."""
        failed = 0
        while failed < self.how.pack_failures and not self.ended:
            before = snapshot(self.state)
            if not self._insert(self._small_unit()):
                return
            failed += 1
            if self._separate(self._total(), self.how.pack_patience, 1) <= 0.0:
                failed = 0
            else:
                restore(self.state, before)
                put_all(self.model, self.state)

    def _scatter(self, area: float) -> None:
        """Items of about `area`, fewer if they cannot be separated; at last those that still overlap are left out."""
        wanted = area
        while self.area == 0.0 and not self.ended:
            restore(self.state, self.best)
            while self._total() < area and self._insert(self._some_unit()):
                pass
            if self.state.n[0] == 0:
                return
            if self._separate(0.0, self.how.start_patience, 1) > 0.0:
                if area > 0.7 * wanted:
                    area *= 0.93
                    continue
                self._drop_overlapped()
            self._keep()

    def explore(self, left: Callable[[], float] = lambda: np.inf) -> None:
        """Anneal, kick, anneal again, until stopped or until all there is to place is placed.

        `left` tells the seconds left, infinite where passes alone are limited.
        """
        self._units = self._whole_units
        if self.complete is not None and len(self.record.kind) == 0:
            # the start is left for whatever comes of it: from here on layouts are judged with complete families
            self._consider(self.best)
            self.area = 0.0
        self._go_back()
        while not self.ended:
            self._anneal(left, self.how.anneal_passes)
            self._go_back()
            if self._some_unit() is None:
                self.all_placed = True
                return
            while not self.ended and not self._kick():
                pass

    def cross(self, crossings: Crossings, left: Callable[[], float] = lambda: np.inf) -> None:
        """Separate and anneal what two layouts make up together, the best first, until `cross_failures` in a row bring
        no record; what comes of it is crossed in turn. Goes on from the record."""
        self._units = self._whole_units
        failed = 0
        while failed < self.how.cross_failures and not self.ended and (made := crossings.take()) is not None:
            before = self.record_area
            if self._part(made):
                self._anneal(left, self.how.cross_passes)
                crossings.add(self.found[-1])
            failed = 0 if self.record_area > before else failed + 1
        if len(self.record.kind) > 0:
            self.best, self.area = self.record, self.record_area

    def _part(self, made: Snapshot) -> bool:
        """Part what overlaps in a layout, giving up some area; whether that succeeded."""
        if len(made.kind) > len(self.state.kind):
            return False
        for give_up in self.how.cross_give_up:
            restore(self.state, made)
            put_all(self.model, self.state)
            self._keep_limits()
            self._shrink_to(self._total() * (1.0 - give_up))
            if self.ended:
                return False
            if self._separate(self._total(), self.how.patience, self.how.strikes) <= 0.0:
                return self._left_over() == 0 or self.rng.random() < self.how.odd_kicks
        return False

    def _climb(self) -> None:
        """Raise and separate until raises fail."""
        failed = 0
        while failed < self.how.failures and not self.ended:
            self._go_back()
            target = self.area * (1.0 + self.how.raise_by)
            if not self._raise_to(target):
                return
            if self._separate(target, self.how.patience, self.how.strikes) <= 0.0 and self._keep():
                failed = 0
            else:
                failed += 1

    def _anneal(self, left: Callable[[], float], each: float) -> None:
        """Anneal the present layout, free of overlap, by `each` passes an item; go on from it if it comes out well."""
        state = self.state
        n = int(state.n[0])
        best, area, most = snapshot(state), -np.inf, self._most_area(n)
        full = each * n if len(set(self.model.worth)) > 1 or self.complete is not None else 0
        done, begin = 0, time.monotonic()
        while done < full and area < most * (1.0 - 1e-9) and not self.ended:
            seconds = left()
            if seconds == np.inf:
                rest = state.passes[1] - state.passes[0]
            else:
                rest = seconds / max(time.monotonic() - begin, 1e-6) * max(done, 1)
            cooled = done / min(full, done + max(rest, 1))
            temperature = self.how.hot * (self.how.cold / self.how.hot) ** cooled * float(self.model.worth.mean())
            odd_share = self.how.odd_share ** max(0.0, 1.0 - cooled / self.how.paired)
            now = int(min(self.how.passes_at_once, state.passes[1] - state.passes[0]))
            area = anneal(
                self.model, state, self.limit, self.families, temperature, odd_share, best, most=area, passes=now)
            done += now
        self.found.append(best)
        self._consider(best)

    def _consider(self, kept: Snapshot) -> None:
        """Go on from a layout unless it is much worse than the one gone on from; note what is the best."""
        area = float(self.model.worth[kept.kind].sum())
        least = self.area * (1.0 - self.how.threshold * self.rng.random())
        if self.complete is not None:
            if area < min(least, self.record_area):  # completing families takes area, it never adds any
                return
            kept = self.complete(kept)
            area = float(self.model.worth[kept.kind].sum())
        if area >= least:
            self.best, self.area = kept, area
        self._note(kept, area)

    def _note(self, kept: Snapshot, area: float) -> None:
        if area > self.record_area:
            self.record, self.record_area = kept, area

    def _kick(self) -> bool:
        """Insert a unit, remove one or shuffle a window, giving up some area; whether the overlaps could be parted."""
        self._go_back()
        n = int(self.state.n[0])
        inserts = self.how.full_inserts if self._total() >= self._most_area(n) * (1.0 - 1e-9) else self.how.inserts
        chance = self.rng.random()
        give_up = self.how.give_up
        if chance < inserts or n <= self.how.few:
            self._insert(self._small_unit())
            give_up = self.how.insert_give_up
        elif chance < inserts + self.how.removals and self._most_area(n - len(self._units[0])) > self.record_area:
            self._remove_unit()
        self._shrink_to(self.area * (1.0 - give_up))
        if chance >= inserts and n > self.how.few:
            self._shuffle(self.how.shuffle)
        if self._separate(self._total(), self.how.patience, self.how.strikes) > 0.0:
            return False
        return self._left_over() == 0 or self.rng.random() < self.how.odd_kicks

    def _shuffle(self, sizes: tuple[int, int]) -> None:
        """Exchange the places of the items in a random window, at random headings; overlaps come of it."""
        state, n = self.state, int(self.state.n[0])
        centre = int(self.rng.integers(n))
        far = (state.x[:n] - state.x[centre]) ** 2 + (state.y[:n] - state.y[centre]) ** 2
        window = np.argsort(far)[: int(self.rng.integers(sizes[0], sizes[1] + 1))]
        places = self.rng.permutation(window)
        spread = 0.2 * self.model.size.mean()
        moved = [(state.x[q], state.y[q]) for q in places]
        for i, (x, y) in zip(window, moved, strict=True):
            k = state.kind[i]
            a = self.rng.choice(angles_of(self.model, k))
            put(self.model, state, i, k, a, x + spread * self.rng.normal(), y + spread * self.rng.normal())

    def _drop_overlapped(self) -> None:
        """Remove the deepest item until none overlap."""
        while (n := int(self.state.n[0])) > 0:
            depth, ground = np.zeros((n, n)), np.zeros(n)
            put_all(self.model, self.state)
            if depths(self.model, self.state, depth, ground) <= 0.0:
                return
            self._remove(int(np.argmax(depth.sum(axis=1) + 2.0 * ground)))

    def _left_over(self) -> int:
        return int(left_over(self.model, self.state, self.families)) if self.complete is not None else 0

    def _go_back(self) -> None:
        restore(self.state, self.best)
        put_all(self.model, self.state)

    def _separate(self, target: float, patience: int, strikes: int) -> float:
        return separate(
            self.model, NO_RASTERS, self.state, self.limit, target, self.how.wide_samples, self.how.near_samples,
            patience, strikes, UNLIMITED)

    def _keep(self) -> bool:
        """Take the present layout over if it is better than the one climbed from."""
        put_all(self.model, self.state)
        grow(self.model, self.state, self.limit, 20 * self.state.n[0], self._scratch.moves)
        total = self._total()
        if total <= self.area:
            return False
        self.best, self.area = snapshot(self.state), total
        if self.complete is None:
            self._note(self.best, total)
        return True
