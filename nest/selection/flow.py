"""When each of several passages is at which station: a flow shop with breaks, lags and like machines side by side.

Knows no shoes: whole minutes only. Work is counted in working minutes, in which breaks and nights have no length, so a
task that meets a break stops and goes on after it. Lags run by the clock. Solved with CP-SAT, one aim after the other,
from the greedy passage of `nest.selection.greedy_flow`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import ceil

from ortools.sat.python import cp_model

from nest.selection.greedy_flow import greedy_starts
from nest.selection.passages import Passage, Task, WorkingTime

EFFORT = 4.0
"""Deterministic time that CP-SAT may take for one aim."""


@dataclass(frozen=True, slots=True)
class Timing:
    """When each task of each passage begins, in working minutes.

    end : working minute at which the last task ends; least_end : proved, no timing ends earlier.
    """

    starts: tuple[tuple[int, ...], ...]
    end: int
    least_end: int

    @property
    def proved(self) -> bool:
        """Whether it is proved that nothing ends earlier."""
        return self.end <= self.least_end


def timed(
    passages: Sequence[Passage], machines: Sequence[int], working: WorkingTime, *, one_order: bool = False,
    effort: float = EFFORT,
) -> Timing | None:
    """Times of all tasks: the last one ends as early as can be; then all end early, the first passages before others.

    Parameters
    ----------
    machines : of each station, how many tasks it works at side by side.
    one_order : no passage overtakes another: they begin at every station in the same order.
    effort : deterministic time of CP-SAT for each of the two aims.

    Returns
    -------
    Timing or None
        None if none was found in the working time there is.
    """
    if not passages:
        return Timing((), 0, 0)
    greedy = greedy_starts(passages, machines, working)
    # Nothing need end later than it does; every stretch less is a choice less.
    last = working.minutes if greedy is None else _end(passages, greedy)
    model = cp_model.CpModel()
    starts = [
        [model.new_int_var(one.release, max(one.release, last - task.minutes), f"start {i} {k}")
         for k, task in enumerate(one.tasks)] for i, one in enumerate(passages)
    ]
    end = model.new_int_var(0, last, "end")
    for one, mine in zip(passages, starts, strict=True):
        _in_sequence(model, one, mine, working, last)
        model.add(end >= mine[-1] + one.tasks[-1].minutes)
    _at_stations(model, passages, starts, machines, last)
    _like_in_turn(model, passages, starts)
    if one_order:
        _in_one_order(model, passages, starts)
    least = least_end(passages, machines, working)
    if least > last:
        return None
    model.add(end >= least)
    return _solved(model, passages, starts, end, greedy, least, effort)


def _solved(
    model: cp_model.CpModel, passages: Sequence[Passage], starts: Sequence[Sequence[cp_model.IntVar]],
    end: cp_model.IntVar, greedy: Sequence[Sequence[int]] | None, least: int, effort: float,
) -> Timing | None:
    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False  # the signal is the caller's
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    found = greedy
    # A passage that stands earlier counts more, and all tasks a little, so that none waits for nothing.
    count = len(passages)
    ends = sum((2 * count - i) * len(mine) * mine[-1] + sum(mine) for i, mine in enumerate(starts))
    for aim in (end, ends):
        if found is not None:
            model.clear_hints()  # type: ignore[no-untyped-call]
            for mine, times in zip(starts, found, strict=True):
                for var, time in zip(mine, times, strict=True):
                    model.add_hint(var, time)
        model.minimize(aim)
        status = solver.solve(model)
        if aim is end:
            if status == cp_model.INFEASIBLE:
                return None
            least = max(least, ceil(solver.best_objective_bound - 1e-6))
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            found = [[solver.value(var) for var in mine] for mine in starts]
        if found is None:
            return None
        model.add(end <= _end(passages, found))
    assert found is not None
    return Timing(tuple(map(tuple, found)), _end(passages, found), least)


def _end(passages: Sequence[Passage], starts: Sequence[Sequence[int]]) -> int:
    return max(mine[-1] + one.tasks[-1].minutes for one, mine in zip(passages, starts, strict=True))


def least_end(passages: Sequence[Passage], machines: Sequence[int], working: WorkingTime) -> int:
    """A working minute before which no timing ends.

    A station begins no earlier than its first task can, and works for all of its tasks. What is last there still has
    the rest of its way before it. Lags count, spans do not. After Taillard (1993), EJOR 64:278-285, who has it without
    lags.
    """
    best = max(_through(one, 0, one.release, working)[-1] for one in passages)
    for station, count in enumerate(machines):
        begins, work, at = [], 0, []
        for one in passages:
            for k, task in enumerate(one.tasks):
                if task.station == station:
                    begins.append(_through(one, 0, one.release, working)[k] - task.minutes)
                    work += task.minutes
                    at.append((one, k))
        if begins:
            done = min(begins) + ceil(work / count)
            best = max(best, min(_through(one, k + 1, done, working)[-1] for one, k in at))
    return best


def _through(one: Passage, first: int, ready: int, working: WorkingTime) -> list[int]:
    """When each task from `first` on ends if nothing else is there, and `ready` itself where there is none."""
    ends = [ready]
    for k in range(first, len(one.tasks)):
        task = one.tasks[k]
        start = ends[-1]
        if k and task.least_lag and 0 < start <= working.minutes:
            start = working.first(working.end(start) + task.least_lag)
        ends.append(start + task.minutes)
    return ends[1:] or ends


def _in_sequence(
    model: cp_model.CpModel, one: Passage, mine: Sequence[cp_model.IntVar], working: WorkingTime, last: int
) -> None:
    """Each task follows the one before, with its lags by the clock."""
    for k in range(1, len(one.tasks)):
        before, task = one.tasks[k - 1], one.tasks[k]
        model.add(mine[k] >= mine[k - 1] + before.minutes)
        if task.least_lag:
            ended = _clock(model, mine[k - 1] + before.minutes, working, last, ending=True)
            model.add(_clock(model, mine[k], working, last, ending=False) >= ended + task.least_lag)
        if task.most_span is not None:
            begun = _clock(model, mine[k - 1], working, last, ending=False)
            model.add(_clock(model, mine[k] + task.minutes, working, last, ending=True) <= begun + task.most_span)


def _clock(
    model: cp_model.CpModel, minute: cp_model.LinearExprT, working: WorkingTime, last: int, *, ending: bool
) -> cp_model.LinearExprT:
    """The time by the clock of a working minute: in exactly one stretch, moved by what lies before it."""
    parts = list(working.offsets(last, ending))
    lies = [model.new_bool_var("") for _ in parts]
    model.add_exactly_one(lies)
    model.add(minute >= sum(first * var for (first, _, _), var in zip(parts, lies, strict=True)))
    model.add(minute <= sum(final * var for (_, final, _), var in zip(parts, lies, strict=True)))
    return sum([minute, *(more * var for (_, _, more), var in zip(parts, lies, strict=True))])


def _at_stations(
    model: cp_model.CpModel, passages: Sequence[Passage], starts: Sequence[Sequence[cp_model.IntVar]],
    machines: Sequence[int], last: int,
) -> None:
    """No station works at more than it has machines for."""
    for station, count in enumerate(machines):
        intervals = [
            model.new_fixed_size_interval_var(var, task.minutes, "")
            for one, mine in zip(passages, starts, strict=True) for task, var in zip(one.tasks, mine, strict=True)
            if task.station == station
        ]
        if count == 1:
            model.add_no_overlap(intervals)
        elif len(intervals) > count:
            model.add_cumulative(intervals, [1] * len(intervals), count)


def _like_in_turn(
    model: cp_model.CpModel, passages: Sequence[Passage], starts: Sequence[Sequence[cp_model.IntVar]]
) -> None:
    """Passages of like tasks begin everywhere in the order of their release, which costs nothing.

    Give the i-th of them the i-th beginning at each station: no machine sees a difference, and every task still follows
    the one before it, for lags do not cross.
    """
    last: dict[tuple[Task, ...], int] = {}
    for i in sorted(range(len(passages)), key=lambda i: passages[i].release):
        before = last.get(passages[i].tasks)
        if before is not None:
            for earlier, later in zip(starts[before], starts[i], strict=True):
                model.add(earlier <= later)
        last[passages[i].tasks] = i


def _in_one_order(
    model: cp_model.CpModel, passages: Sequence[Passage], starts: Sequence[Sequence[cp_model.IntVar]]
) -> None:
    at = [{task.station: var for task, var in zip(one.tasks, mine, strict=True)}
          for one, mine in zip(passages, starts, strict=True)]
    for i, j in combinations(range(len(passages)), 2):
        first = model.new_bool_var("")
        for station in at[i].keys() & at[j].keys():
            model.add(at[i][station] <= at[j][station]).only_enforce_if(first)
            model.add(at[j][station] <= at[i][station]).only_enforce_if(~first)
