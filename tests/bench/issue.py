"""Hides to issue: does the number cover the order as often as it says?

    python tests/bench/issue.py pool POOL.jsonl [--first 0] [--count 40] [--passes 100]
    python tests/bench/issue.py test POOL.jsonl [--lots 200] [--sample 24]
    python tests/bench/issue.py plan [--lots 20] [--passes 100] [--sample 24]

`pool` draws sides of the demo's supply and fills each with three sizes of one of the demo's styles, for some hundred
passes; a series can be made in parts, hide i is always the same. `test` makes lots of it: each lot is a random draw
without replacement, the first `--sample` hides to estimate from, the next ones to be issued, so that no hide stands on
both sides. Hides of a pool are shared between lots, so lots are less independent than freshly drawn hides would be;
the variance of the difference between two such draws is that of two independent ones. Covered means that the rough
area on the hides issued is no less than the order's. Two kinds of order: of any size, 1 to 40 hides' worth, where
rounding up to whole hides makes the number safer than it says; and orders as large as the number just promises, where
it must be right by itself.

`plan` draws fresh hides for each lot and plans an order of any size on the number issued with the planner itself, size
by size: covered means that nothing is short.
"""

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from record import Value, add_record_option, write_record

from nest.estimate.issue import bound_of_sum, hides_to_issue
from nest.estimate.onhides import on_simulated_hides
from nest.estimate.supply import supply_of
from nest.estimate.trialhides import hold, order_wants
from nest.job.read import read_job
from nest.planning.make import make_plan
from nest.planning.run import Engine
from nest.stock.simulate import simulate_hides
from nest.verify import verify

DEMO = Path(__file__).parents[2] / "demo_data" / "job.toml"
SIZES = ("37", "39", "41")
BATCH = 20


def demo():
    """The demo's job for three sizes of one style, its leather, and the supply of its stock."""
    job = read_job(DEMO)
    leather, style = job.leathers[0], replace(job.styles[0], roll="")
    order = tuple(line for line in job.order if line.style == style.name and line.size in SIZES)
    job = replace(job, styles=(style,), rolls=(), order=order)
    supply = supply_of(leather, job.hides, job.styles[0].rules, job.settings.edge_margin_mm).distribution
    return job, leather, supply


def pool(args) -> int:
    """Append hides to the pool, in batches that have a size mix each."""
    job, leather, supply = demo()
    wants, engine = order_wants(job, leather), Engine.fresh()
    for batch in range(args.first, args.first + args.count, BATCH):
        hides = simulate_hides(supply, BATCH, seed=5000 + batch, leather=leather.name)
        held = hold(job.settings, leather, wants, hides, passes=args.passes, seed=batch, engine=engine)
        for index, one in enumerate(held):
            row = {"hide": batch + index, "passes": args.passes, "area_mm2": one.area_mm2, "rough_mm2": one.rough_mm2}
            with open(args.pool, "a", encoding="utf-8") as stream:
                stream.write(json.dumps(row) + "\n")
            print(f"{row['hide']:>5} {one.rough_mm2 / one.area_mm2:.3f}", file=sys.stderr, flush=True)
    return 0


