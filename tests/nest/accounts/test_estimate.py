"""A job costed before anything is placed, on rectangles whose every figure is known."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from box_jobs import box, brick, hide, job, roll, style, zone

from geometry.polygon import area
from nest.accounts.candidates import job_candidates
from nest.accounts.estimate import GroundMemory, estimate_job, estimate_sheet, pair_estimates
from nest.accounts.sheet import LINES, SPOILAGE
from nest.errors import PlanProblem
from nest.estimate.make import quick_estimate
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.perpair.reach import Probe
from nest.perpair.use import ground_of
from nest.perpair.yield_model import reached_yield
from nest.pieces.make import make_pieces
from nest.stock.material import Leather

BOUNDLESS = Leather("calf", Decimal(30), "m2", mean_hide_mm2=1e18, unfit_share=0.0)
"""Hides without end and without a fault: neither edge nor flaws take anything."""


def bare(**changes):
    """A job of boundless hides: the parallelogram alone is charged."""
    plain = {"hides": (), "styles": (style(roll="knit"),), "rolls": (roll(),), "leathers": (BOUNDLESS,)}
    return job(**(plain | changes))


def test_parallelogram():
    """A vamp of 224 × 124 mm with a gap of 1 mm takes 225 × 125 mm; a pair 5.625 dm², 1.6875 at 30 a m²."""
    one = pair_estimates(bare(), style(roll="knit"), ["38"], brick)[0]
    assert one.use.parallelogram_mm2 == pytest.approx(56_250.0, rel=3e-3)
    assert one.leather_mm2 == pytest.approx(one.use.parallelogram_mm2)
    sheet = estimate_sheet(bare(), brick)
    leather = [charge for charge in sheet.charges if charge.kind == "leather"]
    assert float(leather[0].exact) == pytest.approx(4 * 1.6875, rel=3e-3)
    # Four pairs of 2 × 205 × 105 mm over 480 mm, one ply of 20 m with 40 mm lost, at 3.20 a metre.
    backing = [charge for charge in sheet.charges if charge.kind == "reinforcement"]
    assert float(backing[0].exact) == pytest.approx(4 * 2 * 205 * 105 / 480 / 1000 * 20 / 19.96 * 3.2, rel=3e-3)
    assert sheet.order.exact == leather[0].exact + backing[0].exact
    assert any("as the leather states it" in note for note in sheet.notes)


def test_leather_is_that_of_the_quick_estimate():
    """Two sizes, hides with a poor end: the costs charge to the last digit what the estimate of material says."""
    poor = hide(zones=(zone("good", box(0, 0, 800, 500)), zone("poor", box(800, 0, 1000, 500), quality=3)))
    for changes in ({"hides": (poor, hide("H2"))}, {"hides": ()}):
        asked = job(order=(("box", "38", 4), ("box", "39", 2)), **changes)
        quick = {one.size: one.leather.material_mm2 for one in quick_estimate(asked).sizes}
        costed = {one.size: one.leather_mm2 for one in pair_estimates(asked, asked.styles[0], ["38", "39"])}
        assert costed == quick
    one_way = replace(asked, leathers=tuple(replace(one, one_way=True) for one in asked.leathers))
    found = pair_estimates(one_way, one_way.styles[0], ["38"])[0].leather_mm2
    assert found == quick_estimate(one_way).sizes[0].leather.material_mm2


def test_styles_share_the_hides_of_their_own_leather_alone():
    """Of five styles the two of one leather come to one area for theirs; those of three others take what they took."""
    names = ("calf", "calf", "goat", "sheep", "kip")
    styles = tuple(style(f"s{i}", width=20.0 + 30.0 * i, leather=name) for i, name in enumerate(names))
    leathers = tuple(replace(BOUNDLESS, name=name) for name in dict.fromkeys(names))
    found = estimate_job(bare(
        styles=styles, rolls=(), leathers=leathers, order=tuple((one.name, "38", 2) for one in styles)), brick).takes
    both, others = [found[f"s{i}", "38"] for i in (0, 1)], [found[f"s{i}", "38"] for i in (2, 3, 4)]
    assert [one.use for one in others] == [one.alone for one in others]
    assert all(one.use.material_mm2 != pytest.approx(one.alone.material_mm2, rel=1e-3) for one in both)
    shares = [one.use.material_mm2 / one.use.rough_mm2 for one in both]
    assert shares[0] == pytest.approx(shares[1])
    assert sum(one.use.material_mm2 for one in both) == pytest.approx(sum(one.alone.material_mm2 for one in both))


def test_reinforcement_off_a_one_way_roll_has_no_half_turns():
    """A lattice with half turns that takes a third less serves a roll without a way, not one with one."""
    plain, one_way = bare(), bare(rolls=(replace(roll(), one_way=True),))
    free, bound = (
        pair_estimates(one, one.styles[0], ["38"], lambda ring, gap: (6e4, 9e4))[0] for one in (plain, one_way)
    )
    assert (free.backing_mm2, bound.backing_mm2) == (6e4, 9e4)
    assert bound.roll_mm == pytest.approx(1.5 * free.roll_mm)


def test_vamps_of_one_way_leather_have_no_half_turns():
    """A lattice with half turns that holds a third more serves leather without a way, not leather with one."""
    free, bound = (
        pair_estimates(one, style(), ["38"], lambda ring, gap: (6e4, 9e4))[0]
        for one in (bare(), bare(leathers=(replace(BOUNDLESS, one_way=True),)))
    )
    assert free.use.parallelogram_mm2 == pytest.approx(6e4) and bound.use.parallelogram_mm2 == pytest.approx(9e4)


def test_hides_too_small_are_refused():
    """Hides smaller than the edge takes leave nothing to cost; the remedy is to place."""
    tiny = replace(BOUNDLESS, mean_hide_mm2=3e3)
    with pytest.raises(PlanProblem, match="place the job"):
        estimate_sheet(bare(leathers=(tiny,)), brick)


def test_spoilage_and_labour():
    """Ten pairs at 20 percent rejects are 13 cut; the table's time is cut length and lifts."""
    costing = Costing(labour_per_hour=Decimal(36))
    settings = Settings(costing=costing)
    one = style(reject_percent=20.0)
    sheet = estimate_sheet(job(styles=(one,), order=(("box", "38", 10),), hides=(), settings=settings), brick)
    row = sheet.order
    assert (row.pairs.cut, row.pairs.good) == (13, 10)
    vamp = make_pieces(one, ["38"])[0][0]
    around = float(np.hypot(*(np.roll(vamp.cut_outline, -1, axis=0) - vamp.cut_outline).T).sum())
    hours = 13 * (2 * around / 250.0 + 2 * 0.3) / 3600
    cutting = sum(charge.exact for charge in sheet.charges if charge.kind == "cutting")
    assert float(cutting) == pytest.approx(36 * hours, rel=1e-12)
    spoilage = Fraction(3, 13) * row.exact
    assert abs(Fraction(row.amounts[LINES.index(SPOILAGE)]) - spoilage) < Fraction(1, 100)


