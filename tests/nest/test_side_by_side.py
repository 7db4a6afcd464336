"""Work shared out among processes comes back as if it had been done here."""

import os
import signal

import pytest

from geometry.processors import CORES_VARIABLE
from nest.errors import PlanProblem
from nest.sidebyside import side_by_side


def add(shared: int, one: int) -> tuple[int, int]:
    """A sum, and which process made it."""
    return shared + one, os.getpid()


def refuse(shared: int, one: int) -> int:
    """Odd numbers are refused."""
    if one % 2:
        raise PlanProblem(f"{shared + one} is odd")
    return one


def die(shared: int, home: int) -> str:
    """Ends the process at once, as a kill from outside would, unless it is the first."""
    if os.getpid() != home:
        os.kill(os.getpid(), signal.SIGTERM)
    return "done"


@pytest.fixture
def two_cores(monkeypatch):
    """As many processes as on two cores, wherever the tests run; they find these functions."""
    monkeypatch.setattr("nest.sidebyside.processor_cores", lambda: 2)


def test_results_come_back_in_order(two_cores):
    """Many tasks, each with what is shared; more than one process has worked, and none is left."""
    with side_by_side(100) as do_all:
        found = do_all([(add, i) for i in range(400)])
        assert [value for value, _ in found] == list(range(100, 500))
        again = do_all([(add, 1)])
    assert again[0][0] == 101
    with side_by_side(1, worth_it=False) as do_all:
        assert do_all([(add, 1)]) == [(2, os.getpid())]


def test_the_first_problem_is_raised(two_cores):
    """A problem of any process is raised here with its own class and words; the first of the tasks, not in time."""
    with side_by_side(10) as do_all, pytest.raises(PlanProblem, match="13 is odd"):
        do_all([(refuse, i) for i in (2, 4, 3, 5, 7)])


def test_one_that_dies_costs_nothing_but_time(two_cores):
    """What a process that was killed has left behind is done here."""
    with side_by_side(0) as do_all:
        assert do_all([(die, os.getpid())] * 30) == ["done"] * 30


def test_one_core_starts_no_process(monkeypatch):
    """Where one core is all there is, everything is done here."""
    monkeypatch.setattr("nest.sidebyside.subprocess", None)
    monkeypatch.setenv(CORES_VARIABLE, "1")
    with side_by_side(1) as do_all:
        assert do_all([(add, 2)]) == [(3, os.getpid())]
