"""Every figure of a plan passes from the least to the most that makes sense; beyond them it is named, with both."""

from dataclasses import replace
from decimal import Decimal

import pytest
from tiny_plans import box_plan, flaw, slant_plan, vamp, with_hide

from nest.pieces.style import WeightRow
from nest.plan import Begun, Bound, CutHide, CutLine, DueRow, GreedyIssue, HideIssue, Lay, Side, Spoiled, UsedRoll
from nest.verify.figures import figure_findings
from nest.verify.rows import rows_short
from nest.verify.verdict import Rule


def said(plan) -> list[str]:
    """Sentences about the figures alone."""
    return [finding.sentence for finding in figure_findings(plan)]


def _settings(**one):
    return box_plan(settings=replace(box_plan().settings, **one))


def _table(**one):
    return _settings(table=replace(box_plan().settings.table, **one))


def _costing(**one):
    return _settings(costing=replace(box_plan().settings.costing, **one))


def _style(**one):
    return box_plan(styles=(replace(box_plan().styles[0], **one),))


def _rules(**one):
    return _style(rules=replace(box_plan().styles[0].rules, **one))


def _allowances(**one):
    return _style(allowances=replace(box_plan().styles[0].allowances, **one))


def _crimping(**one):
    return _style(crimping=replace(box_plan().styles[0].crimping, **one))


def _row(**one):
    return _style(weight_table=(replace(WeightRow(50.0, 60.0, 80.0), **one),))


def _leather(**one):
    return box_plan(leathers=(replace(box_plan().leathers[0], **one),))


def _hide(**one):
    return with_hide(box_plan(), **one)


def _zone(**one):
    return _hide(zones=(replace(box_plan().hides[0].zones[0], **one),))


def _flaw(**one):
    return _hide(flaws=(replace(flaw(box_plan().hides[0].outline), **one),))


def _roll(**one):
    return box_plan(rolls=(replace(box_plan().rolls[0], **one),))


def _lay(**one):
    return box_plan(lays=(replace(box_plan().lays[0], **one),))


HUGE = 1e15
"""The most of a figure that has no limit of its own."""

FIGURES = [
    (_settings, "settings", {"hide_gap_mm": 50, "roll_gap_mm": 50, "edge_margin_mm": 500, "seconds": HUGE,
                             "seed": HUGE}),
    (_table, "cutting table", {"tool_radius_mm": 10, "overcut_mm": 100, "lead_in_mm": 50, "thin_mm": 1, "curve_mm": 2,
                               "knife_offset_mm": 5, "corner_loop_mm": 50, "lift_s": 60, "corner_s": 60}),
    (_costing, "costing", {"labour_per_hour": HUGE, "scrap_per_m2": HUGE, "pairs_per_year": HUGE}),
    (_style, "style box", {"widening_percent": 100, "reinforcement_inset_mm": 200, "thickness_mm": 100}),
    (_rules, "style box", {"tolerance_deg": 90}),
    (_allowances, "style box", {"blend_mm": 500}),
    (_crimping, "style box", {"bag_least_h": 500, "wait_h": 500}),
    (_row, "style box", {"upper_to_mm": 100, "least_g_m2": 80}),
    (_leather, "leather calf", {"price": HUGE, "unfit_share": 1}),
    (_hide, "hide H1", {"quality": HUGE, "thickness_mm": 100, "margin_mm": 500, "price": HUGE}),
    (_flaw, "hide H1, flaw F1", {"severity": HUGE}),
    (_roll, "roll knit", {"weight_g_m2": 1_000_000, "end_loss_mm": 100_000, "price_per_m": HUGE}),
]


@pytest.mark.parametrize(("make", "who", "name", "most"), [
    (make, who, name, most) for make, who, names in FIGURES for name, most in names.items()
])
def test_figures_that_may_be_nothing(make, who, name, most):
    """Nothing passes and so does the most; a thousandth beyond either end is found, and the sentence is whole."""
    words = "0 or more" if most == HUGE else f"0 to {most:g}"
    for value in (0, most, 0.001):
        assert not said(make(**{name: value})), value
    for value in (-0.001, 1.001 * most):
        assert f"{who}: {name} is {value:g}, {words} makes sense." in said(make(**{name: value}))


@pytest.mark.parametrize(("make", "who", "name", "most"), [
    *((_table, "cutting table", name, most) for name, most in (
        ("cut_mm_s", 100_000), ("mark_mm_s", 100_000), ("travel_mm_s", 100_000), ("accel_mm_s2", 1_000_000),
        ("length_mm", 100_000), ("width_mm", 100_000), ("least_radius_mm", 1000), ("number_mm", 30))),
    (_leather, "leather calf", "mean_hide_mm2", HUGE), (_lay, "lay L1", "length_mm", HUGE),
])
def test_figures_that_are_more_than_nothing(make, who, name, most):
    """The least that can be written passes, nothing does not; the sentence says so in words."""
    words = "more than 0" if most == HUGE else f"more than 0 to {most:g}"
    for value in (1e-300, most):
        assert not said(make(**{name: value})), value
    for value in (0, -1, 1.001 * most):
        assert f"{who}: {name} is {value:g}, {words} makes sense." in said(make(**{name: value}))


