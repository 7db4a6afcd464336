"""Scenarios: every combination, its standard cost, its error, and what a year saves, against sums worked out here."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from box_jobs import job, style
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.accounts.estimate import GroundMemory, estimate_job, pair_estimates
from nest.accounts.standard import pair_error, standard_errors
from nest.job.costing import Costing
from nest.job.scenarios import Choice, Choices
from nest.pieces.piece import Part
from nest.pieces.style import OrderLine
from nest.rules import Rules
from nest.scenarios import combined, cost_scenarios
from nest.scenarios.combine import with_pairs
from nest.stock.material import Leather

LESS = Choice("toe 2 mm less", more_mm=((Part.TOE, -2.0),))
DEAR = Choice("dear", instead=(("calf", "kid"),))
MANY = Choice("300 pairs", pairs=300)


def two_leathers():
    """Boxes of one style in three sizes, a dearer leather with a price break, and pairs a year."""
    one = job(styles=[style()])
    leathers = (one.leathers[0], Leather("kid", Decimal(40), "m2", mean_hide_mm2=1.5e6, unfit_share=0.1,
                                         breaks=((Decimal(5), Decimal(10)),)))
    order = tuple(OrderLine("box", size, 10) for size in ("37", "38", "39"))
    return replace(one, leathers=leathers, order=order,
                   settings=replace(one.settings, costing=Costing(pairs_per_year=10_000)))


@pytest.fixture(scope="module")
def ranked():
    """The job and its eight scenarios, ranked."""
    one = two_leathers()
    ground = GroundMemory(one)
    given = [Choices(name, (Choice(), choice)) for name, choice in (
        ("leathers", DEAR), ("allowances", LESS), ("quantities", MANY))]
    return one, cost_scenarios(one, [each.section for each in given], combined(one, given, ground), ground)


def by_names(found):
    """Each ranked scenario by the names of its choices."""
    return {one.costed.scenario.names: one for one in found.ranked}


def test_every_combination_is_there_cheapest_first(ranked):
    """Two to the third, each once; differences begin at 0 and never fall."""
    _, found = ranked
    assert len(by_names(found)) == len(found.ranked) == 8 and not found.failed
    pairs = [one.costed.pair for one in found.ranked]
    assert pairs == sorted(pairs) and found.ranked[0].dearer == 0 and found.ranked[0].dearer_error == 0.0
    assert [one.dearer for one in found.ranked] == [pair - pairs[0] for pair in pairs]


def test_a_scenario_costs_what_the_changed_job_costs(ranked):
    """The job as it is, and with the dear leather: the standard cost of that job, to the last digit."""
    one, found = ranked
    now = by_names(found)["as it is", "as it is", "as it is"]
    assert now.costed.pair == estimate_job(one, ground=GroundMemory(one)).standard.order.exact_pair
    bought = with_pairs(one, 300)
    assert by_names(found)["as it is", "as it is", "300 pairs"].costed.pair == estimate_job(
        bought, ground=GroundMemory(one)).standard.order.exact_pair


def test_a_price_break_makes_the_larger_quantity_cheaper(ranked):
    """Kid has 10 % off from 5 m² on: 30 pairs take less, 300 more, and a pair costs nine tenths."""
    _, found = ranked
    few, many = (by_names(found)["dear", "as it is", pairs].costed.pair for pairs in ("as it is", "300 pairs"))
    assert many == few * Fraction(9, 10)


def test_a_year_saves_the_difference_of_a_pair_times_the_pairs_of_a_year(ranked):
    """10,000 pairs; the job as it is saves nothing, the dear leather less than nothing."""
    _, found = ranked
    rows = by_names(found)
    now = rows["as it is", "as it is", "as it is"]
    assert now.saving == {"box": 0.0}
    for one in found.ranked:
        assert one.saving["box"] == pytest.approx(1e4 * float(now.costed.pair - one.costed.pair))
    assert rows["dear", "as it is", "as it is"].saving["box"] < 0.0
    assert rows["as it is", LESS.name, "as it is"].saving["box"] > 0.0


def test_the_error_is_no_narrower_than_the_gap_to_the_way_by_hand(ranked):
    """Of 2 mm less: the interval reaches the ring's area × price ÷ yield, worked out here from the estimates."""
    one, found = ranked
    rows = by_names(found)
    less, now = rows["as it is", LESS.name, "as it is"].costed, rows["as it is", "as it is", "as it is"].costed
    ground, hand = GroundMemory(one), 0.0
    for changed, sign in ((one, -1.0), (less.scenario.changed.job, 1.0)):
        own = {e.size: e for e in pair_estimates(one, one.styles[0], ["37", "38", "39"], ground=ground)}
        for e in pair_estimates(changed, changed.styles[0], ["37", "38", "39"], ground=ground):
            yield_now = own[e.size].alone.rough_mm2 / own[e.size].alone.material_mm2
            hand += sign * e.alone.rough_mm2 / yield_now * 30e-6 / 3.0
    saved = float(less.pair - now.pair)
    assert abs(saved - hand) <= less.half_width_beside(now) + 1e-4
    assert abs(saved - hand) <= less.half_width + 1e-4
    assert less.half_width_beside(less) == 0.0


def test_leathers_err_apart_and_one_leather_errs_together(ranked):
    """Errors of two leathers add up as independent ones do; a difference on one leather is far surer.

    More pairs of the same cost the same for sure, though many pairs are surer by themselves than few.
    """
    _, found = ranked
    rows = by_names(found)
    now, dear = rows["as it is", "as it is", "as it is"].costed, rows["dear", "as it is", "as it is"].costed
    assert dear.half_width_beside(now) == pytest.approx((dear.half_width**2 + now.half_width**2) ** 0.5)
    assert rows["as it is", LESS.name, "as it is"].costed.half_width_beside(now) < 0.5 * now.half_width
    many = rows["as it is", "as it is", "300 pairs"].costed
    assert many.half_width < now.half_width and many.half_width_beside(now) == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 5000), min_size=1, max_size=12), st.integers(1, 100_000))
def test_pairs_shared_out_add_up_and_keep_their_proportions(ordered, pairs):
    """Every row within one pair of its exact share; the sum is what was asked for."""
    one = replace(two_leathers(), order=tuple(OrderLine("box", str(20 + i), n) for i, n in enumerate(ordered)))
    found = {line.size: line.pairs for line in with_pairs(one, pairs).order}
    assert sum(found.values()) == pairs
    for line in one.order:
        assert abs(found.get(line.size, 0) - line.pairs * pairs / sum(ordered)) < 1.0


def test_the_job_as_it_is_is_as_unsure_as_its_price():
    """Two styles under other rules share a leather, with overhead and margin on it: the ± is that of `price`."""
    costing = Costing(overhead_percent=Decimal(12), margin_percent=Decimal(18))
    loose = style(name="loose", rules=Rules(tolerance_deg=15.0))
    one = job(styles=[style(), loose], order=(("box", "38", 20), ("loose", "38", 30)))
    one = replace(one, settings=replace(one.settings, costing=costing))
    ground = GroundMemory(one)
    asked = combined(one, [Choices("quantities", (Choice(), MANY))], ground)
    found = cost_scenarios(one, ["quantities"], asked, ground)
    now = next(one.costed for one in found.ranked if one.costed.scenario.as_it_is)
    estimate = estimate_job(one, ground=ground)
    said = pair_error(estimate.standard, standard_errors(one, estimate))
    assert now.half_width == pytest.approx(float(said), abs=0.005) and now.gap == 0.0
