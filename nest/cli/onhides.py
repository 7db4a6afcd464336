"""What `estimate --hides` adds: consumption on simulated hides and the number of hides to issue, with progress."""

from math import fsum
from typing import TYPE_CHECKING, Any

from nest.cli.codes import Exit
from nest.cli.screen import Screen
from nest.text import count_words

if TYPE_CHECKING:
    from nest.estimate.make import QuickEstimate
    from nest.estimate.onhides import LeatherOnHides
    from nest.job.job import Job
    from nest.report.tables import Cell, Table


def measured(
    screen: Screen, job: "Job", count: int, passes: int, seed: int | None, confidence: float
) -> "tuple[tuple[LeatherOnHides, ...], Exit]":
    """What the hides come to, and the exit code: STOPPED where Ctrl-C cut the drawing short."""
    from nest.cli.costing_steps import watched
    from nest.estimate.onhides import LEAST_HIDES, on_simulated_hides
    from nest.placement.solve import warm_up

    with watched(screen) as (cancelled, watch, _):
        watch.stage("preparing")
        warm_up()
        found = on_simulated_hides(
            job, count, passes=passes, seed=seed, confidence=confidence, cancelled=cancelled, tell=watch.counted
        )
        stopped = cancelled()
    if stopped and not found:
        screen.complain(f"Stopped before {LEAST_HIDES} hides were placed: too few to say how many to issue.")
    return found, Exit.STOPPED if stopped else Exit.DONE


def tables(found: "tuple[LeatherOnHides, ...]") -> "list[Table]":
    """Consumption of a pair by size, hides to issue by leather, and what each simulated hide holds."""
    from nest.report.tables import Table

    sizes: list[tuple[Cell, ...]] = [
        (one.leather, size.style, size.size, size.pairs_to_cut, *(
            round(value / 1e4, 4) for value in
            (size.rough_mm2, size.leather_mm2, size.spread_mm2, size.low_mm2, size.high_mm2)
        )) for one in found for size in one.sizes
    ]
    issue = [
        (one.leather, len(one.held), round(one.needed_mm2 / 1e6, 4), one.on_the_mean, one.issue,
         f"{100 * one.confidence:g} %", round(one.promised_mm2 / 1e6, 4), one.supply) for one in found
    ]
    hides = [
        (one.leather, hide.hide_id, round(hide.area_mm2 / 1e4, 2), round(hide.fit_mm2 / 1e4, 2),
         round(hide.rough_mm2 / 1e4, 2), round(hide.rough_mm2 / hide.area_mm2, 4)) for one in found for hide in one.held
    ]
    return [
        Table("consumption",
              ("leather", "style", "size", "pairs_to_cut", "rough_dm2", "leather_dm2", "spread_dm2",
               "mean_at_least_dm2", "mean_at_most_dm2"),
              tuple(sizes)),
        Table("hides to issue",
              ("leather", "hides_simulated", "rough_needed_m2", "hides_on_the_mean", "hides_to_issue", "sure",
               "rough_promised_m2", "supply_method"), tuple(issue)),
        Table("simulated hides", ("leather", "hide", "area_dm2", "fit_dm2", "rough_dm2", "cutting_yield"),
              tuple(hides)),
    ]


def sentences(found: "tuple[LeatherOnHides, ...]", quick: "QuickEstimate") -> list[str]:
    """Hides to issue in words, and what the estimate without placing said of the same leather."""
    said = []
    totals = {one.leather: one.material_mm2 for one in quick.leathers}
    for one in found:
        simulated = count_words(len(one.held), "simulated hide")
        sure = f"{100 * one.confidence:g} %"
        measured = fsum(size.pairs_to_cut * size.leather_mm2 for size in one.sizes)
        if measured and (told := totals.get(one.leather)):
            off = measured / told - 1.0
            said.append(
                f"{one.leather}: the table holds what was measured on {simulated}, filled with the order's mix of "
                f"sizes: {off:+.0%} beside the {told / 1e6:.2f} m² estimated without placing, which "
                f"assume a longer search."
            )
        if one.issue is None:
            said.append(f"{one.leather}: {simulated}: too little on them, or too unequal, to say how many to issue; "
                        f"simulate more, or place the job.")
            continue
        said.append(
            f"{one.leather}: issue {count_words(one.issue, 'hide')} to cover the order with {sure} confidence; "
            f"{one.on_the_mean} on the mean of {simulated} ({one.supply})."
        )
    return said


def data(found: "tuple[LeatherOnHides, ...]", passes: int) -> dict[str, Any]:
    """Hides to issue as plain data."""
    return {"hides_to_issue": [
        {"leather": one.leather, "hides_to_issue": one.issue, "hides_on_the_mean": one.on_the_mean,
         "confidence": one.confidence, "hides_simulated": len(one.held), "passes": passes, "supply": one.supply}
        for one in found
    ]}