@pytest.mark.parametrize(("make", "who", "name", "least", "most"), [
    (_table, "cutting table", "origin_x_mm", -1e5, 1e5), (_table, "cutting table", "origin_y_mm", -1e5, 1e5),
    (_table, "cutting table", "turn_deg", -720.0, 720.0), (_zone, "hide H1, zone butt", "stretch_deg", -720.0, 720.0),
    (_roll, "roll knit", "measured_stretch_deg", -720.0, 720.0),
    (_hide, "hide H1", "measured_area_mm2", 250_000.0, 1_000_000.0),
    (_crimping, "style box", "batch_pairs", 1, 10_000), (_lay, "lay L1", "plies", 1, HUGE),
    (_zone, "hide H1, zone butt", "quality", 1, HUGE), (_rules, "style box", "net_quality", 1, HUGE),
    (_rules, "style box", "trim_quality", 1, HUGE),
])
def test_figures_with_a_least(make, who, name, least, most):
    """Both ends pass; a thousandth beyond either is found. A hide measures from half to twice what is drawn."""
    words = f"{least:g} or more" if most == HUGE else f"{least:g} to {most:g}"
    for value in (least, most):
        assert not said(make(**{name: value})), value
    for value in (least - 0.001 * abs(least), most + 0.001 * abs(most)):
        assert f"{who}: {name} is {value:g}, {words} makes sense." in said(make(**{name: value}))


def test_a_reject_rate_is_less_than_all():
    """99.99 % passes; of 100 % nothing would be left, and the sentence does not say that it might be."""
    assert not said(_style(reject_percent=99.99)) and not said(_style(reject_percent=0.0))
    assert said(_style(reject_percent=100.0)) == [
        "style box: reject_percent is 100, 0 to less than 100 makes sense."]


def test_prices_by_class_and_price_breaks_have_limits():
    """A price is not below zero; a break begins at no quantity below zero and takes at most all off."""
    assert not said(_leather(price_by_quality=((2, Decimal(0)),), breaks=((Decimal(0), Decimal(100)),)))
    assert said(_leather(price_by_quality=((2, Decimal("-0.01")),))) == [
        "leather calf: price of class 2 is -0.01, 0 or more makes sense."]
    assert said(_roll(breaks=((Decimal(-1), Decimal("100.1")),))) == [
        "roll knit: the quantity of a price break is -1, 0 or more makes sense.",
        "roll knit: the percent off of a price break is 100.1, 0 to 100 makes sense."]


def test_splices_lie_on_their_roll_and_some_of_it_can_be_used():
    """From its beginning to its end, 20 m; between the selvedges something is left."""
    assert not said(_roll(splices_mm=(0.0, 20_000.0)))
    assert said(_roll(splices_mm=(20_001.0,))) == ["roll knit: a splice is 20001, 0 to 20000 makes sense."]
    assert said(_roll(selvedge_mm=170.0)) == ["roll knit: usable width is 0, more than 0 makes sense."]
    assert not said(_roll(selvedge_mm=169.9))


@pytest.mark.parametrize("part", ["toe", "side", "back"])
def test_allowances_are_no_less_than_their_least(part):
    """Equal to the least passes, and 200 mm; less than it, more than 200 or a least below zero is found."""
    def at(given, least):
        return said(_allowances(**{f"{part}_mm": given, f"least_{part}_mm": least}))

    assert not at(8.0, 8.0) and not at(200.0, 0.0)
    for given, least in ((7.9, 8.0), (200.1, 8.0), (8.0, -0.1)):
        assert at(given, least) == [
            f"style box: a {part} allowance of {given:g} mm with a least of {least:g} mm makes no sense."]
    by_size = _allowances(by_size=(("40", *(7.0 if one == part else 12.0 for one in ("toe", "side", "back"))),))
    assert said(by_size) == [f"style box: a {part} allowance of size 40 of 7 mm with a least of 8 mm makes no sense."]


def test_more_is_cut_than_is_wanted():
    """As many pairs to cut as are wanted pass; by how many they are fewer is the amount. Pairs count from 1."""
    (finding,) = figure_findings(box_plan(order=(CutLine("box", "38", 5, 2),)))
    assert (finding.sentence, finding.amount, finding.unit, finding.rule) == (
        "order line box 38: 2 pairs to cut are fewer than the 5 wanted.", 3.0, "pairs", Rule.FIGURE)
    layout = box_plan().layouts[0]
    pairs = [replace(one, pair=pair) for one, pair in zip(layout.placed, (0, -1, -2, 1), strict=True)]
    assert said(box_plan(layouts=(replace(layout, placed=tuple(pairs)),))) == [
        "H1: pair number -2 makes no sense, pairs count from 1 and 0 is none."]


