"""Simulated presses with known rates: do intervals cover, is nothing claimed that is not so, is the advice good?

python tests/bench/worlds.py --worlds 50 --record SLUG

A world has hides of several lots with classes, zones, edges, headings, flaws and reinforcements that go together as on
real sides (poor classes lie near the edge and in zones of their own). Half of the factors make no difference. Sizes
lie evenly on a logarithmic scale from 200 to 20,000 pieces. All of it is invented.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from record import bench_options, percentages, write_record

from nest.teaching.factors import Factor, factor_of
from nest.teaching.rates import Taught, taught

LEVELS = {"class": 3, "zone": 6, "edge": 5, "deviation": 6, "bias": 2, "flaw": 2, "lot": 4, "reinforcement": 2}
ORDERED = {"class", "edge", "deviation", "reinforcement"}
A_HIDE = 25
STEP, SPREAD = 0.5, 0.6


@dataclass(frozen=True)
class World:
    """One press: levels of every piece by factor, whether it failed, and the truth behind it."""

    values: dict[str, np.ndarray]
    hide: np.ndarray
    failed: np.ndarray
    plain: np.ndarray
    effects: dict[str, np.ndarray]
    hide_spread: float

    @property
    def factors(self) -> tuple[Factor, ...]:
        """What the outcomes tell of the pieces."""
        return tuple(factor_of(name, values, ordered=name in ORDERED) for name, values in self.values.items())

    def rate(self, **levels: int) -> float:
        """The true rate of all pieces had they had these levels, over hides at large."""
        eta = self.plain.copy()
        for name, level in levels.items():
            eta += self.effects[name][level] - self.effects[name][self.values[name]]
        z, w = np.polynomial.hermite_e.hermegauss(9)
        return float(((1.0 / (1.0 + np.exp(-(eta[:, None] + self.hide_spread * z)))) @ (w / w.sum())).mean())


def world(seed: int, pieces: int, null: float = 0.5) -> World:
    """A world drawn at random; a factor makes no difference with chance `null`."""
    rng = np.random.default_rng(seed)
    hides = max(3, pieces // A_HIDE)
    lots, hide = rng.integers(0, LEVELS["lot"], hides), rng.integers(0, hides, pieces)
    quality = rng.choice(3, pieces, p=[0.6, 0.3, 0.1])
    zone = np.where(rng.random(pieces) < 0.8, 2 * quality + rng.integers(0, 2, pieces), rng.integers(0, 6, pieces))
    values = {
        "class": quality, "zone": zone, "edge": np.clip(rng.integers(0, 5, pieces) - (quality > 0), 0, 4),
        "deviation": rng.integers(0, 6, pieces), "bias": (rng.random(pieces) < 0.1).astype(int),
        "flaw": (rng.random(pieces) < 0.15).astype(int), "lot": lots[hide],
        "reinforcement": (rng.random(pieces) < 0.4).astype(int),
    }
    effects = {}
    for name, count in LEVELS.items():
        steps = np.concatenate([[0.0], np.abs(rng.normal(0.0, STEP, count - 1))]).cumsum()
        drawn = steps if name in ORDERED else rng.normal(0.0, SPREAD, count)
        effects[name] = np.zeros(count) if rng.random() < null else drawn
    spread = float(rng.choice([0.0, 0.3, 0.5]))
    plain = np.full(pieces, rng.choice([-3.5, -2.9, -2.3])) + sum(effects[name][values[name]] for name in LEVELS)
    eta = plain + spread * rng.standard_normal(hides)[hide]
    failed = rng.random(pieces) < 1.0 / (1.0 + np.exp(-eta))
    return World(values, hide, failed, plain, effects, spread)


@dataclass(frozen=True)
class Scores:
    """Of one world: intervals that cover, of how many; claims of factors that make no difference, and of others."""

    covered: int
    intervals: int
    false: int
    nil: int
    found: int
    real: int


def scores(made: World, told: Taught) -> Scores:
    """How well the rates by level hold against the truth."""
    covered = intervals = false = nil = found = real = 0
    for factor in told.factors:
        if not made.effects[factor.name].any():
            nil, false = nil + 1, false + factor.told
        else:
            real, found = real + 1, found + factor.told
        for level in factor.levels:
            true = made.rate(**{factor.name: int(level.level)})
            covered, intervals = covered + (level.low <= true <= level.high), intervals + 1
    return Scores(covered, intervals, false, nil, found, real)


def main() -> None:
    """Print a line a world, then all together."""
    given = bench_options(__doc__, worlds=50, least=200, most=20_000)
    sizes = np.geomspace(given.least, given.most, given.worlds).round().astype(int)
    all_scores = []
    for seed, pieces in enumerate(sizes.tolist(), start=1):
        made = world(seed, pieces)
        one = scores(made, taught(made.factors, made.failed, made.hide))
        all_scores.append(one)
        print(f"{seed:3} {pieces:6} pieces, {made.failed.mean():6.2%} fail: covered {one.covered} of {one.intervals}, "
              f"false {one.false} of {one.nil}, found {one.found} of {one.real}", flush=True)
    sums = {name: sum(getattr(one, name) for one in all_scores) for name in Scores.__dataclass_fields__}
    values = percentages(sums, (
        ("95 % intervals that cover", "covered", "intervals"), ("idle factors claimed", "false", "nil"),
        ("factors at work found", "found", "real"),
    ))
    if given.record:
        write_record(
            given.record, question="Are the rates that outcomes teach as sure as they say?",
            module="nest/teaching/model.py", baseline="the truth behind each world",
            metric=f"{given.worlds} simulated presses, {given.least} to {given.most} pieces", unit="%", values=values,
        )


if __name__ == "__main__":
    main()
