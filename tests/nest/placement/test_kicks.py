"""Kicks of a strip search: those that lead back or leave much overlap are not gone on with."""

import numpy as np
import pytest
from tiny_problems import kind

from geometry.precision import as_ring
from nest.placement import strip
from nest.placement.model import build_model
from nest.placement.parameters import STRIPS
from nest.placement.state import alike, restore, snapshot

SQUARE = as_ring(((0, 0), (50, 0), (50, 50), (0, 50)))
SLAB = as_ring(((0, 0), (90, 0), (90, 50), (0, 50)))
WIDTH, NEEDED, SHORT = 50.0, 230.0, 220.0
DEMAND = np.array((1, 2))
ENOUGH = STRIPS.least_kicks


@pytest.fixture
def search():
    """A square and two slabs in a row that is 10 mm too short: whatever a kick does, overlap is left."""
    model, _ = build_model([kind("square", SQUARE, 1), kind("slab", SLAB, 2)], 0.0, None)
    rasters = strip.strip_rasters(model, WIDTH, DEMAND)
    made = strip.StripSearch(model, rasters, WIDTH, DEMAND, seed=1, passes=None)
    assert made.length == pytest.approx(NEEDED)
    restore(made.state, made.best)
    made._bound(SHORT)
    made._pull_in()
    made._pool = [(made._separate(STRIPS.patience, STRIPS.strikes), snapshot(made.state))]
    assert made._pool[0][0] > 0.0
    return made


def test_a_kick_that_leads_back_is_left(search, monkeypatch):
    """However little overlap it leaves beside others."""
    search._kicks.extend([1e9] * ENOUGH)
    monkeypatch.setattr(search, "_exchange_large", lambda: None)
    assert not search._kick()
    assert len(search._kicks) == ENOUGH


@pytest.mark.parametrize(("others", "gone_on"), [([], True), ([1e9] * ENOUGH, True), ([1e-9] * ENOUGH, False)])
def test_a_kick_that_leads_elsewhere_is_judged_by_the_others(search, others, gone_on):
    """It is gone on with as long as few others are known, and if they left more overlap than it does."""
    failure = search._pool[0][1]
    search._kicks.extend(others)
    assert search._kick() == gone_on
    assert not alike(search.model, snapshot(search.state), failure)
    assert len(search._kicks) == len(others) + 1


def test_another_length_forgets_the_kicks(search):
    """What is left over at one length says nothing of another."""
    search._kicks.extend([1e-9] * ENOUGH)
    search.adopt(search.best, search.length)
    assert len(search._kicks) == 0
    assert search._pool == []


def test_long_in_vain_it_begins_anew_and_goes_back_by_turns(search, monkeypatch):
    """At the same length, from random places; the failures put aside come back as they were."""
    known, failure = list(search._pool), search._pool[0][1]
    search._kicks.append(12.0)
    search._tried = STRIPS.fresh_after[0]
    assert search._try()
    assert search._pool == []
    assert len(search._kicks) == 0
    assert search._target == SHORT
    assert not alike(search.model, snapshot(search.state), failure)
    search._add_failure(search._separate(STRIPS.patience, STRIPS.strikes))
    monkeypatch.setattr(search, "_kick", lambda: False)
    assert not search._try()
    assert search._tried == 1
    search._tried = STRIPS.fresh_after[0]
    assert not search._try()
    assert search._pool == known
    assert list(search._kicks) == [12.0]


def test_a_failure_that_is_known_is_not_kept_twice(search):
    """Nor does it count."""
    failed = search._failed
    restore(search.state, search._pool[0][1])
    search._add_failure(search._pool[0][0])
    assert len(search._pool) == 1
    assert search._failed == failed
