"""Whatever a job costs, in every view: parts add up, sizes make the order, and doubled prices double everything."""

from dataclasses import replace
from decimal import Decimal

import pytest
from box_jobs import brick, hide, job, roll, style
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.accounts.candidates import job_candidates
from nest.accounts.estimate import GroundMemory, estimate_sheet
from nest.accounts.quotation import quotation
from nest.accounts.standard import job_standard
from nest.accounts.why import by_size
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.job.scenarios import Choice, Choices
from nest.pieces.piece import Part
from nest.pieces.quantities import RejectPairs
from nest.pieces.style import OrderLine
from nest.scenarios import combined, cost_scenarios
from nest.stock.material import Leather
from nest.whatif import allowance_changes, what_if

MONEY = ("labour_per_hour", "scrap_per_m2", "setup_per_hide", "setup_per_lay", "press_per_hour")
CHOICES = (Choices("leathers", (Choice(), Choice("kid", instead=(("calf", "kid"),)))),
           Choices("quantities", (Choice(), Choice("many", pairs=300))))

prices = st.decimals(Decimal("0.01"), 500, places=2)
percents = st.decimals(0, 60, places=1)


@st.composite
def jobs(draw):
    """Two sizes on hides of three prices and two leathers; everything that can be charged, in four currencies."""
    costing = Costing(
        **{name: draw(prices) for name in MONEY}, press_s_per_pair=draw(percents), overhead_percent=draw(percents),
        margin_percent=draw(percents), freight_percent=(("", draw(percents)),), candidates=(("calf", "kid"),),
        duty_percent=(("calf", draw(percents)),), pairs_per_year=draw(st.integers(1, 10**6)),
    )
    breaks = ((Decimal(1), draw(percents)),)
    return job(
        styles=(style(roll="knit", reject_percent=float(draw(percents))),), rolls=(roll(price_per_m=draw(prices)),),
        hides=(hide("H1"), hide("H2", quality=2), hide("H3", price=draw(prices))),
        leathers=(Leather("calf", draw(prices), "m2", ((2, draw(prices)),), breaks=breaks),
                  Leather("kid", draw(prices), "ft2")),
        order=(("box", "38", draw(st.integers(1, 400))), ("box", "39", draw(st.integers(1, 400)))),
        settings=Settings(currency=draw(st.sampled_from(("EUR", "JPY", "KWD", "INR"))), costing=costing,
                          reject_pairs=draw(st.sampled_from(RejectPairs))),
    )


def doubled(one):
    """The job with every price and wage twice as high, and every percentage as it is."""
    costing = replace(one.settings.costing, **{name: 2 * getattr(one.settings.costing, name) for name in MONEY})
    return replace(
        one, settings=replace(one.settings, costing=costing),
        rolls=tuple(replace(each, price_per_m=2 * each.price_per_m) for each in one.rolls),
        hides=tuple(replace(each, price=each.price and 2 * each.price) for each in one.hides),
        leathers=tuple(replace(each, price=2 * each.price, price_by_quality=tuple(
            (quality, 2 * price) for quality, price in each.price_by_quality)) for each in one.leathers),
    )


def sheets_of(one):
    """The estimate, its standard cost, and both with the candidate."""
    standard = job_standard(one, brick)
    (candidate,) = job_candidates(one, brick)
    return standard, (standard.estimate.sheet, standard.estimate.standard, candidate.sheet, candidate.standard)