def test_rows_of_an_order_line_make_sense():
    """Pairs from 1, priorities from 0, each date and priority once, and in all what is wanted."""
    def found(*rows, wanted=2):
        return [(one.sentence.removeprefix("order line box 38: "), one.amount)
                for one in figure_findings(box_plan(order=(CutLine("box", "38", wanted, wanted, rows),)))]

    day = "2026-03-31"
    assert not found() and not found(DueRow(day, 0, 1), DueRow("", 1, 1))
    assert found(DueRow(day, 0, 2), DueRow("", 0, 0)) == [("a row of 0 pairs makes no sense.", 1.0)]
    assert found(DueRow(day, -1, 2)) == [("priority -1 makes no sense, 1 is the first and 0 is none.", 1.0)]
    assert found(DueRow("", 0, 1), DueRow("", 0, 1)) == [("2 rows have the due date none and priority 0.", 2.0)]
    assert found(DueRow(day, 0, 1), wanted=4) == [("its rows by due date add up to 1 pairs, 4 are wanted.", 3.0)]


def test_what_is_short_falls_on_the_least_urgent_row():
    """Of 9 pairs wanted 12 are cut: with 4 missing 8 are cut, of which 6 serve; priority comes before the date."""
    rows = (DueRow("2026-04-01", 0, 3), DueRow("", 0, 2), DueRow("2026-05-01", 1, 1), DueRow("2026-03-01", 0, 3))
    line = CutLine("box", "38", 9, 12, rows)
    assert rows_short(line, 4) == (
        " Pairs wanted that this leaves short: 1 of 3 due 2026-04-01, 2 of 2 without a due date.")
    assert rows_short(line, 12) == (
        " Pairs wanted that this leaves short: 3 of 3 due 2026-04-01, 2 of 2 without a due date, "
        "1 of 1 due 2026-05-01 (priority 1), 3 of 3 due 2026-03-01.")
    assert rows_short(line, 11) == rows_short(line, 12) != rows_short(line, 10)
    assert rows_short(line, 0) == "" and rows_short(CutLine("box", "38", 9, 12), 4) == ""
    assert rows_short(CutLine("box", "38", 0, 0, (DueRow("", 0, 1),)), 0).endswith("1 of 1 without a due date.")


def test_what_is_cut_agrees_with_the_plan():
    """Hides, lays and rolls that are cut are the plan's, each named once; a measure of a hide is more than nothing."""
    def found(**begun):
        return [one.removeprefix("what is cut: ") for one in said(box_plan(begun=Begun(**begun)))]

    assert not found(hides=(CutHide("H1", 1e-300),), lays=("L1",), rolls=(UsedRoll("knit", 20_000.0),))
    assert not found(hides=(CutHide("H1"),), rolls=(UsedRoll("knit", 0.0), UsedRoll("felt", 10.0, withdrawn=True)))
    assert found(hides=(CutHide("H9"),)) == ["hide 'H9' is not in the plan."]
    assert found(hides=(CutHide("H1"), CutHide("H1"))) == ["hide H1 is named 2 times."]
    assert found(hides=(CutHide("H1"),), withdrawn=("H1",)) == [
        "hide H1 is cut and withdrawn, it can only be one of both."]
    assert found(hides=(CutHide("H1", 0.0),)) == ["hide H1 measured 0 mm², which makes no sense."]
    assert found(lays=("L1", "L1", "L2")) == ["lay L1 is named 2 times.", "lay 'L2' is not in the plan."]
    assert found(rolls=(UsedRoll("felt"),)) == ["roll 'felt' is not in the plan."]
    for length in (-1.0, 20_001.0):
        assert found(rolls=(UsedRoll("knit", length),)) == [f"{length:g} mm off roll knit, which holds 20000 mm."]
    bare = box_plan(begun=Begun(hides=(CutHide("H2"),)), hides=(*box_plan().hides, replace(
        box_plan().hides[0], hide_id="H2")))
    assert said(bare) == ["what is cut: the plan cuts nothing from hide H2."]


