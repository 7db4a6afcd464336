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

from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import radians, sin

import shapely

from geometry.nofit import joint_fit_polygon, minkowski_sum
from geometry.pose import rotate
from nest.fitground import Region
from nest.room.ground import RELAX_MM, Ground, Span, relaxed
from nest.room.scraps import settled
from nest.room.shape import Shape, Turned

FINEST_DEG = 0.2
"""Ranges of headings are not halved below this width."""

APART_DEG = 30.0
"""Headings that are further apart than this are not asked for together."""

COARSE_SHARE = 0.05
COARSE_MM = (4.0, 2.0, 1.0, 0.5, 0.2)
"""For a range of headings ground is taken with fewer corners, larger by up to twice this, if that is no more than a
share of the way that the piece turns."""

_EMPTY = shapely.Polygon()


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Positions of a pivot: `sure` is room for certain, outside `held` there is none.

    unsettled : whether positions are held though none could be found that will do.
    """

    sure: Region
    held: Region
    unsettled: bool = False


@dataclass(frozen=True, eq=False)
class Node:
    """A range of headings that share their fit zones, and the positions its piece may have at any of them."""

    span: Span
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
    """

    ground: Ground
    shape: Shape
    quality: int | None = None
    _exact: dict[float, tuple[Fit, bool]] = field(default_factory=dict)
    _nodes: dict[Span, Node] = field(default_factory=dict)
    _coarse: dict[float, tuple[Region, Region]] = field(default_factory=dict)
    _blocks: dict[tuple, tuple[Region, Region]] = field(default_factory=dict)

    def roots(self) -> list[Node]:
        """The ranges of headings at which there may be room, single headings among them."""
        discs = [
            shapely.buffer(ground, -radius) if radius > 0.0 else ground
            for ground, radius in zip((self.ground.rough, self.ground.net), self.shape.radii_mm(), strict=True)
        ]
        within = _areas(shapely.intersection(*discs))
        sides = [[span for span in self.ground.spans if span.bias == bias] for bias in (False, True)]
        return [node for side in sides if side for node in self._among(sorted(side, key=_middle), within)]

    def _among(self, spans: list[Span], held: Region) -> list[Node]:
        """Nodes of those spans that there may be room at: first asked for all together, then half and half."""
        zones = tuple(any(allowed) for allowed in zip(*(span.zones for span in spans), strict=True))
        low, high = min(span.low for span in spans), max(span.high for span in spans)
        node = self._seen(Node(Span(low, high, zones, spans[0].bias), held))
        if node.held.is_empty or len(spans) == 1:
            return [] if node.held.is_empty else [node]
        middle = _parted(spans)
        return [found for part in (spans[:middle], spans[middle:]) for found in self._among(part, node.held)]

    def halves(self, node: Node) -> list[Node]:
        """The two halves of a range, as far as there may be room; none of a single heading."""
        middle, span = node.heading, node.span
        parts = replace(span, high=middle), replace(span, low=middle)
        nodes = [Node(part, node.held) for part in parts] if node.half > 0.0 else []
        return [half for half in map(self._seen, nodes) if not half.held.is_empty]

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

    def _seen(self, node: Node) -> Node:
        """The node with its positions, from those of the range it is part of."""
        if node.span not in self._nodes:
            self._nodes[node.span] = self._narrowed(node)
        return self._nodes[node.span]

    def _narrowed(self, node: Node) -> Node:
        turned = self.shape.at(node.half)
        if turned.rough is None or turned.net is None or node.held.is_empty:
            return node
        held = self._hard(turned, node, self._grounds(node.half))
        _, few = self._soft(turned, node, held)
        return Node(node.span, few)

    def _fit_at(self, node: Node) -> Fit:
        turned = self.shape.at(0.0)
        hard = self._hard(turned, node, (self.ground.rough, self.ground.net))
        sure, held = self._soft(turned, node, hard)
        if held.is_empty or not sure.is_empty or not self._wrong(node.span):
            return Fit(sure, held)
        found, unsettled = settled(held, rotate(self.shape.net, node.heading), self._wrong(node.span))
        if found is not None:
            # as good as a point, but with an area as all positions have
            return Fit(shapely.box(found[0] - 1e-6, found[1] - 1e-6, found[0] + 1e-6, found[1] + 1e-6), held)
        return Fit(_EMPTY, held if unsettled else _EMPTY, unsettled)

    def _hard(self, turned: Turned, node: Node, grounds: tuple[Region, Region]) -> Region:
        """Positions that keep the outlines on ground they may never leave, part by part of what may hold them."""
        rough, net = rotate(turned.rough, node.heading), rotate(turned.net, node.heading)
        reach = self.shape.reach_mm + 1.0
        found = []
        for part in shapely.get_parts(node.held):
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
            sure = _areas(shapely.difference(sure, minkowski_sum(wrong, -rotate(turned.net, node.heading))))
        if thick is not None and turned.deep is not None:
            held = _areas(shapely.difference(held, minkowski_sum(thick, -rotate(turned.deep, node.heading))))
        if self.quality is not None and self.quality > self.ground.classes[0]:
            # some of it lies on ground of that very class, or the piece counts as one of a better class
            own = tuple(zone.quality == self.quality for zone in self.ground.hide.zones)
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

    def _wrong(self, span: Span):
        return [zone.outline for zone, wrong in zip(self.ground.hide.zones, self._wrong_at(span), strict=True) if wrong]

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
        by = next((mm for mm in COARSE_MM if mm <= allowed), 0.0)
        if by not in self._coarse:
            self._coarse[by] = tuple(_coarser(one, by) for one in (self.ground.rough, self.ground.net))
        return self._coarse[by]


def _middle(span: Span) -> float:
    return 0.5 * (span.low + span.high)


def _parted(spans: list[Span]) -> int:
    """Index at which a list of spans, by their middles, is best parted: at its widest step, or its middle."""
    steps = [_middle(b) - _middle(a) for a, b in pairwise(spans)]
    widest = max(range(len(steps)), key=steps.__getitem__)
    return widest + 1 if steps[widest] > APART_DEG else len(spans) // 2


def _coarser(ground: Region, by: float) -> Region:
    if by <= 0.0:
        return ground
    thinned = shapely.simplify(ground.buffer(2.0 * by, join_style="mitre", mitre_limit=2.0), by)
    return thinned if shapely.covers(thinned, ground) else ground


def _areas(shape) -> Region:
    """The polygons of a shape; lines and points are dropped."""
    if shape.geom_type == "Polygon":
        return shape
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 0.0]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)

