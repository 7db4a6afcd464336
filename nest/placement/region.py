"""Fill a region: raise the area wanted, separate, keep; restart from good failures.

The mirror image of the shrinking strip: the target is the total area of the items. Each round starts
from a good layout and adds an item or grows some, overlaps allowed; then `separate` moves items
and changes their kinds as long as the total stays at the target.
"""

import numpy as np

from geometry.compiled import lean
from nest.placement._search import (
    Model,
    best_pose,
    exit_descent,
    normal,
    pose_cost,
    put,
    put_all,
    separate,
    uniform,
)
from nest.placement.state import Snapshot, new_state, restore, snapshot

WIDE_SAMPLES, NEAR_SAMPLES = 60, 20
PATIENCE, STRIKES = 60, 2
RAISE, RAISE_LEAST = 0.01, 0.0005
START_SHARE = 0.5
POOL = 12


@lean
def grow(model, state, limit, tries, moves):
    """Give random items a larger kind where that needs no overlap. Returns the area gained."""
    gained = 0.0
    n = state.n[0]
    kinds = len(model.area)
    for _ in range(tries):
        i = int(uniform(state.random) * n)
        k0, a0, x0, y0 = state.kind[i], state.angle[i], state.x[i], state.y[i]
        c = int(uniform(state.random) * kinds)
        if model.area[c] <= model.area[k0] or state.count[c] >= limit[c] or model.fit_id[c, a0] == -2:
            continue
        for _ in range(4):
            spread = 0.02 * model.size[c]
            x, y = x0 + spread * normal(state.random), y0 + spread * normal(state.random)
            cost = pose_cost(model, state, i, c, a0, x, y, np.inf)
            x, y, cost = exit_descent(model, state, i, c, a0, x, y, cost, moves)
            if cost <= 0.0:
                gained += model.area[c] - model.area[k0]
                state.count[k0] -= 1
                state.count[c] += 1
                put(model, state, i, c, a0, x, y)
                break
    return gained


@lean
def settle_new(model, state, i, k, wide, top, moves, kinds):
    """Lay the new item i down as kind k at the cheapest pose found."""
    kinds[0] = k
    s = model.form_start[k]
    put(model, state, i, k, model.form_angle[s], model.bounds[k, model.form_angle[s], 0],
        model.bounds[k, model.form_angle[s], 1])
    c, a, x, y, _ = best_pose(model, state, i, kinds, 1, wide, 0, top, moves)
    put(model, state, i, c, a, x, y)