def test_price_of_hides_in_stock():
    """Two hides of like area at 30 and 40 cost 35 a m², for the area the edge model has for their ground in reach."""
    hides = hide(price=Decimal(40)), hide("H2")
    with_stock = job(hides=hides)
    sheet = estimate_sheet(with_stock, brick)
    assert sorted(charge.price for charge in sheet.charges) == [30, 40]
    taken_m2 = sum(charge.quantity for charge in sheet.charges)
    assert sum(charge.exact for charge in sheet.charges) / taken_m2 == 35
    vamp = make_pieces(style(), ["38"])[0][0]
    rough = area(vamp.cut_outline)
    density = 2.0 * rough / brick(vamp.cut_outline, 1.0)[0]
    margin = with_stock.settings.edge_margin_mm
    within = Probe(hides, vamp, style().rules, margin, one_way=False).mean
    tolerance = style().rules.tolerance_deg
    taken = 2.0 * rough / reached_yield(density, density, within, 5e5, rough, tolerance)
    assert float(taken_m2) == pytest.approx(4 * taken / 1e6)


def test_a_candidate_at_half_the_price_costs_half():
    """A leather at half the price halves the leather's cost."""
    costing = Costing(candidates=(("calf", "kid"),))
    plain = job(hides=(), settings=Settings(costing=costing))
    plain = replace(plain, leathers=(*plain.leathers, Leather("kid", Decimal(15), "m2")))
    now = estimate_sheet(plain, brick)
    kid = job_candidates(plain, brick)[0]
    assert kid.sheet.order.exact * 2 == now.order.exact
    assert kid.dearer(now) == -kid.sheet.order.exact_pair


def test_ground_is_looked_at_once_for_a_style_and_its_rules():
    """A millimetre more allowance is reckoned on the ground found before; other rules and other hides are not."""
    memory, leather, plain = GroundMemory(job()), job().leathers[0], style()
    wider = replace(plain, allowances=replace(plain.allowances, toe_mm=14.0))
    known = memory(leather, [hide()], wider, 0.0)
    # Whatever is asked first, it is the job's own pattern that is looked at.
    assert memory(leather, [hide()], plain, 0.0) is known and known == ground_of(leather, [hide()], plain, 0.0)
    strict = replace(plain, rules=replace(plain.rules, tolerance_deg=0.0))
    # Askew, as the tolerance lets it, a rectangle has less play: the mean is more without tolerance.
    assert memory(leather, [hide()], strict, 0.0).reach.play_mm2 > known.reach.play_mm2
    assert memory(leather, [hide(), hide("H2", length=500.0)], plain, 0.0).hide_mm2 == pytest.approx(375_000.0)
    assert memory(leather, [], plain, 0.0).reach is None


def test_candidate_in_figures_is_set_beside_the_hides_it_replaces():
    """A leather that states the very figures of the hides in stock takes the same area; larger hides take less.

    Two ways of estimating must not look like a difference of leathers.
    """
    poor = hide(zones=(zone("good", box(0, 0, 800, 500)), zone("poor", box(800, 0, 1000, 500), quality=3)))
    plain = job(hides=(poor,), settings=Settings(edge_margin_mm=0.0, costing=Costing(candidates=(("calf", "kid"),))))
    now = estimate_sheet(plain, brick)

    def sheet(mean_mm2):
        kid = Leather("kid", Decimal(30), "m2", mean_hide_mm2=mean_mm2, unfit_share=0.2)
        return job_candidates(replace(plain, leathers=(*plain.leathers, kid)), brick)[0].sheet

    assert float(sheet(5e5).order.exact) == pytest.approx(float(now.order.exact), rel=1e-9)
    assert sheet(1e6).order.exact < now.order.exact


def test_candidate_without_hides_is_reckoned_with_those_of_the_other():
    """At the same price a leather of which nothing is known costs the same, and that is said."""
    plain = job(hides=(hide(),), settings=Settings(costing=Costing(candidates=(("calf", "kid"),))))
    plain = replace(plain, leathers=(*plain.leathers, Leather("kid", Decimal(30), "m2")))
    found = job_candidates(plain, brick)[0]
    assert found.sheet.order.exact == estimate_sheet(plain, brick).order.exact
    assert any("that of calf" in note for note in found.sheet.notes)


def test_nothing_ordered():
    """Without pairs there is nothing to cost."""
    with pytest.raises(PlanProblem, match="no pairs"):
        estimate_sheet(job(order=()), brick)
