"""What vamps are expected to cost in the press, by the ground and the heading that a layout gives them.

A vamp that fails is cut again: it costs the leather of another one. So of two layouts that hold the same, or of two
hides that cost the same, the one that loses less is worth more; and a dearer hide pays if it loses less by more than it
costs more.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import fsum
from statistics import median

from nest.planning.fill import LeatherTask
from nest.planning.guide import EARLY_FILL
from nest.planning.offer import HideGrounds
from nest.planning.wants import Unit, Want
from nest.stock.ground import class_shares
from nest.stock.under import class_of, heading_on, shares_under


def expected_loss(task: LeatherTask, hide: int, units: Sequence[Unit]) -> int:
    """Cost of the leather of the vamps of a layout that are expected to fail, in the unit of the task's costs.

    Nothing of styles without rates by class and deviation. Leather costs what the middle hide of the stock costs for
    what it is expected to hold.
    """
    if all(want.rates is None for want in task.wants):
        return 0
    seen = task.seen[hide].hide
    prices = [cost / (EARLY_FILL * one.usable_mm2) for cost, one in zip(task.costs, task.seen, strict=True)
              if one.usable_mm2 > 0.0]
    lost = 0.0
    for unit in units:
        want = task.wants[unit.want]
        if want.rates is None:
            continue
        for piece, pose in zip(want.pieces, unit.poses, strict=True):
            shares = shares_under(seen, pose.apply(piece.net_outline))
            deviation, bias = heading_on(seen, shares, pose.heading_deg, want.rules, task.one_way)
            rate = want.rates.at(class_of(seen, shares), deviation, bias) / 100.0
            lost += rate / (1.0 - rate) * want.area_mm2 / len(want.pieces)
    return round(lost * median(prices)) if prices else 0


def good_shares(seen: Sequence[HideGrounds], wants: Sequence[Want], margin_mm: float) -> tuple[float, ...]:
    """Share of the vamps cut from each hide that is expected to come out well, by its ground, mean over the styles.

    None of them where no style has rates by class and deviation.
    """
    styles = {want.style: want for want in wants}
    if all(want.rates is None for want in styles.values()):
        return ()
    shares = []
    for one in seen:
        ground = class_shares([one.hide], margin_mm)
        lost = fsum(
            replace(want.rates, ground=ground).expected(want.rules.net_quality, want.rules.tolerance_deg)
            for want in styles.values() if want.rates
        )
        shares.append(1.0 - lost / (100.0 * len(styles)))
    return tuple(shares)
