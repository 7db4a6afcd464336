"""Where one piece may lie on the ground that is left: all its positions at a heading, or over a range of headings.

Positions of the pivot at which an outline keeps to its ground are an inner-fit polygon, exact to the grid of
`geometry.winding`; those of rough and net outline together are found in one go. For a range of headings the outlines
are replaced by what all its turns share, so that the positions found hold all that any heading of the range has: where
there are none, the piece fits at none of these headings, between the steps too.

Wrong ground under the net area is let pass up to `ZONE_SHARE` of it, all of it together. Positions that keep clear of
it are *sure*; beyond them lie those that may still do (`Fit.held`), of which single ones are settled by measuring
(`nest.room.scraps`).

References
----------
J. Bennell, J. Oliveira (2008), The geometry of nesting problems: a tutorial, doi:10.1016/j.ejor.2006.11.038
(inner-fit polygons). Halving ranges until each is settled is branch and bound; what turned copies share stands for a
range as in the bounds of geometric branch and bound (D. Scholz (2012), Deterministic Global Optimization, cited from
memory).
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import radians, sin

import shapely

from geometry.nofit import joint_fit_polygon, minkowski_sum
from geometry.pose import rotate
from geometry.precision import Region
from nest.room.ground import RELAX_MM, RoomGround, Span, relaxed
from nest.room.scraps import settled
from nest.room.shape import Shape, Turned

FINEST_DEG = 0.2
"""Ranges of headings are not halved below this width."""

APART_DEG = 30.0
"""Headings that are further apart than this are not asked for together."""

HEADING_SLACK_DEG = 1e-6
"""Headings are kept to a millionth of a degree."""

TOGETHER = 16
"""Ranges at bias are gone through by as many at a time: there are many, and the first pose will do."""

COARSE_SHARE = 0.05
COARSE_MM = (4.0, 2.0, 1.0, 0.5, 0.2)
"""For a range of headings ground is taken with fewer corners, larger by up to twice this, if that is no more than a
share of the way that the piece turns."""

_EMPTY = shapely.Polygon()


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Positions of a pivot: `sure` is room for certain, outside `held` there is none.

    unsettled : whether positions are held though none could be found that will do, for all the measuring.
    """

    sure: Region
    held: Region
    unsettled: bool = False


@dataclass(frozen=True, eq=False)
class Node:
    """A range of headings that share their fit zones, and the positions its piece may have at any of them.

    hard : positions on ground that it may never leave. held : those of them with as little wrong ground as is let pass.
    """

    span: Span
    hard: Region
    held: Region

    @property
    def heading(self) -> float:
        """The middle of the range."""
        return 0.5 * (self.span.low + self.span.high)

    @property
    def half(self) -> float:
        """Half its width."""
        return 0.5 * (self.span.high - self.span.low)


