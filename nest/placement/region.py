"""Fill a region: raise the area wanted, separate, keep; restart from good failures.

The mirror image of the shrinking strip: the target is the total area of the items. Each round starts
from a good layout and adds an item or grows some, overlaps allowed; then `separate` moves items
and changes their kinds as long as the total stays at the target.
"""

from collections.abc import Callable

import numpy as np

from geometry.compiled import lean
from nest.placement._cost import NOT_ALLOWED, Model, depths, put, put_all
from nest.placement._poses import best_pose, grow
from nest.placement.separate import separate
from nest.placement.state import Snapshot, new_state, restore, snapshot

WIDE_SAMPLES, NEAR_SAMPLES = 15, 30
PATIENCE, STRIKES = 60, 2
RAISE, RAISE_LEAST = 0.01, 0.0005
START_SHARE = 0.5
FAILURES = 3
THRESHOLD = 0.01
RETURN_CHANCE = 0.1
KICK = (4, 10)
STEP_FALL = 3.0
GIVE_UP = 0.01
ELITE = 4
INSERT_CHANCE = 0.6


@lean
def lay_down(model, state, i, k, wide, top, moves, kinds):
    """Lay the new item i down as kind k at the cheapest pose found."""
    kinds[0] = k
    s = model.form_start[k]
    put(model, state, i, k, model.form_angle[s], model.bounds[k, model.form_angle[s], 0],
        model.bounds[k, model.form_angle[s], 1])
    c, a, x, y, _ = best_pose(model, state, i, kinds, 1, wide, 0, top, moves)
    put(model, state, i, c, a, x, y)


