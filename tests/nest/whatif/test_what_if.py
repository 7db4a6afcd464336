"""Prices of allowances and rules on a rectangle whose every figure has a closed form.

The net vamp is 200 × 100 mm. A hide is cut to fit: so many vamps in a row and column, without gap and waste. A pair
then takes 2 × (200 + toe + back) × (100 + 2 side) mm², and leather costs 30 a m².
"""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from box_jobs import hide, job, style
from tiny_plans import box_plan, in_pairs, rectangle, spots
from tiny_plans import hide as tiny_hide

from geometry.pose import Pose
from nest.accounts.estimate import GroundMemory, estimate_sheet
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.pieces.piece import Foot, Part, Piece, Role
from nest.pieces.remembered import PieceMemory
from nest.pieces.style import Allowances
from nest.plan import CutLine, HideLayout, Placed, Plan, PlannedStyle
from nest.whatif import allowance_changes, plan_cost, quick_uses, rule_changes, used_ground, what_if
from nest.whatif.between import BetweenSizes
from nest.whatif.changes import with_allowance
from nest.whatif.prices import TOGETHER
from nest.whatif.slope import Estimated

PRICE = 30e-6
"""Of a mm² of leather."""


def tailor(noise=0.0):
    """A placer that cuts a hide to fit the pieces, some share larger or smaller by its seed and the job."""

    def place(one_job, seed):
        one, line = one_job.styles[0], one_job.order[0]
        given = one.allowances
        length, width = 200.0 + given.toe_mm + given.back_mm, 100.0 + 2.0 * given.side_mm
        vamp = Piece("V38", one.name, line.size, Foot.EITHER, Role.VAMP, rectangle(length, width), rectangle(200, 100))
        count = 2 * line.pairs
        random = np.random.default_rng((seed, round(1e3 * length), round(1e3 * width)))
        area = count * length * width * (1.0 + random.normal(0.0, noise))
        skin = replace(hide(length=length * count, width=width), measured_area_mm2=area)
        placed = [Placed("V38", Pose(length * (i + 0.5), width / 2, 0.0), 1 + i // 2) for i in range(count)]
        planned = PlannedStyle(one.name, one.leather, "", one.rules, given, 0.0, 0.0, 10.0, ())
        return Plan(
            "boxes", (planned,), (CutLine(one.name, line.size, line.pairs, line.pairs),), (vamp,), one_job.leathers,
            (skin,), (), one_job.settings, (HideLayout("H1", tuple(placed)),), (),
        )

    return place


def prices_of(one_job, noise=0.0, seeds=(1,), rules=()):
    """The price of every part by the tailor."""
    return what_if(one_job, allowance_changes(one_job), rules, seeds, plan_cost(tailor(noise)))


TRUE = {Part.TOE: 2 * 124 * PRICE, Part.SIDE: 2 * 2 * 224 * PRICE, Part.BACK: 2 * 124 * PRICE}
"""Derivatives of the closed form at 12 mm all round."""


def test_closed_form():
    """Without noise each price is the derivative of the closed form; order and year are so many pairs."""
    one_job = job(settings=Settings(costing=Costing(pairs_per_year=1000)))
    found = prices_of(one_job)
    assert [price.part for price in found.allowances] == list(Part)
    for price in found.allowances:
        assert price.pair.value == pytest.approx(TRUE[price.part], rel=1e-6)
        assert price.pair.error == pytest.approx(0.0, abs=1e-9)
        assert price.order.value == pytest.approx(4 * TRUE[price.part], rel=1e-6)
        assert price.year.value == pytest.approx(1000 * TRUE[price.part], rel=1e-6)
        assert dict(price.sizes)["38"].value == price.pair.value
        assert price.steps_mm == (-2.0, -1.0, 0.0, 1.0, 2.0)
    assert found.now.order.exact_pair == found.now.order.exact / 4
    assert float(found.now.order.exact_pair) == pytest.approx(2 * 224 * 124 * PRICE)


def test_within_the_stated_error():
    """With placements that scatter by 0.3 percent, the interval holds the closed form about 19 times of 20."""
    hits = total = 0
    for start in range(25):
        for price in prices_of(job(), 0.003, (3 * start + 1, 3 * start + 2, 3 * start + 3)).allowances:
            assert price.pair.error > 0.0
            hits += abs(price.pair.value - TRUE[price.part]) <= price.pair.half_width
            total += 1
    assert hits / total > 0.87  # 0.95 less three standard errors of 75 cases


def test_rules_have_prices():
    """A change that the placer does not heed costs nothing; one that it heeds costs what it takes."""
    one_job = job()
    rules = rule_changes(one_job)
    names = [rule.name for rule in rules]
    assert "tolerance ±5°" in names and "tolerance ±15°" in names and "tolerance ±10°" not in names
    assert {"bias allowed", "pairs from one hide not demanded", "gap 2 mm instead of 1 mm"} <= set(names)

    def place(changed, seed):
        plan = tailor()(changed, seed)
        area = plan.hides[0].measured_area_mm2 * (1.1 if changed.styles[0].rules.tolerance_deg == 5.0 else 1.0)
        return replace(plan, hides=(replace(plan.hides[0], measured_area_mm2=area),))

    found = what_if(one_job, (), rules, (1, 2), plan_cost(place))
    by_name = {price.name: price for price in found.rules}
    assert by_name["bias allowed"].pair.value == 0.0
    price = by_name["tolerance ±5°"]
    assert price.pair.value == pytest.approx(0.1 * 2 * 224 * 124 * PRICE, rel=1e-6)
    assert price.order.value == pytest.approx(4 * price.pair.value)


def test_stopped_early():
    """What was finished is shown and said to be less; stopped before the first run there is nothing."""
    told = []
    one_job = job()
    found = what_if(
        one_job, allowance_changes(one_job), (), (1, 2), plan_cost(tailor()), cancelled=lambda: len(told) > 7,
        tell=lambda name, done, total: told.append((name, done, total)),
    )
    assert told[0] == ("as it is", 0, 26) and told[-1][1] == 7
    assert not found.complete and found.notes and [price.part for price in found.allowances] == [Part.TOE, Part.SIDE]
    assert found.seeds == (1,)
    assert what_if(one_job, (), (), (1,), plan_cost(tailor()), cancelled=lambda: True) is None


def test_the_rest_of_the_least_used_hide_goes_back():
    """Of two hides of 1000 × 500 mm the one with a pair on it is charged up to its last cut line, the other whole."""
    plan = box_plan(layouts=(
        HideLayout("H1", in_pairs(["V38"] * 4, spots(4))),
        HideLayout("H2", in_pairs(["V38"] * 2, [(120.0, 70.0), (120.0, 200.0)], first_pair=3)),
    ), hides=(tiny_hide(), tiny_hide("H2", measured=4e5)))
    whole, part, lay = used_ground(plan)
    assert whole.paid_mm2 == 5e5 and lay.paid_mm2 == quick_uses(plan)[2].paid_mm2
    # The last cut runs at 120 + 112 = 232 mm of 1000.
    assert part.paid_mm2 == pytest.approx(0.232 * 4e5) and part.account.material_mm2 == pytest.approx(232 * 500)
    assert part.account.waste_mm2 == pytest.approx(232 * 500 - 2 * 224 * 124)
    assert part.sizes == quick_uses(plan)[1].sizes


def test_short_plans_are_said():
    """A plan that gives half the pairs is priced by those, and counted."""

    def half(one_job, seed):
        plan = tailor()(one_job, seed)
        layout = plan.layouts[0]
        return replace(plan, layouts=(replace(layout, placed=layout.placed[: len(layout.placed) // 2]),))

    found = what_if(job(), allowance_changes(job(), [Part.TOE]), (), (1,), plan_cost(half))
    assert any(note.startswith("5 of 5 plans are short") for note in found.notes)
    assert prices_of(job()).notes == ()


def test_changes():
    """Sizes with allowances of their own change along; none falls below 0."""
    given = Allowances(1.5, 5.0, 0.0, 0.0, 0.0, 0.0, by_size=(("39", 2.0, 6.0, 1.0),))
    one_job = job(styles=(style(allowances=given),))
    changed = with_allowance(one_job, "box", Part.TOE, 2.0).styles[0].allowances
    assert (changed.toe_mm, changed.side_mm, changed.by_size) == (3.5, 5.0, (("39", 4.0, 6.0, 1.0),))
    assert [(change.part, change.mm) for change in allowance_changes(one_job, [Part.TOE, Part.BACK])] == [
        (Part.TOE, -1.0), (Part.TOE, 1.0), (Part.TOE, 2.0), (Part.BACK, 1.0), (Part.BACK, 2.0),
    ]
    with pytest.raises(ValueError, match="back"):
        with_allowance(one_job, "box", Part.BACK, -1.0)


def test_by_lattice():
    """The fast way, with the parallelogram of a brick wall on boundless hides: toe 16, side 12, back 8 mm, gap 1 mm.

    The larger of two allowances holds to the very end of its part, so the outline's box is 200 + toe + side long and
    100 + 2 toe wide: 229 × 133 with the gap. The back then changes nothing.
    """
    given = Allowances(16.0, 12.0, 8.0, 0.0, 0.0, 0.0)
    one_job = replace(job(hides=(), styles=(style(allowances=given),)),
                      leathers=(replace(job().leathers[0], price=Decimal(1000), mean_hide_mm2=1e18, unfit_share=0.0),))

    def brick(ring, gap):
        length, width = np.ptp(ring, axis=0)
        return (2.0 * (length + gap) * (width + gap),) * 2

    changes = allowance_changes(one_job, steps=(-2.0, 2.0))
    found = what_if(one_job, changes, (), (0,), lambda changed, seed: estimate_sheet(changed, brick))
    for price in found.allowances:
        expected = {Part.TOE: 2 * (133 + 2 * 229), Part.SIDE: 2 * 133, Part.BACK: 0}[price.part] * 1e-3
        assert price.pair.value == pytest.approx(expected, rel=0.05, abs=0.02)


def test_slopes_lie_beside_the_changed_job_by_no_more_than_they_say():
    """One part by a millimetre either way, and several at once: a box bends where one allowance passes another.

    The interval of the slope alone is too narrow for a single part: there the line passes between two others.
    """
    one, make = job(hides=(), styles=[style(lean=20.0)], order=(("box", "38", 4),)), PieceMemory()
    ground = GroundMemory(one, make)
    between = BetweenSizes(one, make)

    def cost(changed, seed=0):
        return estimate_sheet(changed, ground=ground, estimates=between)

    prices = what_if(one, allowance_changes(one), (), (0,), cost).allowances
    now, narrow = cost(one).order.exact_pair, 0
    for mm in ((1, 0, 0), (0, -1, 0), (0, 0, 1), (-1, -1, 0), (2, -2, 0), (-2, 0, -2), (1, -1, 1)):
        changed = one
        for part, more in zip(Part, mm, strict=True):
            changed = with_allowance(changed, "box", part, more)
        off = abs(float(cost(changed).order.exact_pair - now) - sum(
            more * price.pair.value for more, price in zip(mm, prices, strict=True)))
        said = sum(abs(more) * price.beside for more, price in zip(mm, prices, strict=True))
        assert off <= said * (TOGETHER if sum(map(bool, mm)) > 1 else 1.0)
        narrow += off > sum(abs(more) * price.pair.half_width for more, price in zip(mm, prices, strict=True))
    assert narrow


def test_placing_stops_once_every_sign_is_told():
    """Without noise one seed tells that a millimetre costs money; the other four are not placed."""
    found = prices_of(job(styles=[style()]), seeds=(1, 2, 3, 4, 5))
    assert found.seeds == (1,) and found.complete
    assert any("1 of 5 seeds" in note for note in found.notes)
    assert all(price.pair.sign_told() for price in found.allowances)


def test_noise_that_hides_the_sign_is_placed_with_every_seed():
    """With noise of a fifth the interval keeps 0 in it: every seed is placed, and no sign is claimed."""
    found = prices_of(job(styles=[style()]), noise=0.2, seeds=(1, 2, 3))
    assert found.seeds == (1, 2, 3)
    assert not all(price.pair.sign_told() for price in found.allowances)


def test_sign_told_is_what_the_interval_of_student_says():
    """Slope 1 with error 0.2 and 4 degrees of freedom: t = 5 tells at 95 % (2.776) and at 99 % (4.604), not at 99.9 %.

    Quantiles: any table of Student's t.
    """
    one = Estimated(1.0, 0.2, 4)
    assert one.sign_told() and one.sign_told(0.99) and not one.sign_told(0.999)
    assert not Estimated(0.0, None, 0).sign_told()
