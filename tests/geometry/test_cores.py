"""How many threads pay: as many as the process may use cores, on every system."""

import os

from geometry.cores import cores


def test_only_cores_the_process_may_use_count(monkeypatch):
    """A process may be bound to some of the machine's cores."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 2, 5}, raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 8)
    assert cores() == 3


def test_where_no_system_tells_there_is_one(monkeypatch):
    """Some systems know of no such binding, and may not know how many cores there are."""
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 6)
    assert cores() == 6
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert cores() == 1
