"""How many threads pay: as many as the process may use cores, on every system."""

import os

import pytest

from geometry.processors import CORES_VARIABLE, for_all, one_core, processor_cores


def test_only_cores_the_process_may_use_count(monkeypatch):
    """A process may be bound to some of the machine's cores."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 2, 5}, raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 8)
    assert processor_cores() == 3


def test_where_no_system_tells_there_is_one(monkeypatch):
    """Some systems know of no such binding, and may not know how many cores there are."""
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 6)
    assert processor_cores() == 6
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert processor_cores() == 1


def test_a_process_that_shares_the_machine_keeps_to_what_is_said(monkeypatch):
    """The environment may say fewer cores, never more; without a word of it a process can be given one alone."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 2, 5}, raising=False)
    for said, found in (("2", 2), ("8", 3), ("0", 1), ("", 3), ("some", 3)):
        monkeypatch.setenv(CORES_VARIABLE, said)
        assert processor_cores() == found
    monkeypatch.setenv(CORES_VARIABLE, "2")
    one_core()
    assert processor_cores() == 2
    monkeypatch.delenv(CORES_VARIABLE)
    one_core()
    assert processor_cores() == 1


@pytest.mark.parametrize(("items", "workers"), [(0, 2), (1, 3), (5, 2), (1000, 3)])
def test_results_come_in_the_order_of_the_items(items, workers):
    """However many are handed over at once; what one of them raises is raised."""
    assert for_all(lambda one: one * one, range(items), workers) == [one * one for one in range(items)]
    with pytest.raises(ZeroDivisionError):
        for_all(lambda one: 1 // one, [*range(1, items + 1), 0], workers)