class RegionSearch:
    """One worker's search: owns its trial layout; `best` is the layout of most area without overlap."""

    def __init__(self, model: Model, limit: np.ndarray, capacity: int, seed: int, passes: int | None):
        self.model = model
        usable = model.form_start[1:] > model.form_start[:-1]
        self.limit = np.where(usable, limit, 0)
        self.state = new_state(len(limit), capacity, seed, passes)
        self.rng = np.random.default_rng(seed)
        self.best = Snapshot(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0), np.empty(0))
        self.area = 0.0
        self._top, self._moves, self._kinds = np.empty((4, 5)), np.empty((12, 2)), np.empty(len(limit) + 1, np.int64)

    @property
    def ended(self) -> bool:
        """Whether the pass limit is reached or a stop was asked for."""
        return bool(self.state.stop[0]) or self.state.passes[0] >= self.state.passes[1]

    def start(self, area: float) -> None:
        """Items of about `area` in all, scattered and separated; fewer until it works."""
        while self.area == 0.0 and not self.ended:
            restore(self.state, self.best)
            while self._total() < area and self._insert(self._random_kind(np.inf)):
                pass
            if self.state.n[0] == 0:
                return
            if self._separate(0.0, 40, 1) <= 0.0:
                self._keep()
            area *= 0.93

    def explore(self) -> None:
        """Raise and separate until stopped; failures go to a pool, from which restarts are made."""
        step = RAISE
        while not self.ended:
            restore(self.state, self.best)
            put_all(self.model, self.state)
            target = self.area * (1.0 + step)
            if not self._raise_to(target):
                return
            pool: list[tuple[float, Snapshot]] = []
            failed = 0
            while not self.ended:
                overlap = self._separate(target, PATIENCE, STRIKES)
                if overlap <= 0.0:
                    self._keep()
                    break
                pool.append((overlap, snapshot(self.state)))
                pool.sort(key=lambda entry: entry[0])
                del pool[POOL:]
                failed += 1
                if failed >= 4 and step > RAISE_LEAST:
                    step = max(RAISE_LEAST, step / 2.0)
                    break
                if failed % 8 == 0:
                    restore(self.state, self.best)
                    put_all(self.model, self.state)
                    if not self._raise_to(target):
                        return
                    continue
                pick = min(int(abs(self.rng.normal()) * 0.25 * len(pool)), len(pool) - 1)
                restore(self.state, pool[pick][1])
                put_all(self.model, self.state)
                self._disturb(target)

    def adopt(self, kept: Snapshot, area: float) -> None:
        """Go on from another worker's layout."""
        self.best, self.area = kept, area
        restore(self.state, kept)

    def _total(self) -> float:
        return float(self.model.area[self.state.kind[: self.state.n[0]]].sum())

    def _separate(self, target: float, patience: int, strikes: int) -> float:
        return separate(self.model, self.state, self.limit, target, WIDE_SAMPLES, NEAR_SAMPLES, patience, strikes)

    def _keep(self) -> None:
        put_all(self.model, self.state)
        grow(self.model, self.state, self.limit, 20 * self.state.n[0], self._moves)
        total = self._total()
        if total > self.area:
            self.best, self.area = snapshot(self.state), total

    def _random_kind(self, most_area: float) -> int:
        """A kind with items left, of at most this area; -1 if there is none."""
        left = np.flatnonzero((self.state.count < self.limit) & (self.model.area <= most_area))
        return int(self.rng.choice(left)) if len(left) else -1

    def _insert(self, kind: int) -> bool:
        n = int(self.state.n[0])
        if kind < 0 or n >= len(self.state.kind):
            return False
        self.state.n[0] = n + 1
        self.state.count[kind] += 1
        self.state.weight[n, :] = 1.0
        self.state.weight[:, n] = 1.0
        self.state.fit_weight[n] = 1.0
        settle_new(self.model, self.state, n, kind, 200, self._top, self._moves, self._kinds)
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
        if self.model.fit_id[kind, angle] == -2:
            angle = self.model.form_angle[self.model.form_start[kind]]
        put(self.model, state, i, kind, angle, state.x[i], state.y[i])

    def _raise_to(self, target: float) -> bool:
        """Insert or grow until the total is at least `target`, then shrink back to just above it."""
        if self.rng.random() < 0.6 and not self._insert(self._random_kind(np.inf)) and not self._grow_once():
            return False
        while self._total() < target:
            if (self.rng.random() < 0.8 and self._grow_once()) or self._insert(self._random_kind(np.inf)):
                continue
            if not self._grow_once():
                return False
        self._shrink_above(target)
        return True

    def _grow_once(self) -> bool:
        state, area = self.state, self.model.area
        for i in self.rng.permutation(state.n[0]):
            larger = np.flatnonzero((area > area[state.kind[i]]) & (state.count < self.limit))
            if len(larger):
                self._change(int(i), int(larger[np.argmin(area[larger])]))
                return True
        return False

    def _shrink_above(self, target: float) -> None:
        """Give random items smaller kinds while the total stays at the target."""
        state, area = self.state, self.model.area
        total = self._total()
        for i in self.rng.permutation(state.n[0]):
            slack = total - target
            here = area[state.kind[i]]
            smaller = np.flatnonzero((area < here) & (area >= here - slack) & (state.count < self.limit))
            if len(smaller):
                kind = int(self.rng.choice(smaller))
                total += area[kind] - here
                self._change(int(i), kind)

    def _disturb(self, target: float) -> None:
        """Relocate an item, or exchange two, so that the search leaves its basin."""
        state = self.state
        n = int(state.n[0])
        i = int(self.rng.integers(n))
        if self.rng.random() < 0.5 or n < 2:
            kind = int(state.kind[i])
            self._remove(i)
            self._insert(kind)
        else:
            j = int(self.rng.integers(n))
            pi = (int(state.kind[i]), int(state.angle[i]), float(state.x[i]), float(state.y[i]))
            pj = (int(state.kind[j]), int(state.angle[j]), float(state.x[j]), float(state.y[j]))
            put(self.model, state, i, pi[0], pi[1], pj[2], pj[3])
            put(self.model, state, j, pj[0], pj[1], pi[2], pi[3])
        if self._total() < target:
            self._raise_to(target)
