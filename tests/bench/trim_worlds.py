"""Simulated weeks with known drift: do intervals cover, is no drift claimed where there is none, is the advice safe?

python tests/bench/trim_worlds.py --worlds 80 --record SLUG

A world is one part of one style, measured for 5 to 26 weeks on hides of lots that overlap in time. Pieces, hides and
weeks scatter; sizes, sides, weeks and lots differ in half of the worlds. All of it is invented.
"""

import sys
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "nest" / "planning"))

from box_jobs import job, style
from record import bench_options, percentages, write_record

from nest.drift import Advice, Conclusion, Drift, Measured, advised, drift_of
from nest.pieces.piece import Part

SIZES = ("36", "37", "38", "39", "40", "41")
ALLOWANCE, K = 16.0, 2.0
LEATHER, FIRST = "calf", date(2026, 1, 5)
_BOX = style()
JOB = job(
    styles=(replace(_BOX, allowances=replace(_BOX.allowances, toe_mm=ALLOWANCE)),),
    order=tuple(("box", size, 10) for size in SIZES),
)


@dataclass(frozen=True)
class World:
    """The record, and the truth behind it, mm: mean by size at the last week, effects, scatter of a piece to come."""

    record: tuple[Measured, ...]
    means: dict[str, float]
    effects: dict[str, float]
    scatter: float


def world(seed: int, null: float = 0.5, weeks: int = 0, hides: int = 0) -> World:
    """A world drawn at random; each effect is nil with chance `null`. Weeks, and hides a week, are drawn where nil."""
    rng = np.random.default_rng(seed)
    weeks, hides = weeks or int(rng.integers(5, 27)), hides or int(rng.integers(2, 7))

    def effect(sd: float) -> float:
        return 0.0 if rng.random() < null else float(rng.normal(0.0, sd))

    effects = {"size": effect(0.15), "side": effect(0.4), "week": effect(0.06)}
    lots = max(2, weeks // 3)
    of_lot = np.zeros(lots) if rng.random() < null else rng.normal(0.0, 0.5, lots)
    piece_sd, hide_sd, week_sd = rng.uniform(0.5, 1.2), rng.choice([0.0, 0.2, 0.4]), rng.choice([0.0, 0.15, 0.3])
    effects["lot"] = 0.5 if of_lot.any() else 0.0
    level = rng.uniform(6.0, 14.0)
    places = {size: float(size) - 38.0 for size in SIZES}
    more = dict(zip(SIZES, rng.normal(0.0, rng.choice([0.0, 0.1]), len(SIZES)), strict=True))
    means = {size: level + more[size] + effects["size"] * places[size] for size in SIZES}
    record = []
    for week in range(weeks):
        went = rng.normal(0.0, week_sd)
        for hide in range(hides):
            lot = int(np.clip(round(week * lots / weeks + rng.normal(0.0, 0.7)), 0, lots - 1))
            own = rng.normal(0.0, hide_sd)
            for piece in range(int(rng.integers(4, 11))):
                size, side = str(rng.choice(SIZES)), str(rng.choice(["left", "right"]))
                trim = means[size] + effects["side"] * (0.5 if side == "left" else -0.5)
                trim += effects["week"] * (week - weeks + 1) + went + of_lot[lot] + own + rng.normal(0.0, piece_sd)
                day = (FIRST + timedelta(days=7 * week + hide % 5)).isoformat()
                record.append(Measured(
                    day, "boxes", f"{week}-{hide}-{piece}", "box", size, side, Part.TOE, LEATHER, f"lot {lot}",
                    f"H{week}-{hide}", str(piece), ALLOWANCE, round(float(trim), 2)))
    lot_sd = 0.5 if of_lot.any() else 0.0
    return World(tuple(record), means, effects, float(np.sqrt(piece_sd**2 + hide_sd**2 + week_sd**2 + lot_sd**2)))


@dataclass(frozen=True)
class Scores:
    """Of one world: intervals that cover, claims of effects that are nil and of others, allowances cut, and too far."""

    covered: int
    intervals: int
    false: int
    nil: int
    found: int
    real: int
    cut: int
    too_far: int


def scores(made: World, found: Drift, advice: tuple[Advice, ...]) -> Scores:
    """How what is said holds against the truth. Means are those of the lots at hand, on the average."""
    (part,) = found.parts
    covered = [one.mean.interval[0] <= made.means[one.size] <= one.mean.interval[1] for one in part.sizes]
    nil, real = [], []
    for one in part.effects:
        true = made.effects[one.what]
        if one.what != "lot":
            covered.append(one.low <= true <= one.high)
        (real if true else nil).append(one.told)
    cut = [one for one in advice if one.conclusion is Conclusion.LESS]
    too_far = [one for one in cut if made.means[one.size] - K * made.scatter + one.new_mm - one.now_mm < one.wanted_mm]
    return Scores(sum(covered), len(covered), sum(nil), len(nil), sum(real), len(real), len(cut), len(too_far))


def summed(worlds) -> dict[str, int]:
    """Scores of worlds, added up."""
    all_scores = []
    for made in worlds:
        found = drift_of(made.record, JOB)
        all_scores.append(scores(made, found, advised(found, JOB, K)))
    return {name: sum(getattr(one, name) for one in all_scores) for name in Scores.__dataclass_fields__}


def main() -> None:
    """Print what all worlds come to."""
    given = bench_options(__doc__, worlds=80)
    sums = summed(world(seed) for seed in range(1, given.worlds + 1))
    values = percentages(sums, (
        ("95 % intervals that cover", "covered", "intervals"), ("effects claimed that are nil", "false", "nil"),
        ("effects found", "found", "real"), ("allowances cut too far, of those cut", "too_far", "cut"),
    ))
    if given.record:
        write_record(
            given.record, question="Is what the record of trim says as sure as it claims?",
            module="nest/drift/model.py", baseline="the truth behind each world",
            metric=f"{given.worlds} simulated records of 5 to 26 weeks", unit="%", values=values,
        )


if __name__ == "__main__":
    main()