def test(args) -> int:
    """Coverage over lots drawn from the pool."""
    rows = [json.loads(line) for line in args.pool.read_text(encoding="utf-8").splitlines()]
    held = np.array(list({row["hide"]: row["rough_mm2"] for row in rows}.values()))
    rng = np.random.default_rng(1)
    most = min(40, len(held) - args.sample)
    print(f"{len(held)} hides of {rows[0]['passes']} passes hold {held.mean() / 1e6:.3f} m² each, "
          f"{held.std(ddof=1) / held.mean():.1%} spread; {args.lots} lots, estimated from {args.sample} hides each")
    results = {"orders of any size": [], "one hide fewer": [], "hides on the mean": [], "orders just promised": []}
    over = []
    for _ in range(args.lots):
        drawn = rng.permutation(held)
        sample, rest = drawn[: args.sample], drawn[args.sample:]
        number = None
        while number is None or number > most:
            needed = rng.uniform(1.0, most) * held.mean()
            number = hides_to_issue(needed, sample)
        mean = min(int(np.ceil(needed / sample.mean())), most)
        over.append(number - needed / held.mean())
        results["orders of any size"].append(rest[:number].sum() >= needed)
        results["one hide fewer"].append(rest[: number - 1].sum() >= needed)
        results["hides on the mean"].append(rest[:mean].sum() >= needed)
        count = int(rng.integers(2, most + 1))
        results["orders just promised"].append(rest[:count].sum() >= bound_of_sum(sample, count))
    print(f"{'':<24}{'covered %':>10}")
    for name, found in results.items():
        print(f"{name:<24}{100.0 * np.mean(found):>10.1f}")
    print(f"hides issued beyond the order ÷ mean: {np.mean(over):.2f} on the mean")
    if args.record:
        write_record(args.record, question="Does the number of hides to issue cover the order as often as it says?",
                     module="nest/estimate/issue.py", baseline="the 95 % it promises", metric="orders covered",
                     unit="%", values=[Value(name, round(100.0 * float(np.mean(found)), 2), n=args.lots)
                             for name, found in results.items()])
    return 0


def plan(args) -> int:
    """Orders planned on the number of fresh hides issued."""
    job, leather, supply = demo()
    rng, met = np.random.default_rng(2), []
    engine = Engine.fresh()
    print(f"{'lot':>4}{'pairs':>7}{'issued':>8}{'opened':>8}  short")
    for lot in range(args.lots):
        times = rng.uniform(0.5, 2.0)
        order = tuple(replace(line, pairs=max(1, round(times * line.pairs))) for line in job.order)
        asked = replace(job, order=order)
        (found,) = on_simulated_hides(asked, args.sample, passes=args.passes, seed=100 + lot, engine=engine)
        hides = simulate_hides(supply, found.issue, seed=90_000 + lot, leather=leather.name)
        made = make_plan(replace(asked, hides=hides), passes=args.passes, seed=lot, engine=engine)
        verdict = verify(made)
        met.append(verdict.order_met)
        opened = sum(1 for layout in made.layouts if layout.placed)
        print(f"{lot:>4}{sum(line.pairs for line in order):>7}{found.issue:>8}{opened:>8}  "
              f"{'; '.join(one.sentence for one in verdict.short) or '–'}", flush=True)
        if not verdict.ok:
            print("the plan is wrong", file=sys.stderr)
            return 1
    print(f"covered: {np.mean(met):.0%} of {len(met)} lots")
    if args.record:
        write_record(args.record, question="Does the number issued cover fresh orders size by size?", unit="count",
                     module="nest/estimate/issue.py", baseline="the number issued", metric="orders covered",
                     values=[Value(f"covered, of {len(met)}", sum(met), n=len(met))])
    return 0


def main() -> int:
    """Make the pool, test on it, or plan."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    commands = parser.add_subparsers(required=True)
    making = commands.add_parser("pool")
    making.add_argument("pool", type=Path)
    making.add_argument("--first", type=int, default=0)
    making.add_argument("--count", type=int, default=40, help=f"hides, in batches of {BATCH}")
    making.add_argument("--passes", type=int, default=100)
    making.set_defaults(run=pool)
    testing = commands.add_parser("test")
    testing.add_argument("pool", type=Path)
    testing.add_argument("--lots", type=int, default=200)
    testing.add_argument("--sample", type=int, default=24)
    add_record_option(testing)
    testing.set_defaults(run=test)
    planning = commands.add_parser("plan")
    planning.add_argument("--lots", type=int, default=20)
    planning.add_argument("--sample", type=int, default=24)
    planning.add_argument("--passes", type=int, default=100)
    add_record_option(planning)
    planning.set_defaults(run=plan)
    args = parser.parse_args()
    return args.run(args)


if __name__ == "__main__":
    sys.exit(main())
