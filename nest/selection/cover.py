"""The least cost of containers that could hold a given amount at all: a bound, whatever the layouts."""

from collections.abc import Sequence
from math import ceil, floor

from ortools.sat.python import cp_model

EFFORT = 2.0
"""Deterministic time that CP-SAT may take."""


def least_cost_of_cover(
    costs: Sequence[int], rooms: Sequence[float], needed: float, sizes: Sequence[float] = (), least: float = 0.0
) -> int:
    """A proved lower bound on the cost of any containers whose rooms add up to `needed`; that of all if none do.

    With `sizes`, these must add up to `least` as well.

    A knapsack cover, solved with CP-SAT; where it is not solved to the end the solver's bound holds still. Rooms are
    rounded up and the need down, so that rounding never makes the bound too high.
    """
    model = cp_model.CpModel()
    opened = [model.new_bool_var(f"open {i}") for i in range(len(costs))]
    room = [ceil(max(0.0, one)) for one in rooms]
    if sum(room) < floor(needed):
        return sum(costs)
    model.add(sum(size * var for size, var in zip(room, opened, strict=True)) >= floor(needed))
    if least > 0.0:
        model.add(sum(ceil(size) * var for size, var in zip(sizes, opened, strict=True)) >= floor(least))
    model.minimize(sum(cost * var for cost, var in zip(costs, opened, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False  # the signal is the caller's
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = EFFORT
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return 0
    return max(0, ceil(solver.best_objective_bound - 1e-6))