@dataclass(eq=False)
class Seeker:
    """All positions of one piece on the ground left, worked out range by range when asked for, and kept.

    quality : class that counts under the piece: its ground is no worse, and some of it no better; None for any.
    hards : positions on ground it may never leave, which are the same for all classes: seekers of a piece share them.
    """

    ground: RoomGround
    shape: Shape
    quality: int | None = None
    hards: dict[tuple[float, float], Region] = field(default_factory=dict)
    _exact: dict[float, tuple[Fit, bool]] = field(default_factory=dict)
    _nodes: dict[Span, Node] = field(default_factory=dict)
    _blocks: dict[tuple, tuple[Region, Region]] = field(default_factory=dict)

    def roots(self, *, bias: bool) -> Iterator[list[Node]]:
        """The ranges of headings at which there may be room, single headings among them, some at a time.

        Without `bias` all that lie across the stretch; with it those at bias, one stretch of headings after the other.
        """
        spans = sorted((span for span in self.ground.spans if span.bias == bias), key=_middle)
        if not spans:
            return
        within = self._everywhere(spans[0])
        if not bias:
            yield self._among(spans, within)
        else:
            for first in range(0, len(spans), TOGETHER):
                yield self._among(spans[first : first + TOGETHER], within)

    def at(self, heading_deg: float) -> Iterator[tuple[float, Fit]]:
        """Positions at one heading, for each range of those allowed that has it, with the heading as the range has it.

        Together they are all positions that the piece may have at it.
        """
        for span in self.ground.spans:
            for turned in (heading_deg % 360.0 + turn for turn in (-360.0, 0.0, 360.0)):
                if span.low - HEADING_SLACK_DEG <= turned <= span.high + HEADING_SLACK_DEG:
                    single = replace(span, low=turned, high=turned)
                    yield turned, self.exact(self._seen(single, self._everywhere(single)))

    def _everywhere(self, span: Span) -> Node:
        """A node that holds every position at which the circles within the outlines keep to their ground."""
        discs = [
            shapely.buffer(ground, -radius) if radius > 0.0 else ground
            for ground, radius in zip((self.ground.rough, self.ground.net), self.shape.radii_mm(), strict=True)
        ]
        return Node(span, *[_areas(shapely.intersection(*discs))] * 2)

    def _among(self, spans: list[Span], parent: Node) -> list[Node]:
        """Nodes of those spans that there may be room at: first asked for all together, then half and half."""
        zones = tuple(any(allowed) for allowed in zip(*(span.zones for span in spans), strict=True))
        low, high = min(span.low for span in spans), max(span.high for span in spans)
        if high - low <= 2.0 * APART_DEG or len(spans) == 1:
            node = self._seen(Span(low, high, zones, spans[0].bias), parent)
            if node.held.is_empty or len(spans) == 1:
                return [] if node.held.is_empty else [node]
            parent = node
        middle = _parted(spans)
        return [found for part in (spans[:middle], spans[middle:]) for found in self._among(part, parent)]

    def halves(self, node: Node) -> list[Node]:
        """The two halves of a range, as far as there may be room; none of a single heading."""
        middle, span = node.heading, node.span
        if node.half <= 0.0:
            return []
        nodes = [self._seen(part, node) for part in (replace(span, high=middle), replace(span, low=middle))]
        return [half for half in nodes if not half.held.is_empty]

    def exact(self, node: Node) -> Fit:
        """Positions at the middle heading of a range."""
        if node.heading not in self._exact:
            self._exact[node.heading] = self._fit_at(node), node.span.bias
        return self._exact[node.heading][0]

    def fits(self, *, bias: bool) -> list[tuple[float, Fit]]:
        """Every heading looked at so far with room for certain; those at bias too if asked for."""
        return [
            (heading, fit) for heading, (fit, at_bias) in self._exact.items()
            if (bias or not at_bias) and not fit.sure.is_empty
        ]

    def _seen(self, span: Span, parent: Node) -> Node:
        """The node of a span, its positions looked for among those of the range it is part of."""
        if span not in self._nodes:
            node = Node(span, parent.hard, parent.held)
            turned = self.shape.at(node.half)
            if turned.rough is not None and turned.net is not None and not parent.held.is_empty:
                hard = self._hard(turned, node, self._grounds(node.half))
                _, held = self._soft(turned, node, hard)
                node = Node(span, hard, held)
            self._nodes[span] = node
        return self._nodes[span]

    def _fit_at(self, node: Node) -> Fit:
        turned = self.shape.at(0.0)
        middle = Node(replace(node.span, low=node.heading, high=node.heading), node.hard, node.held)
        hard = self._hard(turned, middle, (self.ground.rough, self.ground.net))
        sure, held = self._soft(turned, node, hard)
        # measuring takes long: it waits until the range is narrow
        if held.is_empty or not sure.is_empty or 2.0 * node.half > FINEST_DEG:
            return Fit(sure, held)
        zones = self.ground.hide.zones
        wrong = [zone.outline for zone, bad in zip(zones, self._wrong_at(node.span), strict=True) if bad]
        own = [zone.outline for zone, mine in zip(zones, self._own_at(node.span) or (), strict=False) if mine]
        found, unsettled = settled(held, rotate(self.shape.net, node.heading), wrong, own)
        if found is not None:
            # as good as a point, but with an area as all positions have
            return Fit(shapely.box(found[0] - 1e-6, found[1] - 1e-6, found[0] + 1e-6, found[1] + 1e-6), held)
        return Fit(_EMPTY, held if unsettled else _EMPTY, unsettled)

    def _hard(self, turned: Turned, node: Node, grounds: tuple[Region, Region]) -> Region:
        """Positions that keep the outlines on ground they may never leave, part by part of what may hold them."""
        key = node.span.low, node.span.high
        if key not in self.hards:
            self.hards[key] = self._hard_within(turned, node, grounds)
        return self.hards[key]

    def _hard_within(self, turned: Turned, node: Node, grounds: tuple[Region, Region]) -> Region:
        assert turned.rough is not None and turned.net is not None  # `_seen` passes over ranges without
        rough, net = rotate(turned.rough, node.heading), rotate(turned.net, node.heading)
        reach = self.shape.reach_mm + 1.0
        found = []
        for part in shapely.get_parts(node.hard):
            if part.is_empty:
                continue
            low_x, low_y, high_x, high_y = part.bounds
            window = shapely.box(low_x - reach, low_y - reach, high_x + reach, high_y + reach)
            mine = [_areas(shapely.intersection(ground, window)) for ground in grounds]
            fit = joint_fit_polygon([(mine[0], rough), (mine[1], net)])
            if not fit.is_empty:
                own = shapely.box(low_x - 1e-6, low_y - 1e-6, high_x + 1e-6, high_y + 1e-6)
                found.append(_areas(shapely.intersection(fit, own)))
        return _areas(shapely.union_all(found)) if found else _EMPTY

    def _soft(self, turned: Turned, node: Node, hard: Region) -> tuple[Region, Region]:
        """Positions with no wrong ground at all, and those that may have no more than is let pass."""
        sure = held = hard
        if hard.is_empty:
            return sure, held
        wrong, thick = self._obstacles(self._wrong_at(node.span), turned, node, hard)
        if wrong is not None:
            assert turned.net is not None
            sure = _areas(shapely.difference(sure, minkowski_sum(wrong, -rotate(turned.net, node.heading))))
        if thick is not None and turned.deep is not None:
            held = _areas(shapely.difference(held, minkowski_sum(thick, -rotate(turned.deep, node.heading))))
        own = self._own_at(node.span)
        if own is not None:
            some, enough = self._obstacles(own, turned, node, hard)
            held = _EMPTY if some is None else _areas(
                shapely.intersection(held, minkowski_sum(relaxed(some), -rotate(turned.swept, node.heading))))
            sure = _EMPTY if enough is None or turned.deep is None else _areas(
                shapely.intersection(sure, minkowski_sum(enough, -rotate(turned.deep, node.heading))))
        return sure, held

    def _wrong_at(self, span: Span) -> tuple[bool, ...]:
        limit = self.ground.rules.net_quality if self.quality is None else self.quality
        return tuple(
            zone.quality <= self.ground.rules.net_quality and not (allowed and zone.quality <= limit)
            for zone, allowed in zip(self.ground.hide.zones, span.zones, strict=True)
        )

    def _own_at(self, span: Span) -> tuple[bool, ...] | None:
        """Zones of the class asked for, of which some must lie under the piece, or a better class would count.

        Only those that allow the heading: of others there cannot be as much as counts.
        """
        if self.quality is None or self.quality <= self.ground.classes[0]:
            return None
        return tuple(
            allowed and zone.quality == self.quality
            for zone, allowed in zip(self.ground.hide.zones, span.zones, strict=True)
        )

    def _obstacles(self, chosen: tuple[bool, ...], turned: Turned, node: Node, hard: Region):
        """The zones chosen, a little less, as far as the net outline may meet them; and their parts that are thick."""
        if not any(chosen):
            return None, None
        if chosen not in self._blocks:
            zones = [zone.outline for zone, mine in zip(self.ground.hide.zones, chosen, strict=True) if mine]
            disc = self.shape.disc_mm
            # round joins fall short: opened by a disc that is a little too large, shrunk more than it grows
            opened = [zone.buffer(-1.003 * disc).buffer(disc) for zone in zones]
            self._blocks[chosen] = relaxed(shapely.union_all(zones), -RELAX_MM), shapely.union_all(opened)
        reach = self.shape.reach_mm + 1.0
        low_x, low_y, high_x, high_y = hard.bounds
        window = shapely.box(low_x - reach, low_y - reach, high_x + reach, high_y + reach)
        near = [_areas(shapely.intersection(block, window)) for block in self._blocks[chosen]]
        return tuple(None if one.is_empty else one for one in near)

    def _grounds(self, half_deg: float) -> tuple[Region, Region]:
        """Rough and net ground for a range: never less than it is, with fewer corners where headings differ much."""
        allowed = COARSE_SHARE * 2.0 * self.shape.reach_mm * sin(radians(0.5 * half_deg))
        return self.ground.coarser(next((mm for mm in COARSE_MM if mm <= allowed), 0.0))


def _middle(span: Span) -> float:
    return 0.5 * (span.low + span.high)


def _parted(spans: list[Span]) -> int:
    """Index at which a list of spans, by their middles, is best parted: at its widest step, or its middle."""
    steps = [_middle(b) - _middle(a) for a, b in pairwise(spans)]
    widest = max(range(len(steps)), key=steps.__getitem__)
    return widest + 1 if steps[widest] > APART_DEG else len(spans) // 2


def _areas(shape) -> Region:
    """The polygons of a shape; lines and points are dropped."""
    if shape.geom_type == "Polygon":
        return shape
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 0.0]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)

