"""Times at stations: optima of published and of exhaustively solved flow shops, lags by the clock, breaks."""

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.selection.flow import least_end, timed
from nest.selection.passages import Passage, Task, WorkingTime

ALWAYS = WorkingTime(((0, 10_000),))


def taillard(seed, jobs, machines):
    """Processing times [machine][job] by the generator that E. Taillard published with his benchmarks.

    E. Taillard (1993), Benchmarks for basic scheduling problems, EJOR 64:278-285: Lehmer's generator by the method of
    Bratley, Fox and Schrage; whole times from 1 to 99, machine by machine.
    """
    times = []
    for _ in range(machines * jobs):
        seed = 16807 * (seed % 127773) - 2836 * (seed // 127773)
        seed += 2147483647 * (seed < 0)
        times.append(1 + int(seed / 2147483647 * 99))
    return [times[i * jobs : (i + 1) * jobs] for i in range(machines)]


def shop(times):
    """A flow shop of times [machine][job]."""
    return [Passage(tuple(Task(i, row[j]) for i, row in enumerate(times))) for j in range(len(times[0]))]


def least_by_machine(times):
    """Taillard's lower bound: a machine's work, with the least before and behind it."""
    work = range(len(times[0]))
    bounds = [
        min(sum(row[j] for row in times[:i]) for j in work) + sum(times[i])
        + min(sum(row[j] for row in times[i + 1 :]) for j in work) for i in range(len(times))
    ]
    return max(*bounds, *(sum(row[j] for row in times) for j in work))


TA001 = taillard(873654221, 20, 5)


def test_the_published_instance_is_the_published_one():
    """Its first row begins 54 83 15 71 77, and its lower bound is 1232, as in Taillard's table (both from memory)."""
    assert TA001[0][:5] == [54, 83, 15, 71, 77] and least_by_machine(TA001) == 1232
    assert least_end(shop(TA001), [1] * 5, ALWAYS) == 1232


def test_taillards_first_instance_with_little_effort():
    """No timing ends before the optimum of 1278 (from memory), none later than NEH, which reaches 1286."""
    found = timed(shop(TA001), [1] * 5, ALWAYS, one_order=True, effort=0.01)
    assert 1278 <= found.end <= 1286 and found.least_end <= 1278


@pytest.mark.slow
def test_taillards_first_instance_is_solved():
    """ta001, 20 jobs on 5 machines: the best known makespan of 1278 (from memory) is found and proved."""
    found = timed(shop(TA001), [1] * 5, ALWAYS, one_order=True, effort=6.0)
    assert found.end == 1278 and found.proved


def johnson(times):
    """Least makespan on two machines: those shorter on the first go first, in rising order; the others last, falling.

    S. M. Johnson (1954), Optimal two- and three-stage production schedules with setup times included, NRLQ 1:61-68.
    """
    order = sorted((pair for pair in times if pair[0] <= pair[1]), key=lambda pair: pair[0])
    order += sorted((pair for pair in times if pair[0] > pair[1]), key=lambda pair: -pair[1])
    first = second = 0
    for a, b in order:
        first += a
        second = max(second, first) + b
    return second


@settings(max_examples=12, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 30), st.integers(1, 30)), min_size=1, max_size=7))
def test_two_machines_by_johnsons_rule(times):
    """The rule is a theorem: the makespan is its own, and proved, whether or not one may overtake another."""
    passages = [Passage((Task(0, a), Task(1, b))) for a, b in times]
    for one_order in (False, True):
        found = timed(passages, [1, 1], ALWAYS, one_order=one_order)
        assert found.end == johnson(times) and found.proved


WORK = ((0, 40), (55, 90), (300, 360), (375, 420), (700, 800))


def minutes_of_work(stretches):
    """Every working minute by the clock."""
    return [minute for a, b in stretches for minute in range(a, b)]


def test_working_minutes_and_the_clock():
    """Against the list of all minutes: where work begins, where it ends, and what is the first at a time or later."""
    working, clock = WorkingTime(WORK), minutes_of_work(WORK)
    assert working.minutes == len(clock)
    for minute, time in enumerate(clock):
        assert working.start(minute) == time and working.end(minute + 1) == time + 1
    for time in range(820):
        assert working.first(time) == next((i for i, one in enumerate(clock) if one >= time), len(clock))


