"""What lies on a hide moved, as far as it can be, to the ground and the headings where the press spoils least.

The search knows where a vamp may lie, not how often it fails there. So when all is placed, each hide that is opened is
searched again for the very units that it holds, with ground at each heading only where no more than a stated share
fails; the least share that leaves some ground first. What finds no place there is placed beside the rest on all
ground. The layout that is expected to lose least stands; no hide is opened, and no more of one is used.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import shapely

from geometry.polygon import area
from nest.planning.fill import LeatherTask, UnitsByHide, solve_hide
from nest.planning.finish import part_cost, part_used, up_to
from nest.planning.grounds import core_grounds
from nest.planning.offer import HideGrounds, large_enough, searched_rules
from nest.planning.run import TimeShare
from nest.planning.spoilage import expected_loss
from nest.planning.wants import Unit, Want
from nest.rules import deviation_from_across_deg
from nest.stock.material import Zone

FIRST_ATTEMPT = 900
"""Attempts count from here, so that no search begins from the seed of an earlier one."""

MOST_TRIES = 2
"""Searches of a hide, for shares each higher than the one before."""

LEAST_SHARE = 0.5
"""Ground of little loss is tried where it is at least this share of what the hide's vamps cover."""


def on_good_ground(task: LeatherTask, placed: UnitsByHide, share: TimeShare) -> UnitsByHide:
    """The same units on the same hides, with as little expected loss as is found."""
    if all(want.rates is None for want in task.wants):
        return placed
    last = part_used(task, placed)
    return {hide: _better(task, hide, units, share, hide == last) for hide, units in placed.items()}


def _better(task: LeatherTask, hide: int, units: tuple[Unit, ...], share: TimeShare, in_part: bool) -> tuple[Unit, ...]:
    """The layout of one hide that loses least; of one used in part, with what the part costs that is used."""

    def cost(layout: tuple[Unit, ...]) -> float:
        return expected_loss(task, hide, layout) + (part_cost(task, hide, layout) if in_part else 0.0)

    best, least = units, cost(units)
    limits = {want: number for want, number in enumerate(task.counts(units)) if number}
    mine = [task.wants[want] for want in limits]
    tried = 0
    for percent in _percents(mine):
        seen = with_less_loss(task, hide, mine, percent)
        if _ground_mm2(seen) < LEAST_SHARE * task.area(units):
            continue
        for within in (up_to(task, hide, units), None) if in_part else (None,):
            if tried == MOST_TRIES or task.run.cancelled() or share.left == 0.0:
                return best
            tried += 1
            asked: dict[str, Any] = {"stage": "finish", "attempt": FIRST_ATTEMPT + tried, "within": within}
            found = solve_hide(task, hide, limits, share, 1.0, seen=seen, **asked)
            if found and len(found[0]) < len(units):
                found = solve_hide(task, hide, limits, share, 1.0, begin_from=found[0], **asked)
            for layout in found:
                if len(layout) == len(units) and (new := cost(layout)) < least:
                    best, least = layout, new
        if best is not units:
            break
    return best


def _percents(wants: Sequence[Want]) -> list[float]:
    """Shares that fail, but for the highest of all: with that there is no choice."""
    rates = {rate for want in wants if want.rates for _, row in want.rates.percent for rate in row}
    return sorted(rates)[:-1]


def with_less_loss(task: LeatherTask, hide: int, wants: Sequence[Want], percent: float) -> HideGrounds:
    """The hide as some wants see it where no more than this share of what lies there fails."""
    seen = task.seen[hide]
    rates = {want.style: want.rates for want in wants if want.rates}
    least = min(area(piece.net_outline) for want in wants for piece in want.pieces)
    grounds, headings = dict(seen.grounds), dict(seen.headings_deg)
    for style, rules in searched_rules(wants).items():
        if style not in rates:
            continue

        def few_fail(zone: Zone, heading: float, style=style) -> bool:
            deviation = 0.0  # of stretch that is unknown
            if zone.stretch_deg is not None:
                deviation = deviation_from_across_deg(heading, zone.stretch_deg, task.one_way)
            return rates[style].at(zone.quality, deviation) <= percent

        cores = core_grounds(seen.hide, rules, headings[style], one_way=task.one_way,
                             margin_mm=task.settings.edge_room_mm, wanted=few_fail)
        large = {id(core): large_enough(core, least) for core in {id(core): core for core in cores}.values()}
        kept = [(at, large[id(core)]) for at, core in zip(headings[style], cores, strict=True) if large[id(core)].area]
        headings[style] = tuple(at for at, _ in kept)
        grounds[style] = replace(grounds[style], core=tuple(core for _, core in kept))
    return replace(seen, headings_deg=headings, grounds=grounds)


def _ground_mm2(seen: HideGrounds) -> float:
    """Ground at any heading of any style."""
    parts = [core for ground in seen.grounds.values() for core in ground.core]
    return float(shapely.union_all(parts).area) if parts else 0.0
