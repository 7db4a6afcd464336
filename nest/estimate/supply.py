"""The supply that hides of a leather are drawn from: as its stock or the job says, else as of usual sides."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import fsum

import numpy as np

from nest.rules import Rules
from nest.stock.distribution import SIDES, HideDistribution, ZoneKind, like
from nest.stock.ground import fit_ground, unfit_share
from nest.stock.material import Hide, Leather
from nest.stock.simulate import simulate_hides

FLAW_HIDES = 12
"""This many hides are drawn to see what flaws and the edge margin take of fit zones."""

MOST_TILT = 4.0
"""Shares of zones are changed by no more than this power of e against each other: beyond, it is no side any more."""


@dataclass(frozen=True, slots=True)
class Supply:
    """A distribution to draw hides from, and in words where its area and its unfit ground are taken from."""

    distribution: HideDistribution
    method: str


def supply_of(leather: Leather, hides: Sequence[Hide], rules: Rules, margin_mm: float) -> Supply:
    """The supply of a leather for a style's rules.

    Area: mean and spread of at least two `hides` in stock, else the mean the leather states, else usual sides. Unfit
    ground: its share on the hides, else as the leather states it, else that of usual sides.
    """
    if len(hides) > 1:
        supply, area = like(hides), f"area as of the {len(hides)} hides in stock"
    elif leather.mean_hide_mm2 is not None:
        supply, area = _of_mean(leather.mean_hide_mm2), "mean area as the leather states it, spread of usual sides"
    elif hides:
        supply, area = _of_mean(hides[0].measured_area_mm2), "area of the one hide in stock, spread of usual sides"
    else:
        supply, area = SIDES, "area of usual sides"
    if hides:
        share, said = unfit_share(hides, rules, margin_mm), "unfit ground as on the stock"
    elif leather.unfit_share is not None:
        share, said = leather.unfit_share, "unfit ground as the leather states it"
    else:
        return Supply(supply, f"{area}; zones and flaws of usual sides")
    found = with_unfit_share(supply, share, rules, margin_mm)
    if found is None:
        return Supply(supply, f"{area}; zones and flaws of usual sides, for their shares cannot be changed so far that "
                              f"{share:.0%} is unfit")
    return Supply(found, f"{area}; {said}, {share:.0%}; kinds of zones and flaws of usual sides")


def _of_mean(mean_mm2: float) -> HideDistribution:
    """Usual sides of another size."""
    scale = mean_mm2 / SIDES.area_mean_mm2
    low, high = SIDES.area_range_mm2
    return replace(SIDES, area_mean_mm2=mean_mm2, area_sd_mm2=scale * SIDES.area_sd_mm2,
                   area_range_mm2=(scale * low, scale * high))


def with_unfit_share(supply: HideDistribution, share: float, rules: Rules, margin_mm: float) -> HideDistribution | None:
    """The supply with zones so shared out that on the mean `share` of a hide (0..1) is unfit; None if that cannot be.

    Flaws and the edge margin take what they take, as seen on FLAW_HIDES hides. Shares of zones are tilted: each times
    e to the power of θ × its chance of being unfit, so that zones of one kind keep their proportions.
    """
    chance = np.array([_unfit_chance(kind, rules.net_quality) for kind in supply.zones])
    shares = np.array([kind.share for kind in supply.zones])
    taken = _taken_by_flaws(supply, rules, margin_mm)
    wanted = 1.0 - (1.0 - share) / (1.0 - taken)

    def tilted(theta: float) -> np.ndarray:
        weights = shares * np.exp(theta * chance)
        return weights / weights.sum()

    low, high = -MOST_TILT, MOST_TILT
    if not tilted(low) @ chance <= wanted <= tilted(high) @ chance:
        return None
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if tilted(middle) @ chance < wanted else (low, middle)
    found = tilted(low)
    return replace(supply, zones=tuple(
        replace(kind, share=float(part)) for kind, part in zip(supply.zones, found, strict=True)
    ))


def _unfit_chance(kind: ZoneKind, net_quality: int) -> float:
    """Chance that a zone of this kind is of a class too low."""
    if kind.quality > net_quality:
        return 1.0
    return kind.lower_chance if kind.quality == net_quality else 0.0


def _taken_by_flaws(supply: HideDistribution, rules: Rules, margin_mm: float) -> float:
    """Share of the ground in fit zones that flaws and the edge margin take, 0..1."""
    zones = left = 0.0
    for hide in simulate_hides(supply, FLAW_HIDES, seed=0, leather=""):
        zones += fsum(zone.outline.area for zone in hide.zones if zone.quality <= rules.net_quality)
        left += fit_ground(hide, rules, margin_mm).area
    return 1.0 - left / zones if zones else 0.0
