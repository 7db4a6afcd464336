"""Tiny plans with everything that money knows: breaks, classes, own prices, labour, scrap; invented."""

from dataclasses import replace
from decimal import Decimal

from tiny_plans import box_plan, hide, in_pairs, roll, slant_plan, spots, style, two_sizes

from nest.job.costing import Costing
from nest.job.job import Settings
from nest.plan import CutLine, HideLayout, Lay, Placed
from nest.stock.material import Leather


def metric_plan():
    """Two hides of two classes at m² prices with a break, a lay, two sizes, one cut for spoilage; labour, scrap."""
    base = two_sizes()
    costing = Costing(labour_per_hour=Decimal("36.50"), scrap_per_m2=Decimal("2.50"))
    backs = tuple(Placed("B38", replace(base.layouts[0].placed[0].pose, x=102.0 + 205.0 * i, y=52.0)) for i in range(2))
    return replace(
        base, settings=Settings(costing=costing), pieces=(*base.pieces, box_plan().pieces[1]),
        styles=(style(),), order=(CutLine("box", "38", 1, 2), CutLine("box", "44", 1, 1)),
        hides=(hide(), hide("H2", quality=2, measured=5.1371e5)),
        layouts=(*base.layouts, HideLayout("H2", in_pairs(["V38"] * 2, spots(2), first_pair=3))),
        leathers=(Leather("calf", Decimal("30.37"), "m2", ((2, Decimal("24.11")),),
                          breaks=((Decimal("0.6"), Decimal(2)), (Decimal(1), Decimal("3.5")))),),
        lays=(Lay("L1", "knit", 409.0, 2, backs),), rolls=(roll(breaks=((Decimal("0.898"), Decimal(10)),)),),
    )


def footage_plan():
    """Left and right vamps on three hides priced by the ft², one with its own price a m²; a break; dinars of fils."""
    base = slant_plan()
    own = replace(hide("H3", price=Decimal("41.25"), measured=18.25 / 3 * 304.8**2), price_unit="m2")
    placed = base.layouts[0].placed
    return replace(
        base, settings=Settings(currency="KWD", costing=Costing(scrap_per_m2=Decimal("0.125"))),
        order=(CutLine("slant", "38", 5, 6),), hides=(hide(measured=5.25 * 304.8**2), hide("H2", quality=3), own),
        layouts=tuple(HideLayout(f"H{i}", tuple(replace(one, pair=one.pair + 2 * i) for one in placed))
                      for i in (1, 2, 3)),
        leathers=(Leather("calf", Decimal("3.105"), "ft2", ((3, Decimal("2.2")),),
                          breaks=((Decimal(16), Decimal(7)),)),),
    )


def yen_plan():
    """The metric plan in yen by the dm², with everything that can be added to material, another for the roll."""
    plan = metric_plan()
    costing = replace(
        plan.settings.costing, labour_per_hour=Decimal(2450), scrap_per_m2=Decimal(90), setup_per_hide=Decimal(120),
        setup_per_lay=Decimal(75), press_per_hour=Decimal(2100), press_s_per_pair=Decimal("74.5"),
        freight_percent=(("", Decimal("3.25")), ("knit", Decimal(6))), duty_percent=(("calf", Decimal("4.3")),),
        overhead_percent=Decimal("17.5"), margin_percent=Decimal(22),
    )
    leather = replace(plan.leathers[0], price=Decimal("46.5"), price_unit="dm2",
                      price_by_quality=((2, Decimal("38.75")),),
                      breaks=((Decimal(60), Decimal(2)), (Decimal(100), Decimal("3.5"))))
    return replace(plan, settings=Settings(currency="JPY", costing=costing), leathers=(leather,))


def rupee_plan():
    """The footage plan in rupees, bought in dollars at 83.4125, one hide at its own price by the m²; a margin alone."""
    plan, rate = footage_plan(), Decimal("83.4125")
    leather = plan.leathers[0]
    leather = replace(
        leather, price=leather.price * rate, currency="USD", rate=rate, rate_date="2026-11-02",
        price_by_quality=tuple((quality, price * rate) for quality, price in leather.price_by_quality),
    )
    hides = tuple(replace(one, price=one.price and one.price * rate) for one in plan.hides)
    costing = Costing(margin_percent=Decimal(30), freight_percent=(("calf", Decimal("7.5")),))
    return replace(plan, settings=Settings(currency="INR", costing=costing), leathers=(leather,), hides=hides)