def least_of_all_orders(passages, clock):
    """The least end over all orders that no passage changes, each as early as it can: exhaustive, minute by minute."""
    best = None
    for order in permutations(passages):
        free: dict[int, int] = {}
        for one in order:
            ended = one.release
            for k, task in enumerate(one.tasks):
                start = max(free.get(task.station, 0), ended)
                if k and task.least_lag:
                    start = max(start, next(i for i, time in enumerate(clock)
                                            if time >= clock[ended - 1] + 1 + task.least_lag))
                ended = free[task.station] = start + task.minutes
        end = max(free.values())
        best = end if best is None else min(best, end)
    return best


def passage(minutes, lags, release):
    """A passage through three stations."""
    return Passage(tuple(Task(k, m, lag) for k, (m, lag) in enumerate(zip(minutes, (0, *lags), strict=True))), release)


passages = st.builds(
    passage, st.tuples(*[st.integers(1, 12)] * 3), st.tuples(st.sampled_from([0, 10, 180]), st.sampled_from([0, 30])),
    st.sampled_from([0, 0, 5, 20]),
)


@settings(max_examples=12, deadline=None)
@given(st.lists(passages, min_size=1, max_size=4))
def test_lags_and_breaks_against_all_orders(some):
    """Where none overtakes, the end is the least over all orders; where one may, no later."""
    clock = minutes_of_work(WORK)
    found = timed(some, [1, 1, 1], WorkingTime(WORK), one_order=True)
    assert found.proved and found.end == least_of_all_orders(some, clock)
    hold_rules(some, [1, 1, 1], found)
    free = timed(some, [1, 1, 1], WorkingTime(WORK))
    hold_rules(some, [1, 1, 1], free)
    assert free.end <= found.end


def hold_rules(some, machines, found):
    """Every rule that was asked for, minute by minute."""
    clock = minutes_of_work(WORK)
    busy: dict[tuple[int, int], int] = {}
    for one, starts in zip(some, found.starts, strict=True):
        assert starts[0] >= one.release
        for k, (task, start) in enumerate(zip(one.tasks, starts, strict=True)):
            for minute in range(start, start + task.minutes):
                busy[task.station, minute] = busy.get((task.station, minute), 0) + 1
            if k:
                ended = starts[k - 1] + one.tasks[k - 1].minutes
                assert start >= ended
                assert clock[start] >= clock[ended - 1] + 1 + task.least_lag or not task.least_lag
                if task.most_span is not None:
                    assert clock[start + task.minutes - 1] + 1 - clock[starts[k - 1]] <= task.most_span
    assert all(count <= machines[station] for (station, _), count in busy.items())
    assert found.end == max(s[-1] + one.tasks[-1].minutes for one, s in zip(some, found.starts, strict=True))


@settings(max_examples=12, deadline=None)
@given(st.lists(st.tuples(passages, st.sampled_from([None, 60, 250, 400])), min_size=1, max_size=5), st.integers(1, 3))
def test_spans_and_machines_side_by_side(some, count):
    """A span by the clock holds over nights, and as many tasks run side by side as there are machines, no more."""
    made = [
        Passage((one.tasks[0], one.tasks[1], Task(2, one.tasks[2].minutes, one.tasks[2].least_lag, span)), one.release)
        for one, span in some
    ]
    machines = [1, count, count]
    found = timed(made, machines, WorkingTime(WORK))
    if found is not None:
        hold_rules(made, machines, found)
    else:
        assert any(task.most_span is not None for one in made for task in one.tasks)


def test_like_passages_go_in_turn_and_the_first_goes_first():
    """Of like ones the one that stands first, or is ready first, is through first, at every station."""
    like = Passage((Task(0, 5), Task(1, 7)))
    found = timed([Passage(like.tasks, release=20), like, like], [1, 1], ALWAYS)
    assert found.starts[1] < found.starts[2] < found.starts[0]


@pytest.mark.parametrize("work", [(), ((0, 9),)])
def test_too_little_time_has_no_timing(work):
    """None, not a timing that breaks a rule."""
    assert timed([Passage((Task(0, 5), Task(1, 5)))], [1, 1], WorkingTime(work)) is None


def test_nothing_takes_no_time():
    """No passage: an empty timing, proved."""
    assert timed([], [1], ALWAYS).proved
