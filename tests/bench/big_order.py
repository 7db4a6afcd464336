"""A large order: how long the plan takes, and how near its yield comes to what the same hides give in a minute each.

    python tests/bench/big_order.py [--pairs 1000] [--hides 80] [--seconds 570] [--sample 8] [--long 60]

The order is the demo's size run of both styles, scaled; the sides are drawn like the demo's stock. Rolls are left out.
After the plan, `--sample` of the hides that it uses up (every k-th in its sequence) are placed again alone for `--long`
seconds each, with sizes offered in the order's proportions. Wanted: under ten minutes on two cores, and a mean yield no
more than 1.5 points below. `--sample 0` places all of them again. The part-used hide is left out of both means. Ends
with code 1 if the plan is wrong or the order short.
"""

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from geometry.polygon import area
from nest.estimate.supply import supply_of
from nest.estimate.trialhides import order_wants
from nest.job.read import read_job
from nest.placement.solve import warm_up
from nest.planning.fill import Bench, limits_for, solve_hide
from nest.planning.make import make_plan
from nest.planning.offer import see_hide
from nest.planning.run import Engine, Run, Share
from nest.stock.simulate import simulate_hides
from nest.verify import verify

DEMO = Path(__file__).parents[2] / "demo_data" / "job.toml"


def big_job(pairs: int, hides: int):
    """The demo's job with its order scaled and sides like its stock."""
    job = read_job(DEMO)
    leather = job.leathers[0]
    supply = supply_of(leather, job.hides, job.styles[0].rules, job.settings.edge_margin_mm).distribution
    scale = pairs / sum(line.pairs for line in job.order)
    order = tuple(replace(line, pairs=round(scale * line.pairs)) for line in job.order)
    drawn = simulate_hides(supply, hides, seed=80, leather=leather.name)
    styles = tuple(replace(style, roll="") for style in job.styles)
    return replace(job, styles=styles, rolls=(), order=order, hides=drawn)


def alone(job, hide, seconds: float, seed: int, engine: Engine) -> float:
    """Yield of one hide that is placed alone, with every size in plenty."""
    leather = next(one for one in job.leathers if one.name == hide.leather)
    wants = order_wants(job, leather)
    seen = see_hide(hide, wants, job.settings, one_way=leather.one_way)
    run = Run(engine, seed, seconds, None, lambda: False, None, 0)
    bench = Bench(wants, [seen], [0], job.settings, run, leather.one_way)
    limits = limits_for(wants, [100 * want.count for want in wants], seen.usable_mm2)
    layouts = solve_hide(bench, 0, limits, Share(run, seconds), 1.0)
    return bench.area(layouts[0]) / hide.outline.area if layouts else 0.0


def main() -> int:
    """Plan, place again, print."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--pairs", type=int, default=1000)
    parser.add_argument("--hides", type=int, default=80)
    parser.add_argument("--seconds", type=float, default=570.0)
    parser.add_argument("--sample", type=int, default=8)
    parser.add_argument("--long", type=float, default=60.0)
    args = parser.parse_args()
    job = big_job(args.pairs, args.hides)
    warm_up()
    begin = time.monotonic()
    plan = make_plan(job, seconds=args.seconds, seed=1)
    took = time.monotonic() - begin
    verdict = verify(plan)
    rough = {piece.piece_id: area(piece.cut_outline) for piece in plan.pieces}
    by_id = {hide.hide_id: hide for hide in plan.hides}
    reached = {
        layout.hide_id: sum(rough[one.piece_id] for one in layout.placed) / by_id[layout.hide_id].outline.area
        for layout in plan.layouts if layout.placed
    }
    last = min(reached, key=reached.get)
    full = [hide for hide in reached if hide != last]
    words = "order met" if verdict.order_met else "; ".join(one.sentence for one in verdict.short)
    pairs = sum(line.pairs for line in job.order)
    print(f"{pairs} pairs over {args.hides} hides: {len(reached)} opened in {took:.0f} s, "
          f"{'checks passed' if verdict.ok else 'WRONG'}, {words}; "
          f"mean yield of the {len(full)} used up {100 * np.mean([reached[hide] for hide in full]):.2f} %", flush=True)
    for one in verdict.wrong:
        print(f"  {one.sentence}", flush=True)
    step = max(1, len(full) // args.sample) if args.sample else 1
    chosen, engine, gains = full[::step][: args.sample or None], Engine.fresh(), []
    for index, hide in enumerate(chosen):
        longer = alone(job, by_id[hide], args.long, index, engine)
        gains.append(100.0 * (longer - reached[hide]))
        print(f"{hide:>6} {100 * reached[hide]:>7.2f} % in the plan, {100 * longer:>7.2f} % alone in {args.long:g} s",
              flush=True)
    if len(gains) > 1:
        error = np.std(gains, ddof=1) / np.sqrt(len(gains))
        print(f"{np.mean(gains):.2f} points below (standard error {error:.2f}) on the {len(gains)} hides placed again")
    return 0 if verdict.ok and verdict.order_met else 1


if __name__ == "__main__":
    sys.exit(main())
