"""The tolerance and the class limit of least cost per good pair, by what outcomes teach, and how sure that is.

Narrower limits lose fewer vamps in the press and take more leather. A pair cut costs what the estimate says under the
limits tried; of pairs cut those are good that the rates by class and deviation leave, so that

    cost of a good pair = cost of a pair cut ÷ (1 − rate)

The rate is that over the ground of the stock that the limits allow, with deviations evenly within the tolerance
(`nest.pieces.rejects`). Every draw of the rates gives a cost; their spread is how unsure it is. Only limits within
which pieces were pressed are tried, for of wider ones nothing is known. The limits in force are left alone unless
others are cheaper with SURE of the draws, and LEAST_PIECES or more were pressed: where classes, or deviations, cannot
be told apart, nothing is to be gained.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nest.job.job import Job
from nest.pieces.style import Style
from nest.stock.ground import class_shares
from nest.teaching import BAND_DEG, Seen, Taught, draws_of_style

SURE = 0.975

LEAST_PIECES = 500
"""By fewer pieces of a style its limits are left alone, whatever they say (common practice, no source)."""

CutCost = Callable[[Job], float]
"""Cost of a pair cut of the style in question, nothing lost in the press."""


@dataclass(frozen=True, slots=True)
class Limits:
    """One pair of limits: what a good pair costs, mean and 95 % interval, and the rate, 0..1.

    saving : what a good pair costs less than under the limits in force, mean and 95 % interval.
    sure : share of the draws in which it does.
    """

    tolerance_deg: float
    net_quality: int
    reject: float
    pair: tuple[float, float, float]
    saving: tuple[float, float, float]
    sure: float


@dataclass(frozen=True, slots=True)
class LimitAdvice:
    """All limits tried for a style; `best` is the one in force unless another is cheaper beyond doubt."""

    style: str
    pieces: int
    now: Limits
    best: Limits
    tried: tuple[Limits, ...]

    @property
    def changed(self) -> bool:
        """Whether other limits are advised."""
        return self.best is not self.now


def limit_advice(job: Job, style: Style, found: Taught, pieces: Sequence[Seen], cost: CutCost) -> LimitAdvice | None:
    """Advice for one style; None where no piece of it was pressed.

    pieces : all that `found` rests on.
    """
    names = sorted({one.style for one in pieces})
    mine = [one for one in pieces if one.style == style.name]
    if not mine:
        return None
    classes, bands, draws = draws_of_style(found, names.index(style.name), pieces)
    draws = draws.reshape(len(draws), -1)
    hides = [hide for hide in job.hides if hide.leather == style.leather]
    ground = dict(class_shares(hides, job.settings.edge_room_mm))
    if not ground:
        ground = {quality: sum(one.quality == quality for one in mine) / len(mine) for quality in classes}
    rules = style.rules
    seen_deg = max(one.deviation_deg for one in mine)
    widths = sorted({
        *(end for end in bands if end < rules.tolerance_deg and end <= seen_deg + BAND_DEG), rules.tolerance_deg})
    limits = sorted({*(one for one in classes if 1 <= one < rules.net_quality), rules.net_quality})
    # what makes no difference beyond doubt is not worth a narrower limit
    widths = widths if found.told("deviation") else [rules.tolerance_deg]
    limits = limits if found.told("class") else [rules.net_quality]
    costs: dict[tuple[float, int], np.ndarray] = {}
    rates: dict[tuple[float, int], np.ndarray] = {}
    for tolerance in widths:
        for quality in limits:
            if not any(ground.get(one, 0.0) > 0.0 for one in classes if one <= quality):
                continue
            changed = replace(style, rules=replace(rules, tolerance_deg=tolerance, net_quality=quality), rates=None,
                              reject_percent=0.0, reject_percent_by_quality=())
            other = replace(job, styles=tuple(changed if one is style else one for one in job.styles))
            rates[tolerance, quality] = draws @ _weights(classes, bands, ground, tolerance, quality)
            costs[tolerance, quality] = cost(other) / (1.0 - rates[tolerance, quality])
    key = rules.tolerance_deg, rules.net_quality
    tried = tuple(_limits(*one, rates[one], costs[one], costs[key]) for one in costs)
    now = next(one for one in tried if (one.tolerance_deg, one.net_quality) == key)
    sure = [one for one in tried if one.sure >= SURE] if len(mine) >= LEAST_PIECES else []
    return LimitAdvice(style.name, len(mine), now, min(sure, key=lambda one: one.pair[0]) if sure else now, tried)


def _weights(
    classes: Sequence[int], bands: Sequence[float], ground: Mapping[int, float], tolerance: float, quality: int
) -> np.ndarray:
    """(classes × bands,) share of the pieces in each cell under the limits."""
    share = np.array([ground.get(one, 0.0) if one <= quality else 0.0 for one in classes])
    ends = np.minimum([*bands[:-1], max(tolerance, bands[-1])], tolerance)
    width = np.clip(np.diff(np.concatenate([[0.0], ends])), 0.0, None)
    width = np.eye(len(bands))[0] if not width.sum() else width / width.sum()
    return np.outer(share / share.sum(), width).ravel()


def _limits(tolerance: float, quality: int, rate: np.ndarray, cost: np.ndarray, now: np.ndarray) -> Limits:
    saving = now - cost
    return Limits(tolerance, quality, float(rate.mean()), _three(cost), _three(saving), float((saving > 0.0).mean()))


def _three(draws: np.ndarray) -> tuple[float, float, float]:
    low, high = np.quantile(draws, (0.025, 0.975))
    return float(draws.mean()), float(low), float(high)
