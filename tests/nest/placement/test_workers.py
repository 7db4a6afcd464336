"""Workers against the clock: one to a core unless told, and any number of them finds sound layouts."""

from types import SimpleNamespace

import pytest
import shapely
from layout_judge import counts, outlines, overlapping
from tiny_problems import filled, left_and_right, mixed_strip

from nest.placement import solve, solve_region, solve_strip
from nest.placement.budget import Budget
from nest.placement.parameters import RegionParameters
from nest.placement.portfolio import run_side_by_side

SHEET = shapely.box(0, 0, 300, 200)


@pytest.mark.parametrize("workers", [1, 5])
def test_any_number_of_workers_finds_sound_layouts(workers):
    """One as well as more than there are cores."""
    strip = mixed_strip()
    layout = solve.solve_strip(strip, Budget(seconds=1.0), seed=1, workers=workers)
    assert counts(layout, strip.kinds) == [kind.limit for kind in strip.kinds]
    assert overlapping(outlines(layout.items, strip.kinds)) == []

    kinds = left_and_right(1000)
    layouts = solve.solve_region(filled(kinds, SHEET), Budget(seconds=1.0), seed=1, workers=workers)
    assert 1 <= len(layouts) <= workers
    for layout in layouts:
        assert layout.items
        assert overlapping(outlines(layout.items, kinds)) == []


def test_without_a_number_there_is_a_worker_to_a_core(monkeypatch):
    """Strips and regions alike; a number goes before."""
    asked = []

    def noted(*work):
        asked.append(work[-1])
        run_side_by_side(*work)

    for module in (solve_region, solve_strip):
        monkeypatch.setattr(module, "run_side_by_side", noted)
        monkeypatch.setattr(module, "processor_cores", lambda: 3)
    solve.solve_strip(mixed_strip(), Budget(passes=3), seed=1)
    solve.solve_region(filled(left_and_right(9), SHEET), Budget(passes=40), seed=1)
    assert set(asked) == {3}
    asked.clear()
    solve.solve_strip(mixed_strip(), Budget(passes=3), seed=1, workers=2)
    assert set(asked) == {2}


@pytest.mark.parametrize(("searches", "starts", "handed"), [(2, 2, [16, 16]), (16, 16, [4]), (100, 1, [64])])
def test_many_searches_hand_layouts_to_the_crossing(searches, starts, handed):
    """64 layouts are crossed however many searches and starts there are: as many of each, or the best of all.

    With 16 searches of 16 starts there is not one for each; rounded down all of them would go without.
    """
    given = []
    run = SimpleNamespace(
        how=RegionParameters(cross_layouts=64), schedule=SimpleNamespace(starts=starts),
        searches=[SimpleNamespace(found=[w]) for w in range(searches)],
    )
    noted = SimpleNamespace(add_best=lambda layouts, count: given.append((list(layouts), count)))
    solve_region._RegionRun._hand_in(run, noted)
    assert [count for _, count in given] == handed
    assert [kept for layouts, _ in given for kept in layouts] == list(range(searches))
    assert not any(search.found for search in run.searches)
