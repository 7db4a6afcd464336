"""Ground of a hide that is fit for a style: where its net outline and its rough outline may lie at all."""

from collections.abc import Sequence
from functools import lru_cache
from math import fsum

import shapely

from geometry.precision import Region
from nest.rules import Rules
from nest.stock.material import Hide, Zone

HAIRLINE_MM = 0.01
"""Gaps between zones up to this width part no ground, as in the checks of a plan."""


def fit_zones(hide: Hide, rules: Rules) -> tuple[Zone, ...]:
    """Zones whose class is good enough for net area."""
    return tuple(zone for zone in hide.zones if zone.quality <= rules.net_quality)


def trim_ground(hide: Hide, rules: Rules, margin_mm: float = 0.0) -> Region:
    """Where the whole rough outline may lie: on the hide, off its margin, off flaws and zones it may not cover."""
    bars = [flaw.outline for flaw in hide.flaws if flaw.tears or not flaw.coverable or not rules.flaws_under_trim]
    ground = shapely.difference(usable_ground(hide, margin_mm), shapely.union_all(bars))
    if rules.trim_quality is None:
        return ground
    limit = max(rules.trim_quality, rules.net_quality)
    return _on_zones(ground, hide, [zone.quality <= limit for zone in hide.zones])


def net_ground(hide: Hide, good: Sequence[bool], margin_mm: float = 0.0) -> Region:
    """Where the net outline may lie: in the zones that are good, off every flaw."""
    flaws = shapely.union_all([flaw.outline for flaw in hide.flaws])
    return _on_zones(shapely.difference(usable_ground(hide, margin_mm), flaws), hide, good)


def fit_ground(hide: Hide, rules: Rules, margin_mm: float = 0.0) -> Region:
    """Where the net outline may lie at some heading or other."""
    return net_ground(hide, [zone.quality <= rules.net_quality for zone in hide.zones], margin_mm)


def unfit_share(hides: Sequence[Hide], rules: Rules, margin_mm: float = 0.0) -> float:
    """Share of the hides' area where no net outline may lie at any heading, 0..1."""
    whole = fsum(float(hide.outline.area) for hide in hides)
    return 1.0 - fsum(float(fit_ground(hide, rules, margin_mm).area) for hide in hides) / whole


def class_shares(hides: Sequence[Hide], margin_mm: float = 0.0) -> tuple[tuple[int, float], ...]:
    """Share of each class in the ground of some hides where net area of any class may lie, 0..1; none without any."""
    areas: dict[int, float] = {}
    for hide in hides:
        for quality in {zone.quality for zone in hide.zones}:
            fit = net_ground(hide, [zone.quality == quality for zone in hide.zones], margin_mm)
            areas[quality] = areas.get(quality, 0.0) + float(fit.area)
    whole = fsum(areas.values())
    return tuple((quality, area / whole) for quality, area in sorted(areas.items())) if whole else ()


def usable_ground(hide: Hide, margin_mm: float) -> Region:
    """The hide without a margin along its edge and its holes."""
    # Arcs of chords fall short of the distance by 0.1 % at 16 to the quarter: less than the safety covers.
    room = margin_mm + hide.margin_mm
    return _shrunk(hide.outline, room) if room > 0.0 else hide.outline


@lru_cache(maxsize=64)
def _shrunk(outline: Region, room_mm: float) -> Region:
    """Every style and set of zones asks for it again, and on an outline of 50,000 points it takes seconds."""
    return outline.buffer(-room_mm, quad_segs=16)


def joined_zones(outlines: Sequence[Region]) -> Region:
    """Union of zone outlines, hairline gaps between them closed."""
    grown = shapely.union_all(outlines).buffer(0.5 * HAIRLINE_MM, join_style="mitre")
    return grown.buffer(-0.5 * HAIRLINE_MM, join_style="mitre")


def _on_zones(ground: Region, hide: Hide, good: Sequence[bool]) -> Region:
    """The ground within good zones, hairline gaps between them closed, and outside all others."""
    outlines = [zone.outline for zone in hide.zones]
    joined = joined_zones([outline for outline, fits in zip(outlines, good, strict=True) if fits])
    others = shapely.union_all([outline for outline, fits in zip(outlines, good, strict=True) if not fits])
    return shapely.difference(shapely.intersection(ground, joined), others)
