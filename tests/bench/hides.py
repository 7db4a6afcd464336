"""Invented hides: yield reached by five sizes of one vamp, beside a bound and a reference.

    python tests/bench/hides.py DATA [--only hide1] [--seconds 10 60 300] [--seeds 3] [--step 1] [--workers 2]

DATA/hides holds one JSON file a hide. The rule is read strictly: the net outline lies in good zones alone, each
of which allows the heading, and clear of every flaw; the rough outline lies on the hide and clear of the flaws
that trim may not cover. Yield = rough area ÷ area of the whole hide; any size as often as it fits. Time counts
from the bare outlines on. Every layout is judged by shapely before it counts.
"""

import argparse
import json
import sys
import time
from math import ceil
from pathlib import Path
from statistics import mean, median
from typing import NamedTuple

import numpy as np
import shapely

sys.path.append(str(Path(__file__).parents[1] / "nest" / "placement"))

from layout_judge import cores, headings_allowed, outlines, shared_area
from reach import reachable_ground
from record import Value, add_record_option, write_record

from geometry.lattice import densest_double_lattice
from geometry.pose import rotate
from geometry.precision import as_ring
from nest.placement.budget import Budget
from nest.placement.problem import Ground, Kind, Layout, RegionProblem
from nest.placement.solve import solve_region

SHARE = 1e-6
"""Pieces may overlap or leave their ground by this share of their area in all."""

PLENTY = 1000

PROTOTYPE = {30.0: 66.1, 60.0: 66.8, 300.0: 67.2}
"""Yield % of a prototype at seconds: one core, headings in steps of 5°, two seeds, mean over hides; at 300 s hide 1."""


class Zone(NamedTuple):
    """A zone of a hide."""

    good: bool
    stretch_deg: float
    ground: shapely.Geometry

    def allows(self, heading_deg: float, tolerance_deg: float) -> bool:
        """Whether the heading deviates from across by no more than the tolerance; half turns allowed."""
        off = (heading_deg - self.stretch_deg - 90.0) % 180.0
        return self.good and min(off, 180.0 - off) <= tolerance_deg + 1e-9


class Hide(NamedTuple):
    """A hide and the pieces to be cut from it."""

    name: str
    outline: shapely.Polygon
    zones: list[Zone]
    flaws: shapely.Geometry
    uncoverable: shapely.Geometry
    tolerance_deg: float
    pieces: list[tuple[str, np.ndarray, np.ndarray]]
    """(size, rough ring, net ring)"""


def read(path: Path) -> Hide:
    """One hide of the data folder."""
    data = json.loads(path.read_text())
    flaws = [(shapely.Polygon(flaw["polygon"]), flaw["coverable"]) for flaw in data["hide"]["flaws"]]
    return Hide(
        data["name"],
        shapely.Polygon(data["hide"]["outline"]),
        [
            Zone(
                zone["quality"] == "good", float(zone["stretch_deg"]),
                shapely.union_all([shapely.Polygon(ring) for ring in zone["polygons"]]),
            )
            for zone in data["hide"]["zones"]
        ],
        shapely.union_all([flaw for flaw, _ in flaws]),
        shapely.union_all([flaw for flaw, coverable in flaws if not coverable]),
        float(data["tolerance_deg"]),
        [(str(piece["size"]), as_ring(piece["outline"]), as_ring(piece["net"])) for piece in data["pieces"]],
    )


def headings_of(hide: Hide, step_deg: float) -> tuple[float, ...]:
    """Headings allowed by some good zone, in steps no longer than `step_deg`, half turns included."""
    count = ceil(2.0 * hide.tolerance_deg / step_deg)
    found = {
        round((zone.stretch_deg + 90.0 + off + turn) % 360.0, 6)
        for zone in hide.zones
        if zone.good
        for off in np.linspace(-hide.tolerance_deg, hide.tolerance_deg, count + 1)
        for turn in (0.0, 180.0)
    }
    return tuple(sorted(found))


def problem_of(hide: Hide, step_deg: float) -> RegionProblem:
    """The hide as a region: cores, at each heading, in the zones that allow it and clear of flaws."""
    headings = headings_of(hide, step_deg)
    fit = {
        heading: shapely.union_all([z.ground for z in hide.zones if z.allows(heading, hide.tolerance_deg)])
        for heading in headings
    }
    core = tuple(fit[heading].difference(hide.flaws) for heading in headings)
    ground = Ground(hide.outline.difference(hide.uncoverable), core)
    kinds = tuple(Kind(size, rough, net, headings, PLENTY) for size, rough, net in hide.pieces)
    return RegionProblem(kinds, (ground,) * len(kinds))


