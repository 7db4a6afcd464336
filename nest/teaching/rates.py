"""Rates by level of each factor, all else equal, with their intervals, the pieces behind them, and what can be claimed.

The rate of a level is that of all pieces together had they had this level, other things as they were (marginal
standardisation): so a zone is not charged with the lots that were cut from it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nest.teaching.claims import claimed, p_values
from nest.teaching.factors import Coded, Factor, coded
from nest.teaching.model import Posterior, over_hides, posterior

STANDARD_ROWS = 400
"""Rates are means over this many rows, taken evenly along the odds."""

@dataclass(frozen=True, slots=True)
class LevelRate:
    """One level: pieces, those that failed, and the rate all else equal with its 95 % interval, 0..1."""

    level: str
    tried: int
    failed: int
    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class FactorRates:
    """One factor: its levels, and whether they differ beyond doubt; p is None where all pieces are alike in it."""

    name: str
    levels: tuple[LevelRate, ...]
    p: float | None
    told: bool


@dataclass(frozen=True, slots=True, eq=False)
class Taught:
    """All that outcomes teach of one group of pieces: rates by factor, of all, and the model for more."""

    factors: tuple[FactorRates, ...]
    overall: LevelRate
    coded: Coded
    posterior: Posterior

    def factor(self, name: str) -> FactorRates:
        """The rates by this factor; KeyError without it."""
        for one in self.factors:
            if one.name == name:
                return one
        raise KeyError(name)

    def told(self, name: str) -> bool:
        """Whether a factor makes a difference beyond doubt."""
        return any(one.name == name and one.told for one in self.factors)

    def drawn(self, levels: Mapping[str, int]) -> np.ndarray:
        """(draws,) rate of all pieces had they had these levels of the factors named."""
        return _standardised(self.coded, self.posterior, levels)


def taught(factors: Sequence[Factor], failed: Sequence[bool], hide: Sequence) -> Taught:
    """What outcomes teach by these factors; see `nest.teaching.model` and `nest.teaching.claims`.

    Raises
    ------
    ValueError
        Without pieces.
    """
    bad = np.asarray(failed, bool)
    if not len(bad):
        raise ValueError("expected at least one piece")
    found = coded(factors, bad, hide)
    after = posterior(found.design)
    p = p_values(found, after.spreads, after.best)
    sure = claimed(p.tolist())
    rows = []
    for factor in factors:
        f = next((i for i, one in enumerate(found.factors) if one is factor), None)
        levels = tuple(
            _level(name, factor.index == i, bad,
                   _standardised(found, after, {} if f is None else {factor.name: i}))
            for i, name in enumerate(factor.levels)
        )
        rows.append(FactorRates(factor.name, levels, None if f is None else float(p[f]), f is not None and sure[f]))
    whole = _level("all", np.ones(len(bad), bool), bad, _standardised(found, after, {}))
    return Taught(tuple(rows), whole, found, after)


def _level(name: str, mine: np.ndarray, failed: np.ndarray, draws: np.ndarray) -> LevelRate:
    low, high = np.quantile(draws, (0.025, 0.975))
    return LevelRate(name, int(mine.sum()), int(failed[mine].sum()), float(draws.mean()), float(low), float(high))


def _standardised(found: Coded, after: Posterior, levels: Mapping[str, int]) -> np.ndarray:
    x, weight = _standard_rows(found, after)
    x = x.copy()
    for f, factor in enumerate(found.factors):
        if factor.name in levels:
            x[:, found.columns[f]] = factor.coded()[levels[factor.name]]
    return over_hides(after.draws @ x.T, after.hide_spread[:, None]) @ weight


def _standard_rows(found: Coded, after: Posterior) -> tuple[np.ndarray, np.ndarray]:
    """Rows that stand for all pieces, and their weights, adding up to 1."""
    x, tried = found.design.x, found.design.tried
    if len(x) <= STANDARD_ROWS:
        return x, tried / tried.sum()
    order = np.argsort(x @ after.best.beta, kind="stable")
    whole = np.cumsum(tried[order])
    at = (np.arange(STANDARD_ROWS) + 0.5) / STANDARD_ROWS * whole[-1]
    return x[order[np.searchsorted(whole, at)]], np.full(STANDARD_ROWS, 1.0 / STANDARD_ROWS)
