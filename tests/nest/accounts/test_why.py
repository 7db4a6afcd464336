"""Why one pair is dearer, and the handbook's way: sums that hold to the minor unit, causes that are what changed."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import partial
from math import prod
from types import SimpleNamespace

import pytest
from box_jobs import brick, hide, job, roll, style
from hypothesis import given, settings
from hypothesis import strategies as st
from priced_plans import yen_plan
from tiny_plans import rectangle_lattice

from nest.accounts import account
from nest.accounts.estimate import GroundMemory, estimate_job, pair_estimates
from nest.accounts.handbook import handbook, of_estimate, totals
from nest.accounts.why import Subject, WhyCause, _factors, by_size, why
from nest.errors import PlanProblem
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.pieces.remembered import PieceMemory

COSTING = Costing(labour_per_hour=Decimal(36), press_per_hour=Decimal(24), press_s_per_pair=Decimal(60),
                  freight_percent=(("", Decimal(4)),), overhead_percent=Decimal(10), margin_percent=Decimal(20))


MAKE = PieceMemory()
"""Prices and rejects change no piece."""


def estimated(percent=4.0, price="30.00", currency="EUR", costing=COSTING, roll_price="3.20"):
    """Three sizes of rectangular vamps on two hides, with everything that can be charged."""
    plain = job(styles=(replace(style(roll="knit"), reject_percent=percent),),
                rolls=(roll(price_per_m=Decimal(roll_price)),), hides=(hide(), hide("H2")),
                order=(("box", "38", 5), ("box", "39", 9), ("box", "40", 5)),
                settings=Settings(currency=currency, costing=costing))
    leathers = tuple(replace(one, price=Decimal(price)) for one in plain.leathers)
    one = replace(plain, leathers=leathers)
    return estimate_job(one, brick, ground=GroundMemory(one, MAKE), estimates=partial(pair_estimates, make=MAKE))


BASE = estimated()


def test_causes_of_every_size_add_up():
    """Each size against the middle one: larger ones are dearer by area, and no cause is named that is the same."""
    found = by_size(BASE)
    assert [one.names for one in found] == [("box 39", "box 38"), ("box 39", "box 40")]
    for one in found:
        causes = dict(one.causes)
        assert sum(causes.values()) == one.difference == one.after - one.before
        assert causes[WhyCause.AREA] * one.difference > 0
        assert not {WhyCause.REJECTS, WhyCause.SCRAP, WhyCause.WHOLE} & causes.keys()


@pytest.mark.parametrize(("changes", "cause"), [
    ({"percent": 9.0}, WhyCause.REJECTS), ({"price": "33.30"}, WhyCause.PRICE),
    ({"costing": replace(COSTING, margin_percent=Decimal(25))}, WhyCause.WHOLE),
    ({"costing": replace(COSTING, press_per_hour=Decimal(48))}, WhyCause.LABOUR),
])
def test_one_thing_changed_is_the_one_cause(changes, cause):
    """Two jobs that differ in one thing differ by that cause alone, whole."""
    found = why(Subject("now", BASE), Subject("then", estimated(**changes)))
    assert dict(found.causes) == {cause: found.difference} and found.difference > 0


def test_a_cause_of_less_than_half_a_cent_is_still_one():
    """The roll is 0.00001 dearer a metre: it is named, with 0.00. Where nothing changed no cause is named."""
    found = why(Subject("now", BASE), Subject("then", estimated(roll_price="3.20001")))
    assert dict(found.causes) == {WhyCause.REINFORCEMENT: 0} and found.difference == 0
    assert not why(Subject("now", BASE), Subject("then", BASE)).causes


@settings(max_examples=10, deadline=None)
@given(percent=st.floats(0, 40), price=st.decimals(Decimal("0.01"), 500, places=2),
       currency=st.sampled_from(("JPY", "EUR", "KWD")))
def test_jobs_add_up(percent, price, currency):
    """Any two jobs of one currency: the causes add up to the difference, to the minor unit."""
    costing = replace(COSTING, scrap_per_m2=Decimal("1.5"), setup_per_hide=Decimal("0.7"))
    sides = estimated(currency=currency), estimated(percent, str(price), currency, costing)
    found = why(*(Subject("x", one) for one in sides))
    assert sum(amount for _, amount in found.causes) == found.difference
    assert len({amount.as_tuple().exponent for _, amount in found.causes} | {found.after.as_tuple().exponent}) == 1


def test_two_currencies_are_refused():
    """Yen and euros have no difference."""
    with pytest.raises(PlanProblem, match="costed in EUR, then in JPY"):
        why(Subject("now", BASE), Subject("then", estimated(currency="JPY")))


def test_the_handbook_by_hand():
    """39 ÷ ⁴√W off the interlock yield and 15 % on top (from memory), at the price that the sheet pays for a mm²."""
    lines = {(one.size, one.line): one for one in handbook(of_estimate(BASE), BASE.standard)}
    use = BASE.takes["box", "38"].use
    ratio = 5e5 / (use.rough_mm2 / 2)
    by_book = 1.15 * use.rough_mm2 / (use.interlock_yield - 0.39 / ratio**0.25)
    assert lines["38", "total"].book_mm2 == pytest.approx(by_book)
    assert lines["38", "total"].here_mm2 == pytest.approx(use.material_mm2)
    assert lines["38", "total"].here == Decimal(str(round(Fraction(use.material_mm2) / 10**6 * 30 * 100) / 100))


@pytest.mark.parametrize("of", ["plan", "job"])
def test_the_lines_of_the_handbook_add_up(of):
    """In area and in money, of a plan in yen and of a job in euros; where the knife cuts the two do not differ."""
    if of == "plan":
        found = account(yen_plan(), lattice=rectangle_lattice)
        lines = handbook(found.classical, found.cost)
    else:
        lines = handbook(of_estimate(BASE), BASE.standard)
    assert lines
    for key, total in totals(lines).items():
        mine = [one for one in lines if (one.style, one.size) == key and one.line != "total"]
        for name in ("book", "here", "difference"):
            assert sum(getattr(one, name) for one in mine) == getattr(total, name)
            assert sum(getattr(one, f"{name}_mm2") for one in mine) == pytest.approx(getattr(total, f"{name}_mm2"))
        assert mine[0].line == "rough pair" and mine[0].difference_mm2 == 0.0
        assert abs(mine[0].difference) <= Decimal("0.01")  # the lines of each side are rounded to add up
        assert all(one.reason for one in mine)


@pytest.mark.parametrize(("sizes", "middle"), [(("38",), "38"), (("38", "39"), "39"), (tuple("34567"), "5"),
                                               (tuple("345678"), "6")])
def test_sizes_stand_beside_the_middle_one_of_their_style(sizes, middle):
    """Of five the third, of four the third too; each style has its own, and no size stands beside itself."""
    row = BASE.standard.sizes[0]
    rows = *(replace(row, size=size) for size in sizes), replace(row, style="case", size="39")
    found = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("nest.accounts.why.why", lambda before, after: found.append((before.name, after.name)))
        by_size(SimpleNamespace(standard=SimpleNamespace(sizes=rows)))
    assert found == [(f"box {middle}", f"box {size}") for size in sizes if size != middle]


@pytest.mark.parametrize(("style_name", "size"), [("", ""), ("box", ""), ("box", "38"), ("box", "40")])
@pytest.mark.parametrize("one", [BASE, estimated(9.0, costing=replace(
    COSTING, scrap_per_m2=Decimal("1.5"), setup_per_hide=Decimal("0.7")))])
def test_the_factors_of_a_pair_give_its_price(one, style_name, size):
    """Pairs cut a good one × (leather by area, shape, ground and price, and all else) × what is added in percent.

    That is 10 % of all, and a margin of 20 % of the price: 1.1 / 0.8.
    """
    factor = _factors(Subject("x", one, style_name, size))
    leather = prod((factor[cause] for cause in (WhyCause.AREA, WhyCause.SHAPE, WhyCause.GROUND, WhyCause.PRICE)),
                   start=Fraction(1))
    others = sum(factor[cause] for cause in (WhyCause.REINFORCEMENT, WhyCause.LABOUR, WhyCause.SCRAP))
    price = factor[WhyCause.REJECTS] * (leather + others) * factor[WhyCause.WHOLE]
    assert price == one.standard.row(style_name, size).exact_pair
    assert factor[WhyCause.WHOLE] == Fraction(110, 80) and factor[WhyCause.SHAPE] > 1


def test_what_cost_nothing_is_dearer_by_its_price_alone():
    """Leather for nothing and no work, then 30.00 a m²: nothing is added in percent on either side."""
    free, paid = (estimated(price=price, costing=Costing(), roll_price="0") for price in ("0", "30.00"))
    found = why(Subject("now", free), Subject("then", paid))
    assert found.before == 0 and dict(found.causes) == {WhyCause.PRICE: found.after}
