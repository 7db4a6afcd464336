"""Cross: the best layout that the items of two layouts make up together.

No two items of one layout overlap, so that which items of both to keep, for most area less what overlap costs, is a
minimum cut between the two (optimised crossover: Aggarwal, Orlin & Tai 1997, doi:10.1287/opre.45.2.226; such choices
as cuts: Picard & Ratliff 1975, doi:10.1002/net.3230050405), found by OR-Tools' maximum flow. Shallow overlaps are
allowed at a price, for they can be parted afterwards.
"""

from collections.abc import Iterable
from heapq import heappop, heappush

import numpy as np
from ortools.graph.python.max_flow import SimpleMaxFlow

from geometry.compiled import compiled
from nest.placement._cost import Model, pair_depth
from nest.placement.state import Snapshot

DEEPEST = 0.06
"""Items that overlap by more of the mean width of a kind are not both kept (trial 070)."""

OVERLAP_COST = 1.0
"""Area an overlap costs, by its depth times the mean width of a kind (trial 071)."""

ALIKE, NEAR_BY, UNLIKE = 0.025, 0.1, 3
"""Layouts that have all items but one within ALIKE mean widths of a kind of each other's are one; what two make up is
tried if UNLIKE items or more lie further than NEAR_BY from those of all tried before."""

UNIT = 1e-6
"""Areas are counted in this share of the mean area of a kind."""


@compiled
def _meetings(
    model: Model, kind: np.ndarray, angle: np.ndarray, x: np.ndarray, y: np.ndarray, other_kind: np.ndarray,
    other_angle: np.ndarray, other_x: np.ndarray, other_y: np.ndarray,
) -> np.ndarray:
    """How deep every item of one layout lies in every item of another, (n, m) mm."""
    box = model.form_box
    depth = np.zeros((len(kind), len(other_kind)))
    for i in range(len(kind)):
        k, a = kind[i], angle[i]
        for j in range(len(other_kind)):
            c, b = other_kind[j], other_angle[j]
            dx, dy = other_x[j] - x[i], other_y[j] - y[i]
            if (box[k, a, 0] < dx + box[c, b, 2] and dx + box[c, b, 0] < box[k, a, 2]
                    and box[k, a, 1] < dy + box[c, b, 3] and dy + box[c, b, 1] < box[k, a, 3]):
                depth[i, j] = pair_depth(model, k, a, c, b, dx, dy)
    return depth


def crossed(model: Model, one: Snapshot, other: Snapshot) -> tuple[float, Snapshot] | None:
    """The best choice among the items of two layouts, each free of overlap, and what it is worth: its area less the
    cost of overlaps, mm². None if that is no more than either layout is worth by itself."""
    n, m = len(one.kind), len(other.kind)
    width, unit = float(model.size.mean()), UNIT * float(model.worth.mean())
    depth = _meetings(model, one.kind, one.angle, one.x, one.y, other.kind, other.angle, other.x, other.y)
    worth, other_worth = (np.rint(model.worth[kept.kind] / unit).astype(np.int64) for kept in (one, other))
    cost = np.rint(OVERLAP_COST * width * depth / unit).astype(np.int64)
    cost[depth > DEEPEST * width] = worth.sum() + other_worth.sum()
    # what is cut off the source, or off the sink, is left out; an arc that is cut is an overlap kept
    source, sink = n + m, n + m + 1
    flow = SimpleMaxFlow()
    flow.add_arcs_with_capacity(np.full(n, source), np.arange(n), worth)
    flow.add_arcs_with_capacity(np.arange(n, n + m), np.full(m, sink), other_worth)
    i, j = np.nonzero(cost)
    flow.add_arcs_with_capacity(i, n + j, cost[i, j])
    flow.solve(source, sink)
    if worth.sum() + other_worth.sum() - flow.optimal_flow() <= max(worth.sum(), other_worth.sum()):
        return None
    beside_source = np.zeros(n + m + 2, bool)
    beside_source[flow.get_source_side_min_cut()] = True
    mine, theirs = beside_source[:n], ~beside_source[n:n + m]
    made = Snapshot(*(np.concatenate((getattr(one, name)[mine], getattr(other, name)[theirs]))
                      for name in ("kind", "angle", "x", "y")))
    return float(model.worth[made.kind].sum() - unit * cost[np.ix_(mine, theirs)].sum()), made


class Crossings:
    """The best layouts found, and what any two of them make up together, the best first."""

    def __init__(self, model: Model, most: int):
        self.layouts: list[Snapshot] = []
        self._model, self._most = model, most
        self._made: list[tuple[float, int, Snapshot]] = []
        self._taken: list[Snapshot] = []
        self._count = 0

    def add(self, kept: Snapshot) -> None:
        """Cross a layout with all others. Of layouts alike the best one stays, and no more than `most` in all."""
        if len(kept.kind) == 0:
            return
        alike = [q for q, other in enumerate(self.layouts) if self._apart(kept, other, ALIKE) <= 1]
        if any(self._area(self.layouts[q]) >= self._area(kept) for q in alike):
            return
        self.layouts = [other for q, other in enumerate(self.layouts) if q not in alike]
        if len(self.layouts) == self._most:
            last = min(range(self._most), key=lambda q: self._area(self.layouts[q]))
            if self._area(self.layouts[last]) >= self._area(kept):
                return
            del self.layouts[last]
        for other in self.layouts:
            if (found := crossed(self._model, kept, other)) is not None:
                self._count += 1
                heappush(self._made, (-found[0], self._count, found[1]))
        self.layouts.append(kept)

    def add_best(self, layouts: Iterable[Snapshot], count: int) -> None:
        """Add the layouts of most area, at most `count`."""
        for kept in sorted(layouts, key=self._area, reverse=True)[:count]:
            self.add(kept)

    def take(self) -> Snapshot | None:
        """The best that two layouts make up and that is unlike all taken before; None if there is none left."""
        while self._made:
            made = heappop(self._made)[2]
            if not any(self._apart(made, other, NEAR_BY) < UNLIKE for other in self._taken):
                self._taken.append(made)
                return made
        return None

    def dealt(self, hands: int) -> list["Crossings"]:
        """The same layouts for each of several searches, what they make up dealt out in turn."""
        made, found = sorted(self._made, key=lambda entry: entry[:2]), []
        for part in range(hands):
            hand = Crossings(self._model, self._most)
            hand.layouts, hand._taken, hand._count = list(self.layouts), list(self._taken), self._count
            hand._made = made[part::hands]  # in order, so a heap
            found.append(hand)
        return found

    def _area(self, kept: Snapshot) -> float:
        return float(self._model.worth[kept.kind].sum())

    def _apart(self, one: Snapshot, other: Snapshot, share: float) -> int:
        """How many items lie where none of the other layout lies, to a share of the mean width of a kind."""
        apart = (one.x[:, None] - other.x) ** 2 + (one.y[:, None] - other.y) ** 2
        met = int((apart.min(axis=1, initial=np.inf) <= (share * self._model.size.mean()) ** 2).sum())
        return max(len(one.kind), len(other.kind)) - met
