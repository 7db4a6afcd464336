"""Shortest strip: shrink, separate, keep; restart from good failures; compress at the end.

The frame is overlap minimisation with an outer loop on the length (Egeblad et al. 2007; Imamichi,
Yagiura & Nagamochi 2009, doi:10.1016/j.disopt.2009.04.002; Elkeran 2013,
doi:10.1016/j.ejor.2013.06.020).
"""

from collections import deque
from collections.abc import Callable, Sequence

import numpy as np

from nest.placement._cost import Model, angles_of
from nest.placement._cost_raster import Rasters, make_rasters
from nest.placement.parameters import STRIPS, StripParameters
from nest.placement.problem import Kind
from nest.placement.separate import UNLIMITED, separate
from nest.placement.state import Snapshot, alike, new_state, restore, snapshot

SAME = 1e-7
"""Lengths that differ by no more than this share are one."""

NO_LIMIT = np.zeros(1, np.int64)


def with_length(model: Model, width: float, length: float) -> Model:
    """The model with the reference points bounded to a strip of this width and length."""
    box = model.cut_box
    bounds = np.stack((-box[:, :, 0], -box[:, :, 1], length - box[:, :, 2], width - box[:, :, 3]), axis=-1)
    return model._replace(bounds=bounds)


def used_length(model: Model, kept: Snapshot) -> float:
    """Length of the strip a layout needs."""
    return float((kept.x + model.cut_box[kept.kind, kept.angle, 2]).max())


def shortest(model: Model, width: float, demand: np.ndarray) -> float:
    """A length that no layout can beat: the items' area over the width, or the longest item at its shortest."""
    length = model.cut_box[:, :, 2] - model.cut_box[:, :, 0]
    longest = max((float(length[k, angles_of(model, k)].min()) for k in np.flatnonzero(demand)), default=0.0)
    return max(float((model.worth * demand).sum()) / width, longest)


def strip_rasters(model: Model, width: float, demand: np.ndarray, seconds: float | None = None) -> Rasters:
    """Rasters for strips of this width that hold the demand, searched for this many seconds."""
    return make_rasters(model, shortest(model, width, demand) * width, int(demand.sum()), seconds)


def fitting(model: Model, kinds: Sequence[Kind], width: float) -> Model:
    """The model without the forms that are wider than the strip.

    Raises
    ------
    ValueError
        If a kind that is wanted is left without a form; all such kinds are named.
    """
    height = model.cut_box[:, :, 3] - model.cut_box[:, :, 1]
    starts, flat, too_wide = [0], [], []
    for k, kind in enumerate(kinds):
        angles = angles_of(model, k)
        fits = [a for a in angles if height[k, a] <= width + model.zero]
        if not fits and kind.limit:
            too_wide.append(f"{kind.name} is {height[k, angles].min():.1f} mm wide at its best heading")
        flat += fits
        starts.append(len(flat))
    if too_wide:
        raise ValueError(f"{'; '.join(too_wide)}; the strip is {width:.1f} mm wide")
    return model._replace(form_start=np.array(starts, np.int64), form_angle=np.array(flat, np.int64))


def shelves(model: Model, demand: np.ndarray, width: float) -> Snapshot:
    """A plain first layout: rows of bounding boxes across the strip, widest kinds first."""
    box = model.form_box
    forms = {}
    for k in np.flatnonzero(demand):
        angles = angles_of(model, k)
        forms[int(k)] = int(angles[np.argmin(box[k, angles, 2] - box[k, angles, 0])])
    order = sorted(forms, key=lambda k: box[k, forms[k], 0] - box[k, forms[k], 2])
    kinds, x, y = [], [], []
    left, across, deep = 0.0, 0.0, 0.0
    for k in np.repeat(order, demand[order]).tolist():
        grown, cut = box[k, forms[k]], model.cut_box[k, forms[k]]
        if across > 0.0 and across + cut[3] - grown[1] > width:
            left, across, deep = left + deep, 0.0, 0.0
        # the first of a row lies with its cut line on the edge, the others keep the gap
        y.append(across - (grown[1] if across > 0.0 else cut[1]))
        across = y[-1] + grown[3]
        kinds.append(k)
        x.append(left - grown[0])
        deep = max(deep, grown[2] - grown[0])
    kind = np.array(kinds, np.int64)
    first = min((xi + model.cut_box[k, forms[k], 0] for k, xi in zip(kinds, x, strict=True)), default=0.0)
    return Snapshot(kind, np.array([forms[k] for k in kinds], np.int64), np.array(x) - first, np.array(y))


