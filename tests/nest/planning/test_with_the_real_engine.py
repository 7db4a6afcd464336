"""A few passes of the real engine: its layouts become plans that the judge accepts, and the same again."""

from box_jobs import flaw, hide, job, roll, style, zone
from shapely.geometry import box

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
