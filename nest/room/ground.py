"""The ground of one hide as a plan leaves it: where the outlines of a style may still lie, and at which headings.

What the judge of a plan lets pass for rounding is used up in part: margins and gaps count as `DISTANCE_MM` less than
asked for, and all ground reaches `RELAX_MM` out of its edge. So a piece that fits exactly, without any play, finds its
place, and what fits nowhere would not fit with that much more room either.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from math import acos, ceil, pi

import numpy as np
import shapely

from geometry.polygon import polygon
from geometry.precision import Region
from nest.rules import Heading, Rules, judge_heading
from nest.stock.ground import fit_zones, net_ground, trim_ground
from nest.stock.material import Hide

DISTANCE_MM = 0.005
"""Margins and gaps are looked for with this much less than asked for; the judge lets 0.01 mm pass."""

RELAX_MM = 1e-4
"""Ground reaches this much out of its edge; the judge lets pieces overlap 0.001 mm deep."""

DEPTH_MM = 8e-4
"""No corner of what a pose overlaps may lie deeper, with what its coordinates are rounded by."""

ARC_ERROR_MM = 1e-3
"""Chords of the arcs that margins and gaps make stand no further off."""

_SPAN = 360.0


@dataclass(frozen=True, slots=True)
class Span:
    """Headings from `low` to `high`, degrees, at all of which the same zones allow the piece; one if they are equal.

    zones : whether each zone of the hide is good enough and allows these headings.
    """

    low: float
    high: float
    zones: tuple[bool, ...]
    bias: bool = False
    """Whether some zone allows them at bias only."""


@dataclass(frozen=True, slots=True, eq=False)
class RoomGround:
    """Ground left on a hide for one style: `rough` for the whole outline, `net` for the net outline at some heading.

    spans : every heading that some fit zone allows; those at bias last, single ones before ranges.
    """

    hide: Hide
    rules: Rules
    one_way: bool
    rough: Region
    net: Region
    strict: tuple[Region, Region]
    """Rough and net ground with nothing added to its edge."""
    spans: tuple[Span, ...]
    classes: tuple[int, ...]
    """Classes of the zones that net area may lie in, the best first."""
    coarse: dict[float, tuple[Region, Region]] = field(default_factory=dict)
    """Rough and net ground with fewer corners, by how much larger they may be; kept once they are made."""

    def coarser(self, by: float) -> tuple[Region, Region]:
        """Rough and net ground, never less than they are and larger by up to some 2 `by` mm, with fewer corners."""
        if by not in self.coarse:
            self.coarse[by] = tuple(_coarser(ground, by) for ground in (self.rough, self.net))
        return self.coarse[by]


def ground_left(
    hide: Hide, rules: Rules, *, one_way: bool, margin_mm: float, gap_mm: float, cut: Sequence[np.ndarray] = ()
) -> RoomGround:
    """The ground that a style finds on a hide beside what is `cut` from it, placed rings (n, 2) of mm."""
    fit = [zone.quality <= rules.net_quality for zone in hide.zones]
    rough = shapely.intersection(trim_ground(hide, rules), _within(hide, margin_mm))
    if cut:
        rough = shapely.difference(rough, shapely.union_all([kept_clear(polygon(ring), gap_mm) for ring in cut]))
    net = net_ground(hide, fit)
    classes = tuple(sorted({zone.quality for zone in fit_zones(hide, rules)}))
    return RoomGround(
        hide, rules, one_way, relaxed(rough), relaxed(net), (rough, net), _spans(hide, rules, one_way), classes
    )


def keeps_to(shape: shapely.Polygon, ground: Region) -> bool:
    """Whether a placed outline lies on the ground, but for DEPTH_MM, measured as the judge measures overlaps."""
    beyond = shapely.difference(shape, ground)
    if beyond.is_empty:
        return True
    corners = shapely.points(shapely.get_coordinates(beyond))
    edges = shape.exterior, shapely.boundary(ground)
    return max(float(shapely.distance(corners, edge).max()) for edge in edges) <= DEPTH_MM


def kept_clear(shape: Region, gap_mm: float) -> Region:
    """A cut outline and the gap around it, as the search for room takes it."""
    by = gap_mm - DISTANCE_MM
    return shape.buffer(by, quad_segs=_quarter(by)) if by > 0.0 else shape


def relaxed(ground: Region, by: float = RELAX_MM) -> Region:
    """The polygons of the ground, a little larger (smaller if `by` is below nought)."""
    # corners reach out by twice as much at most
    grown = shapely.buffer(ground, by, join_style="mitre", mitre_limit=2.0)
    return shapely.union_all([part for part in shapely.get_parts(grown) if part.geom_type == "Polygon"])


def _within(hide: Hide, margin_mm: float) -> Region:
    by = margin_mm + hide.margin_mm - DISTANCE_MM
    return hide.outline.buffer(-by, quad_segs=_quarter(by)) if by > 0.0 else hide.outline


def _quarter(radius: float) -> int:
    """Chords to a quarter circle that keep to ARC_ERROR_MM."""
    return ceil(0.25 * pi / acos(1.0 - min(0.5, ARC_ERROR_MM / radius)))


def _spans(hide: Hide, rules: Rules, one_way: bool) -> tuple[Span, ...]:
    """Ranges of headings between those at which some zone begins or ceases to allow them, and these by themselves."""
    fit = fit_zones(hide, rules)
    stretches = dict.fromkeys(zone.stretch_deg for zone in fit)
    known = [stretch for stretch in stretches if stretch is not None]
    offsets = (90.0, 45.0, 135.0) if rules.bias_leave else (90.0,)
    turns = (0.0,) if one_way else (0.0, 180.0)
    middles = [stretch + offset + turn for stretch in known for offset in offsets for turn in turns]
    across = [stretch + 90.0 + turn for stretch in known for turn in turns]
    ends = [middle + side * rules.tolerance_deg for middle in middles for side in (-1.0, 1.0)]
    marks = sorted({round(one % _SPAN, 9) for one in (*ends, *across)}) or [0.0]

    @cache
    def allowed(heading: float) -> tuple[tuple[bool, ...], bool]:
        judged = [
            judge_heading(heading, zone.stretch_deg, rules, one_way) if zone in fit else Heading.WRONG
            for zone in hide.zones
        ]
        return tuple(one is not Heading.WRONG for one in judged), Heading.BIAS in judged

    ranges = [
        Span(low, high, *allowed(0.5 * (low + high)))
        for low, high in zip(marks, (*marks[1:], marks[0] + _SPAN), strict=True)
    ]
    # A heading by itself: where it allows what neither side does, and right across, where an exact fit is likeliest.
    beside = dict(zip(marks, zip((ranges[-1], *ranges[:-1]), ranges, strict=True), strict=True))
    straight = {round(one % _SPAN, 9) for one in across}
    single = [
        Span(mark, mark, *allowed(mark)) for mark, sides in beside.items()
        if mark in straight or allowed(mark)[0] not in (sides[0].zones, sides[1].zones)
    ]
    return tuple(sorted((span for span in (*single, *ranges) if any(span.zones)), key=lambda span: span.bias))


def _coarser(ground: Region, by: float) -> Region:
    if by <= 0.0:
        return ground
    thinned = shapely.simplify(ground.buffer(2.0 * by, join_style="mitre", mitre_limit=2.0), by)
    return thinned if shapely.covers(thinned, ground) else ground

