"""Figures of a plan pass at the most or least that makes sense, and are found a hair beyond."""

import math
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from shapely.geometry import box
from tiny_plans import box_plan, in_pairs, rectangle, spots, vamp, with_hide, zone

from geometry.pose import Pose
from nest.pieces.piece import Part, Template
from nest.plan import Bound, CutLine, DueRow, GreedyIssue, HideIssue, HideLayout, Placed
from nest.verify import Rule, verify
from nest.verify.cuts import between_findings
from nest.verify.sheet import lay_out
from nest.verify.stated import _off_template


def said(plan) -> list[str]:
    """Sentences of what is wrong."""
    return [finding.sentence for finding in verify(plan).wrong]


SETTINGS = {"hide_gap_mm": 50.0, "roll_gap_mm": 50.0, "edge_margin_mm": 500.0}
TABLE = {
    "tool_radius_mm": 10.0, "overcut_mm": 100.0, "lead_in_mm": 50.0, "thin_mm": 1.0, "curve_mm": 2.0,
    "knife_offset_mm": 5.0, "corner_loop_mm": 50.0, "lift_s": 60.0, "corner_s": 60.0, "origin_x_mm": 1e5,
    "origin_y_mm": 1e5, "cut_mm_s": 1e5, "mark_mm_s": 1e5, "travel_mm_s": 1e5, "accel_mm_s2": 1e6, "length_mm": 1e5,
    "width_mm": 1e5, "least_radius_mm": 1e3, "number_mm": 30.0,
}


@pytest.mark.parametrize("name", [*SETTINGS, *TABLE])
def test_settings_and_the_cutting_table_have_limits(name):
    """The most that is stated passes; a thousandth more is no setting of a cutting room."""
    def at(value: float):
        plan = box_plan()
        if name in SETTINGS:
            return replace(plan, settings=replace(plan.settings, **{name: value}))
        table = replace(plan.settings.table, **{name: value})
        return replace(plan, settings=replace(plan.settings, table=table))

    most = (SETTINGS | TABLE)[name]
    assert not any(name in sentence for sentence in said(at(most)))
    assert any(name in sentence for sentence in said(at(1.001 * most)))


def test_no_more_than_the_whole_of_a_hide_is_unfit():
    """A share of one passes, more does not."""
    for share, wrong in ((1.0, False), (1.001, True)):
        leather = replace(box_plan().leathers[0], unfit_share=share)
        assert any("unfit_share" in sentence for sentence in said(box_plan(leathers=(leather,)))) is wrong


@pytest.mark.parametrize(("due", "wrong"), [
    ("2026-03-31", False), ("", False), ("31.3.2026", True), ("20260331", True),
])
def test_due_dates_are_written_as_iso_8601_has_them(due, wrong):
    """The extended form with hyphens alone; none is none."""
    assert not due or wrong or date.fromisoformat(due)
    line = CutLine("box", "38", 2, 2, (DueRow(due, 0, 2),))
    assert any("is no date as ISO 8601 writes it" in sentence for sentence in said(box_plan(order=(line,)))) is wrong


def test_a_bound_of_a_lay_holds_over_its_length_and_both_ends():
    """Two reinforcements of 204 × 104 mm on 409 mm and 20 mm at either end of a roll of 340 mm."""
    plan = box_plan()
    whole = (409.0 + 2.0 * plan.rolls[0].end_loss_mm) * 340.0
    placed = 2.0 * 204.0 * 104.0 / whole
    for most, wrong in ((1.0001 * placed, False), (0.9999 * placed, True)):
        found = said(replace(plan, bounds=(Bound("L1", most, 0.2),)))
        assert any("are placed" in sentence for sentence in found) is wrong, most


def test_every_greedy_order_of_a_choice_of_hides_makes_sense():
    """One that opens fewer hides than none is found beside a sound one; no greedy order at all is no fault."""
    def with_orders(*hides: int):
        greedy = tuple(GreedyIssue("stock", number, Decimal(30), 0.0) for number in hides)
        issue = HideIssue("calf", 1, Decimal(15), greedy, Decimal(15), Decimal(1), Decimal(10))
        return [one for one in said(box_plan(issues=(issue,))) if "makes no sense" in one]

    assert not with_orders() and not with_orders(1, 2) and len(with_orders(1, -1)) == 1