def test_nothing_is_cut_from_what_is_withdrawn():
    """A withdrawn hide or roll that something is still to be cut from is said, with how many pieces."""
    plan = box_plan(begun=Begun(withdrawn=("H1",), rolls=(UsedRoll("knit", withdrawn=True),)))
    assert [(one.sentence, one.amount, one.where) for one in figure_findings(plan)] == [
        ("hide H1 is withdrawn, 4 pieces are to be cut from it.", 4.0, "H1"),
        ("lay L1 is to be cut from roll knit, which is withdrawn.", 2.0, "L1")]
    one = replace(box_plan().layouts[0], placed=box_plan().layouts[0].placed[:1])
    assert said(replace(plan, layouts=(one,)))[0] == "hide H1 is withdrawn, 1 piece is to be cut from it."
    assert not said(box_plan(begun=Begun(hides=(CutHide("H1"),), lays=("L1",), rolls=(
        UsedRoll("knit", withdrawn=True),))))


def test_no_more_is_spoiled_than_is_cut():
    """Of four vamps cut, two pairs or three and one may be spoiled; a fifth is found. A count below zero is none."""
    def found(*spoiled, **begun):
        given = {"hides": (CutHide("H1"),)} | begun
        return [(one.sentence.removeprefix("what is spoiled: "), one.amount)
                for one in figure_findings(box_plan(begun=Begun(spoiled=spoiled, **given)))]

    pair, single = (lambda n, side=side: Spoiled("box", "38", side, n) for side in (Side.PAIR, Side.EITHER))
    assert not found(pair(2)) and not found(single(4)) and not found(pair(1), single(2))
    assert found(pair(2), single(1)) == [("5 vamps of box 38 are more than the 4 that are cut.", 1.0)]
    assert found(single(-1)) == [("-1 pieces of box 38 make no sense.", 1.0)]
    assert not found(single(1), hides=())
    assert not said(slant_plan(begun=Begun((CutHide("H1"),), spoiled=(Spoiled("slant", "38", Side.LEFT, 4),))))


def test_bounds_are_yields_of_what_is_cut():
    """From 0 to 1, both included, given once, of a hide or lay that something is cut from; no less than is placed."""
    bare = box_plan(layouts=(replace(box_plan().layouts[0], placed=()),), lays=(Lay("L1", "knit", 409.0, 2, ()),))

    def found(*bounds, plan=bare):
        return said(replace(plan, bounds=bounds))

    assert not found(Bound("H1", 0.0, 0.0), Bound("L1", 1.0, 1.0))
    for most, reference in ((-0.001, 0.0), (1.001, 1.0), (0.5, -0.001), (0.5, 1.001)):
        assert found(Bound("H1", most, reference)) == [
            f"the bound of H1: yields of {most:g} and {reference:g} make no sense."]
    assert found(Bound("H1", 0.5, 0.5), Bound("H1", 0.6, 0.6)) == ["bound of H1 is given 2 times."]
    assert found(Bound("H9", 0.5, 0.5)) == ["a bound names 'H9', from which the plan cuts nothing."]
    # Four rough vamps of 224 × 124 mm on 1000 × 500 mm are 22.2208 %.
    assert not found(Bound("H1", 0.222208, 0.2), plan=box_plan())
    assert found(Bound("H1", 0.222207, 0.2), plan=box_plan()) == [
        "the bound of H1 is a yield of 22.22%, but 22.22% are placed."]


def test_a_choice_of_hides_agrees_with_the_plan():
    """Its amounts are not below zero, its hides are those used, its cost no less than the least that is proved."""
    sound = HideIssue("calf", 1, Decimal(15), (GreedyIssue("stock", 0, Decimal(0), 0.0),), Decimal(0), Decimal(15),
                      Decimal(0))

    def found(*issues):
        return said(box_plan(issues=issues))

    who = "the choice of hides of leather calf"
    assert not found(sound)
    assert found(sound, sound) == [f"{who} is given 2 times."]
    assert found(replace(sound, leather="suede")) == [
        "the choice of hides of leather suede: that leather is not in the plan."]
    assert found(replace(sound, hides=2)) == [f"{who}: 2 hides are named, 1 are used."]
    assert found(replace(sound, least_by_area=Decimal("15.01"))) == [
        f"{who}: a cost of 15 lies below the proved least of 15.01."]
    greedy = sound.greedy[0]
    for wrong in (
        replace(sound, cost=Decimal(-1)), replace(sound, least_of_layouts=Decimal(-1)),
        replace(sound, reference=Decimal(-1)), replace(sound, greedy=(replace(greedy, cost=Decimal(-1)),)),
        replace(sound, greedy=(replace(greedy, missing_mm2=-1.0),)),
        replace(sound, greedy=(replace(greedy, hides=-1),)),
        replace(sound, least_of_layouts=Decimal("1.001e15")),
    ):
        assert found(wrong) == [f"{who}: an amount below 0, or no number, makes no sense."]


def test_an_unplaceable_piece_counts_for_no_bound():
    """A piece that is not of the plan adds nothing to what is placed: the rest is still held against the bound."""
    plan = box_plan(pieces=(vamp("OTHER"), *box_plan().pieces[1:]), bounds=(Bound("H1", 0.0, 0.0),))
    assert not said(plan)
