"""Choose which containers to open, which layout to use in each, and what every unit in them serves as.

Knows no money and no shoes: a container has a cost and a size, a candidate is one layout of one container,
a unit is what is placed and taken as one and may serve as one of several kinds (its own, or any that fits in
its place). Solved with CP-SAT, one aim after the other; every aim holds while the next is sought.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

from ortools.sat.python import cp_model

EFFORT = 4.0
"""Deterministic time that CP-SAT may take for one aim."""

LEFT_OUT = -1

Amount = cp_model.LinearExprT
"""A sum of variables, or a number where nothing varies."""

Takes = dict[tuple[tuple[int, ...], int], cp_model.IntVar]
"""How many units of each group of like ones serve as each kind."""


@dataclass(frozen=True, slots=True)
class Container:
    """Something to open, with a whole-number cost and size."""

    cost: int
    size: int


@dataclass(frozen=True, slots=True)
class OfferedLayout:
    """A layout of container `container`: for each unit the kinds it may serve as, its own first."""

    container: int
    units: tuple[tuple[int, ...], ...]
    loss: int = 0
    """What is expected to be lost of it, whole numbers, beside the cost of its container."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What to use.

    chosen : indices of the candidates, at most one of a container.
    serves : for each of them the kind every unit serves as, or LEFT_OUT; of like units the first are used.
    short : units missing of each kind.
    least_cost : proved lower bound on the cost of any choice among the candidates that misses as little, and on nothing
        else than them; the cost itself where the solver came to the end.
    """

    chosen: tuple[int, ...]
    serves: tuple[tuple[int, ...], ...]
    short: tuple[int, ...]
    least_cost: int = 0


def choose_layouts(
    containers: Sequence[Container], candidates: Sequence[OfferedLayout], demand: Sequence[int], sizes: Sequence[int],
    over_cost: Sequence[int] | None = None, known: Choice | None = None,
    ranks: Sequence[Mapping[int, int]] | None = None,
) -> Choice:
    """Meet a demand from candidate layouts.

    The aims, in this order: least size of units missing; least cost of opened containers, plus the cost of
    units that are over and what is expected to be lost; fewest opened; least size of those opened (the largest stay
    whole); most size of units left out in one container (one large remainder, not many small ones); fewest units
    that serve as another kind.

    Parameters
    ----------
    demand, sizes : for each kind, units wanted and the size of one
    over_cost : for each kind, cost of a unit that is placed but left out, whole numbers; 0 by default
        (such a unit is simply not taken).
    known : a choice among the same candidates that is to begin with, so that what is found is no worse.
    ranks : for each kind the units wanted by rank, `demand` in all; rank 0 is the most urgent. The first aim is then
        the least size missing of the most urgent rank, then of the next, and so on.

    Raises
    ------
    ValueError
        If a candidate names a container that is not given.
    """
    strays = {candidate.container for candidate in candidates} - set(range(len(containers)))
    if strays:
        raise ValueError(f"expected containers below {len(containers)}, found {sorted(strays)}")
    over = over_cost or [0] * len(demand)
    groups = [Counter(candidate.units) for candidate in candidates]
    model = cp_model.CpModel()
    used = [model.new_bool_var(f"use {c}") for c in range(len(candidates))]
    opened = []
    for index in range(len(containers)):
        ours = [used[c] for c, candidate in enumerate(candidates) if candidate.container == index]
        model.add_at_most_one(ours)
        opened.append(sum(ours))
    supply = {
        options: sum(group[options] * used[c] for c, group in enumerate(groups) if group[options])
        for options in dict.fromkeys(options for group in groups for options in group)
    }
    takes, short = _served(model, supply, demand)
    unused = [
        over[options[0]] * (supply[options] - sum(takes[options, kind] for kind in options)) for options in supply
    ]
    missing = sum(size * var for size, var in zip(sizes, short, strict=True))
    urgent, parts = ([], []) if ranks is None else _missing_by_rank(model, short, sizes, ranks, known)
    if known is not None:
        _begin_with(model, known, candidates, used, takes, short)
    cost = sum(box.cost * var for box, var in zip(containers, opened, strict=True)) + sum(unused)
    losing = any(candidate.loss for candidate in candidates)
    solver, bounds = _solve_in_turn(model, [
        *urgent,
        missing,
        cost + sum(candidate.loss * var for candidate, var in zip(candidates, used, strict=True)),
        sum(used),
        sum(box.size * var for box, var in zip(containers, opened, strict=True)),
    ], [*used, *takes.values(), *short, *parts], sharing=len(urgent))
    chosen = tuple(c for c in range(len(candidates)) if solver.value(used[c]))
    most_short = None if ranks is None else [solver.value(var) for var in short]
    least_missing = sum(size * solver.value(var) for size, var in zip(sizes, short, strict=True))
    dealt = _deal(chosen, candidates, demand, sizes, least_missing, most_short)
    # what is lost is no cost of hides: the bound on those alone may be as low as nothing
    return replace(dealt, least_cost=0 if losing else bounds[len(urgent) + 1])


def _missing_by_rank(
    model: cp_model.CpModel, short: Sequence[cp_model.IntVar], sizes: Sequence[int], ranks: Sequence[Mapping[int, int]],
    known: Choice | None,
) -> tuple[list[Amount], list[cp_model.IntVar]]:
    """Size missing of each rank, the most urgent first, and the variables by which what is missing of a kind is shared
    out among its ranks."""
    missing: dict[int, list[Amount]] = {rank: [] for rank in sorted({rank for mine in ranks for rank in mine})}
    variables = []
    for kind, mine in enumerate(ranks):
        parts = {rank: model.new_int_var(0, number, f"short {kind} {rank}") for rank, number in mine.items()}
        model.add(sum(parts.values()) == short[kind])
        left = known.short[kind] if known else 0
        for rank, var in sorted(parts.items(), reverse=True):
            missing[rank].append(sizes[kind] * var)
            variables.append(var)
            if known is not None:
                model.add_hint(var, min(left, mine[rank]))
                left -= min(left, mine[rank])
    return [sum(terms) for terms in missing.values()], variables


def _begin_with(
    model: cp_model.CpModel, known: Choice, candidates: Sequence[OfferedLayout], used: Sequence[cp_model.IntVar],
    takes: Takes, short: Sequence[cp_model.IntVar],
) -> None:
    """Hint at a whole solution, which is the first the solver finds."""
    served = Counter(
        (options, kind) for c, serves in zip(known.chosen, known.serves, strict=True)
        for options, kind in zip(candidates[c].units, serves, strict=True) if kind != LEFT_OUT
    )
    for c, var in enumerate(used):
        model.add_hint(var, int(c in known.chosen))
    for key, var in takes.items():
        model.add_hint(var, served[key])
    for var, missing in zip(short, known.short, strict=True):
        model.add_hint(var, missing)


def _served(
    model: cp_model.CpModel, supply: Mapping[tuple[int, ...], Amount], demand: Sequence[int]
) -> tuple[Takes, list[cp_model.IntVar]]:
    """Variables: how many units of each group of like ones serve as each kind, and how many are missing."""
    takes = {
        (options, kind): model.new_int_var(0, demand[kind], f"{options} as {kind}")
        for options in supply for kind in options
    }
    for options, number in supply.items():
        model.add(sum(takes[options, kind] for kind in options) <= number)
    short = []
    for kind, wanted in enumerate(demand):
        missing = model.new_int_var(0, wanted, f"short {kind}")
        model.add(sum(var for (_, serves), var in takes.items() if serves == kind) + missing == wanted)
        short.append(missing)
    return takes, short


def _deal(
    chosen: tuple[int, ...], candidates: Sequence[OfferedLayout], demand: Sequence[int], sizes: Sequence[int],
    least_missing: int, most_short: Sequence[int] | None = None,
) -> Choice:
    """Say what each unit of the chosen candidates serves as; no more of each kind is short than `most_short`."""
    groups = [Counter(candidates[c].units) for c in chosen]
    model = cp_model.CpModel()
    left = [
        {options: model.new_int_var(0, number, f"left {at} {options}") for options, number in group.items()}
        for at, group in enumerate(groups)
    ]
    supply = {
        options: sum(group[options] - left[at][options] for at, group in enumerate(groups) if group[options])
        for options in dict.fromkeys(options for group in groups for options in group)
    }
    takes, short = _served(model, supply, demand)
    for options, number in supply.items():
        model.add(sum(takes[options, kind] for kind in options) == number)
    model.add(sum(size * var for size, var in zip(sizes, short, strict=True)) <= least_missing)
    for var, most in zip(short, most_short or (), strict=most_short is not None):
        model.add(var <= most)
    amounts = [sum(sizes[options[0]] * var for options, var in mine.items()) for mine in left]
    remainder = _largest(model, amounts, sum(sizes[options[0]] for c in chosen for options in candidates[c].units))
    variables = [*takes.values(), *short, *(var for mine in left for var in mine.values())]
    recast = sum(var for (options, kind), var in takes.items() if kind != options[0])
    solver, _ = _solve_in_turn(model, [-remainder, recast], variables)
    pools = {options: [kind for kind in options for _ in range(solver.value(takes[options, kind]))]
             for options in supply}
    serves = []
    for at, c in enumerate(chosen):
        keep = {options: groups[at][options] - solver.value(var) for options, var in left[at].items()}
        mine = []
        for options in candidates[c].units:
            keep[options] -= 1
            mine.append(pools[options].pop(0) if keep[options] >= 0 else LEFT_OUT)
        serves.append(tuple(mine))
    return Choice(chosen, tuple(serves), tuple(solver.value(var) for var in short))


def _largest(model: cp_model.CpModel, amounts: Sequence[Amount], most: int) -> cp_model.IntVar:
    """A variable that is at most the largest of `amounts`, each from 0 to `most`."""
    largest = model.new_int_var(0, most, "remainder")
    picks = [model.new_bool_var(f"remainder in {c}") for c in range(len(amounts))]
    if not picks:
        model.add(largest == 0)
        return largest
    model.add_exactly_one(picks)
    for amount, pick in zip(amounts, picks, strict=True):
        model.add(largest <= amount).only_enforce_if(pick)
    return largest


def _solve_in_turn(
    model: cp_model.CpModel, aims: Sequence[Amount], variables: Sequence[cp_model.IntVar], sharing: int = 0
) -> tuple[cp_model.CpSolver, list[int]]:
    """Minimise one aim after the other; the model is changed. Returns the solver and its lower bound of each aim.

    sharing : the first aims, this many, have the effort of one between them.
    """
    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False  # the signal is the caller's
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.linearization_level = 2  # covering a demand: the relaxation is what proves it
    bounds = []
    for at, aim in enumerate(aims):
        solver.parameters.max_deterministic_time = EFFORT / sharing if at < sharing else EFFORT
        if isinstance(aim, int):
            bounds.append(aim)
            continue
        model.minimize(aim)
        status = solver.solve(model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            raise AssertionError("leaving everything out is always feasible, and so is the last solution")
        bounds.append(ceil(solver.best_objective_bound - 1e-6))
        model.add(aim <= round(solver.objective_value))
        model.clear_hints()  # type: ignore[no-untyped-call]
        for var in variables:
            model.add_hint(var, solver.value(var))
    return solver, bounds
