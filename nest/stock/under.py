"""What lies under a placed piece: zones, the class that counts, and how the piece heads on them."""

from collections.abc import Iterable

import numpy as np
import shapely

from nest.rules import ZONE_SHARE, Heading, Rules, deviation_deg, deviation_from_across_deg, judge_heading
from nest.stock.material import Hide


def shares_under(hide: Hide, net: np.ndarray) -> np.ndarray:
    """Share of a placed net outline, a ring of mm, on each zone of the hide."""
    piece = shapely.Polygon(net)
    zones = np.array([zone.outline for zone in hide.zones], dtype=object)
    return np.asarray(shapely.area(shapely.intersection(zones, piece)) / piece.area)


def class_of(hide: Hide, shares: Iterable[float]) -> int:
    """The worst class that holds more than is let pass, by shares as above; 0 for none."""
    held: dict[int, float] = {}
    for zone, share in zip(hide.zones, shares, strict=True):
        held[zone.quality] = held.get(zone.quality, 0.0) + float(share)
    return max((quality for quality, share in held.items() if share > ZONE_SHARE), default=0)


def heading_on(
    hide: Hide, shares: Iterable[float], heading_deg: float, rules: Rules, one_way: bool
) -> tuple[float, bool]:
    """Largest deviation over the zones that count, degrees, and whether the piece lies at bias there.

    From *across*; where it lies at bias from 45°. Stretch that is unknown has no deviation.
    """
    worst, bias = 0.0, False
    for zone, share in zip(hide.zones, shares, strict=True):
        if share <= ZONE_SHARE:
            continue
        at_bias = judge_heading(heading_deg, zone.stretch_deg, rules, one_way) is Heading.BIAS
        bias |= at_bias
        if zone.stretch_deg is None:
            continue
        if at_bias:
            worst = max(worst, min(deviation_deg(heading_deg, zone.stretch_deg + at) for at in (45.0, 135.0)))
        else:
            worst = max(worst, deviation_from_across_deg(heading_deg, zone.stretch_deg, one_way))
    return worst, bias