class RegionSearch:
    """One worker's search: owns its trial layout.

    `best` is the layout it climbs from, `record` the one of most area so far, `whole` the best with
    complete families.

    Items come and grow in *units*: tuples of kinds. Single kinds to begin with; with `complete`, which
    makes the families of a layout complete, `pair_up` goes on with whole pairs.
    """

    def __init__(
        self,
        model: Model,
        limit: np.ndarray,
        capacity: int,
        seed: int,
        passes: int | None,
        complete: Callable[[Snapshot], Snapshot] | None = None,
    ):
        self.model = model
        self.limit = np.where(model.form_start[1:] > model.form_start[:-1], limit, 0)
        self.state = new_state(len(limit), capacity, seed, passes)
        self.rng = np.random.default_rng(seed)
        self.best = Snapshot(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0), np.empty(0))
        self.area = 0.0
        self.record, self.record_area = self.best, 0.0
        self.complete = complete
        self.whole = self.best
        self.whole_area = 0.0
        self._good: list[Snapshot] = []
        self._passes = passes
        self._units = [(k,) for k in range(len(limit))]
        self._changeable = self.limit
        self._top, self._moves, self._kinds = np.empty((4, 5)), np.empty((12, 2)), np.empty(len(limit) + 1, np.int64)

    @property
    def ended(self) -> bool:
        """Whether the pass limit is reached or a stop was asked for."""
        return bool(self.state.stop[0]) or self.state.passes[0] >= self.state.passes[1]

    def allow(self, share: float) -> None:
        """Let the search use this share of its passes."""
        if self._passes is not None:
            self.state.passes[1] = int(self._passes * share)

    def start(self, area: float) -> None:
        """Items of about `area` in all, scattered and separated.

        Fewer if that fails; at last those that still overlap are left out.
        """
        wanted = area
        while self.area == 0.0 and not self.ended:
            restore(self.state, self.best)
            while self._total() < area and self._insert(self._some_unit()):
                pass
            if self.state.n[0] == 0:
                return
            if self._separate(0.0, 40, 1) > 0.0:
                if area > 0.7 * wanted:
                    area *= 0.93
                    continue
                self._drop_overlapped()
            self._keep()

    def explore(self) -> None:
        """Climb, kick, climb again until stopped: iterated local search with threshold acceptance.

        Lourenço, Martin & Stützle 2003, doi:10.1007/0-306-48056-5_11; the threshold as in Dueck &
        Scheuer 1990, doi:10.1016/0021-9991(90)90201-B.
        """
        base, base_area = self.best, self.area
        while not self.ended:
            if not self._climb():
                return
            if self.area >= base_area * (1.0 - THRESHOLD * self.rng.random()):
                base, base_area = self.best, self.area
            elif self.rng.random() < RETURN_CHANCE:
                base, base_area = self.record, self.record_area
            self.best, self.area = base, base_area
            self._kick()

    def _climb(self) -> bool:
        """Raise and separate until raises fail; False when nothing is left to place."""
        step = RAISE
        failed = 0
        while not self.ended:
            self._go_back()
            target = self.area * (1.0 + step)
            if not self._raise_to(target):
                return False
            if self._separate(target, PATIENCE, STRIKES) <= 0.0 and self._keep():
                failed = 0
                continue
            failed += 1
            if failed >= FAILURES:
                if step <= RAISE_LEAST:
                    return True
                step = max(RAISE_LEAST, step / STEP_FALL)
                failed = 0
        return True

    def _kick(self) -> None:
        """Shuffle the items of a random window: some area is given up for another arrangement."""
        for _ in range(8):
            self._go_back()
            if self.state.n[0] == 0 or self.ended:
                return
            self._shuffle(KICK)
            if self._separate(self.area * (1.0 - GIVE_UP), PATIENCE, STRIKES) <= 0.0:
                self.area = 0.0
                self._keep()
                return

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
            a = self.rng.choice(self.model.form_angle[self.model.form_start[k]:self.model.form_start[k + 1]])
            put(self.model, state, i, k, a, x + spread * self.rng.normal(), y + spread * self.rng.normal())

    def take_whole(self) -> None:
        """Make the families of the last records complete; the best of them is the new `whole`."""
        for kept in self._good:
            whole = self.complete(kept)
            area = float(self.model.area[whole.kind].sum())
            if area > self.whole_area:
                self.whole, self.whole_area = whole, area

    def pair_up(self, units: list[tuple[int, ...]]) -> None:
        """Go on from the best layout with complete families, in units of whole pairs."""
        self._units = units
        self._changeable = np.zeros_like(self.limit)
        self.best, self.area = self.whole, self.whole_area
        self.record, self.record_area = self.whole, self.whole_area
        self.explore()

    def adopt(self, kept: Snapshot, area: float) -> None:
        """Go on from another worker's layout."""
        self.best, self.area = kept, area
        self.record, self.record_area = kept, area

    def _drop_overlapped(self) -> None:
        """Remove the deepest item until none overlap."""
        while (n := int(self.state.n[0])) > 0:
            depth, ground = np.zeros((n, n)), np.zeros(n)
            put_all(self.model, self.state)
            if depths(self.model, self.state, depth, ground) <= 0.0:
                return
            self._remove(int(np.argmax(depth.sum(axis=1) + 2.0 * ground)))

    def _go_back(self) -> None:
        restore(self.state, self.best)
        put_all(self.model, self.state)

    def _total(self) -> float:
        return float(self.model.area[self.state.kind[: self.state.n[0]]].sum())

    def _separate(self, target: float, patience: int, strikes: int) -> float:
        return separate(self.model, self.state, self._changeable, target, WIDE_SAMPLES, NEAR_SAMPLES, patience, strikes)

    def _keep(self) -> bool:
        """Take the present layout over if it is better than the one climbed from."""
        put_all(self.model, self.state)
        if self._changeable.any():
            grow(self.model, self.state, self.limit, 20 * self.state.n[0], self._moves)
        total = self._total()
        if total <= self.area:
            return False
        kept = snapshot(self.state)
        if self.complete is not None and not self._changeable.any():
            kept = self.complete(kept)
            total = float(self.model.area[kept.kind].sum())
            if total <= self.area:
                return False
            if total > self.whole_area:
                self.whole, self.whole_area = kept, total
        self.best, self.area = kept, total
        if total > self.record_area:
            self.record, self.record_area = kept, total
            self._good = [*self._good[1 - ELITE:], kept]
        return True

    def _unit_area(self, unit: tuple[int, ...]) -> float:
        return float(self.model.area[list(unit)].sum())

    def _has_room(self, unit: tuple[int, ...]) -> bool:
        return all(self.state.count[k] + unit.count(k) <= self.limit[k] for k in unit)

    def _some_unit(self) -> tuple[int, ...] | None:
        """A random unit with items left; None if there is none."""
        left = [unit for unit in self._units if self._has_room(unit)]
        return left[int(self.rng.integers(len(left)))] if left else None

    def _insert(self, unit: tuple[int, ...] | None) -> bool:
        n = int(self.state.n[0])
        if unit is None or n + len(unit) > len(self.state.kind):
            return False
        for kind in unit:
            self.state.n[0] = n + 1
            self.state.count[kind] += 1
            self.state.weight[n, :] = 1.0
            self.state.weight[:, n] = 1.0
            self.state.fit_weight[n] = 1.0
            lay_down(self.model, self.state, n, kind, 200, self._top, self._moves, self._kinds)
            n += 1
        return True

    def _remove(self, i: int) -> None:
        state, last = self.state, int(self.state.n[0]) - 1
        state.count[state.kind[i]] -= 1
        for array in (state.kind, state.angle, state.x, state.y):
            array[i] = array[last]
        state.n[0] = last
        put_all(self.model, state)

    def _change(self, i: int, kind: int) -> None:
        state = self.state
        state.count[state.kind[i]] -= 1
        state.count[kind] += 1
        angle = state.angle[i]
        if self.model.fit_id[kind, angle] == NOT_ALLOWED:
            angle = self.model.form_angle[self.model.form_start[kind]]
        put(self.model, state, i, kind, angle, state.x[i], state.y[i])

    def _change_unit(self, unit: tuple[int, ...], other: tuple[int, ...]) -> None:
        """Turn random items of one unit into those of another."""
        kinds = self.state.kind
        for old, new in zip(unit, other, strict=True):
            mine = np.flatnonzero(kinds[: self.state.n[0]] == old)
            self._change(int(self.rng.choice(mine)), new)

    def _changes(self, least: float, most: float) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
        """Unit for unit, the exchanges that change the total by an amount in (least, most]."""
        have = [u for u in self._units if all(self.state.count[k] >= u.count(k) for k in u)]
        room = [u for u in self._units if self._has_room(u)]
        return [(u, v) for u in have for v in room
                if len(u) == len(v) and u != v and least < self._unit_area(v) - self._unit_area(u) <= most]

    def _raise_to(self, target: float) -> bool:
        """Insert or grow until the total is at least `target`, then shrink back to just above it."""
        if self.rng.random() < INSERT_CHANCE:
            self._insert(self._some_unit())
        while (missing := target - self._total()) > 0.0:
            changes = self._changes(0.0, max(missing, 0.1 * float(self.model.area.min())))
            changes = changes or self._changes(0.0, np.inf)
            if changes and self.rng.random() < 0.9:
                self._change_unit(*changes[int(self.rng.integers(len(changes)))])
            elif not self._insert(self._some_unit()) and not changes:
                return False
        while changes := self._changes(-np.inf, 0.0):
            slack = self._total() - target
            changes = [(u, v) for u, v in changes if self._unit_area(u) - self._unit_area(v) <= slack]
            changes = [(u, v) for u, v in changes if self._unit_area(u) > self._unit_area(v)]
            if not changes:
                break
            self._change_unit(*changes[int(self.rng.integers(len(changes)))])
        return True