@pytest.mark.parametrize(("dx", "dy", "heading", "other", "same"), [
    (0.0, 0.0, 0.0, 0.0, True), (0.0, 0.0, 0.0, 360.0, True), (0.0, 0.0, 0.0, -360.0, True),
    (0.0, 0.0, 720.0, 0.0, True), (0.0, 0.0, 90.0, 270.0, False), (0.0, 0.0, 0.0, 5.0, False),
    (0.0, 0.0, 1e308, -1e308, False),
    (0.0, 0.0, 0.0, 0.00098, True), (0.0, 0.0, 0.00098, 0.0, True), (0.0, 0.0, 0.00049, 359.99951, True),
    (0.0, 0.0, 0.0, 0.00102, False), (0.0, 0.0, 0.00051, 359.99949, False),
    (0.0098, -0.0098, 0.0, 0.0, True), (0.0102, 0.0, 0.0, 0.0, False), (0.0, -0.0102, 0.0, 0.0, False),
])
def test_two_pieces_in_one_place_are_said_so_whatever_turn_their_heading_counts(dx, dy, heading, other, same):
    """Within a hundredth of a millimetre and a thousandth of a degree; headings of 0° and 360° are one heading."""
    placed = Placed("V38", Pose(120.0, 70.0, heading), 1), Placed("V38", Pose(120.0 + dx, 70.0 + dy, other), 2)
    (finding,) = between_findings(lay_out("H1", placed, (0, 3), {"V38": vamp()}), 1.0, np.array([(0, 1)]))
    assert (finding.rule is Rule.DUPLICATE) is same
    if same:
        assert (finding.amount, finding.unit, finding.spots) == (1.0, "pieces", (0, 3))
        assert finding.sentence == "H1: V38 (no. 1) and V38 (no. 4) lie in the same place."


def test_wrong_ground_in_several_small_stretches_is_found_together():
    """Two strips of the net area, each less than a thousandth of it, of stretch at 0° and at 10°: both are wrong."""
    left, _, right, high = 0.0, 0.0, 1000.0, 500.0
    share = 0.0007 * 200.0
    cuts = [left, 20.0, 20.0 + share, 20.0 + 2.0 * share, right]
    zones = [zone(f"Z{i}", stretch_deg=stretch, outline=box(a, 0.0, b, high))
             for i, (a, b, stretch) in enumerate(zip(cuts, cuts[1:], (90.0, 0.0, 10.0, 90.0), strict=False))]
    assert math.isclose(sum(one.outline.area for one in zones), 500_000.0)
    plan = with_hide(box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 4, spots(4))),)), zones=tuple(zones))
    (finding,) = [one for one in verify(plan).wrong if one.rule is Rule.DIRECTION]
    assert finding.amount == pytest.approx(80.0)


@pytest.mark.parametrize(("smaller", "off"), [
    (0.002, 0.0), (0.02, 0.02 * 2.0**0.5), (-0.02, 0.0), (-0.08, 0.08 * 2.0**0.5),
])
def test_a_net_outline_leaves_nothing_of_its_template_bare(smaller, off):
    """All round: too small by a fiftieth of a millimetre is found, by how far its corners are off; too large is not."""
    template = Template("box", "38", rectangle(200.0, 100.0), (Part.SIDE, Part.TOE, Part.SIDE, Part.BACK))
    net = rectangle(200.0 - 2.0 * smaller, 100.0 - 2.0 * smaller)
    assert _off_template(net, template) == pytest.approx(off, abs=1e-9)


CRIMPING = {
    "heel_mm": 200.0, "bond_celsius": 300.0, "bond_bar": 100.0, "bond_s": 3600.0, "bond_set_h": 500.0,
    "spray_ml": 1000.0, "bag_most_h": 500.0, "crimp_celsius": 300.0, "crimp_bar": 100.0, "crimp_s": 3600.0,
    "check_mm": 50.0, "wait_h": 500.0, "check_later_mm": 50.0, "trim_leave_mm": 50.0, "batch_pairs": 10_000,
}
ROLL = {"width_mm": 1e6, "selvedge_mm": 1e5, "length_mm": 1e7, "weight_g_m2": 1e6, "end_loss_mm": 1e5}


@pytest.mark.parametrize("name", [*CRIMPING, *ROLL])
def test_what_goes_to_hot_plates_and_what_is_on_a_roll_has_limits(name):
    """The most that is stated passes; a thousandth more is found."""
    def at(value: float):
        plan = box_plan()
        if name in ROLL:
            return replace(plan, rolls=(replace(plan.rolls[0], **{name: value}),))
        crimping = replace(plan.styles[0].crimping, **{name: value})
        return replace(plan, styles=(replace(plan.styles[0], crimping=crimping),))

    most = (CRIMPING | ROLL)[name]
    assert not any(f"{name} " in sentence for sentence in said(at(most)))
    assert any(f"{name} " in sentence for sentence in said(at(1.001 * most)))
