"""A month in the ledger, planned by the planner: does everything add up, and what do joint plans and remnants save?

    python tests/bench/month.py [--hides 1500] [--orders 60] [--days 20] [--passes 2] [--seed 1] [--pairs 12]
                                [--remnant-share 0.5] [--ledger ADDRESS]

Invented: four styles of three leathers on small simulated sides, some with a reinforcement. Every day orders come in,
all that is due within three days is planned together on the free stock, four fifths of the reserved hides are cut, some
are loose and withdrawn (and come back or go), pairs are spoiled, plans given up; halfway the stock is counted. In the
end `tests/nest/ledger/shop_month.py` holds the ledger against what must be so: no hide or metre twice; areas, pairs and
money add up.

Beside it the same orders are planned one by one as they came, each on hides of its own of the same stock, with the same
passes, whatever is left of a hide forgotten. Compared is leather per rough area, for spoiled pairs are cut again in the
month alone. The remnants on the rack in the end count once as used and once as stock: the truth lies between.
"""

import argparse
import sys
import tempfile
import time
from dataclasses import replace
from decimal import Decimal
from math import ceil
from pathlib import Path

sys.path += [str(Path(__file__).parents[1] / "nest" / one) for one in ("", "ledger", "planning")]

import numpy as np
from box_jobs import job as box_job
from box_jobs import roll, style
from record import Value, add_record_option, write_record
from shop_month import Month, Shop, Told, check_month

from geometry.polygon import area
from nest.job.job import Job
from nest.ledger.offer import OFFERED_TIMES
from nest.ledger.stock import RollReceived
from nest.ledger.store import open_ledger
from nest.pieces.style import OrderLine
from nest.placement.solve import warm_up
from nest.planning import fill
from nest.planning.make import make_plan
from nest.planning.run import Engine
from nest.rules import Rules
from nest.stock.distribution import SIDES
from nest.stock.material import Hide, Leather
from nest.stock.simulate import simulate_hides
from nest.verify import verify

MEAN_HIDE_MM2 = 0.55e6
PAIRS_A_HIDE = 5.0
"""A hide holds about this many pairs: how many an order is offered by itself follows."""

LEATHERS = ("calf", "kid", "side")


def the_job() -> Job:
    """Four styles of three leathers; two of them are backed."""
    styles = [
        style("box", lean=30.0, roll="knit", reject_percent=3.0, rules=Rules(net_quality=2)),
        style("slim", width=80.0, leather="calf", reject_percent=3.0, rules=Rules(net_quality=3, bias_leave=True)),
        style("kid", lean=20.0, leather="kid", reject_percent=2.0, rules=Rules(net_quality=2)),
        style("side", width=90.0, leather="side", roll="knit", reject_percent=4.0, rules=Rules(net_quality=3)),
    ]
    job = box_job(styles=styles, order=(), hides=(), rolls=(roll(),))
    return replace(job, leathers=tuple(
        Leather(name, Decimal(price), "m2") for name, price in zip(LEATHERS, ("44.00", "58.00", "31.00"), strict=True)
    ))


def the_hides(count: int, seed: int) -> tuple[Hide, ...]:
    """Small simulated sides of the three leathers in turn, ids of their own, lots by the hundred."""
    scale = MEAN_HIDE_MM2 / SIDES.area_mean_mm2
    supply = replace(SIDES, area_mean_mm2=MEAN_HIDE_MM2, area_sd_mm2=scale * SIDES.area_sd_mm2,
                     area_range_mm2=tuple(scale * one for one in SIDES.area_range_mm2), flaw_range=(1, 6))
    found = simulate_hides(supply, count, seed=seed, leather="")
    return tuple(
        replace(one, hide_id=f"K{n:04d}", leather=LEATHERS[n % 3], lot=f"lot {n // 100}") for n, one in enumerate(found)
    )


def one_by_one(month: Month, told: Told) -> tuple[float, float, int]:
    """The same orders each by itself, remnants forgotten: leather opened and rough area, mm², and pairs short."""
    left = {leather: [hide for hide in month.hides if hide.leather == leather] for leather in LEATHERS}
    leather_of = {one.name: one.leather for one in month.job.styles}
    opened = rough = 0.0
    short = 0
    for lines in told.asked:
        name = lines[0].style
        mine = [one for one in month.job.styles if one.name == name]
        order = tuple(OrderLine(line.style, line.size, line.pairs, line.due) for line in lines)
        hides = left[leather_of[name]]
        number = max(12, ceil(OFFERED_TIMES * sum(line.pairs for line in lines) / PAIRS_A_HIDE))
        asked = replace(month.job, styles=tuple(mine), order=order, hides=tuple(hides[:number]))
        plan = month.plan(asked)
        areas = {piece.piece_id: area(piece.cut_outline) for piece in plan.pieces}
        used = {one.hide_id for one in plan.layouts if one.placed}
        opened += sum(hide.measured_area_mm2 for hide in hides if hide.hide_id in used)
        rough += sum(areas[one.piece_id] for layout in plan.layouts for one in layout.placed)
        short += not verify(plan).order_met
        left[leather_of[name]] = [hide for hide in hides if hide.hide_id not in used]
        month.say(f"{lines[0].order_no} by itself: {len(used)} hides")
    return opened, rough, short


