"""The standard cost: by hand, steady from size to size, and the reasons of a difference add up to the minor unit."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from box_jobs import brick, hide, job, roll, style
from hypothesis import given, settings
from hypothesis import strategies as st
from priced_plans import footage_plan, metric_plan, yen_plan

from geometry.polygon import area
from nest.accounts.charges import Charge, ChargeKind, times
from nest.accounts.estimate import estimate_job
from nest.accounts.money import apportioned, minor_digits
from nest.accounts.sheet import plan_sheet
from nest.accounts.standard import Reason, job_standard, standard_beside, standard_errors
from nest.job.costing import Costing
from nest.perpair.needs import interval_percent
from nest.pieces.make import make_pieces
from nest.pieces.quantities import RejectPairs
from nest.stock.material import Leather
from nest.whatif import quick_uses

BOUNDLESS = Leather("calf", Decimal("30"), "m2", mean_hide_mm2=1e16, unfit_share=0.0)
PLANS = {make: make() for make in (metric_plan, footage_plan, yen_plan)}


def beside(plan):
    """The standard cost beside what the plan costs."""
    uses = quick_uses(plan)
    return standard_beside(plan, uses, plan_sheet(plan, uses))


def one_job(percent=10.0, wanted=5, rejects=RejectPairs.POOLED):
    """Rectangular vamps on hides without an edge, 30.00 a m²."""
    plain = job(hides=(), styles=(replace(style(roll="knit"), reject_percent=percent),), rolls=(roll(),),
                leathers=(BOUNDLESS,), order=(("box", "38", wanted),))
    return replace(plain, settings=replace(plain.settings, reject_pairs=rejects))


@pytest.mark.parametrize("rejects", RejectPairs)
def test_rejects_are_not_rounded(rejects):
    """5.625 dm² of leather at 30.00 a m² and the reinforcement, over 0.9 good pairs a pair cut, whatever is cut."""
    found = job_standard(one_job(rejects=rejects), brick)
    # As in test_estimate: 225 × 125 mm a vamp, 2 × 205 × 105 mm over 480 mm of a 20 m roll that loses 40 mm.
    by_hand = (2 * 0.225 * 0.125 * 30 + 2 * 0.205 * 0.105 / 0.48 * 20 / 19.96 * 3.2) / 0.9
    assert float(found.estimate.standard.order.exact_pair) == pytest.approx(by_hand, rel=3e-3)
    row = found.order
    cut = {RejectPairs.POOLED: 6, RejectPairs.BY_SIZE: 6, RejectPairs.NONE: 5}[rejects]
    assert row.plan - row.standard == row.reason(Reason.REJECTS)
    assert float(found.estimate.sheet.order.exact_pair / found.estimate.standard.order.exact_pair) == pytest.approx(
        cut * 0.9 / 5)


def test_it_grows_with_the_size_where_rounded_rejects_do_not():
    """Sizes 38, 39, 40 of which 39 alone gets the pair for rejects: by the standard 40 is dearer than 39."""
    plain = one_job(percent=4.0)
    lines = tuple(replace(plain.order[0], size=size, pairs=pairs) for size, pairs in (("38", 5), ("39", 9), ("40", 5)))
    found = job_standard(replace(plain, order=lines), brick)
    standard, rounded = ([getattr(row, name) for row in found.rows if row.size] for name in ("standard", "plan"))
    assert standard == sorted(standard) and rounded != sorted(rounded)


@pytest.mark.parametrize("make", PLANS)
@settings(max_examples=4, deadline=None)
@given(data=st.data())
def test_reasons_add_up(make, data):
    """Whatever hides measure and cost, in currencies of 0, 2 and 3 decimals: pair by pair and in all, by size too."""
    plan = PLANS[make]
    areas = data.draw(st.lists(st.floats(3e5, 9e5), min_size=3, max_size=3))
    price = data.draw(st.decimals(Decimal("0.01"), 900, places=2))
    plan = replace(
        plan, hides=tuple(replace(one, measured_area_mm2=area) for one, area in zip(plan.hides, areas, strict=False)),
        leathers=(replace(plan.leathers[0], price=price),),
        settings=replace(plan.settings, currency=data.draw(st.sampled_from(("JPY", "EUR", "KWD")))),
    )
    found, sheet = beside(plan), plan_sheet(plan, quick_uses(plan))
    for row in found.rows:
        assert sum(row.reasons) == row.plan - row.standard
        assert sum(row.reasons_all) == row.plan_all - row.standard_all
        charged = sheet.row(row.style, row.size)
        assert (row.plan, row.plan_all) == (charged.good_pair, charged.total)
        unit = 1 / 10 ** minor_digits(found.currency)
        for pair, whole in zip(row.reasons, row.reasons_all, strict=True):
            assert float(pair) * float(row.good) == pytest.approx(float(whole), abs=2.0 * unit * (float(row.good) + 2))
    for name in ("standard_all", "plan_all"):
        assert sum(getattr(row, name) for row in found.rows if row.size) == getattr(found.order, name)
    for i in range(len(Reason)):
        assert sum(row.reasons_all[i] for row in found.rows if row.size) == found.order.reasons_all[i]


def test_a_plan_shares_the_standard_of_its_kind():
    """The standard cost is the same whichever hides a plan opens, and whatever of them it uses."""
    plan = metric_plan()
    one = replace(plan, layouts=plan.layouts[:1])
    found = [{row.size: row.standard for row in beside(each).rows if row.size} for each in (plan, one)]
    assert found[1] and found[1].items() <= found[0].items()


def test_doubled_prices_double_everything():
    """All prices and wages twice, percentages as they are: standard and plan are twice what they were, exactly."""
    plan = yen_plan()
    priced = ("labour_per_hour", "scrap_per_m2", "setup_per_hide", "setup_per_lay", "press_per_hour")
    costing = replace(plan.settings.costing, **{name: 2 * getattr(plan.settings.costing, name) for name in priced})
    leather = plan.leathers[0]
    by_class = tuple((quality, 2 * price) for quality, price in leather.price_by_quality)
    twice = replace(
        plan, settings=replace(plan.settings, costing=costing),
        leathers=(replace(leather, price=2 * leather.price, price_by_quality=by_class),),
        rolls=tuple(replace(one, price_per_m=2 * one.price_per_m) for one in plan.rolls),
    )
    for sheet_of in (lambda one: beside(one).estimate.standard, lambda one: plan_sheet(one, quick_uses(one))):
        now, then = sheet_of(plan), sheet_of(twice)
        assert [row.exact for row in then.rows] == [2 * row.exact for row in now.rows]
        assert {charge.kind for charge in now.charges} == set(ChargeKind)


def test_the_least_used_hide_is_charged_by_area():
    """Two hides filled alike: nothing is left of either. One of them twice as full: much is left of the other."""
    plan = metric_plan()
    areas = [sum(part.rough_mm2 for part in use.sizes) for use in quick_uses(plan) if use.role == "vamp"]
    level = replace(plan, hides=tuple(replace(one, measured_area_mm2=2.5 * area, quality=1)
                                      for one, area in zip(plan.hides, areas, strict=True)))
    assert beside(level).order.reason(Reason.PART_USED) == 0
    fuller = replace(level.hides[areas.index(max(areas))], measured_area_mm2=1.25 * max(areas))
    half = replace(level, hides=tuple(fuller if one.hide_id == fuller.hide_id else one for one in level.hides))
    assert beside(half).order.reason(Reason.PART_USED) > 0


def test_shares_come_down_where_the_total_was_rounded_down():
    """Parts 1 and 0 of a total that is shown as 0: the first comes down, what is nothing stays nothing."""
    assert apportioned([Fraction(1), Fraction(0)], Decimal("0"), 0) == (Decimal(0), Decimal(0))
    assert apportioned([Fraction(3, 2), Fraction(-1, 2), Fraction(0)], Decimal("0"), 0) in (
        (Decimal(1), Decimal(-1), Decimal(0)), (Decimal(0), Decimal(0), Decimal(0)),
    )


def test_how_sure_the_leather_is_goes_by_the_hides_in_stock():
    """Of calf two hides are drawn and of kid none: each has its own interval, and a leather that nobody uses none."""
    calf, kid, goat = BOUNDLESS, replace(BOUNDLESS, name="kid", mean_hide_mm2=5e5), replace(BOUNDLESS, name="goat")
    one = job(hides=(hide(), hide("H2"), replace(hide("H3"), leather="goat")), leathers=(calf, kid, goat),
              styles=(style(), style("slip", leather="kid")), order=(("box", "38", 40), ("slip", "38", 40)))
    for hides in (one.hides, one.hides[:2], one.hides[::-1]):
        now = replace(one, hides=hides)
        found = estimate_job(now, brick)
        errors = standard_errors(now, found)
        assert list(errors) == ["calf", "kid"]
        for name, style_name, known in (("calf", "box", True), ("kid", "slip", False)):
            (took,) = (each for each in found.takes.values() if each.style == style_name)
            sides = 40 * took.leather_mm2 / took.ground.hide_mm2
            assert errors[name] == interval_percent(known, 1, sides) != interval_percent(not known, 1, sides)


def test_scrap_of_an_estimate_is_what_the_vamps_leave():
    """Leather taken less what two vamps cover: credited at its price; no price, no credit."""
    one = one_job(percent=0.0)
    priced = replace(one, settings=replace(one.settings, costing=Costing(scrap_per_m2=Decimal(2))))
    by_kind = {charge.kind: charge for charge in estimate_job(priced, brick).standard.charges}
    scrap, leather = by_kind[ChargeKind.SCRAP], by_kind[ChargeKind.LEATHER]
    vamps = 5 * 2 * area(make_pieces(one.styles[0], ["38"])[0][0].cut_outline) / 1e6
    assert leather.unit == "m2" and float(leather.quantity - scrap.quantity) == pytest.approx(vamps)
    assert scrap.price == -2 and scrap.quantity > 0
    assert ChargeKind.SCRAP not in {charge.kind for charge in estimate_job(one, brick).standard.charges}


def test_what_is_added_in_percent_counts_on_what_it_is_added_to():
    """Freight of 4 % on calf alone, then 10 % and 20 % on all: 1.04 × 1.1 × 1.2 on calf, 1.32 on kid and labour."""
    def charge(kind, price=1, stock="", on=""):
        return Charge("box", "38", kind, "", Fraction(10), "m2", Fraction(price), "", stock, on=on)

    calf, kid, labour = (charge(ChargeKind.LEATHER, 30, "calf"), charge(ChargeKind.LEATHER, 40, "kid"),
                         charge(ChargeKind.CUTTING))
    added = [charge(ChargeKind.FREIGHT, Fraction(1, 25), on="calf"), charge(ChargeKind.OVERHEAD, Fraction(1, 10)),
             charge(ChargeKind.MARGIN, Fraction(1, 5))]
    factor = times([calf, kid, labour, *added])
    assert [factor(one) for one in (calf, kid, labour)] == [Fraction(13728, 10_000), *[Fraction(132, 100)] * 2]
    assert times([calf])(calf) == 1
