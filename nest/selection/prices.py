"""What each sort of goods is worth where containers of different kinds hold them: the duals of a linear programme.

A container holds a mixture of sorts, but not every part of it serves every sort. Which mixtures it holds follows from
the room that each set of sorts has together: what is placed of the sorts in a set is no more than that (a polymatroid:
Edmonds 1970, Submodular functions, matroids, and certain polyhedra; from memory). The least cost of containers, opened
by shares, that hold a demand is a linear programme; the price of a sort is what the last unit of it costs there (as in
Gilmore & Gomory 1961, A linear programming approach to the cutting-stock problem, doi:10.1287/opre.9.6.849). A sort
that finds room wherever others are cut comes free; one that alone needs a scarce part carries the whole cost.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from ortools.linear_solver import pywraplp

MISSING_FACTOR = 10.0
"""A unit that finds no container costs this many times the dearest room there is: never cheaper than opening one."""

MOST_SORTS = 5
"""Up to this many sorts every set of them is looked at; of more, each alone and the chain from the least room up."""

SortSet = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shared:
    """How containers are shared out.

    prices : cost of the last unit of each sort, in the unit of the costs.
    opened : share of each container that is opened, 0..1.
    """

    prices: Mapping[str, float]
    opened: tuple[float, ...]


def sets_of(sorts: Sequence[str], room: Mapping[str, float]) -> list[SortSet]:
    """The sets of sorts whose room is asked for, names in the order of `sorts`."""
    if len(sorts) <= MOST_SORTS:
        return [some for n in range(1, len(sorts) + 1) for some in combinations(sorts, n)]
    chain = sorted(sorts, key=lambda sort: (room[sort], sort))
    nested = [tuple(sort for sort in sorts if sort in chain[:n]) for n in range(2, len(sorts) + 1)]
    return [(sort,) for sort in sorts] + nested


def shared_out(costs: Sequence[float], rooms: Sequence[Mapping[SortSet, float]], demand: Mapping[str, float]) -> Shared:
    """The least cost of containers, opened by shares, that hold the demand.

    Parameters
    ----------
    costs : of each container
    rooms : for each container and set of sorts, how much of those sorts it holds at most, together
    demand : of each sort, in the unit of the rooms
    """
    solver = pywraplp.Solver.CreateSolver("GLOP")
    dearest = max(
        (cost / room[some] for cost, room in zip(costs, rooms, strict=True) for some in room if room[some] > 0.0),
        default=1.0,
    )
    met = {sort: solver.Constraint(amount, solver.infinity()) for sort, amount in demand.items()}
    objective = solver.Objective()
    for constraint in met.values():
        missing = solver.NumVar(0.0, solver.infinity(), "")
        constraint.SetCoefficient(missing, 1.0)
        objective.SetCoefficient(missing, MISSING_FACTOR * dearest)
    opened = []
    for cost, room in zip(costs, rooms, strict=True):
        share = solver.NumVar(0.0, 1.0, "")
        objective.SetCoefficient(share, float(cost))
        opened.append(share)
        placed = {sort: solver.NumVar(0.0, solver.infinity(), "") for sort in demand}
        for sort, amount in placed.items():
            met[sort].SetCoefficient(amount, 1.0)
        for some, most in room.items():
            together = solver.Constraint(-solver.infinity(), 0.0)
            together.SetCoefficient(share, -most)
            for sort in some:
                if sort in placed:
                    together.SetCoefficient(placed[sort], 1.0)
    objective.SetMinimization()
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        raise AssertionError("leaving everything out is always feasible, and costs are not negative")
    return Shared(
        {sort: max(0.0, constraint.dual_value()) for sort, constraint in met.items()},
        tuple(share.solution_value() for share in opened),
    )
