"""The least to buy for what a plan is short of: does it cover the shortage as often as it says?

    python tests/bench/purchase.py [--lots 200] [--passes 30] [--sample 24]
    python tests/bench/purchase.py --pool 150 [--lots 200] [--passes 30] [--sample 24]

An invented style of three sizes on small simulated sides. In each lot there is an order and no leather; the hides that
`nest.estimate.purchase` says are to be bought are drawn anew from the same supply, and the order is planned on them by
the planner itself, size by size: covered means that nothing is short. Two orders a lot: one of any size up to some six
hides' worth, which whole hides cover more often than promised; and one as large as a number of hides just promises by
the same sample, which should be covered as often as it says. Two hundred lots at 95 % scatter by 1.5 points.

With `--pool N` that many hides are filled once, and each lot draws its sample and the hides it buys from them without
replacement; covered then means that they hold the pairs, whatever the sizes. That takes seconds, tests the number alone
and leaves out what the planner loses, or gains by searching longer, on the last pairs.
"""

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "nest" / "planning"))

from box_jobs import job as box_job
from box_jobs import style

from nest.estimate.issue import bound_of_sum
from nest.estimate.onhides import number_to_issue
from nest.estimate.purchase import HidesToBuy, least_purchase, missing_wants
from nest.estimate.supply import supply_of
from nest.job.job import Job
from nest.pieces.style import OrderLine
from nest.planning.make import make_plan
from nest.planning.run import Engine
from nest.rules import Rules
from nest.stock.simulate import simulate_hides
from nest.verify import verify

MIX = {"37": 3, "38": 4, "39": 3}
MEAN_HIDE_MM2 = 0.7e6
MOST_HIDES = 6


def asked(pairs: int) -> Job:
    """An order for this many pairs of one style, three sizes in proportion, of a leather without stock."""
    given = np.diff(np.round(pairs * np.cumsum([0, *MIX.values()]) / sum(MIX.values()))).astype(int)
    order = tuple(OrderLine("box", size, int(number)) for size, number in zip(MIX, given, strict=True) if number)
    job = box_job(styles=[style(lean=30.0, rules=Rules(net_quality=2))], hides=[])
    return replace(job, order=order, leathers=tuple(replace(one, mean_hide_mm2=MEAN_HIDE_MM2) for one in job.leathers))


def to_buy(pairs: int, sample: int, passes: int, seed: int, engine: Engine) -> HidesToBuy:
    """What is said for a plan of this order, all of which is short."""
    plan = make_plan(asked(pairs), passes=1, engine=engine)
    (found,) = least_purchase(plan, sample=sample, passes=passes, seed=seed, engine=engine).hides
    return found


def covered(pairs: int, number: int, passes: int, seed: int, engine: Engine) -> bool:
    """Whether that many hides drawn anew hold the order."""
    job = asked(pairs)
    supply = supply_of(job.leathers[0], (), job.styles[0].rules, job.settings.edge_room_mm).distribution
    hides = simulate_hides(supply, number, seed=seed, leather=job.leathers[0].name)
    verdict = verify(make_plan(replace(job, hides=hides), passes=passes, seed=seed, engine=engine))
    assert verdict.ok, "a plan is wrong"
    return verdict.order_met


def lot(at: int, sample: int, passes: int, engine: Engine) -> tuple[bool, bool]:
    """Whether an order of any size, and one as large as some hides just promise, was covered by what was bought."""
    rng = np.random.default_rng(at)
    pairs = int(rng.integers(2, MOST_HIDES * 8))
    found = to_buy(pairs, sample, passes, 1000 + at, engine)
    each = sum(hide.rough_mm2 for hide in found.held) / sum(sum(hide.units) for hide in found.held)
    first = covered(pairs, found.hides, passes, 500_000 + at, engine)
    number = int(rng.integers(1, MOST_HIDES + 1))
    promised = max(1, int(bound_of_sum([hide.rough_mm2 for hide in found.held], number) / each))
    return first, covered(promised, number, passes, 700_000 + at, engine)


def pooled(count: int, lots: int, sample: int, passes: int, engine: Engine) -> list[tuple[bool, bool]]:
    """What `lot` says, from a pool of hides filled once."""
    plan = make_plan(asked(40), passes=1, engine=engine)
    (wants, (found,)) = missing_wants(plan, "calf"), least_purchase(
        plan, sample=count, passes=passes, seed=1, engine=engine).hides
    pair_mm2 = sum(want.count * want.area_mm2 for want in wants) / sum(want.count for want in wants)
    rng, met = np.random.default_rng(1), []
    for _ in range(lots):
        drawn = [found.held[at] for at in rng.permutation(count)]
        held, rest = drawn[:sample], [sum(hide.units) for hide in drawn[sample:]]
        number = count
        while number > len(rest):
            pairs = int(rng.integers(2, MOST_HIDES * 8))
            some = [replace(want, count=pairs * want.count / 40) for want in wants]
            number = number_to_issue(some, held)[0]
        promise = int(rng.integers(1, MOST_HIDES + 1))
        promised = int(bound_of_sum([hide.rough_mm2 for hide in held], promise) / pair_mm2)
        met.append((sum(rest[:number]) >= pairs, sum(rest[:promise]) >= promised))
    return met


def main() -> int:
    """Print the share of lots covered."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--lots", type=int, default=200)
    parser.add_argument("--passes", type=int, default=30)
    parser.add_argument("--sample", type=int, default=24)
    parser.add_argument("--pool", type=int, default=0, metavar="HIDES")
    args = parser.parse_args()
    engine, found = Engine.fresh(), []
    if args.pool:
        found = pooled(args.pool, args.lots, args.sample, args.passes, engine)
    for at in range(0 if args.pool else args.lots):
        found.append(lot(at, args.sample, args.passes, engine))
        if (at + 1) % 5 == 0:
            print(f"{at + 1:>4} lots: {' '.join(f'{100.0 * share:.1f}' for share in np.mean(found, axis=0))} %",
                  file=sys.stderr, flush=True)
    free, promised = 100.0 * np.mean(found, axis=0)
    print(f"{args.lots} lots, {args.sample} hides drawn for each, {args.passes} passes a hide, 95 % promised")
    print(f"orders of any size covered: {free:.1f} %\norders just promised covered: {promised:.1f} %")
    return 0


if __name__ == "__main__":
    sys.exit(main())
