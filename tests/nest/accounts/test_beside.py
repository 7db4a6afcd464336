"""A plan beside its estimate: by hand, and what is said of the search."""

from dataclasses import replace

import pytest
import tiny_plans

from nest.accounts.beside import beside_estimate
from nest.plan import ExpectedLeather, Search
from nest.planfile import plan_from_text, plan_text
from nest.report.searched import search_said
from nest.whatif import quick_uses


def searched(plan, expected_mm2, *, error=3.0, rough=None, **how):
    """The plan with a search that was to take `expected_mm2` for what is placed."""
    rough = rough or sum(size.rough_mm2 for use in quick_uses(plan) for size in use.sizes if not use.length_mm)
    limits = {"seconds": 60.0, "spent_s": 25.0, "passes": None, "stopped": False} | how
    return replace(plan, search=Search(
        **limits, expected=(ExpectedLeather("calf", expected_mm2, rough, error),)))


@pytest.fixture
def two_hides():
    """A plan that fills one hide and half of another."""
    plan = tiny_plans.box_plan()
    first = plan.layouts[0]
    half = replace(first, hide_id="H2", placed=first.placed[: len(first.placed) // 2])
    return replace(plan, hides=(plan.hides[0], tiny_plans.hide("H2")), layouts=(first, half))


def test_the_part_used_hide_counts_by_what_lies_on_it(two_hides):
    """One hide and a half of 0.5 m² are 0.75 m², though two are opened; a quarter above 0.6 m²."""
    (found,) = beside_estimate(searched(two_hides, 0.6e6), quick_uses(two_hides))
    assert found.placed_mm2 == pytest.approx(0.75e6)
    assert found.above == pytest.approx(0.25) and found.worth_more_time
    (fine,) = beside_estimate(searched(two_hides, 0.74e6), quick_uses(two_hides))
    assert not fine.worth_more_time


def test_what_is_not_placed_is_not_expected(two_hides):
    """Half of the order placed is held against half of its estimate."""
    rough = sum(size.rough_mm2 for use in quick_uses(two_hides) for size in use.sizes if not use.length_mm)
    (found,) = beside_estimate(searched(two_hides, 1.5e6, rough=2.0 * rough), quick_uses(two_hides))
    assert found.above == pytest.approx(0.0)


def test_one_hide_says_nothing(two_hides):
    """Of a single part-used hide nobody knows what it would hold; an old plan keeps no search."""
    single = replace(two_hides, layouts=two_hides.layouts[:1])
    assert beside_estimate(searched(single, 1e5), quick_uses(single)) == ()
    assert beside_estimate(two_hides, quick_uses(two_hides)) == ()
    assert search_said(two_hides, quick_uses(two_hides)).sentences == ()


def test_a_starved_plan_says_so(two_hides):
    """Time asked and taken, how far above, that more would pay; a good plan has no advice, a stopped one its own."""
    uses = quick_uses(two_hides)
    said = search_said(searched(two_hides, 0.6e6), uses)
    assert said.search == "Searched for 25 s; 60 s were asked for."
    assert "25% above the 0.60 m² estimated" in said.leathers[0] and "3 % off" in said.leathers[0]
    assert said.advice.startswith("More time would pay: calf lies above")
    assert search_said(searched(two_hides, 0.75e6), uses).advice == ""
    stopped = search_said(searched(two_hides, 0.75e6, stopped=True), uses)
    assert "stopped by hand" in stopped.search and "plan again" in stopped.advice
    by_passes = search_said(searched(two_hides, 0.6e6, seconds=None, spent_s=None, passes=30), uses)
    assert by_passes.search == "Searched by passes, 30 for every hide and roll."
    assert by_passes.advice.startswith("More passes would pay")


def test_the_search_is_kept_in_the_plan_file(two_hides):
    """It comes back from the file; a file of before there was a search or a choice of rejects still loads."""
    kept = searched(two_hides, 0.6e6)
    assert plan_from_text(plan_text(kept)).search == kept.search
    old = "\n".join(line for line in plan_text(two_hides).splitlines() if not line.startswith('"search"'))
    old = old.replace('],\n}', ']\n}').replace(', "reject_pairs": "pooled"', "")
    assert "reject_pairs" not in old and "search" not in old
    before = plan_from_text(old)
    assert before.search is None and before.settings.reject_pairs == "by size"
