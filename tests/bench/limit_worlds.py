"""Is the tolerance that outcomes advise near the best one, and are limits left alone where outcomes are few?

python tests/bench/limit_worlds.py --worlds 20 --record SLUG

Rates rise with class and deviation, by as much as is drawn for each world; narrower limits take more leather, by a
form like that of the edge model. All of it is invented. Every world is asked twice: by many pieces and by few.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "nest" / "planning"))
sys.path.insert(0, str(Path(__file__).parents[1] / "nest"))

from box_jobs import job, style
from record import Value, bench_options, write_record

from nest.outcomes import Reason
from nest.teaching import Seen, taught_of
from nest.whatif.limits import LimitAdvice, limit_advice

TOLERANCE, A_HIDE, CUT = 15.0, 25, 20.0
GROUND = {1: 0.65, 2: 0.35}


def rate_of(seed: int):
    """The true rate of a world, 0..1, by class and deviation."""
    rng = np.random.default_rng(seed)
    base, by_class, by_degree = rng.uniform(0.02, 0.05), rng.uniform(0.0, 1.2), rng.uniform(0.0, 0.2)
    odds = np.log(base / (1.0 - base))
    return lambda quality, degrees: 1.0 / (1.0 + np.exp(-(odds + by_class * (quality > 1) + by_degree * degrees)))


def cut_cost(tolerance: float, quality: int) -> float:
    """What a pair cut costs: more where limits are narrower."""
    return CUT * (1.0 + 0.003 * (TOLERANCE - tolerance)) * (1.0 if quality > 1 else 1.25)


def true_cost(rate, tolerance: float, quality: int) -> float:
    """What a good pair costs in truth."""
    degrees = (np.arange(400) + 0.5) / 400.0 * tolerance
    shares = {one: share for one, share in GROUND.items() if one <= quality}
    lost = sum(share * rate(one, degrees).mean() for one, share in shares.items()) / sum(shares.values())
    return cut_cost(tolerance, quality) / (1.0 - lost)


def advised(seed: int, pieces: int) -> tuple[LimitAdvice, float, float]:
    """The advice of a world of this many pieces; what it costs in truth, and what the best limits cost."""
    rng, rate = np.random.default_rng(1_000_000 * pieces + seed), rate_of(seed)
    quality = rng.choice([*GROUND], pieces, p=[*GROUND.values()])
    degrees = rng.uniform(0.0, TOLERANCE, pieces)
    lost = rng.random(pieces) < np.where(quality > 1, rate(2, degrees), rate(1, degrees))
    seen = [
        Seen("box", "calf", f"H{i // A_HIDE}", f"lot {i // A_HIDE % 4}", int(quality[i]), "", 60.0, float(degrees[i]),
             False, False, 90.0, (0.0, 0.0), Reason.PLEATS if lost[i] else Reason.GOOD) for i in range(pieces)
    ]
    mine = style()
    mine = replace(mine, rules=replace(mine.rules, tolerance_deg=TOLERANCE, net_quality=2))
    asked = replace(job(), styles=(mine,), hides=())
    found = limit_advice(asked, mine, taught_of(seen), seen, lambda other: cut_cost(
        other.styles[0].rules.tolerance_deg, other.styles[0].rules.net_quality))
    best = min(true_cost(rate, 2.5 * n, q) for n in range(1, 7) for q in (1, 2))
    return found, true_cost(rate, found.best.tolerance_deg, found.best.net_quality), best


def main() -> None:
    """Print a line a world, then all together."""
    given = bench_options(__doc__, worlds=20, pieces=5_000, few=200)
    above, changed, alone = [], 0, 0
    for seed in range(1, given.worlds + 1):
        found, cost, best = advised(seed, given.pieces)
        few, _, _ = advised(seed, given.few)
        above.append(100.0 * (cost / best - 1.0))
        changed, alone = changed + found.changed, alone + (not few.changed)
        print(f"{seed:3}: ±{found.best.tolerance_deg:g}° to class {found.best.net_quality}, {above[-1]:.2f} % above "
              f"the best; by {given.few} pieces {'changed' if few.changed else 'left alone'}", flush=True)
    values = [
        Value("above the best limits, mean", round(float(np.mean(above)), 2), n=given.worlds),
        Value("above the best limits, at worst", round(max(above), 2), n=given.worlds),
        Value("worlds with other limits advised", changed, n=given.worlds, unit="worlds"),
        Value(f"left alone by {given.few} pieces", alone, n=given.worlds, unit="worlds"),
    ]
    for value in values:
        print(f"{value.case}: {value.value} {value.unit or '%'}")
    if given.record:
        write_record(
            given.record, question="Are the limits that outcomes advise near the best?", module="nest/whatif/limits.py",
            baseline="the cheapest limits in truth", metric=f"cost of a good pair, {given.pieces} pieces a world",
            unit="%", values=values,
        )


if __name__ == "__main__":
    main()
