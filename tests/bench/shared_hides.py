"""Styles that share hides although they want different ground: the quick estimate beside what hides are found to hold.

    python tests/bench/shared_hides.py [--jobs 6] [--hides 8] [--passes 200]

Invented jobs: the two styles of the demo job, one of which takes first ground alone, on simulated sides. Each side is
filled several times: with either style alone, and with the demanding one in plenty beside more and more of the other.
A linear program then says how few sides, every side being as likely as the others, hold the order, and so how much
leather that is; a plan has more to do, for its hides are few and whole. Each side is charged to what lies on it as the
account of a plan does it: by rough area.
"""

import argparse
import sys
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path

import numpy as np
from ortools.linear_solver import pywraplp

from nest.cli.demo import DEMO_FOLDER
from nest.estimate.make import quick_estimate
from nest.estimate.trialhides import order_wants
from nest.job.job import Job
from nest.job.read import read_job
from nest.pieces.style import OrderLine
from nest.placement.budget import Budget
from nest.planning.fill import LeatherTask, limits_for, solve_hide
from nest.planning.offer import see_hide
from nest.planning.run import Engine, Run, TimeShare
from nest.stock.distribution import SIDES
from nest.stock.material import Leather
from nest.stock.simulate import simulate_hides

BESIDE = (0.0, 0.25, 0.6)
"""How much of the tolerant style is offered beside the demanding one, in shares of what a hide may hold."""


@dataclass(frozen=True, slots=True)
class Least:
    """Least leather for an order found by the linear program, and what each style pays of it, mm²."""

    material_mm2: float
    by_style: dict[str, float]
    alone: dict[str, float]
    """Leather for each style if it had the hides to itself."""


def invented(number: int, hides: int) -> Job:
    """One job: demands, shares of the order, and sides drawn by its number."""
    job = read_job(DEMO_FOLDER / "job.toml")
    rng = np.random.default_rng(900 + number)
    first, second = job.styles
    if number % 2:
        first, second = second, first
    leather = first.leather
    first = replace(first, rules=replace(first.rules, net_quality=1, trim_quality=4, tolerance_deg=10.0))
    second = replace(second, leather=leather, rules=replace(
        second.rules, net_quality=3, trim_quality=4, tolerance_deg=10.0))
    pairs = {first.name: int(rng.integers(10, 60)), second.name: int(rng.integers(10, 60))}
    order = tuple(OrderLine(style.name, size, pairs[style.name])
                  for style in (first, second) for size in ("37", "38", "39"))
    mean = float(rng.uniform(1.6, 2.2)) * 1e6
    sides = simulate_hides(replace(SIDES, area_mean_mm2=mean), hides, seed=number, leather=leather)
    return replace(job, styles=(first, second), order=order, hides=sides,
                   leathers=tuple(one for one in job.leathers if one.name == leather))


def least_leather(job: Job, leather: Leather, passes: int, most: int) -> Least:
    """Fill hides with several offers, and choose among them."""
    wants = order_wants(job, leather)
    hides = [hide for hide in job.hides if hide.leather == leather.name]
    hides = [hides[round(i)] for i in np.linspace(0, len(hides) - 1, min(most, len(hides)))]
    seen = [see_hide(hide, wants, job.settings, one_way=leather.one_way) for hide in hides]
    run = Run(Engine.fresh(), job.settings.seed, Budget(passes=passes))
    bench = LeatherTask(wants, seen, [0] * len(seen), job.settings, run, leather.one_way)
    strict = {style.name: (style.rules.net_quality, style.rules.tolerance_deg) for style in job.styles}
    names = sorted({want.style for want in wants}, key=strict.__getitem__)
    need = {name: sum(want.count * want.area_mm2 for want in wants if want.style == name) for name in names}
    found = []
    for h, one in enumerate(seen):
        offers = [_offer(wants, {names[-1]: 1.3 * one.usable_mm2}, need)]
        offers += [
            _offer(wants, {names[0]: 1.3 * one.usable_mm2, names[-1]: share * one.usable_mm2}, need)
            for share in BESIDE
        ]
        for attempt, offer in enumerate(offers):
            limits = limits_for(wants, offer, 10.0 * one.usable_mm2, 12)
            for units in solve_hide(bench, h, limits, TimeShare(run, None), 1.0, attempt=attempt)[:1]:
                areas = {name: bench.area([u for u in units if wants[u.want].style == name]) for name in names}
                found.append((h, areas))
    return _choose(found, need, [hide.outline.area for hide in hides])


def _offer(wants, area_mm2: dict[str, float], need: dict[str, float]) -> list[int]:
    return [ceil(want.count * area_mm2.get(want.style, 0.0) / need[want.style]) for want in wants]


def _choose(found, need: dict[str, float], areas: list[float]) -> Least:
    solver = pywraplp.Solver.CreateSolver("GLOP")
    times = solver.NumVar(0.0, solver.infinity(), "times")
    taken = [solver.NumVar(0.0, solver.infinity(), "") for _ in found]
    for h in range(len(areas)):
        solver.Add(sum(x for x, (hide, _) in zip(taken, found, strict=True) if hide == h) <= times)
    for name, area in need.items():
        solver.Add(sum(x * held[name] for x, (_, held) in zip(taken, found, strict=True)) >= area)
    solver.Minimize(times)
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        raise SystemExit("the hides hold nothing of one of the styles")
    by_style = dict.fromkeys(need, 0.0)
    for x, (hide, held) in zip(taken, found, strict=True):
        whole = sum(held.values())
        for name in need:
            by_style[name] += x.solution_value() * areas[hide] * held[name] / whole if whole else 0.0
    alone = {
        name: area * sum(areas) / sum(max(held[name] for hide, held in found if hide == h) for h in range(len(areas)))
        for name, area in need.items()
    }
    return Least(times.solution_value() * sum(areas), by_style, alone)


def main() -> int:
    """Print a line for each job and leather."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("files", nargs="*", type=Path, help="job files, in place of invented jobs")
    parser.add_argument("--jobs", type=int, default=6)
    parser.add_argument("--hides", type=int, default=8)
    parser.add_argument("--passes", type=int, default=200)
    args = parser.parse_args()
    jobs = [read_job(file) for file in args.files] or [invented(n, args.hides) for n in range(args.jobs)]
    print(f"{'job':24}{'style':18}{'rough m2':>9}{'held m2':>9}{'alone m2':>9}{'estimate':>9}{'off %':>7}")
    for number, job in enumerate(jobs):
        estimate = quick_estimate(job)
        for leather in job.leathers:
            names = [style.name for style in job.styles if style.leather == leather.name]
            if len(names) < 2:
                continue
            held = least_leather(job, leather, args.passes, args.hides)
            rows = [(name, held.by_style[name], held.alone[name],
                     [one for one in estimate.sizes if one.style == name]) for name in names]
            rows.append(("all", held.material_mm2, sum(held.alone.values()),
                         [one for one in estimate.sizes if one.style in names]))
            for name, material, alone, sizes in rows:
                said = sum(one.pairs_to_cut * one.leather.material_mm2 for one in sizes)
                rough = sum(one.pairs_to_cut * one.leather.rough_mm2 for one in sizes)
                print(f"{f'{number} {job.name}':24}{name:18}{rough / 1e6:9.2f}{material / 1e6:9.2f}{alone / 1e6:9.2f}"
                      f"{said / 1e6:9.2f}{100.0 * (said / material - 1.0):7.1f}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