def yield_of(hide: Hide, problem: RegionProblem, layout: Layout) -> float:
    """Share of the hide covered by rough outlines, 0..1, by the outlines where they lie.

    Raises
    ------
    ValueError
        If pieces overlap, or one lies where the rule forbids.
    """
    rough, net = outlines(layout.items, problem.kinds), cores(layout.items, problem.kinds)
    total = float(shapely.area(rough).sum())

    def hold(broken: float, what: str) -> None:
        if broken > SHARE * total:
            raise ValueError(f"{what}: {broken:.3g} of {total:.6g} mm²")

    if not headings_allowed(layout, problem.kinds):
        raise ValueError("a heading is not allowed")
    hold(shared_area(rough), "pieces overlap")
    hold(float(shapely.area(shapely.difference(rough, hide.outline)).sum()), "off the hide")
    hold(float(shapely.area(shapely.intersection(rough, hide.uncoverable)).sum()), "over a flaw no trim may cover")
    hold(float(shapely.area(shapely.intersection(net, hide.flaws)).sum()), "net outline over a flaw")
    for zone in hide.zones:
        unfit = [
            shape for shape, item in zip(net, layout.items, strict=True)
            if not zone.allows(item.pose.heading_deg, hide.tolerance_deg)
        ]
        hold(float(shapely.area(shapely.intersection(unfit, zone.ground)).sum()), "net outline in an unfit zone")
    return total / hide.outline.area


def reachable(problem: RegionProblem) -> shapely.Geometry:
    """All ground that some piece covers at some allowed pose.

    No layout covers more, so its share of the hide bounds the yield.
    """
    return reachable_ground([
        [(ground.outline, as_ring(rotate(kind.outline, heading))), (core, as_ring(rotate(kind.core, heading)))]
        for kind, ground in zip(problem.kinds, problem.grounds, strict=True)
        for heading, core in zip(kind.headings_deg, ground.core, strict=True)
    ])


def main() -> int:
    """Solve, judge, print; 1 if a layout failed its check."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("--only", nargs="+", default=[], metavar="NAME")
    parser.add_argument("--seconds", nargs="+", type=float, default=[10.0, 60.0, 300.0])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--step", type=float, default=1.0, help="degrees between headings")
    parser.add_argument("--workers", type=int, default=2)
    add_record_option(parser)
    args = parser.parse_args()
    hides = [read(path) for path in sorted((args.data / "hides").glob("*.json"))]
    hides = [hide for hide in hides if not args.only or hide.name in args.only]
    if not hides:
        parser.error(f"no hide found in {args.data / 'hides'}")
    solve_region(problem_of(hides[0], 20.0), Budget(passes=5), seed=1, workers=args.workers)  # compiles the loops
    print(f"yield % of the whole hide, {args.seeds} seeds, {args.workers} workers, headings in steps of {args.step:g}°")
    density = max(densest_double_lattice(rough).density for _, rough, _ in hides[0].pieces)
    beside = {}
    for hide in hides:
        share = 100.0 * reachable(problem_of(hide, args.step)).area / hide.outline.area
        beside[hide.name] = np.array((share, share * density))
    print(f"bound: ground within reach; reference: that ground at the best double lattice's density, {density:.4f}")
    print(f"{'hide':<10}{'seconds':>9}{'median':>9}{'best':>9}{'pieces':>8}{'bound':>8}{'reference':>11}{'prototype':>11}",
          flush=True)
    failed, values = 0, []
    for seconds in args.seconds:
        medians = []
        told = f"{PROTOTYPE[seconds]:.1f}" if seconds in PROTOTYPE else "–"
        for hide in hides:
            problem = problem_of(hide, args.step)
            found: list[tuple[float, int]] = []
            for seed in range(1, args.seeds + 1):
                begin = time.monotonic()
                best = solve_region(problem, Budget(seconds=seconds), seed=seed, workers=args.workers)[0]
                took = time.monotonic() - begin
                try:
                    found.append((100.0 * yield_of(hide, problem, best), len(best.items)))
                except ValueError as fault:
                    failed += 1
                    print(f"{hide.name} seed {seed}: {fault}", flush=True)
                    continue
                print(f"  {hide.name} seed {seed}: {found[-1][0]:.2f}, {found[-1][1]} pieces in {took:.1f} s",
                      file=sys.stderr, flush=True)
            if found:
                medians.append(median(share for share, _ in found))
                values.append(Value(f"{hide.name}, {seconds:g} s", tuple(round(one, 2) for one, _ in found),
                                    n=len(found)))
                share, pieces = max(found)
                bound, reference = beside[hide.name]
                print(f"{hide.name:<10}{seconds:>9g}{medians[-1]:>9.2f}{share:>9.2f}{pieces:>8}{bound:>8.2f}"
                      f"{reference:>11.2f}", flush=True)
        if medians:
            bound, reference = np.mean(list(beside.values()), axis=0)
            print(f"{'mean':<10}{seconds:>9g}{mean(medians):>9.2f}{'':>17}{bound:>8.2f}{reference:>11.2f}{told:>11}",
                  flush=True)
            values.append(Value(f"mean of medians, {seconds:g} s", round(mean(medians), 2)))
    if args.record:
        write_record(args.record, question="What yield do invented hides give?", module="nest/placement/region.py",
                     metric=f"yield, one figure a seed, {args.workers} workers", baseline="none", unit="%",
                     values=values)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
