"""Published irregular strip-packing sets: density reached, beside the best published.

    python tests/bench/strips.py DATA [--only shirts trousers] [--seconds 60 600] [--seeds 3] [--workers 2]

DATA holds one JSON file a set: name, strip_width, orientations_deg, pieces (demand, outline),
best_published_density_percent. Density = area of all pieces ÷ (strip width × used length). Every layout is
judged by shapely before it counts; the programs the sets are compared with ran on other machines.
"""

import argparse
import json
import sys
import time
from pathlib import Path
from statistics import median

import numpy as np
import shapely

sys.path.append(str(Path(__file__).parents[1] / "nest" / "placement"))

from layout_judge import counts, headings_allowed, outlines, shared_area, used_length
from record import Value, add_record_option, mean_of, write_record

from geometry.polygon import area
from geometry.precision import as_ring
from nest.placement.budget import Budget
from nest.placement.problem import Kind, Layout, StripProblem
from nest.placement.solve import solve_strip

WIDTH_MM = 1400.0
"""Sets are drawn in units of their own; all are scaled to a roll of this width, so that the coordinate
grid is as fine beside their pieces as beside real ones. Density does not depend on the scale."""

SHARE = 1e-6
"""Pieces may overlap or leave the strip by this share of their area in all."""


def problem_of(data: dict) -> StripProblem:
    """One set as a strip problem at `WIDTH_MM`."""
    scale = WIDTH_MM / data["strip_width"]
    headings = tuple(float(angle) for angle in data["orientations_deg"])
    rings = [as_ring(scale * np.array(piece["outline"])) for piece in data["pieces"]]
    kinds = tuple(
        Kind(f"piece {n}", ring, ring, headings, piece["demand"])
        for n, (ring, piece) in enumerate(zip(rings, data["pieces"], strict=True))
    )
    return StripProblem(kinds, WIDTH_MM)


def density_of(problem: StripProblem, layout: Layout) -> float:
    """Density of a layout by the outlines where they lie, 0..1.

    Raises
    ------
    ValueError
        If the layout lacks a piece, turns one as it may not, overlaps, or leaves the strip.
    """
    if counts(layout, problem.kinds) != [kind.limit for kind in problem.kinds]:
        raise ValueError("pieces are missing or too many")
    if not headings_allowed(layout, problem.kinds):
        raise ValueError("a heading is not allowed")
    shapes = outlines(layout.items, problem.kinds)
    total = sum(area(problem.kinds[item.kind].outline) for item in layout.items)
    length = used_length(shapes)
    if (shared := shared_area(shapes)) > SHARE * total:
        raise ValueError(f"pieces share {shared:.3g} of {total:.6g} mm²")
    beyond = shapely.area(shapely.difference(shapes, shapely.box(0.0, 0.0, length, problem.width_mm))).sum()
    if beyond > SHARE * total:
        raise ValueError(f"{beyond:.3g} of {total:.6g} mm² lie off the strip")
    return total / (problem.width_mm * length)


def main() -> int:
    """Solve, judge, print; 1 if a layout failed its check."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("--only", nargs="+", default=[], metavar="NAME")
    parser.add_argument("--seconds", nargs="+", type=float, default=[60.0, 600.0])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--workers", type=int, default=2)
    add_record_option(parser)
    args = parser.parse_args()
    sets = [json.loads(path.read_text()) for path in sorted(args.data.glob("*.json"))]
    sets = [data for data in sets if not args.only or data["name"] in args.only]
    if not sets:
        parser.error(f"no set found in {args.data}")
    solve_strip(problem_of(sets[0]), Budget(passes=5), seed=1, workers=args.workers)  # compiles the loops
    print(f"density %, {args.seeds} seeds, {args.workers} workers")
    print(f"{'set':<12}{'pieces':>7}{'seconds':>9}{'median':>9}{'best':>9}{'published':>11}{'difference':>12}",
          flush=True)
    failed, values = 0, []
    for seconds in args.seconds:
        differences = []
        for data in sets:
            problem = problem_of(data)
            found = []
            for seed in range(1, args.seeds + 1):
                begin = time.monotonic()
                layout = solve_strip(problem, Budget(seconds=seconds), seed=seed, workers=args.workers)
                took = time.monotonic() - begin
                try:
                    found.append(100.0 * density_of(problem, layout))
                except ValueError as fault:
                    failed += 1
                    print(f"{data['name']} seed {seed}: {fault}", flush=True)
                    continue
                print(f"  {data['name']} seed {seed}: {found[-1]:.2f} in {took:.1f} s", file=sys.stderr, flush=True)
            if not found:
                continue
            published = data["best_published_density_percent"]
            pieces = sum(kind.limit for kind in problem.kinds)
            differences.append(median(found) - published)
            values.append(Value(f"{data['name']}, {seconds:g} s", tuple(round(one - published, 2) for one in found),
                                n=len(found)))
            print(f"{data['name']:<12}{pieces:>7}{seconds:>9g}{median(found):>9.2f}{max(found):>9.2f}{published:>11.2f}"
                  f"{differences[-1]:>+12.2f}", flush=True)
        if differences:
            print(f"{'mean':<12}{'':>7}{seconds:>9g}{'':>29}{np.mean(differences):>+12.2f}", flush=True)
            values.append(mean_of(f"mean of medians over the sets, {seconds:g} s", differences))
    if args.record:
        write_record(args.record, question="How dense are strips?", module="nest/placement/strip.py",
                     baseline="best density published", unit="points", values=values,
                     metric=f"density beside the best published, one figure a seed, {args.workers} workers")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
