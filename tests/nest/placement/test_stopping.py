"""Stopping rules: at once when cancelled, in time when timed, and never without a usable layout."""

import subprocess
import sys
import time
from itertools import count
from pathlib import Path

import pytest
import shapely
from layout_judge import counts, outlines, overlapping
from tiny_problems import ELL, HALF_TURN, QUARTERS, TRIANGLE, filled, kind, left_and_right, mixed_strip

from nest.placement.budget import Budget
from nest.placement.problem import StripProblem
from nest.placement.solve import solve_region, solve_strip

AT_ONCE_SECONDS = 5.0
"""Generous: tables are made first, and machines are busy."""

SHEET = shapely.box(0, 0, 300, 200)


def cancelled() -> bool:
    """A user who changed their mind before the start."""
    return True


@pytest.fixture(autouse=True, scope="module")
def compiled_before():
    """Loops are compiled before anything is timed."""
    solve_strip(mixed_strip(), Budget(passes=3), seed=1)
    solve_region(filled(left_and_right(9), SHEET), Budget(passes=40), seed=1)


def test_a_strip_cancelled_at_once_still_has_every_item():
    """The first layout found is returned: whole and without overlap."""
    begin = time.monotonic()
    problem = mixed_strip()
    layout = solve_strip(problem, Budget(cancelled=cancelled), seed=1)
    assert time.monotonic() - begin < AT_ONCE_SECONDS
    assert counts(layout, problem.kinds) == [k.limit for k in problem.kinds]
    assert overlapping(outlines(layout.items, problem.kinds)) == []


@pytest.mark.parametrize(
    ("one", "width", "length"),
    [(kind("ell", ELL, 1, QUARTERS), 60.0, 60.0), (kind("triangle", TRIANGLE, 2, HALF_TURN), 40.0, 60.0)],
    ids=["as long as its longest piece", "filled whole"],
)
def test_a_strip_that_cannot_be_shorter_ends_the_search(one, width, length):
    """With an hour to go nobody has to ask it to stop."""
    asked, stopped = count(1), []

    def after_a_while() -> bool:
        if next(asked) > 200:
            stopped.append(True)
        return bool(stopped)

    layout = solve_strip(StripProblem((one,), width), Budget(seconds=3600.0, cancelled=after_a_while), seed=1)
    assert not stopped
    assert layout.length_mm == pytest.approx(length, abs=1e-3)


@pytest.mark.parametrize("kinds", [(kind("ell", ELL, 1000, QUARTERS),), left_and_right(1000)], ids=["free", "pairs"])
def test_a_region_cancelled_at_once_returns(kinds):
    """What is there by then is returned, without overlap; nothing is as good an answer as any."""
    begin = time.monotonic()
    layouts = solve_region(filled(kinds, SHEET), Budget(cancelled=cancelled), seed=1)
    assert time.monotonic() - begin < AT_ONCE_SECONDS
    for layout in layouts:
        assert overlapping(outlines(layout.items, kinds)) == []


@pytest.mark.parametrize("kinds", [(kind("ell", ELL, 1000, QUARTERS),), left_and_right(1000)], ids=["free", "pairs"])
def test_cancelling_halfway_keeps_what_was_found(kinds):
    """A user who cancels at the third question gets the layout of that moment."""
    asked = count(1)
    begin = time.monotonic()
    best = solve_region(filled(kinds, SHEET), Budget(cancelled=lambda: next(asked) >= 3), seed=1)[0]
    assert time.monotonic() - begin < AT_ONCE_SECONDS
    assert len(best.items) > 4


def test_a_time_limit_is_kept():
    """Half a second is half a second, give or take what the tables and the last passes take."""
    for solve, problem in ((solve_strip, mixed_strip()), (solve_region, filled(left_and_right(1000), SHEET))):
        begin = time.monotonic()
        solve(problem, Budget(seconds=0.5), seed=1)
        assert 0.4 <= time.monotonic() - begin < 0.5 + AT_ONCE_SECONDS


@pytest.mark.parametrize("limit", [Budget(passes=0), Budget(passes=1), Budget(seconds=0.0)])
def test_no_time_at_all_gives_a_strip_all_the_same(limit):
    """A strip must hold every item, so the first layout is made whatever the limit."""
    problem = mixed_strip()
    layout = solve_strip(problem, limit, seed=1)
    assert counts(layout, problem.kinds) == [k.limit for k in problem.kinds]
    assert overlapping(outlines(layout.items, problem.kinds)) == []


@pytest.mark.parametrize("limit", [Budget(passes=0), Budget(seconds=0.0)])
def test_no_time_at_all_gives_an_empty_region_or_a_sound_one(limit):
    """A region need not hold anything."""
    kinds = left_and_right(1000)
    for layout in solve_region(filled(kinds, SHEET), limit, seed=1):
        assert overlapping(outlines(layout.items, kinds)) == []


def test_warming_up_compiles_all_that_a_region_needs():
    """In a process of its own: after it no loop of the search is compiled within a user's time limit."""
    program = """
from shapely import box
from tiny_problems import filled, left_and_right, passes
from nest.placement import anneal, families, separate, solve
loops = separate.separate, anneal._anneal, families.left_over
solve.warm_up()
before = [len(loop.signatures) for loop in loops]
solve.solve_region(filled(left_and_right(9), box(0, 0, 300, 200)), passes(200), seed=1)
assert min(before) > 0 and [len(loop.signatures) for loop in loops] == before, before
"""
    subprocess.run([sys.executable, "-c", program], check=True, cwd=Path(__file__).parent, timeout=300)
