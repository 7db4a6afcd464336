"""When each of several passages is at which station: a flow shop with breaks, lags and like machines side by side.

Knows no shoes: whole minutes only. Work is counted in working minutes, in which breaks and nights have no length, so a
task that meets a break stops and goes on after it. Lags run by the clock. Solved with CP-SAT, one aim after the other,
from a greedy passage in the order of NEH.

References
----------
M. Nawaz, E. E. Enscore, I. Ham (1983), A heuristic algorithm for the m-machine, n-job flow-shop sequencing problem,
Omega 11:91-95.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, combinations
from math import ceil

from ortools.sat.python import cp_model

EFFORT = 4.0
"""Deterministic time that CP-SAT may take for one aim."""

MOST_TRIED = 40
"""With more passages than this they begin in the order given, for NEH tries a number of orders that grows as n²."""


@dataclass(frozen=True, slots=True)
class Task:
    """Work at one station, working minutes of at least 1.

    least_lag : least minutes by the clock from the end of the task before to its start.
    most_span : most minutes by the clock from the start of the task before to its end.
    """

    station: int
    minutes: int
    least_lag: int = 0
    most_span: int | None = None


@dataclass(frozen=True, slots=True)
class Passage:
    """What passes the stations: its tasks in their order, the first not before the working minute `release`."""

    tasks: tuple[Task, ...]
    release: int = 0


@dataclass(frozen=True, slots=True)
class WorkingTime:
    """Stretches of work by the clock, (start, end) in minutes, in their order and apart."""

    stretches: tuple[tuple[int, int], ...]
    _before: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Working minutes before each stretch, and in all."""
        object.__setattr__(self, "_before", tuple(accumulate((b - a for a, b in self.stretches), initial=0)))

    @property
    def minutes(self) -> int:
        """Working minutes in all."""
        return self._before[-1]

    def start(self, minute: int) -> int:
        """The time by the clock at which work begins that begins with this working minute."""
        at = bisect_right(self._before, minute) - 1
        return self.stretches[at][0] + minute - self._before[at]

    def end(self, minute: int) -> int:
        """The time by the clock at which work ends that has taken up to this working minute, above 0."""
        at = bisect_left(self._before, minute) - 1
        return self.stretches[at][0] + minute - self._before[at]

    def first(self, clock: int) -> int:
        """The first working minute that begins at this time or later; `minutes` if there is none."""
        at = bisect_right(self.stretches, clock, key=lambda one: one[1])
        if at == len(self.stretches):
            return self.minutes
        return self._before[at] + max(0, clock - self.stretches[at][0])

    def offsets(self, minutes: int, ending: bool) -> Iterator[tuple[int, int, int]]:
        """First and last working minute, up to `minutes`, of each stretch, and what is added to them for the clock.

        A minute between two stretches belongs to the first where work ends, to the second where it begins.
        """
        for (clock, _), begin, end in zip(self.stretches, self._before, self._before[1:], strict=False):
            if begin < minutes or not begin:
                yield (begin + 1, end, clock - begin) if ending else (begin, end - 1, clock - begin)


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
    greedy = _begun(passages, machines, working)
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


# --- the greedy passage --------------------------------------------------------------------------


def _begun(passages: Sequence[Passage], machines: Sequence[int], working: WorkingTime) -> list[list[int]] | None:
    """Times by going through the passages one after another in the order of NEH, each as early as it can."""
    order = list(range(len(passages)))
    if len(passages) <= MOST_TRIED:
        long = sorted(order, key=lambda i: -sum(task.minutes for task in passages[i].tasks))
        order = []
        for i in long:
            tried = [[*order[:at], i, *order[at:]] for at in range(len(order) + 1)]
            found = [(_ends_in_order(passages, machines, working, one), at) for at, one in enumerate(tried)]
            order = tried[min(found)[1]]
    # Like passages go in the order of their release, as the model has them.
    like: dict[tuple[Task, ...], list[int]] = {}
    for i in sorted(range(len(passages)), key=lambda i: passages[i].release, reverse=True):
        like.setdefault(passages[i].tasks, []).append(i)
    order = [like[passages[i].tasks].pop() for i in order]
    times = _in_order(passages, machines, working, order)
    return None if times is None else [times[i] for i in range(len(passages))]


def _ends_in_order(
    passages: Sequence[Passage], machines: Sequence[int], working: WorkingTime, order: Sequence[int]
) -> float:
    times = _in_order(passages, machines, working, order)
    return float("inf") if times is None else max(times[i][-1] + passages[i].tasks[-1].minutes for i in order)


def _in_order(
    passages: Sequence[Passage], machines: Sequence[int], working: WorkingTime, order: Sequence[int]
) -> dict[int, list[int]] | None:
    free = [[0] * count for count in machines]
    times: dict[int, list[int]] = {}
    for i in order:
        mine = _one_passage(passages[i], free, working)
        if mine is None:
            return None
        for task, start in zip(passages[i].tasks, mine, strict=True):
            own = free[task.station]
            own[own.index(min(own))] = start + task.minutes
        times[i] = mine
    return times


def _one_passage(one: Passage, free: Sequence[Sequence[int]], working: WorkingTime) -> list[int] | None:
    """The earliest times of a passage behind others; None if it does not end in time."""
    least = [one.release] * len(one.tasks)
    while True:
        mine: list[int] = []
        late = None
        for k, task in enumerate(one.tasks):
            start = max(least[k], min(free[task.station]))
            if k:
                ended = mine[-1] + one.tasks[k - 1].minutes
                start = max(start, ended)
                if task.least_lag:
                    start = max(start, working.first(working.end(ended) + task.least_lag))
            if start + task.minutes > working.minutes:
                return None
            mine.append(start)
            if k and task.most_span is not None:
                over = working.end(start + task.minutes) - working.start(mine[k - 1]) - task.most_span
                if over > 0:
                    late = k - 1, working.first(working.start(mine[k - 1]) + over)
                    break
        if late is None:
            return mine
        # What lies too long is begun later, which ends: every turn is at least a minute later.
        least[late[0]] = late[1]
