"""Yield as hides grow: the same size mix on sides of five mean areas, ten of each.

    python tests/bench/hide_size.py [--each 10] [--passes 500]

Golding's rule, that a larger skin in proportion to the pattern cuts more economically (F. Y. Golding, The Manufacture
of Boots and Shoes, London, 1902, chapter on clicking), averaged over the layouts of each area. Sides of one row have
the same seeds as those of the others, so that shapes differ little; passes grow with the area, so that each piece has
as many. Ends with code 1 if a mean falls from one area to the next by more than twice the standard error of the
difference.
"""

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from record import Value, add_record_option, write_record

from geometry.polygon import area
from nest.estimate.trialhides import hold, order_wants
from nest.job.read import read_job
from nest.planning.run import Engine
from nest.stock.distribution import SIDES
from nest.stock.simulate import simulate_hides

DEMO = Path(__file__).parents[2] / "demo_data" / "job.toml"
SIZES = ("37", "39", "41")
AREAS_M2 = (0.7, 1.0, 1.4, 2.0, 2.8)


def main() -> int:
    """Place and print."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--each", type=int, default=10)
    parser.add_argument("--passes", type=int, default=500, help="search passes on a side of 1 m²")
    add_record_option(parser)
    args = parser.parse_args()
    job = read_job(DEMO)
    style = job.styles[0]
    job = replace(job, styles=(style,), order=tuple(
        line for line in job.order if line.style == style.name and line.size in SIZES
    ))
    leather = next(one for one in job.leathers if one.name == style.leather)
    wants, engine = order_wants(job, leather), Engine.fresh()
    rough = np.mean([area(want.pieces[0].cut_outline) for want in wants])
    print(f"{'m²':>6}{'hide ÷ piece':>14}{'yield %':>9}{'error':>7}")
    means, errors = [], []
    for size in AREAS_M2:
        mean = 1e6 * size
        supply = replace(SIDES, area_mean_mm2=mean, area_sd_mm2=0.02 * mean, area_range_mm2=(0.9 * mean, 1.1 * mean))
        hides = simulate_hides(supply, args.each, seed=5, leather=leather.name)
        held = list(hold(job.settings, leather, wants, hides, passes=round(args.passes * size), seed=1, engine=engine))
        found = np.array([100.0 * one.rough_mm2 / one.area_mm2 for one in held])
        means.append(found.mean())
        errors.append(found.std(ddof=1) / np.sqrt(len(found)))
        print(f"{size:>6.1f}{mean / rough:>14.0f}{means[-1]:>9.1f}{errors[-1]:>7.1f}", flush=True)
    if args.record:
        write_record(args.record, question="Does yield fall as hides grow?", module="nest/estimate/trialhides.py",
                     baseline="Golding's rule: it does not fall", unit="%",
                     metric=f"yield, {args.passes} passes on a side of 1 m²",
                     values=[Value(f"{size:g} m²", round(float(found), 1), round(float(error), 1), args.each)
                             for size, found, error in zip(AREAS_M2, means, errors, strict=True)])
    steps, limits = np.diff(means), 2.0 * np.hypot(errors[1:], errors[:-1])
    print(f"from row to row: {', '.join(f'{step:+.1f}' for step in steps)} points")
    return 1 if np.any(steps < -limits) else 0


if __name__ == "__main__":
    sys.exit(main())
