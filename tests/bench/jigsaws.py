"""Jigsaws cut at random, whose shortest strip is known: how many are solved, and how soon.

    python tests/bench/jigsaws.py [--pieces 16 22] [--join 1 2] [--jigsaws 3] [--seconds 60] [--turns 0] [--workers 2]

A rectangle half as long again as the strip is wide is cut into the Voronoi cells of random points, moved once to the
centres of their cells; with `--join 2` there are twice as many cells, and the smallest is joined to a neighbour until
as many pieces are left, so that most are hollow. No strip is shorter than the rectangle: 100 % is the optimum. Every
layout is judged by shapely before it counts.
"""

import argparse
import sys
import time
from pathlib import Path
from statistics import median

import numpy as np
import shapely

sys.path.append(str(Path(__file__).parent))

from record import Value, add_record_option, write_record
from strips import density_of, problem_of

from nest.placement.budget import Budget
from nest.placement.solve import solve_strip

WIDTH, LENGTH = 100.0, 150.0
GRID = 0.1
"""Corners lie on a grid of this step, one for all cells that meet there: rounded cells leave no gap."""

SOLVED = 1.0 - 1e-4


def cut(pieces: int, join: int, rng: np.random.Generator) -> list[shapely.Polygon]:
    """The rectangle in so many pieces, each of about `join` cells."""
    frame = shapely.box(0.0, 0.0, LENGTH, WIDTH)
    points = rng.random((pieces * join, 2)) * (LENGTH, WIDTH)
    for _ in range(2):
        # far points all round close the cells at the edge
        cells = shapely.voronoi_polygons(shapely.MultiPoint(points), extend_to=frame.buffer(10.0 * LENGTH))
        cells = shapely.intersection(shapely.get_parts(cells), frame)
        points = shapely.get_coordinates(shapely.centroid(cells))
    found = [shapely.Polygon(np.round(shapely.get_coordinates(cell) / GRID) * GRID) for cell in cells]
    while len(found) > pieces:
        found.sort(key=lambda piece: piece.area)
        smallest = found.pop(0)
        unions = [shapely.union(smallest, piece) for piece in found]
        # what meets at corners alone, or closes a ring, makes no piece
        whole = [n for n, union in enumerate(unions) if union.geom_type == "Polygon" and not union.interiors]
        at = min(whole, key=lambda n: unions[n].area)
        found[at] = unions[at]
    return found


def data_of(pieces: list[shapely.Polygon], turns: list[float]) -> dict:
    """The pieces as a set of strip packing, as `strips.py` reads them."""
    shapes = [{"demand": 1, "outline": shapely.get_coordinates(piece)} for piece in pieces]
    return {"strip_width": WIDTH, "orientations_deg": turns, "pieces": shapes}


def main() -> int:
    """Cut, solve, judge, print; 1 if a layout failed its check."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--pieces", nargs="+", type=int, default=[16, 22])
    parser.add_argument("--join", nargs="+", type=int, default=[1, 2])
    parser.add_argument("--jigsaws", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--turns", nargs="+", type=float, default=[0.0], help="headings allowed, degrees")
    parser.add_argument("--workers", type=int, default=2)
    add_record_option(parser)
    args = parser.parse_args()
    solve_strip(problem_of(data_of(cut(4, 1, np.random.default_rng(0)), args.turns)), Budget(passes=5), seed=1)
    print(f"{args.jigsaws} jigsaws each, {args.seconds:g} s at most, {args.workers} workers")
    print(f"{'pieces':>6}{'cells':>7}{'solved':>8}{'median s':>10}{'worst %':>9}", flush=True)
    failed, values = 0, []
    for join in args.join:
        for pieces in args.pieces:
            densities, times = [], []
            for seed in range(1, args.jigsaws + 1):
                jigsaw = cut(pieces, join, np.random.default_rng((seed, pieces, join)))
                problem = problem_of(data_of(jigsaw, args.turns))
                begin = time.monotonic()
                layout = solve_strip(problem, Budget(seconds=args.seconds), seed=seed, workers=args.workers)
                times.append(time.monotonic() - begin)
                try:
                    densities.append(density_of(problem, layout))
                except ValueError as fault:
                    failed += 1
                    print(f"{pieces} pieces, jigsaw {seed}: {fault}", flush=True)
            solved = sum(density >= SOLVED for density in densities)
            case = f"{pieces} pieces of {join} cells"
            values += [Value(f"{case}, of {args.jigsaws}", solved, n=args.jigsaws),
                       Value(f"{case}, median time", round(median(times), 1), n=args.jigsaws, unit="s")]
            print(f"{pieces:>6}{join:>7}{solved:>8}{median(times):>10.1f}{100.0 * min(densities, default=0.0):>9.2f}",
                  flush=True)
    if args.record:
        write_record(args.record, question="How many jigsaws cut at random are put together again?", unit="count",
                     module="nest/placement/strip.py", baseline="all: 100 % is the optimum", values=values,
                     metric=f"solved within {args.seconds:g} s, {args.workers} workers")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
