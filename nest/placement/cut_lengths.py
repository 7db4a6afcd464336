"""How many equal stock lengths are needed to cut a list of wanted lengths, and by which patterns.

The cutting-stock problem of Gilmore & Gomory (1961), A linear programming approach to the cutting-stock problem,
doi:10.1287/opre.9.6.849. Where the patterns that have room for no further piece are few, CP-SAT chooses among all of
them and proves the least number. Otherwise patterns are made as the linear programme asks for them (GLOP, priced by a
knapsack), its value rounded up is the bound, and CP-SAT chooses among the patterns made.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

MOST_PATTERNS = 5000
EFFORT = 30.0
"""Deterministic time that CP-SAT may take."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """Pieces of each length in one stock length, and how many stock lengths are cut so."""

    counts: tuple[int, ...]
    times: int


@dataclass(frozen=True, slots=True)
class Cuts:
    """Patterns that give at least what is wanted; `bound` is a proved least number of stock lengths."""

    patterns: tuple[Pattern, ...]
    bound: int

    @property
    def stocks(self) -> int:
        """Stock lengths used."""
        return sum(pattern.times for pattern in self.patterns)

    @property
    def proved(self) -> bool:
        """Whether no fewer will do."""
        return self.stocks <= self.bound


def fewest_stocks(stock: int, lengths: Sequence[int], wanted: Sequence[int]) -> Cuts:
    """Cut `wanted[i]` pieces of `lengths[i]` from the fewest stock lengths; whole numbers of one unit.

    Raises
    ------
    ValueError
        If a length is not above zero or longer than the stock, a number is negative, or the lists differ in length.
    """
    if len(lengths) != len(wanted):
        raise ValueError(f"expected one number for each length, found {len(lengths)} and {len(wanted)}")
    if any(not 0 < length <= stock for length in lengths):
        raise ValueError(f"expected lengths above 0 and up to {stock}, found {sorted(lengths)}")
    if min(wanted, default=0) < 0:
        raise ValueError("expected numbers of 0 or more, found one below")
    kinds = [i for i, number in enumerate(wanted) if number]
    if not kinds:
        return Cuts((), 0)
    of_kind, number = [lengths[i] for i in kinds], [wanted[i] for i in kinds]
    patterns, bound = _all_patterns(stock, of_kind), 0
    if patterns is None:
        patterns, bound = _made_patterns(stock, of_kind, number)
    times, least = _chosen(patterns, number, bound)
    found = []
    for pattern, often in zip(patterns, times, strict=True):
        if often:
            counts = [0] * len(lengths)
            for i, count in zip(kinds, pattern, strict=True):
                counts[i] = count
            found.append(Pattern(tuple(counts), often))
    return Cuts(tuple(found), max(bound, least))


def _all_patterns(stock: int, lengths: Sequence[int]) -> list[tuple[int, ...]] | None:
    """Every pattern without room for one more piece; None if there are too many."""
    order = sorted(range(len(lengths)), key=lambda i: -lengths[i])
    shortest = min(lengths)
    found: list[tuple[int, ...]] = []
    looked = 0

    def grow(at: int, room: int, counts: list[int]) -> Iterator[tuple[int, ...]]:
        nonlocal looked
        looked += 1
        if at == len(order):
            if room < shortest:
                yield tuple(counts)
            return
        for count in range(room // lengths[order[at]], -1, -1):
            counts[order[at]] = count
            yield from grow(at + 1, room - count * lengths[order[at]], counts)
        counts[order[at]] = 0

    for pattern in grow(0, stock, [0] * len(lengths)):
        found.append(pattern)
        if len(found) > MOST_PATTERNS or looked > 20 * MOST_PATTERNS:
            return None
    return found


def _made_patterns(stock: int, lengths: Sequence[int], wanted: Sequence[int]) -> tuple[list[tuple[int, ...]], int]:
    """Patterns by column generation, and the value of the linear programme, a bound, rounded up."""
    count = len(lengths)
    solver = pywraplp.Solver.CreateSolver("GLOP")
    rows = [solver.Constraint(float(number), solver.infinity()) for number in wanted]
    aim = solver.Objective()
    aim.SetMinimization()
    patterns: list[tuple[int, ...]] = []

    def add(pattern: tuple[int, ...]) -> None:
        variable = solver.NumVar(0.0, solver.infinity(), "")
        aim.SetCoefficient(variable, 1.0)
        for row, pieces in zip(rows, pattern, strict=True):
            row.SetCoefficient(variable, float(pieces))
        patterns.append(pattern)

    for i in range(count):
        add(tuple(stock // lengths[i] if k == i else 0 for k in range(count)))
    bound = 0.0
    while True:
        if solver.Solve() != pywraplp.Solver.OPTIMAL:
            raise AssertionError("every length has a pattern: the programme has a solution")
        prices = np.array([max(row.dual_value(), 0.0) for row in rows])
        pattern, worth = _dearest(stock, lengths, prices)
        # The prices ÷ worth are a feasible dual solution whatever worth is (Farley 1990): a bound at every round.
        bound = max(bound, float(prices @ np.array(wanted)) / max(worth, 1.0))
        if worth <= 1.0 + 1e-9 or pattern in patterns:
            return patterns, ceil(bound - 1e-6)
        add(pattern)


def _dearest(stock: int, lengths: Sequence[int], prices: np.ndarray) -> tuple[tuple[int, ...], float]:
    """The pattern whose pieces are worth most: an unbounded knapsack by dynamic programming over the length."""
    best, last = np.zeros(stock + 1), np.full(stock + 1, -1)
    for room in range(min(lengths), stock + 1):
        best[room] = best[room - 1]
        for i, length in enumerate(lengths):
            if length <= room and best[room - length] + prices[i] > best[room] + 1e-12:
                best[room], last[room] = best[room - length] + prices[i], i
    counts, room = [0] * len(lengths), stock
    while room >= min(lengths):
        if last[room] < 0:
            room -= 1
            continue
        counts[last[room]] += 1
        room -= lengths[last[room]]
    return tuple(counts), float(best[stock])


def _chosen(patterns: Sequence[tuple[int, ...]], wanted: Sequence[int], bound: int) -> tuple[list[int], int]:
    """How often each pattern is cut, and a least number as far as it is proved (0 if not all are here)."""
    model = cp_model.CpModel()
    most = [
        max(-(-number // pieces) for number, pieces in zip(wanted, pattern, strict=True) if pieces)
        for pattern in patterns
    ]
    times = [model.new_int_var(0, limit, "") for limit in most]
    for i, number in enumerate(wanted):
        model.add(sum(pattern[i] * one for pattern, one in zip(patterns, times, strict=True)) >= number)
    model.add(sum(times) >= bound)
    model.minimize(sum(times))
    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False  # the signal is the caller's
    solver.parameters.num_workers = 8
    solver.parameters.interleave_search = True
    solver.parameters.random_seed = 1
    solver.parameters.linearization_level = 2
    solver.parameters.max_deterministic_time = EFFORT
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise AssertionError("cutting every length on its own is a solution")
    return [solver.value(one) for one in times], 0 if bound else ceil(solver.best_objective_bound - 1e-6)
