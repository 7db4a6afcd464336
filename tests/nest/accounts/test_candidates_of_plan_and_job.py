"""A plan and its job find the same material cheaper: candidates are reckoned by one rule."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache

import pytest
from box_jobs import ROWS, box, brick, hide, job, roll, style, zone

from nest.accounts.candidates import _other_roll, job_candidates, plan_candidates, with_material
from nest.accounts.charges import Charge, ChargeKind
from nest.accounts.estimate import estimate_sheet
from nest.accounts.sheet import plan_sheet
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.planfile import plan_from_text, plan_text
from nest.planning.make import make_plan
from nest.stock.material import Leather
from nest.whatif import quick_uses

COSTING = Costing(scrap_per_m2=Decimal(2), candidates=(("calf", "kid"), ("knit", "felt")))


def box_job(kid: Leather, **changes):
    """Eight pairs on two hides, a fifth of one of them poor; `kid` is on offer, and another roll."""
    poor = hide("H1", zones=(zone("good", box(0, 0, 800, 500)), zone("poor", box(800, 0, 1000, 500), quality=3)))
    plain = job(
        styles=(style(roll="knit"),), order=(("box", "38", 8),), hides=(poor, hide("H2", quality=2)),
        rolls=(roll(), roll(roll_id="felt", width_mm=660.0, price_per_m=Decimal(5))),
        settings=Settings(edge_margin_mm=0.0, costing=COSTING),
    )
    return replace(plain, leathers=(*plain.leathers, kid), **changes)


@cache
def on_calf():
    """Pieces lie on calf whatever is on offer beside it: one plan serves all candidates."""
    return make_plan(box_job(Leather("kid", Decimal(27), "m2")), passes=1, engine=ROWS)


def planned_of(one):
    """The plan of a job."""
    return replace(on_calf(), leathers=one.leathers, hides=one.hides)


def both(one):
    """Sheets of a job and of a plan of it, read from its file, and of their candidates."""
    plan = plan_from_text(plan_text(planned_of(one)))
    uses = quick_uses(plan)
    return (
        (estimate_sheet(one, brick), [found.sheet for found in job_candidates(one, brick)]),
        (plan_sheet(plan, uses), [found.sheet for found in plan_candidates(plan, uses, None, brick)]),
    )


def taken(sheet, kind=ChargeKind.LEATHER) -> float:
    """Leather in m², or metres of roll."""
    units = {"m2": 1.0, "ft2": 0.09290304, "m": 1.0}
    return sum(float(one.quantity) * units[one.unit] for one in sheet.charges if one.kind is kind)


@pytest.mark.parametrize("kid", [
    Leather("kid", Decimal(27), "m2", mean_hide_mm2=4e5, unfit_share=0.30),
    Leather("kid", Decimal(27), "m2", mean_hide_mm2=9e5, unfit_share=0.02),
    Leather("kid", Decimal("2.60"), "ft2", ((2, Decimal("2.2")),), breaks=((Decimal(3), Decimal(10)),)),
])
def test_plan_and_job_take_the_same_more_or_less(kid):
    """What a candidate takes more or less, unfit ground and all, is the same share of a plan as of its job."""
    (now, then), (planned, swapped) = both(box_job(kid))
    for kind, i in ((ChargeKind.LEATHER, 0), (ChargeKind.REINFORCEMENT, 1)):
        assert taken(swapped[i], kind) / taken(planned, kind) == pytest.approx(
            taken(then[i], kind) / taken(now, kind), rel=1e-6
        )
    assert (then[0].order.exact < now.order.exact) == (swapped[0].order.exact < planned.order.exact)


def test_unfit_ground_decides_which_leather_is_cheaper():
    """At a price a tenth lower a leather with much unfit ground is dearer, in the estimate and in the plan."""
    for share, dearer in ((0.35, True), (0.05, False)):
        (now, then), (planned, swapped) = both(
            box_job(Leather("kid", Decimal(27), "m2", mean_hide_mm2=5e5, unfit_share=share))
        )
        assert (then[0].order.exact > now.order.exact) is dearer
        assert (swapped[0].order.exact > planned.order.exact) is dearer


def test_what_a_stock_costs_are_its_own_materials():
    """Calf and the roll cost the sum of their rows; a leather that is not used costs nothing."""
    sheet = plan_sheet(on_calf(), quick_uses(on_calf()))
    for name, kind in (("calf", ChargeKind.LEATHER), ("knit", ChargeKind.REINFORCEMENT)):
        rows = [row.amount for row in sheet.materials if row.kind is kind]
        assert sheet.of_stock(name) == sum(rows) > 0
    assert sheet.of_stock("kid") == 0


def test_a_candidate_in_stock_is_priced_by_its_hides():
    """Hides of the candidate in stock give its price, in the job and in the plan; else the classes it would replace."""
    kid = Leather("kid", Decimal(27), "m2", ((2, Decimal(20)),))
    stock = box_job(kid)
    mine = replace(hide("K1", quality=2), leather="kid"), replace(hide("K2", price=Decimal(50)), leather="kid")
    for one, prices in ((replace(stock, hides=(*stock.hides, *mine)), {20, 50}), (stock, {27, 20})):
        for _, swapped in both(one):
            assert {int(charge.price) for charge in swapped[0].charges if charge.kind is ChargeKind.LEATHER} <= prices


def test_hides_of_two_prices_share_what_is_taken():
    """Two hides of the same area are charged half each, and together as much leather as at a single price."""
    kid, found = Leather("kid", Decimal(27), "m2"), []
    for price in (50, 20):
        mine = tuple(replace(hide(name, price=Decimal(one)), leather="kid")
                     for name, one in (("K1", 50), ("K2", price)))
        plain = box_job(kid)
        (_, then), (_, swapped) = both(replace(plain, hides=(*plain.hides, *mine)))
        found.append([then[0], swapped[0]])
    for alike, unlike in zip(*found, strict=True):
        assert taken(unlike) == pytest.approx(taken(alike), rel=1e-12)
        halves = [sum(one.quantity for one in unlike.charges if one.kind is ChargeKind.LEATHER and one.price == price)
                  for price in (20, 50)]
        assert halves[0] == halves[1] > 0


def test_a_leather_without_a_yield_is_charged_as_planned():
    """Where nothing can be estimated the same is charged, and it is said."""
    plan = planned_of(box_job(Leather("kid", Decimal(60), "m2", mean_hide_mm2=3e4)))
    uses = quick_uses(plan)
    found = plan_candidates(plan, uses, None, brick)[0].sheet
    assert taken(found) == pytest.approx(taken(plan_sheet(plan, uses)))
    assert any("no yield of box" in note for note in found.notes)


@pytest.mark.parametrize(("hides", "unfit", "own", "lent"), [
    (2, None, 0.1, True), (2, 0.3, 0.1, False), (0, None, 0.1, False), (0, 0.3, 0.1, False), (0, None, None, False),
])
def test_what_is_not_known_of_a_leather_is_as_of_the_one_it_replaces(hides, unfit, own, lent):
    """Hides are lent where they are and nothing is known of the other; else the mean area, and the unfit share where
    it has none of its own."""
    one = box_job(Leather("kid", Decimal(27), "m2", unfit_share=unfit))
    calf = replace(one.leathers[0], mean_hide_mm2=None if hides else 6e5, unfit_share=own)
    one = replace(one, hides=one.hides[:hides], leathers=(calf, *one.leathers[1:]))
    found = with_material(one, "calf", "kid", None)
    (kid,) = (each for each in found.job.leathers if each.name == "kid")
    assert [style.leather for style in found.job.styles] == ["kid"]
    assert found.notes == ("kid: the mean area of its hides is not stated; that of calf is used.",)
    assert [each.hide_id for each in found.job.hides if each.leather == "kid"] == (["H1", "H2"] if lent else [])
    area = None if lent else sum(each.measured_area_mm2 for each in one.hides) / 2 if hides else 6e5
    assert kid.mean_hide_mm2 == area and kid.unfit_share == (None if lent else unfit or own)


def test_another_roll_takes_the_place_of_its_own_alone():
    """Charged on knit it is charged on felt at 5 a metre; on another roll, or not for a reinforcement, it stays."""
    def charge(kind, stock):
        return Charge("box", "38", kind, "", Fraction(10), "m", Fraction(3), stock, stock)

    knit, other = charge(ChargeKind.REINFORCEMENT, "knit"), charge(ChargeKind.REINFORCEMENT, "mesh")
    leather = charge(ChargeKind.LEATHER, "knit")
    found = _other_roll(on_calf(), [knit, other, leather], "knit", "felt", {}, {})
    assert found == [replace(knit, price=Fraction(5), material="felt", stock="felt"), other, leather]
