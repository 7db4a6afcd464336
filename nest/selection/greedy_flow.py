"""Times of a flow shop by going through its passages one after another, in the order of NEH: a place to search from.

References
----------
M. Nawaz, E. E. Enscore, I. Ham (1983), A heuristic algorithm for the m-machine, n-job flow-shop sequencing problem,
Omega 11:91-95.
"""

from collections.abc import Sequence

from nest.selection.passages import Passage, Task, WorkingTime

MOST_TRIED = 40
"""With more passages than this they begin in the order given, for NEH tries a number of orders that grows as n²."""


def greedy_starts(passages: Sequence[Passage], machines: Sequence[int], working: WorkingTime) -> list[list[int]] | None:
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
