"""A job costed before anything is placed, on rectangles whose every figure is known."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from box_jobs import hide, job, roll, style

from geometry.polygon import area
from nest.accounts.candidates import job_candidates
from nest.accounts.classical import edge_term_percent
from nest.accounts.estimate import CellMemory, estimate_sheet, leather_yield, pair_estimates
from nest.errors import PlanProblem
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.pieces.make import make_pieces
from nest.stock.material import Leather


def brick(ring, gap):
    """Rectangles with a gap tile as rectangles grown by it; a pair takes two (elementary)."""
    length, width = np.ptp(ring, axis=0)
    return 2.0 * (length + gap) * (width + gap)


def bare(**changes):
    """A job without hides: the parallelogram alone is charged."""
    return job(**({"hides": (), "styles": (style(roll="knit"),), "rolls": (roll(),)} | changes))


def test_parallelogram():
    """A vamp of 224 × 124 mm with a gap of 1 mm takes 225 × 125 mm; a pair 5.625 dm², 1.6875 at 30 a m²."""
    one = pair_estimates(bare(), style(roll="knit"), ["38"], brick)[0]
    assert one.parallelogram_mm2 == pytest.approx(56_250.0, rel=3e-3)
    assert one.leather_mm2 == pytest.approx(one.parallelogram_mm2)
    sheet = estimate_sheet(bare(), brick)
    leather = [charge for charge in sheet.charges if charge.kind == "leather"]
    assert float(leather[0].exact) == pytest.approx(4 * 1.6875, rel=3e-3)
    # Four pairs of 2 × 205 × 105 mm over 480 mm, one ply of 20 m with 40 mm lost, at 3.20 a metre.
    backing = [charge for charge in sheet.charges if charge.kind == "reinforcement"]
    assert float(backing[0].exact) == pytest.approx(4 * 2 * 205 * 105 / 480 / 1000 * 20 / 19.96 * 3.2, rel=3e-3)
    assert sheet.order.exact == leather[0].exact + backing[0].exact
    assert any("left out" in note for note in sheet.notes)


def test_edge_and_flaws_by_the_textbook_form():
    """Hide 200 dm², piece 6 dm²: 16.23 percent for the edge (recomputed), then 15 percent on top, or as stated."""
    assert edge_term_percent(200 / 6) == pytest.approx(16.23, abs=0.005)
    assert leather_yield(0.9, 200.0, 6.0, None) == pytest.approx((0.9 - 0.1623) / 1.15, abs=1e-4)
    assert leather_yield(0.9, 200.0, 6.0, 0.1) == pytest.approx((0.9 - 0.1623) * 0.9, abs=1e-4)
    assert leather_yield(0.9, None, 6.0, 0.1) == 0.9
    with pytest.raises(PlanProblem, match="place the job"):
        leather_yield(0.3, 6.0, 6.0, None)


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
    assert abs(Fraction(row.amounts[-1]) - spoilage) < Fraction(1, 100)


def test_price_of_hides_in_stock():
    """Two hides of like area at 30 and 40 cost 35; their mean area is that of the edge term."""
    with_stock = job(hides=(hide(price=Decimal(40)), hide("H2")))
    sheet = estimate_sheet(with_stock, brick)
    assert sheet.charges[0].price == 35
    rough = area(make_pieces(style(), ["38"])[0][0].cut_outline)
    taken = 2 * rough / leather_yield(2 * rough / brick(make_pieces(style(), ["38"])[0][0].cut_outline, 1.0),
                                      5e5, rough, None)
    assert float(sheet.charges[0].quantity) == pytest.approx(4 * taken / 1e6)


def test_candidates_and_memory():
    """A leather at half the price halves the leather's cost; nothing is worked out twice."""
    calls = []

    def counted(ring, gap):
        calls.append(gap)
        return brick(ring, gap)

    costing = Costing(candidates=(("calf", "kid"),))
    plain = job(hides=(), settings=Settings(costing=costing))
    plain = replace(plain, leathers=(*plain.leathers, Leather("kid", Decimal(15), "m2")))
    memory = CellMemory(counted)
    now = estimate_sheet(plain, memory)
    kid = job_candidates(plain, memory)[0]
    assert kid.sheet.order.exact * 2 == now.order.exact
    assert kid.dearer(now) == -kid.sheet.order.exact_pair
    assert len(calls) == 1


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
