"""Change the items of a trial layout by units: whole pairs, or single kinds.

What overlap comes of it is for others to part.
"""

import numpy as np

from geometry.compiled import Whole, uncounted
from nest.placement._cost import NOT_ALLOWED, Model, State, put, put_all
from nest.placement._cost_raster import NO_RASTERS
from nest.placement._poses import Scratch, best_pose
from nest.placement.families import Families
from nest.placement.leftmost import PLACES, lay_leftmost

INSERT_CHANCE = 0.6


@uncounted
def lay_down(model: Model, state: State, i: Whole, k: Whole, wide: int, scratch: Scratch, kinds: np.ndarray) -> None:
    """Lay the new item i down as kind k at the cheapest pose found."""
    kinds[0] = k
    s = model.form_start[k]
    put(model, state, i, k, model.form_angle[s], model.bounds[k, model.form_angle[s], 0],
        model.bounds[k, model.form_angle[s], 1])
    c, a, x, y, _ = best_pose(model, NO_RASTERS, state, i, kinds, 1, wide, 0, scratch)
    put(model, state, i, c, a, x, y)


class UnitEdits:
    """Inserts, removes and exchanges units in a trial layout, within the limits of the kinds.

    Whoever inherits it owns what is named here; `_scratch` and `_kinds` are scratch.
    """

    model: Model
    state: State
    families: Families
    limit: np.ndarray
    rng: np.random.Generator
    _units: list[tuple[int, ...]]
    _unit_areas: dict[tuple[int, ...], float]
    _scratch: Scratch
    _kinds: np.ndarray

    def _total(self) -> float:
        return float(self.model.worth[self.state.kind[: self.state.n[0]]].sum())

    def _unit_area(self, unit: tuple[int, ...]) -> float:
        if unit not in self._unit_areas:
            self._unit_areas[unit] = float(self.model.worth[list(unit)].sum())
        return self._unit_areas[unit]

    def _has_room(self, unit: tuple[int, ...]) -> bool:
        return all(self.state.count[k] + unit.count(k) <= self.limit[k] for k in unit)

    def _with_room(self) -> list[tuple[int, ...]]:
        """The units with items left."""
        count, limit = self.state.count.tolist(), self.limit.tolist()
        return [unit for unit in self._units if all(count[k] + unit.count(k) <= limit[k] for k in unit)]

    def _some_unit(self) -> tuple[int, ...] | None:
        """A random unit with items left; None if there is none."""
        left = self._with_room()
        return left[int(self.rng.integers(len(left)))] if left else None

    def _small_unit(self) -> tuple[int, ...] | None:
        """The smallest unit with items left, or half the time any; None if there is none."""
        left = self._with_room()
        if left and self.rng.random() < 0.5:
            return min(left, key=lambda unit: float((self.model.size[list(unit)] ** 2).sum()))
        return self._some_unit()

    def _most_area(self, n: int) -> float:
        """The area of n items, each of the largest kind that is left for it."""
        total = 0.0
        for k in np.argsort(-self.model.worth):
            taken = min(n, int(self.limit[k]))
            total += taken * float(self.model.worth[k])
            n -= taken
        return total

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
            lay_down(self.model, self.state, n, kind, 200, self._scratch, self._kinds)
            n += 1
        return True

    def _lay_unit(self, unit: tuple[int, ...]) -> bool:
        """Lay all items of a unit where they are free of overlap, or none; whether that was found."""
        state, before = self.state, int(self.state.n[0])
        if before + len(unit) > len(state.kind):
            return False
        for kind in unit:
            i = int(state.n[0])
            state.n[0] += 1
            state.count[kind] += 1
            state.kind[i] = kind
            if not lay_leftmost(self.model, state, i, kind, PLACES):
                while int(state.n[0]) > before:
                    self._remove(int(state.n[0]) - 1)
                return False
        return True

    def _remove(self, i: int) -> None:
        state, last = self.state, int(self.state.n[0]) - 1
        state.count[state.kind[i]] -= 1
        for array in (state.kind, state.angle, state.x, state.y):
            array[i] = array[last]
        state.n[0] = last
        put_all(self.model, state)

    def _remove_unit(self) -> None:
        """Take out the items of a random unit."""
        have = [u for u in self._units if all(self.state.count[k] >= u.count(k) for k in u)]
        if have:
            for kind in have[int(self.rng.integers(len(have)))]:
                self._remove(int(self.rng.choice(np.flatnonzero(self.state.kind[: self.state.n[0]] == kind))))

    def _shrink_to(self, target: float) -> None:
        """Turn random units into smaller ones until the total is at most `target`, as far as that goes."""
        while self._total() > target and (changes := self._changes(-np.inf, -1e-9)):
            self._change_unit(*changes[int(self.rng.integers(len(changes)))])

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
        count = self.state.count.tolist()
        have = [u for u in self._units if all(count[k] >= u.count(k) for k in u)]
        room = self._with_room()
        return [(u, v) for u in have for v in room
                if len(u) == len(v) and u != v and least < self._unit_area(v) - self._unit_area(u) <= most]

    def _raise_to(self, target: float) -> bool:
        """Insert or grow until the total is at least `target`, then shrink back to just above it."""
        if self.rng.random() < INSERT_CHANCE:
            self._insert(self._some_unit())
        while (missing := target - self._total()) > 0.0:
            changes = self._changes(0.0, max(missing, 0.1 * float(self.model.worth.min())))
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

    def _keep_limits(self) -> None:
        """Turn items of kinds that there are too many of into smaller kinds, or leave them out."""
        for kind in np.flatnonzero(self.state.count > self.limit):
            while self.state.count[kind] > self.limit[kind]:
                i = int(self.rng.choice(np.flatnonzero(self.state.kind[: self.state.n[0]] == kind)))
                smaller = [
                    c for c in np.flatnonzero(self.state.count < self.limit) if self._same_sort(c, kind)
                    and self.model.worth[c] <= self.model.worth[kind]
                ]
                if smaller:
                    self._change(i, int(max(smaller, key=lambda c: self.model.worth[c])))
                else:
                    self._remove(i)

    def _same_sort(self, kind: Whole, other: Whole) -> bool:
        families = self.families
        return bool(families.chain[kind] == families.chain[other] and families.side[kind] == families.side[other])
