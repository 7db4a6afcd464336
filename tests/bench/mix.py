"""How well hides are shared: those a plan uses, beside each of them alone in the order's own mix of styles.

    python tests/bench/mix.py JOB [--seconds 120]

Alone, a hide is filled a few times for as long as it had in the plan, by several prices of the styles; what counts is
the most it holds of all styles in the very proportion of the order (what lies on it beyond that is left out). Other
hides may make good what one lacks, so a good plan reaches at least as much.
"""

import argparse
from collections.abc import Sequence
from math import ceil
from pathlib import Path

from nest.job.job import Job
from nest.job.read import read_job
from nest.pieces.quantities import ordered_quantities
from nest.placement.budget import Budget
from nest.planning.fill import LeatherTask, fill_hide, limits_for
from nest.planning.hides import plan_hides
from nest.planning.offer import see_hide
from nest.planning.run import Engine, Run, TimeShare
from nest.planning.stages import pieces_ordered
from nest.planning.wants import vamp_wants

WORTHS = (0.3, 0.6, 1.0)
"""A mm² of every style but one counts for this much."""


def main() -> None:
    """Print a line for each hide of each leather, and the two means."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("job", type=Path)
    parser.add_argument("--seconds", type=float, default=120.0, help="for each leather")
    asked = parser.parse_args()
    job = read_job(asked.job)
    quantities = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    rules = {style.name: style.rules for style in job.styles}
    wants = vamp_wants(quantities, pieces_ordered(job, quantities, []), rules)
    leather_of = {style.name: style.leather for style in job.styles}
    for leather in job.leathers:
        mine = [want for want in wants if leather_of[want.style] == leather.name]
        if mine:
            run = Run(Engine.fresh(), job.settings.seed, Budget(asked.seconds))
            compare(job, leather, mine, run)


def compare(job: Job, leather, wants: Sequence, run: Run) -> None:
    """Plan one leather, then fill each of its hides alone."""
    hides = [hide for hide in job.hides if hide.leather == leather.name]
    plan = plan_hides(wants, hides, leather, job.settings, run, TimeShare(run, run.seconds))
    each = run.seconds / max(1, len(plan.placed))
    shares = shares_of(wants)
    used, alone = [], []
    for seen, units in plan.placed:
        whole = seen.hide.outline.area
        used.append(sum(wants[unit.want].area_mm2 for unit in units) / whole)
        alone.append(held_in_mix(job, leather, wants, seen.hide, run, each, shares) / whole)
        name = f"{leather.name:12} {seen.hide.hide_id:6}"
        print(f"{name} in the plan {100 * used[-1]:5.1f} %, alone {100 * alone[-1]:5.1f} %", flush=True)
    if used:
        print(f"{leather.name:12} {len(used)} hides: in the plan {100 * sum(used) / len(used):.1f} %, "
              f"alone in the order's mix {100 * sum(alone) / len(alone):.1f} % ({each:.1f} s a hide)")


def shares_of(wants: Sequence) -> dict[str, float]:
    """Share of each style in the rough area ordered."""
    whole = sum(want.count * want.area_mm2 for want in wants)
    shares = dict.fromkeys((want.style for want in wants), 0.0)
    for want in wants:
        shares[want.style] += want.count * want.area_mm2 / whole
    return shares


def held_in_mix(job: Job, leather, wants: Sequence, hide, run: Run, seconds: float, shares: dict[str, float]) -> float:
    """The most rough area that the hide holds alone, all styles in the order's proportion, mm²."""
    best = 0.0
    tries = [{style: 1.0 if style == dear else worth for style in shares} for dear in shares for worth in WORTHS]
    seen = see_hide(hide, wants, job.settings, one_way=leather.one_way)
    for prices in tries:
        alone = Run(run.engine, run.seed, Budget(seconds))
        bench = LeatherTask(wants, [seen], [1], job.settings, alone, leather.one_way)
        left = [ceil(2.0 * want.count) for want in wants]
        layouts = fill_hide(
            bench, 0, limits_for(wants, left, seen.rooms_of_styles), TimeShare(alone, seconds), 1.0, prices=prices)
        for layout in layouts:
            of_style = dict.fromkeys(shares, 0.0)
            for unit in layout:
                of_style[wants[unit.want].style] += wants[unit.want].area_mm2
            best = max(best, min(of_style[style] / share for style, share in shares.items()))
    return best


if __name__ == "__main__":
    main()
