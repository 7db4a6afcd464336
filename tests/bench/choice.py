"""Choice of hides beside greedy orders of the same layouts, on random stocks of simulated sides.

    python tests/bench/choice.py [--first 0] [--stocks 30] [--passes 100]

Each stock has 5 to 9 sides of its own mean area, each with a price of its own; the order takes about half of what they
hold, of one of the demo's styles in three sizes. The planner plans it; printed are its cost, what the same layouts cost
in stock order and with the largest first, and the least cost by area. A greedy order that leaves pairs missing is worse
whatever it costs, and is marked so; it has no part in the mean saving. Ends with code 1 if the choice is worse than a
greedy order anywhere, or a plan is wrong, short or over.
"""

import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
from record import bench_options, mean_of, write_record

from nest.job.read import read_job
from nest.planning.make import make_plan
from nest.planning.run import Engine
from nest.stock.distribution import SIDES
from nest.stock.simulate import simulate_hides
from nest.verify import verify

DEMO = Path(__file__).parents[2] / "demo_data" / "job.toml"
SIZES = ("37", "39", "41")
PAIR_MM2 = 13e4
"""About what a pair takes of a hide."""


def one_job(number: int):
    """A job with a random stock and order."""
    rng = np.random.default_rng((31, number))
    job = read_job(DEMO)
    style = replace(job.styles[0], roll="")
    mean = rng.uniform(1.0, 2.0) * 1e6
    supply = replace(SIDES, area_mean_mm2=mean, area_sd_mm2=0.15 * mean, area_range_mm2=(0.6 * mean, 1.5 * mean))
    hides = simulate_hides(supply, int(rng.integers(5, 10)), seed=700 + number, leather=style.leather)
    hides = tuple(replace(hide, price=Decimal(round(rng.uniform(30.0, 46.0), 2))) for hide in hides)
    pairs = rng.uniform(0.35, 0.6) * sum(hide.outline.area for hide in hides) / PAIR_MM2
    shares = rng.dirichlet((3.0, 3.0, 3.0))
    line = job.order[0]
    order = tuple(
        replace(line, style=style.name, size=size, pairs=max(1, round(pairs * share)))
        for size, share in zip(SIZES, shares, strict=True)
    )
    return replace(job, styles=(style,), rolls=(), hides=hides, order=order)


def main() -> int:
    """Plan every stock and print."""
    args = bench_options(__doc__, first=0, stocks=30, passes=100)
    engine, bad = Engine.fresh(), 0
    savings: dict[str, list[float]] = {}
    missing: dict[str, int] = {}
    gaps = []
    print(f"{'stock':>6}{'hides':>7}{'opened':>8}{'cost':>9}{'stock order':>13}{'largest first':>15}{'least':>9}"
          f"{'gap %':>7}")
    for number in range(args.first, args.first + args.stocks):
        job = one_job(number)
        plan = make_plan(job, passes=args.passes, seed=number, engine=engine)
        verdict = verify(plan)
        (issue,) = plan.issues
        cells = []
        for greedy in issue.greedy:
            if greedy.missing_mm2:
                missing[greedy.order] = missing.get(greedy.order, 0) + 1
                cells.append("missing")
                continue
            saving = 100.0 * (1.0 - float(issue.cost / greedy.cost))
            savings.setdefault(greedy.order, []).append(saving)
            bad += saving < 0.0
            cells.append(f"{saving:.1f} %")
        exact = verdict.ok and verdict.order_met and not verdict.over
        bad += not exact
        gaps.append(100.0 * issue.gap)
        print(f"{number:>6}{len(job.hides):>7}{issue.hides:>8}{issue.cost:>9.2f}{cells[0]:>13}{cells[1]:>15}"
              f"{issue.least_by_area:>9.2f}{gaps[-1]:>7.1f}{'' if exact else '  order not met exactly'}", flush=True)
    for order, found in savings.items():
        print(f"saving against {order}: mean {np.mean(found):.2f} %, least {min(found):.2f} %, most {max(found):.2f} % "
              f"of {len(found)} stocks; pairs missing in {missing.get(order, 0)} more")
    print(f"gap to the least cost by area: mean {np.mean(gaps):.1f} %, most {max(gaps):.1f} %")
    if args.record:
        write_record(args.record, question="What does the choice of hides and layouts save?", unit="%",
                     module="nest/planning/saving.py", baseline="greedy orders of the same layouts; least cost by area",
                     metric=f"cost, {args.stocks} random stocks, {args.passes} passes",
                     values=[*(mean_of(f"saved against {order}", found) for order, found in savings.items()),
                             mean_of("above the least by area", gaps)])
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