def _took(begin: tuple[float, float]) -> str:
    return f"{time.time() - begin[0]:.0f} s, {time.process_time() - begin[1]:.0f} s of a processor"


def main() -> None:
    """Run the month and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name, value in (("hides", 1500), ("orders", 60), ("days", 20), ("passes", 2), ("seed", 1), ("pairs", 12)):
        parser.add_argument(f"--{name}", type=int, default=value)
    parser.add_argument("--remnant-share", type=float, default=fill.REMNANT_SHARE,
                        help="what remnants count for when hides are chosen, as a share of their price")
    parser.add_argument("--ledger", help="address of an empty ledger; by default a file that is thrown away")
    add_record_option(parser)
    asked = parser.parse_args()
    fill.REMNANT_SHARE = asked.remnant_share
    warm_up()

    def planned(job: Job):
        plan = make_plan(job, passes=asked.passes, seed=asked.seed, engine=Engine.fresh())
        assert verify(plan).ok, "a plan is wrong"
        return plan

    rolls = tuple(RollReceived(f"R{n}", "knit", 60_000.0, lot="roll lot") for n in range(4 * max(1, asked.pairs // 12)))
    sizes = tuple(str(size) for size in np.arange(36, 43))
    month = Month(the_job(), the_hides(asked.hides, asked.seed), rolls, planned, sizes, asked.days, asked.orders,
                  (asked.pairs // 3, asked.pairs), asked.seed, say=lambda line: print(line, flush=True))
    begin = time.time(), time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        ledger = open_ledger(asked.ledger or Path(folder) / "ledger.db", make=True)
        told = Shop(ledger, month, Path(folder)).run()
        found = check_month(ledger, month)
    print(f"{told.plans} plans, {told.given_up} given up, {told.withdrawn} hides withdrawn, {told.returned} returned, "
          f"{told.spoiled} pairs spoiled, {told.remnants} remnants, {told.remnants_used} of them planned; "
          f"{found['cut']:.0f} of {asked.hides} hides cut; {_took(begin)}", flush=True)
    whole = (found["rough"] - found["parts_rough"]) / (found["used"] - found["parts_used"])
    parts = found["parts_rough"] / found["parts_used"] if found["parts_used"] else float("nan")
    print(f"cutting yield of whole hides {whole:.1%}, of remnants {parts:.1%}; "
          f"{found['returned'] / 1e6:.1f} m² came back")
    print("no hide or metre used twice; net + trim-off + waste + remnant is every hide's area; money adds up")
    begin = time.time(), time.process_time()
    opened, rough, short = one_by_one(month, told)
    most = 1.0 - found["used"] / found["rough"] / (opened / rough)
    least = 1.0 - (found["used"] + found["remnants"]) / found["rough"] / (opened / rough)
    print(f"ledger: {found['used'] / 1e6:.1f} m² used, {found['remnants'] / 1e6:.1f} m² of remnants on the rack, for "
          f"{found['rough'] / 1e6:.1f} m² of vamps; cost {found['cost']:.2f}")
    print(f"one by one: {opened / 1e6:.1f} m² opened for {rough / 1e6:.1f} m² of vamps; {short} orders short; "
          f"{_took(begin)}")
    print(f"leather saved: {least:.1%} at least, {most:.1%} at most")
    if asked.record:
        write_record(
            asked.record, question="What leather do joint plans and remnants save over a month?",
            module="nest/ledger/joint.py", baseline="each order by itself, what is left of a hide forgotten",
            metric="leather a rough area saved",
            unit="%", values=[
                Value("remnants on the rack counted as used", round(100 * least, 1)),
                Value("remnants on the rack counted as stock", round(100 * most, 1)),
                Value("hides used twice, metres used twice, mm² or cents that are nowhere", 0, unit="count"),
                Value("remnants that came back", told.remnants, unit="count"),
                Value("of these planned", told.remnants_used, unit="count"),
                Value("cutting yield of whole hides, remnants off", round(100 * whole, 1)),
                Value("cutting yield of remnants", round(100 * parts, 1)),
                Value("hides cut", round(found["cut"]), unit="count"),
            ],
        )


if __name__ == "__main__":
    main()
