"""Which items go into which lay, in which ratio, and how many plies each lay has.

Knows no money and no shoes: an item of each kind takes a length of every ply it is in; a lay costs a set-up, and every
ply the length of its items and a loss. Solved with CP-SAT, which proves the optimum or says how far off the proof is.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

EFFORT = 30.0
"""Deterministic time that CP-SAT may take for one number of lays."""


@dataclass(frozen=True, slots=True)
class LayLimits:
    """What a lay may be. Lengths are whole numbers.

    most_items : items in one ply; None for no limit.
    most_length : length of one ply with its loss; None for no limit.
    most_lays : lays tried at most.
    """

    most_plies: int
    most_items: int | None = None
    most_length: int | None = None
    most_lays: int = 6


@dataclass(frozen=True, slots=True)
class LayCosts:
    """What material takes: `lengths[k]` of an item of kind k in each ply, `ply_loss` of every ply, `setup` of a lay.

    plies_together : plies that count as one, such as 2 laid face to face: each takes its length and its loss.
    """

    lengths: tuple[int, ...]
    ply_loss: int = 0
    setup: int = 0
    plies_together: int = 1


@dataclass(frozen=True, slots=True)
class ChosenLay:
    """Items of each kind in one ply, how many times it is laid, and from which stretch each of its plies comes.

    `from_stretch[s]` plies come from stretch s; empty where stretches were not given.
    """

    items: tuple[int, ...]
    plies: int
    from_stretch: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class LayChoice:
    """The best lays found, what they cost, and a proved least cost; `cost == bound` is proved to be the least."""

    lays: tuple[ChosenLay, ...]
    cost: int
    bound: int

    @property
    def proved(self) -> bool:
        """Whether no lays within the limits cost less."""
        return self.cost <= self.bound


def choose_lays(
    demand: Sequence[int], limits: LayLimits, costs: LayCosts, *, over: Sequence[int] | None = None,
    stretches: Sequence[int] = (),
) -> LayChoice | None:
    """Meet a demand with the least length and set-up; None if the limits leave no way, or none was found.

    Cost = set-up × lays + Σ over lays of plies × plies_together × (length of its items + ply_loss).

    Parameters
    ----------
    demand : items wanted of each kind; an item counts once for each of a lay's plies.
    over : items of each kind that may be cut beyond it; none by default.
    stretches : lengths that plies are cut from, none longer than its stretch; without them there is enough of any.

    Raises
    ------
    ValueError
        If demand, lengths and over are not of one length, or a number is negative.
    """
    over = [0] * len(demand) if over is None else list(over)
    if not len(demand) == len(costs.lengths) == len(over):
        raise ValueError(f"expected one length and one surplus a kind, found {len(demand)}, {len(costs.lengths)} and "
                         f"{len(over)}")
    if min([*demand, *over, *costs.lengths, costs.ply_loss, costs.setup], default=0) < 0:
        raise ValueError("expected numbers of 0 or more, found one below")
    if not any(demand):
        return LayChoice((), 0, 0)
    return _Model(demand, over, limits, costs, stretches).solve()


class _Model:
    """Lays as slots in falling order of plies; an unused slot has no plies and no items."""

    def __init__(
        self, demand: Sequence[int], over: Sequence[int], limits: LayLimits, costs: LayCosts, stretches: Sequence[int]
    ):
        self.model = model = cp_model.CpModel()
        kinds, slots = range(len(demand)), range(limits.most_lays)
        most_items = sum(demand) + sum(over) if limits.most_items is None else limits.most_items
        ways = [min(most_items, demand[k] + over[k]) for k in kinds]
        self.plies = [model.new_int_var(0, limits.most_plies, f"plies {j}") for j in slots]
        self.items = [[model.new_int_var(0, ways[k], f"items {j} {k}") for k in kinds] for j in slots]
        used = [model.new_bool_var(f"used {j}") for j in slots]
        cut = [[model.new_int_var(0, demand[k] + over[k], f"cut {j} {k}") for k in kinds] for j in slots]
        for j in slots:
            model.add(self.plies[j] >= 1).only_enforce_if(used[j])
            model.add(self.plies[j] == 0).only_enforce_if(~used[j])
            for k in kinds:
                model.add_multiplication_equality(cut[j][k], self.items[j][k], self.plies[j])
                model.add(self.items[j][k] == 0).only_enforce_if(~used[j])
            in_ply = sum(self.items[j])
            model.add(in_ply <= most_items)
            model.add(in_ply >= 1).only_enforce_if(used[j])
            model.add(sum(cut[j]) <= most_items * self.plies[j])
            if limits.most_length is not None:
                model.add(self._length(j, costs) + costs.ply_loss <= limits.most_length)
            if j:
                model.add(self.plies[j] <= self.plies[j - 1])
                model.add_implication(used[j], used[j - 1])
        for k in kinds:
            total = sum(cut[j][k] for j in slots)
            model.add(total >= demand[k])
            model.add(total <= demand[k] + over[k])
        self.taken = self._from_stretches(slots, limits, costs, stretches, used) if stretches else []
        self.cost = costs.setup * sum(used) + costs.plies_together * sum(
            sum(length * cut[j][k] for k, length in enumerate(costs.lengths)) + costs.ply_loss * self.plies[j]
            for j in slots
        )
        model.minimize(self.cost)

    def _length(self, j: int, costs: LayCosts) -> cp_model.LinearExprT:
        return sum(length * one for length, one in zip(costs.lengths, self.items[j], strict=True))

    def _from_stretches(
        self, slots: range, limits: LayLimits, costs: LayCosts, stretches: Sequence[int],
        used: Sequence[cp_model.IntVar],
    ) -> list[list[cp_model.IntVar]]:
        """Variables: plies of each lay from each stretch, no stretch used beyond its length."""
        model, longest = self.model, max(stretches)
        most = limits.most_plies * costs.plies_together
        taken = [[model.new_int_var(0, most, f"from {j} {s}") for s in range(len(stretches))] for j in slots]
        for j in slots:
            model.add(sum(taken[j]) == costs.plies_together * self.plies[j])
        for s, length in enumerate(stretches):
            parts = []
            for j in slots:
                ply = model.new_int_var(0, longest, f"ply {j} {s}")
                model.add(ply == self._length(j, costs) + costs.ply_loss).only_enforce_if(used[j])
                part = model.new_int_var(0, length, f"part {j} {s}")
                model.add_multiplication_equality(part, ply, taken[j][s])
                parts.append(part)
            model.add(sum(parts) <= length)
        return taken

    def solve(self) -> LayChoice | None:
        solver = cp_model.CpSolver()
        solver.parameters.catch_sigint_signal = False  # the signal is the caller's
        solver.parameters.num_workers = 8  # the portfolio matters more than the cores: products need several strategies
        solver.parameters.random_seed = 1
        solver.parameters.max_deterministic_time = EFFORT
        solver.parameters.interleave_search = True  # the same result whatever else runs on the machine
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        lays = tuple(
            ChosenLay(
                tuple(solver.value(one) for one in items), solver.value(plies),
                tuple(solver.value(one) for one in self.taken[j]) if self.taken else (),
            )
            for j, (items, plies) in enumerate(zip(self.items, self.plies, strict=True)) if solver.value(plies)
        )
        bound = round(solver.objective_value if status == cp_model.OPTIMAL else solver.best_objective_bound)
        return LayChoice(lays, round(solver.objective_value), bound)
