"""What each part of the search brings: the same seeds and seconds with one part left out at a time.

    python tests/bench/ablation.py DATA [--seconds 20] [--seeds 2] [--workers 2] [--on strips roll hides pairs]
        [--sets shirts mao shapes0]

Strips: density in %, mean over sets and seeds. Roll: length in mm of the eighty reinforcements of `roll.py`. Hides:
yield in % of the whole hide, as in `hides.py`, headings in steps of 5°. Pairs: the same hides with left and right
vamps of which whole pairs count alone. Every layout is judged by shapely before it counts. A part is left out by
another value of the search's parameters (`nest/placement/parameters.py`).
"""

import argparse
import json
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from statistics import mean, stdev

import hides
import numpy as np
import roll
import strips
from record import Value, add_record_option, write_record

from geometry.precision import as_ring
from nest.placement.budget import Budget
from nest.placement.families import families_of
from nest.placement.parameters import RegionParameters, StripParameters
from nest.placement.problem import RegionProblem
from nest.placement.solve import solve_region, solve_strip, warm_up


def no_settling(items, kinds, gap_mm, width_mm, enough=None):
    """A layout as it is, in place of a settled one."""
    return items, max(float(item.pose.apply(kinds[item.kind].outline)[:, 0].max()) for item in items)


def drop_the_odd(kinds, items, table, level=None, allowed=None, effort=None):
    """Pairs made whole without a choice: items without a partner are left out as they come."""
    sides = Counter((kinds[i.kind].family, 0 if level is None else level(i.kind, i.pose), kinds[i.kind].side)
                    for i in items)
    room = {key: min(count, sides[key[0], key[1], -key[2]]) for key, count in sides.items()}
    kept = []
    for item in items:
        key = kinds[item.kind].family, 0 if level is None else level(item.kind, item.pose), kinds[item.kind].side
        if room[key] > 0:
            room[key] -= 1
            kept.append(item)
    return tuple(kept)


def no_partners(kinds, grounds, table=None):
    """Families as if no item needed a partner."""
    return families_of([replace(kind, family="") for kind in kinds], grounds)


def equal_partners(kinds, grounds, table=None):
    """Families as if no item could be cut as one of a smaller family."""
    return families_of(kinds, grounds)


def nothing_proposed(*_):
    """No layout to begin with."""
    return ()


STRIPS = {
    "all": {},
    "no exchange between workers": {"rounds": 1},
    "no compressing at the end": {"compress_share": 0.0},
    "no settling (GLOP)": {"settle": no_settling},
    "no lattice proposed": {"propose": nothing_proposed},
    "every kick gone on with": {"likely": 1.0},
    "never begun anew": {"fresh_after": (10**9,)},
    "no exchange of large pieces": {"exchanges_large": False},
    "no weight by size": {"size_exponent": 0.0},
    "places sampled (no rasters)": {"looks": False},
}
REGIONS = {
    "all": {},
    "nothing worse accepted": {"threshold": 0.0},
    "no annealing": {"anneal_passes": 0},
    "no insertions nor removals": {"inserts": 0.0, "removals": 0.0},
    "no resizing (SCIP), which needs 40 s": {"resize_share": 0.0},
    "one start": {"start_time": 0.0},
    "no crossing": {"cross_from": 1.0},
    "no samples over all": {"wide_samples": 0},
    "no samples near by": {"near_samples": 0},
    "no weight by size": {"size_exponent": 0.0},
}
PAIRS = {
    "all": {},
    "pairs by dropping the odd ones (no CP-SAT)": {"complete": drop_the_odd},
    "no partners sought while annealing": {"partners": no_partners},
    "unlike sizes are no pair while annealing": {"partners": equal_partners},
}


