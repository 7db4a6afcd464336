"""A large order: how long the plan takes, and how near its yield comes to what the same hides give in a minute each.

    python tests/bench/big_order.py [--pairs 1000] [--hides 80] [--seconds 570] [--sample 8] [--long 60]

The order is the demo's size run of both styles, scaled; the sides are drawn like the demo's stock. Rolls are left out.
After the plan, `--sample` of the hides that it uses up (every k-th in its sequence) are placed again for `--long`
seconds each, in two ways: *alone*, with sizes in plenty, so that a hide may take what interlocks best; and with *its
own* pieces on offer, those the plan had for it, as the order leaves them to it. Wanted: under ten minutes on two cores,
and a mean yield no more than 1.5 points below. `--sample 0` places all of them again. The part-used hide is left out
of all means. Ends with code 1 if the plan is wrong or the order short.
"""

import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from record import Value, bench_options, mean_of, write_record

from geometry.polygon import area
from nest.estimate.supply import supply_of
from nest.estimate.trialhides import order_wants
from nest.job.read import read_job
from nest.placement.budget import Budget
from nest.placement.problem import Layout, RegionProblem
from nest.placement.solve import warm_up
from nest.planning.fill import LeatherTask, limits_for, solve_hide
from nest.planning.make import make_plan
from nest.planning.offer import see_hide
from nest.planning.run import Engine, Run, TimeShare
from nest.planning.watch import PlanProgress
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
    run = Run(engine, seed, Budget(seconds))
    bench = LeatherTask(wants, [seen], [0], job.settings, run, leather.one_way)
    limits = limits_for(wants, [100 * want.count for want in wants], seen.rooms_of_styles)
    layouts = solve_hide(bench, 0, limits, TimeShare(run, seconds), 1.0)
    return bench.area(layouts[0]) / hide.outline.area if layouts else 0.0


class Recorder:
    """An engine's region solver that keeps, by hide, the problem whose best layout was the fullest."""

    def __init__(self, engine: Engine):
        self.engine = replace(engine, solve_region=self._solve)
        self.problems: dict[str, tuple[float, RegionProblem]] = {}
        self._solve_region, self._hide = engine.solve_region, ""

    def hear(self, progress: PlanProgress) -> None:
        """Learn which hide is worked on."""
        self._hide = progress.material_id

    def again(self, hide_id: str, seconds: float, seed: int) -> float:
        """Area of the fullest layout of that problem, mm²."""
        problem = self.problems[hide_id][1]
        return filled(problem, self._solve_region(problem, Budget(seconds), seed=seed)[0])

    def _solve(self, problem: RegionProblem, stop, **more):
        hide = self._hide  # the search tells of itself as it goes
        layouts = self._solve_region(problem, stop, **more)
        most = max(filled(problem, layout) for layout in layouts)
        if most > self.problems.get(hide, (-1.0, None))[0]:
            self.problems[hide] = most, problem
        return layouts


def filled(problem: RegionProblem, layout: Layout) -> float:
    """Rough area of a layout, mm²."""
    return sum(area(problem.kinds[item.kind].outline) for item in layout.items)


def main() -> int:
    """Plan, place again, print."""
    args = bench_options(__doc__, pairs=1000, hides=80, seconds=570.0, sample=8, long=60.0)
    job = big_job(args.pairs, args.hides)
    warm_up()
    recorder = Recorder(Engine.fresh())
    begin = time.monotonic()
    plan = make_plan(job, seconds=args.seconds, seed=1, engine=recorder.engine, listener=recorder.hear)
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
        own = recorder.again(hide, args.long, index) / by_id[hide].outline.area
        gains.append((100.0 * (longer - reached[hide]), 100.0 * (own - reached[hide])))
        print(f"{hide:>6} {100 * reached[hide]:>7.2f} % in the plan; in {args.long:g} s {100 * longer:>7.2f} % alone, "
              f"{100 * own:>7.2f} % of its own pieces", flush=True)
    if len(gains) > 1:
        mean, error = np.mean(gains, axis=0), np.std(gains, axis=0, ddof=1) / np.sqrt(len(gains))
        print(f"{mean[0]:.2f} points below (standard error {error[0]:.2f}) what is reached alone, {mean[1]:.2f} "
              f"({error[1]:.2f}) with their own pieces, on the {len(gains)} hides placed again")
    if args.record:
        values = [mean_of("sides used up", [100.0 * reached[hide] for hide in full]),
                  Value("sides opened", len(reached), unit="count"), Value("time", round(took), n=1, unit="s")]
        if gains:
            gained = zip(("alone", "with their own pieces"), zip(*gains, strict=True), strict=True)
            values += [mean_of(f"held {case} in {args.long:g} s, beyond the plan", found, "points")
                       for case, found in gained]
        write_record(args.record, question="How long does a large order take, and how near is it to a long search?",
                     module="nest/planning/fill.py", baseline="the same hides placed again, each for longer",
                     metric=f"yield, {pairs} pairs over {args.hides} hides", unit="%", values=values)
    return 0 if verdict.ok and verdict.order_met else 1


if __name__ == "__main__":
    sys.exit(main())
