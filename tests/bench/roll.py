"""Reinforcements on a roll: length used by eighty of them, sixteen of each of five sizes.

    python tests/bench/roll.py DATA [--seconds 60 600] [--seeds 3] [--step 2.5] [--workers 2]

The outlines are the rough vamps of DATA/hides/hide1.json moved 10 mm inwards, the roll is 1400 mm wide, headings
are within 10° of along the roll, either way. Every layout is judged by shapely before it counts.
"""

import argparse
import json
import sys
import time
from math import ceil
from pathlib import Path
from statistics import median

import numpy as np

sys.path.append(str(Path(__file__).parent))

from record import Value, add_record_option, write_record
from strips import density_of

from geometry.precision import as_ring
from nest.pieces.reinforcement import reinforcement_outline
from nest.placement.budget import Budget
from nest.placement.problem import Kind, StripProblem
from nest.placement.solve import solve_strip

WIDTH_MM, INSET_MM, TOLERANCE_DEG, EACH = 1400.0, 10.0, 10.0, 16


def problem_of(data: dict, step_deg: float) -> StripProblem:
    """Reinforcements of all sizes in a hide's file, headings in steps no longer than `step_deg`."""
    count = ceil(2.0 * TOLERANCE_DEG / step_deg)
    offs = np.linspace(-TOLERANCE_DEG, TOLERANCE_DEG, count + 1)
    headings = tuple(sorted(round((off + turn) % 360.0, 6) for off in offs for turn in (0.0, 180.0)))
    kinds = []
    for piece in data["pieces"]:
        ring, _ = reinforcement_outline(as_ring(piece["outline"]), INSET_MM)
        kinds.append(Kind(f"size {piece['size']}", ring, ring, headings, EACH))
    return StripProblem(tuple(kinds), WIDTH_MM)


def main() -> int:
    """Solve, judge, print; 1 if a layout failed its check."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("--seconds", nargs="+", type=float, default=[60.0, 600.0])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--step", type=float, default=2.5, help="degrees between headings")
    parser.add_argument("--workers", type=int, default=2)
    add_record_option(parser)
    args = parser.parse_args()
    data = json.loads((args.data / "hides" / "hide1.json").read_text())
    solve_strip(problem_of(data, 20.0), Budget(passes=5), seed=1, workers=args.workers)  # compiles the loops
    problem = problem_of(data, args.step)
    print(f"{EACH * len(problem.kinds)} reinforcements on {WIDTH_MM:g} mm, ±{TOLERANCE_DEG:g}° in steps of "
          f"{args.step:g}°, {args.seeds} seeds, {args.workers} workers")
    print(f"{'seconds':>7}{'median mm':>12}{'best mm':>12}{'density % of best':>19}", flush=True)
    failed, values = 0, []
    for seconds in args.seconds:
        found: list[tuple[float, float]] = []
        for seed in range(1, args.seeds + 1):
            begin = time.monotonic()
            layout = solve_strip(problem, Budget(seconds=seconds), seed=seed, workers=args.workers)
            took = time.monotonic() - begin
            try:
                found.append((layout.length_mm, 100.0 * density_of(problem, layout)))
            except ValueError as fault:
                failed += 1
                print(f"seed {seed}: {fault}", flush=True)
                continue
            print(f"  seed {seed}: {found[-1][0]:.1f} mm in {took:.1f} s", file=sys.stderr, flush=True)
        if found:
            best = min(found)
            values.append(Value(f"{seconds:g} s", tuple(round(length, 1) for length, _ in found), n=len(found)))
            print(f"{seconds:>7g}{median(length for length, _ in found):>12.1f}{best[0]:>12.1f}{best[1]:>19.2f}",
                  flush=True)
    if args.record:
        write_record(args.record, question="What length do eighty reinforcements use?", baseline="none", unit="mm",
                     module="nest/placement/strip.py", values=values,
                     metric=f"length used on {WIDTH_MM:g} mm, one figure a seed, {args.workers} workers")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