Pool = list[tuple[float, Snapshot]]
"""Failures of one length: the overlap left and the layout, least first."""


class StripSearch:
    """One worker's search: owns its trial layout; `best` is the shortest layout without overlap.

    number : which of the searches side by side it is.
    """

    _pool: Pool
    _kicks: deque[float]
    _aside: tuple[Pool, deque[float]] | None
    _tried: int

    def __init__(
        self, model: Model, rasters: Rasters, width: float, demand: np.ndarray, *, seed: int, passes: int | None,
        number: int = 0, how: StripParameters = STRIPS,
    ):
        self.how = how
        self._fresh_after = how.fresh_after[number % len(how.fresh_after)]
        self.rasters = rasters
        self.width = width
        self.model = model
        self.state = new_state(len(demand), int(demand.sum()), seed, passes)
        self.rng = np.random.default_rng(seed)
        self.best = shelves(model, demand, width)
        self.length = used_length(model, self.best)
        self.shortest = shortest(model, width, demand)
        self.demand = demand
        self._passes = passes
        self._shrink = self.how.shrink
        self._target = self.length
        self._forget()

    @property
    def at_best(self) -> bool:
        """Whether nothing shorter is possible."""
        return self.length <= self.shortest * (1.0 + SAME)

    @property
    def ended(self) -> bool:
        """Whether nothing shorter is possible, the pass limit is reached or a stop was asked for."""
        done, most = self.state.passes
        return self.at_best or bool(self.state.stop[0]) or done >= most

    def allow(self, share: float) -> None:
        """Let the search use this share of its passes."""
        if self._passes is not None:
            self.state.passes[1] = int(self._passes * share)

    def start(self) -> None:
        """Random layout at a loose length, separated; longer a few times, else the shelves stay."""
        length = float((self.model.worth * self.demand).sum()) / self.width / self.how.start_density
        length = max(length, float((self.model.cut_box[:, :, 2] - self.model.cut_box[:, :, 0]).max()))
        while length < self.length and not self.ended:
            self._bound(length)
            self._scatter()
            if self._separate(self.how.start_patience, 2) <= 0.0:
                self._keep()
                return
            length *= 1.1

    def explore(self) -> None:
        """Shrink and separate until stopped; failures go to a pool, from which they are kicked.

        Where kicks are long in vain the search begins anew at the same length, for failures of one pool come to be
        much alike. Called again it goes on where it was, pool and all.
        """
        while not self.ended:
            if not self._try():
                continue
            overlap = self._separate(self.how.patience, self.how.strikes)
            if overlap <= 0.0:
                self._keep()
            else:
                self._add_failure(overlap)

    def _try(self) -> bool:
        """Make the next trial layout; whether it is worth separating."""
        if self._tried == self._fresh_after:
            self._tried = 0
            if self._aside is None:
                self._aside = self._pool, self._kicks
                self._pool, self._kicks = [], deque(maxlen=self.how.last_kicks)
            else:
                (self._pool, self._kicks), self._aside = self._aside, None
        if self._pool:
            self._tried += 1
            return self._kick()
        if self._aside is None:
            self._shrink_to(self.length * (1.0 - self._shrink))
        else:
            self._bound(self._target)
            self._scatter()
        return True

    def _add_failure(self, overlap: float) -> None:
        """Add the present layout to the pool, unless one like it is there; go by smaller steps after some failures."""
        failure = snapshot(self.state)
        if any(alike(self.model, failure, known) for _, known in self._pool):
            return
        self._pool.append((overlap, failure))
        self._pool.sort(key=lambda entry: entry[0])
        del self._pool[self.how.pool:]
        self._failed += 1
        if self._failed == self.how.failures:
            self._shrink = max(self.how.shrink_least, self._shrink / 2.0)

    def _kick(self) -> bool:
        """Take a good failure, the better the likelier, and exchange two large pieces; whether that is worth going on.

        It is not if the failure comes back at once, or if more overlap is left after a few passes than other kicks
        leave. What is left then tells much of what will be left at last, so that most of the time goes to few kicks
        (a race: Maron & Moore 1994, "Hoeffding races"; from memory).
        """
        pick = min(int(abs(self.rng.normal()) * 0.25 * len(self._pool)), len(self._pool) - 1)
        failure = self._pool[pick][1]
        self._bound(self._target)
        restore(self.state, failure)
        if self.how.exchanges_large:
            self._exchange_large()
        overlap = self._separate(self.how.patience, self.how.strikes, self.how.look_after)
        if overlap <= 0.0:
            return True
        if alike(self.model, snapshot(self.state), failure):
            return False
        self._kicks.append(overlap)
        return len(self._kicks) < self.how.least_kicks or overlap <= float(np.quantile(self._kicks, self.how.likely))

    def compress(self, share_left: Callable[[], float] | None) -> None:
        """Close the last gaps by ever smaller shrinks.

        `share_left` tells the share of the time left, from 1 to 0; None counts passes.
        """
        first = self.state.passes[0]
        while not self.ended:
            done, most = self.state.passes
            left = 1.0 - (done - first) / max(1, most - first) if share_left is None else max(0.0, share_left())
            shrink = self.how.compress_to * (self.how.compress_from / self.how.compress_to) ** left
            restore(self.state, self.best)
            self._shrink_to(self.length * (1.0 - shrink))
            if self._separate(self.how.patience, self.how.strikes) <= 0.0:
                self._keep()

    def adopt(self, kept: Snapshot, length: float) -> None:
        """Go on from another worker's layout."""
        self.best, self.length = kept, length
        self._forget()

    def _bound(self, length: float) -> None:
        self._target = length
        self.model = with_length(self.model, self.width, length)

    def _separate(self, patience: int, strikes: int, most: int = UNLIMITED) -> float:
        how = self.how
        seen = self.rasters.step > 0.0
        wide, near = (how.headings_seen, how.near_seen) if seen else (how.wide_samples, how.near_samples)
        return separate(self.model, self.rasters, self.state, NO_LIMIT, 0.0, wide, near, patience, strikes, most)

    def _keep(self) -> None:
        self.best = snapshot(self.state)
        self.length = used_length(self.model, self.best)
        self._forget()

    def _forget(self) -> None:
        """Failures and kicks are of one length."""
        self._pool, self._kicks = [], deque(maxlen=self.how.last_kicks)
        self._aside = None
        self._tried = self._failed = 0

    def _scatter(self) -> None:
        kinds = np.repeat(np.arange(len(self.demand)), self.demand)
        angle = np.empty(len(kinds), np.int64)
        for i, k in enumerate(kinds):
            angle[i] = self.rng.choice(angles_of(self.model, k))
        low, high = self.model.bounds[kinds, angle, :2].T, self.model.bounds[kinds, angle, 2:].T
        x, y = low + self.rng.random((2, len(kinds))) * (high - low)
        restore(self.state, Snapshot(kinds, angle, x, y))

    def _shrink_to(self, length: float) -> None:
        """Set a new length; what lies right of a random line moves left by the difference."""
        restore(self.state, self.best)
        length = max(length, self.shortest)
        self._bound(length)
        n = self.state.n[0]
        line = self.rng.random() * self.length
        box = self.model.form_box[self.state.kind[:n], self.state.angle[:n]]
        centre = self.state.x[:n] + 0.5 * (box[:, 0] + box[:, 2])
        self.state.x[:n] -= np.where(centre > line, self.length - length, 0.0)
        self._pull_in()

    def _pull_in(self) -> None:
        n = self.state.n[0]
        b = self.model.bounds[self.state.kind[:n], self.state.angle[:n]]
        self.state.x[:n] = np.clip(self.state.x[:n], b[:, 0], np.maximum(b[:, 0], b[:, 2]))
        self.state.y[:n] = np.clip(self.state.y[:n], b[:, 1], np.maximum(b[:, 1], b[:, 3]))

    def _exchange_large(self) -> None:
        """Exchange two large pieces of different kinds, so that the search leaves its basin."""
        n = self.state.n[0]
        area = self.model.worth[self.state.kind[:n]]
        order = np.argsort(-area, kind="stable")
        share = np.cumsum(area[order]) / area.sum()
        large = order[: max(2, int(np.searchsorted(share, 0.75)) + 1)]
        i = int(self.rng.choice(large))
        others = [j for j in large if self.state.kind[j] != self.state.kind[i]]
        j = int(self.rng.choice(others)) if others else int(self.rng.choice(large))
        state, box = self.state, self.model.form_box
        ci = np.array((state.x[i], state.y[i])) + box[state.kind[i], state.angle[i]].reshape(2, 2).mean(axis=0)
        cj = np.array((state.x[j], state.y[j])) + box[state.kind[j], state.angle[j]].reshape(2, 2).mean(axis=0)
        for p, centre in ((i, cj), (j, ci)):
            k = state.kind[p]
            state.angle[p] = self.rng.choice(angles_of(self.model, k))
            state.x[p], state.y[p] = centre - box[k, state.angle[p]].reshape(2, 2).mean(axis=0)
        self._pull_in()