def paired(problem: RegionProblem) -> RegionProblem:
    """The same hide for left and right vamps."""
    def mirrored(ring):
        return as_ring(np.asarray(ring)[::-1] * (1.0, -1.0))

    left = tuple(replace(kind, family=kind.name, side=-1) for kind in problem.kinds)
    right = tuple(
        replace(kind, outline=mirrored(kind.outline), core=mirrored(kind.core), family=kind.name, side=1)
        for kind in problem.kinds
    )
    return replace(problem, kinds=left + right, grounds=problem.grounds * 2)


def pairs_whole(problem: RegionProblem, layout) -> bool:
    """Whether every family has as many left as right items."""
    count = Counter((problem.kinds[i.kind].family, problem.kinds[i.kind].side) for i in layout.items)
    return all(count[family, 1] == count[family, -1] for family, _ in count)


def main() -> int:
    """Solve with and without, judge, print."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--on", nargs="+", default=["strips", "roll", "hides", "pairs"])
    parser.add_argument("--sets", nargs="+", default=["shirts", "mao", "shapes0"])
    add_record_option(parser)
    args = parser.parse_args()
    budget = Budget(seconds=args.seconds)
    warm_up()
    sets = [json.loads((args.data / f"{name}.json").read_text()) for name in args.sets]
    sides = [hides.read(path) for path in sorted((args.data / "hides").glob("*.json"))]
    sizes = json.loads((args.data / "hides" / "hide1.json").read_text())

    def on_strips(seed, how):
        for data in sets:
            problem = strips.problem_of(data)
            layout = solve_strip(problem, budget, seed=seed, workers=args.workers, how=how)
            yield 100.0 * strips.density_of(problem, layout)

    def on_roll(seed, how):
        problem = roll.problem_of(sizes, 5.0)
        layout = solve_strip(problem, budget, seed=seed, workers=args.workers, how=how)
        strips.density_of(problem, layout)
        yield layout.length_mm

    def on_hides(seed, how):
        for hide in sides:
            problem = hides.problem_of(hide, 5.0)
            best = solve_region(problem, budget, seed=seed, workers=args.workers, how=how)[0]
            yield 100.0 * hides.yield_of(hide, problem, best)

    def on_pairs(seed, how):
        for hide in sides:
            problem = paired(hides.problem_of(hide, 5.0))
            best = solve_region(problem, budget, seed=seed, workers=args.workers, how=how)[0]
            if not pairs_whole(problem, best):
                raise ValueError("a pair is not whole")
            yield 100.0 * hides.yield_of(hide, problem, best)

    benches = {
        "strips": (on_strips, StripParameters, STRIPS), "roll": (on_roll, StripParameters, STRIPS),
        "hides": (on_hides, RegionParameters, REGIONS), "pairs": (on_pairs, RegionParameters, PAIRS),
    }
    print(f"{args.seconds:g} s, {args.seeds} seeds, {args.workers} workers; strips: {', '.join(args.sets)}")
    values = []
    for bench in args.on:
        run, parameters, variants = benches[bench]
        whole = None
        for label, changes in variants.items():
            how = parameters(**changes)
            found = [value for seed in range(1, args.seeds + 1) for value in run(seed, how)]
            whole = whole or found
            apart = [a - b for a, b in zip(found, whole, strict=True)]
            error = stdev(apart) / len(apart) ** 0.5 if len(apart) > 1 else 0.0
            print(f"{bench:<8}{label:<46}{mean(found):>9.2f}{mean(apart):>+9.2f} ± {error:.2f}", flush=True)
            unit = "mm" if bench == "roll" else "%" if found is whole else "points"
            values.append(Value(f"{bench}, {label}", round(mean(found if found is whole else apart), 2),
                                None if found is whole else round(error, 2), len(found), unit))
    if args.record:
        write_record(args.record, question="What does each part of the search bring?", module="nest/placement/solve.py",
                     change="one part left out at a time", baseline="the whole search, same seeds and seconds",
                     metric=f"without the part − with it, {args.seconds:g} s", unit="points", values=values)
    return 0


if __name__ == "__main__":
    sys.exit(main())