@settings(max_examples=4, deadline=None)
@given(jobs())
def test_parts_add_up_and_sizes_make_the_order(one):
    """Lines, reasons and causes add up to what they are parts of, to the last minor unit; sizes add up to the order."""
    standard, sheets = sheets_of(one)
    for sheet in sheets:
        for row in sheet.rows:
            assert sum(row.amounts) == row.total and sum(row.per_pair) == row.good_pair
        for i in range(len(sheet.order.amounts)):
            assert sum(row.amounts[i] for row in sheet.sizes) == sheet.order.amounts[i]
        assert sum(row.exact for row in sheet.sizes) == sheet.order.exact == sum(one.exact for one in sheet.charges)
        assert sum(row.amount for row in sheet.materials) == sheet.total
    for row in standard.rows:
        assert sum(row.reasons) == row.plan - row.standard
    for cause in by_size(standard.estimate):
        assert sum(amount for _, amount in cause.causes) == cause.difference
    found = quotation(one, standard.estimate, day="2026-11-30")
    for step in found.offers[0].steps:
        assert step.total == step.pairs * step.pair
    assert sum(pairs for _, pairs in found.offers[0].sizes) == sum(line.pairs for line in one.order)


@settings(max_examples=4, deadline=None)
@given(jobs())
def test_doubled_prices_double_every_view(one):
    """Sheets and candidates exactly; a quotation but for the rounding of its price of a pair."""
    (now, before), (then, after) = (sheets_of(each) for each in (one, doubled(one)))
    for old, new in zip(before, after, strict=True):
        assert [row.exact for row in new.rows] == [2 * row.exact for row in old.rows]
    offers = [quotation(each, found.estimate, day="2026-11-30").offers[0]
              for each, found in ((one, now), (doubled(one), then))]
    for old, new in zip(*(offer.steps for offer in offers), strict=True):
        assert abs(new.pair - 2 * old.pair) <= 1.5 * 10.0 ** old.pair.as_tuple().exponent


@pytest.fixture(scope="module")
def known_ground():
    """The shapes of all these jobs are the same, so that their ground is looked at once."""
    return GroundMemory(job(styles=(style(roll="knit"),), rolls=(roll(),), order=(("box", "38", 1), ("box", "39", 1))))


@settings(max_examples=2, deadline=None)
@given(one=jobs())
def test_doubled_prices_double_scenarios_and_what_ifs(known_ground, one):
    """Prices, differences, savings of a year and their errors; what a millimetre costs, by size and for the order."""
    tables = [cost_scenarios(each, [mine.section for mine in CHOICES], combined(each, CHOICES, known_ground),
                             known_ground) for each in (one, doubled(one))]
    by_name = [{row.costed.scenario.names: row for row in table.ranked} for table in tables]
    assert len(by_name[0]) == 4
    for names, old in by_name[0].items():
        new = by_name[1][names]
        assert new.costed.pair == 2 * old.costed.pair and new.dearer == 2 * old.dearer
        assert new.costed.by_style == {name: 2 * pair for name, pair in old.costed.by_style.items()}
        assert new.saving["box"] == pytest.approx(2 * old.saving["box"])
        assert new.costed.half_width == pytest.approx(2 * old.costed.half_width)
    old, new = (
        what_if(each, allowance_changes(each, (Part.TOE,), (-1.0, 1.0)), (), (0,),
                lambda changed, _: estimate_sheet(changed, brick, ground=known_ground)).allowances[0]
        for each in (one, doubled(one)))
    assert [new.pair.value, new.order.value, new.year.value, *(slope.value for _, slope in new.sizes)] == pytest.approx(
        [2 * slope.value for slope in (old.pair, old.order, old.year, *(slope for _, slope in old.sizes))])


def test_sizes_of_a_doubled_order_make_it_too():
    """Twice the pairs without breaks cost twice as much by the standard, size by size, and a good pair the same."""
    one = job(styles=(style(roll="knit", reject_percent=7.0),), rolls=(roll(),),
              order=(("box", "38", 7), ("box", "39", 4)))
    twice = replace(one, order=tuple(OrderLine(line.style, line.size, 2 * line.pairs) for line in one.order))
    old, new = (job_standard(each, brick).estimate.standard for each in (one, twice))
    assert [row.exact for row in new.rows] == [2 * row.exact for row in old.rows]
    assert [row.exact_pair for row in new.rows] == [row.exact_pair for row in old.rows]
