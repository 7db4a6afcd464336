"""A few passes of the real engine: its layouts become plans that the judge accepts, and the same again."""

from dataclasses import replace
from itertools import combinations

from box_jobs import flaw, hide, job, roll, style, zone
from shapely.geometry import Polygon, box

from nest.cutplan.work import hide_work, lay_work
from nest.job.cutting_table import CuttingTable
from nest.planning.make import make_plan
from nest.rules import Rules
from nest.verify import verify


def asked():
    """Two styles on hides of two classes, with flaws; one of them backed."""
    zones = [zone("a", box(0, 0, 600, 500), 1), zone("b", box(600, 0, 1000, 500), 2, 84.0)]
    flaws = [flaw(box(300, 200, 320, 240)), flaw(box(100, 300, 110, 340), "F2", tears=True)]
    styles = [style("lean", lean=20.0, rules=Rules(net_quality=2)), style("even", roll="knit")]
    return job(
        styles=styles, order=[("lean", "38", 2), ("lean", "40", 1), ("even", "38", 2)],
        hides=[hide("A", 600, 500), hide("B", zones=zones, flaws=flaws)], rolls=[roll()],
    )


def test_real_layouts_pass_the_judge_and_meet_the_order():
    """Hides with zones and flaws, a roll: nothing wrong, all pairs whole, nothing short or over."""
    verdict = verify(make_plan(asked(), passes=30, seed=3))
    assert verdict.findings == ()
    assert verdict.checks.pairs == 5 and verdict.checks.unpaired == 0


def test_same_seed_and_passes_give_the_same_plan():
    """Two searches side by side, and still the same to the last digit."""
    first, again = (make_plan(asked(), passes=5, seed=4) for _ in range(2))
    assert (first.layouts, first.lays, first.warnings) == (again.layouts, again.lays, again.warnings)


def test_a_plan_for_a_wide_tool_leaves_its_ways_room():
    """Radius 1.5 mm, thinning 0.3 mm: the plan passes the judge, and all ways keep gap, margin and strip by shapely."""
    table = CuttingTable(tool_radius_mm=1.5, thin_mm=0.3)
    wanted = asked()
    wanted = replace(wanted, settings=replace(wanted.settings, table=table, hide_gap_mm=2.0, edge_margin_mm=1.0))
    plan = make_plan(wanted, passes=30, seed=3)
    assert verify(plan).findings == ()
    (layout, *_), (lay,) = [one for one in plan.layouts if one.placed], plan.lays
    outline = next(one.outline for one in plan.hides if one.hide_id == layout.hide_id)
    strip = box(0.0, 0.0, lay.length_mm, plan.rolls[0].usable_width_mm)
    for work, material, gap, margin in (
        (hide_work(plan, layout), outline, 2.0, 1.0), (lay_work(plan, lay), strip, plan.settings.roll_gap_mm, 0.0)
    ):
        ways = [Polygon(path.ring) for path in work.paths]
        assert all(material.buffer(0.01 - margin, join_style="mitre").covers(way) for way in ways)
        assert all(a.distance(b) >= gap - 0.01 for a, b in combinations(ways, 2))
