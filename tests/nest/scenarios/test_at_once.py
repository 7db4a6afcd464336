"""A job moved by hand, costed at once: beside estimates of the very job, and along the lines between them."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest
from box_jobs import job, style
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.accounts.estimate import GroundMemory, estimate_job
from nest.errors import PlanProblem
from nest.job.costing import Costing
from nest.pieces.piece import Part
from nest.pieces.style import OrderLine
from nest.scenarios import AtOnce, Moved, moved_job
from nest.stock.material import Leather

TOE, SIDE, BACK = Part


@pytest.fixture(scope="module")
def lines():
    """Boxes in three sizes on one leather, another beside it, with pairs a year, and the lines made of them."""
    plain = job(styles=[style(lean=20.0, reject_percent=3.0)])
    kid = Leather("kid", Decimal(40), "m2", mean_hide_mm2=1.5e6, unfit_share=0.1)
    order = tuple(OrderLine("box", size, 10) for size in ("37", "38", "39"))
    return AtOnce(replace(plain, leathers=(plain.leathers[0], kid), order=order,
                          settings=replace(plain.settings, costing=Costing(pairs_per_year=10_000))))


def estimated(lines, moved):
    """A good pair by a whole estimate of the moved job."""
    changed = moved_job(lines.job, moved, GroundMemory(lines.job))
    found = estimate_job(changed.job, ground=changed.ground, priced_as=changed.priced_as)
    return float(found.standard.order.exact_pair)


@pytest.mark.parametrize("moved", [
    Moved(), Moved(more_mm=(("box", TOE, -2.0),)), Moved(more_mm=(("box", BACK, 4.0),)),
    Moved(prices=(("calf", 12.5),), rejects=(("box", 7.5),)), Moved(tolerance_deg=3.0, hide_gap_mm=4.0),
    Moved(instead=(("calf", "kid"),)),
])
def test_it_says_what_a_whole_estimate_says(lines, moved):
    """At the steps that were tried, at other prices and rejects, and with rules, gap and leather changed."""
    (order, box) = lines.at(moved).rows
    assert float(order.pair) == pytest.approx(estimated(lines, moved), rel=2e-3)
    assert order.pair == box.pair and order.saving == pytest.approx(float(order.now - order.pair))


@pytest.mark.parametrize(("toe", "side"), [(-1.0, -1.0), (2.0, 2.0), (-4.0, -4.0), (3.0, -2.0)])
def test_two_parts_together_are_as_good_as_one(lines, toe, side):
    """What boxes save on both sides together is more than the sum of each: that is known, not left to the interval."""
    moved = Moved(more_mm=(("box", TOE, toe), ("box", SIDE, side)))
    assert float(lines.at(moved).rows[0].pair) == pytest.approx(estimated(lines, moved), rel=5e-4)


@settings(max_examples=8, deadline=None)
@given(st.floats(-4.0, 4.0), st.floats(-4.0, 4.0))
def test_between_the_steps_it_is_within_its_interval(lines, toe, side):
    """Two parts moved at once, anywhere in the range: off the whole estimate by no more than it says."""
    moved = Moved(more_mm=(("box", TOE, toe), ("box", SIDE, side)))
    (order, _) = lines.at(moved).rows
    assert abs(float(order.pair) - estimated(lines, moved)) <= order.half + 2e-3


def test_prices_move_in_proportion(lines):
    """A tenth more for the leather is a tenth more for a pair of leather alone, and its saving a year goes by pairs."""
    (order, _) = lines.at(Moved(prices=(("calf", 10.0),))).rows
    assert float(order.pair / order.now) == pytest.approx(1.1)
    assert order.a_year == pytest.approx(10_000 * order.saving) and order.saving < 0.0
    assert order.takes_mm2 == order.takes_now_mm2


def test_rejects_are_cut_for(lines):
    """Of pairs of which a share r fails, 1 ÷ (1 − r) are cut for a good one: leather and cost grow so."""
    (order, _) = lines.at(Moved(rejects=(("box", 10.0),))).rows
    assert float(order.pair / order.now) == pytest.approx(0.97 / 0.9)
    assert order.takes_mm2 / order.takes_now_mm2 == pytest.approx(0.97 / 0.9)


def test_nothing_moved_saves_nothing(lines):
    """Neither saving nor doubt."""
    for row in lines.at(Moved()).rows:
        assert row.saving == 0.0 and row.half == 0.0


def test_the_curve_passes_through_what_is_moved(lines):
    """It rises with the allowance, has no width where nothing is moved, and agrees with the costs at its points."""
    points = lines.curve(Moved(), "box", TOE)
    assert [point.mm for point in points] == [-4.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0]
    assert all(a.pair < b.pair for a, b in pairwise(points))
    assert points[4].half == 0.0 < points[0].half
    assert points[1].pair == float(lines.at(Moved(more_mm=(("box", TOE, -3.0),))).rows[0].pair)


@pytest.mark.parametrize(("moved", "words"), [
    (Moved(more_mm=(("box", TOE, 4.5),)), "beyond what the estimate is trusted for"),
    (Moved(more_mm=(("sock", TOE, 1.0),)), "no pairs of 'sock'"),
    (Moved(rejects=(("sock", 1.0),)), "no style named 'sock'"),
    (Moved(rejects=(("box", 100.0),)), "rejects lie from 0"),
    (Moved(prices=(("calf", -100.0),)), "cannot move by -100 %"),
    (Moved(prices=(("calf", float("nan")),)), "cannot move by nan %"),
    (Moved(prices=(("silk", 1.0),)), "price of 'silk'"),
    (Moved(instead=(("calf", "silk"),)), "cannot take the place"),
    (Moved(tolerance_deg=90.0), "tolerance lies from 0"), (Moved(hide_gap_mm=-1.0), "gap lies from 0"),
])
def test_what_cannot_be_moved_is_said(lines, moved, words):
    """One sentence."""
    with pytest.raises(PlanProblem, match=words):
        lines.at(moved)
