"""What prices of the styles and emptying bring over fill and choose: ten invented orders of many hides, both ways.

    python tests/bench/orders.py [--first 0] [--orders 10] [--every 1] [--passes 100 | --seconds 2] [--small]
        [--record SLUG]

Orders of even number have two styles that want different ground, where first ground is scarce and sizes are uneven: the
demanding one, more than half of the order, may lie on first ground alone, the other on three classes. In the others
both want the same ground. Hides are simulated; 20 to 80 of them are in stock, `--small` takes a quarter of stock and
order. Both plans of an order have the same seed and passes, or the same seconds for each hide in stock; what differs is
a parameter of the planner. Printed are hides opened, their cost at list price, what is short, and the processor time of
either.
"""

import argparse
import time
from dataclasses import replace
from statistics import mean

import numpy as np
from record import Value, add_record_option, mean_of, write_record

from nest.cli.demo import DEMO_FOLDER
from nest.job.job import Job
from nest.job.read import read_job
from nest.pieces.quantities import ordered_quantities
from nest.pieces.style import OrderLine
from nest.placement.budget import Budget
from nest.planning.hides import HidePlan, plan_hides
from nest.planning.run import Engine, Run, TimeShare
from nest.planning.stages import pieces_ordered
from nest.planning.wants import vamp_wants
from nest.stock.distribution import SIDES
from nest.stock.simulate import simulate_hides

STOCK = (20, 80)
FILL = 0.4
"""Share of the stock's area that the order's rough vamps take: all of it finds room either way."""

SIZES = ("36", "37", "38", "39", "40")


def drawn_order(number: int, *, small: bool = False) -> Job:
    """Order `number`: its hides, pairs of every size, and which style wants better ground."""
    job = read_job(DEMO_FOLDER / "job.toml")
    rng = np.random.default_rng(4000 + number)
    first, second = job.styles[:2] if number % 4 < 2 else job.styles[1::-1]
    hides = int(rng.integers(*STOCK)) // (4 if small else 1)
    differ = number % 2 == 0
    first, second = (
        replace(style, leather=first.leather, roll="", rules=replace(
            style.rules, net_quality=1 if differ and style is first else 3, trim_quality=4, tolerance_deg=10.0))
        for style in (first, second)
    )
    leather = replace(next(one for one in job.leathers if one.name == first.leather), breaks=())
    sides = simulate_hides(
        replace(SIDES, area_mean_mm2=float(rng.uniform(1.6, 2.2)) * 1e6), hides, seed=number, leather=leather.name)
    spread = 2.0 if differ else 0.5
    weights = {(style.name, size): float(rng.lognormal(0.0, spread / 2.0)) for style in (first, second)
               for size in SIZES}
    share = float(rng.uniform(0.55, 0.7)) if differ else 0.5
    whole = {style.name: sum(weights[style.name, size] for size in SIZES) for style in (first, second)}
    vamp_mm2 = 6.5e4
    pairs = FILL * sum(side.outline.area for side in sides) / (2.0 * vamp_mm2)
    order = tuple(
        OrderLine(style.name, size, max(1, round(pairs * part * weights[style.name, size] / whole[style.name])))
        for style, part in ((first, share), (second, 1.0 - share)) for size in SIZES
    )
    return replace(job, styles=(first, second), order=order, hides=sides, leathers=(leather,), rolls=())


def planned(job: Job, budget: Budget, *, by_prices: bool) -> tuple[HidePlan, float]:
    """The plan of the one leather of a job, and its processor time in seconds."""
    quantities = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    wants = vamp_wants(quantities, pieces_ordered(job, quantities, []), {one.name: one.rules for one in job.styles})
    run = Run(Engine.fresh(), job.settings.seed, budget.started())
    begin, share = time.process_time(), TimeShare(run, budget.seconds)
    plan = plan_hides(wants, job.hides, job.leathers[0], job.settings, run, share, by_prices=by_prices)
    return plan, time.process_time() - begin


def cost_of(plan: HidePlan) -> float:
    """What the hides opened cost at list price."""
    costs = dict(plan.costs)
    return sum(costs[seen.hide.hide_id] for seen, _ in plan.placed) / 100.0


def main() -> None:
    """Print a line for each order, and the mean saving of either kind."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--orders", type=int, default=10)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--passes", type=int, default=100)
    parser.add_argument("--seconds", type=float, help="for each hide in stock, in place of passes")
    parser.add_argument("--small", action="store_true")
    add_record_option(parser)
    asked = parser.parse_args()
    saved: dict[bool, list[float]] = {True: [], False: []}
    for number in range(asked.first, asked.first + asked.every * asked.orders, asked.every):
        job = drawn_order(number, small=asked.small)
        budget = Budget(seconds=asked.seconds * len(job.hides)) if asked.seconds else Budget(passes=asked.passes)
        found = {by_prices: planned(job, budget, by_prices=by_prices) for by_prices in (False, True)}
        costs = {by_prices: cost_of(plan) for by_prices, (plan, _) in found.items()}
        said = ", ".join(
            f"{'by prices' if by_prices else 'by area'} {len(plan.placed)} hides {costs[by_prices]:.2f} short "
            f"{sum(plan.short)} in {seconds:.0f} s" for by_prices, (plan, seconds) in found.items()
        )
        pairs = sum(line.pairs for line in job.order)
        print(f"order {number}, {len(job.hides)} hides, {pairs} pairs: {said}", flush=True)
        if not any(sum(plan.short) for plan, _ in found.values()):
            saved[number % 2 == 0].append(100.0 * (1.0 - costs[True] / costs[False]))
    for differ, mine in saved.items():
        if mine:
            print(f"{'different' if differ else 'the same'} ground: prices save {mean(mine):.1f} % of the cost, "
                  f"{min(mine):.1f} to {max(mine):.1f}, {len(mine)} orders")
    if asked.record:
        names = {True: "styles that want different ground", False: "styles that want the same ground"}
        values: list[Value] = [mean_of(names[differ], mine) for differ, mine in saved.items() if mine]
        limit = f"{asked.seconds:g} s a hide" if asked.seconds else f"{asked.passes} passes"
        write_record(
            asked.record, question="What do prices of the styles and emptying bring over filling by area and choosing?",
            module="nest/planning/guide.py",
            change="prices of the styles lead the fill, and the least used hides are emptied into the others",
            baseline="area alone leads the fill, hides are chosen from what was found, same seed and limit",
            metric=f"cost of hides saved, {limit}", unit="%", values=values)


if __name__ == "__main__":
    main()
