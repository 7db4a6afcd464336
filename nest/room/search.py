"""Room for one piece, or for two that belong together, on the ground that is left: poses, or that there are none.

Ranges of headings are halved until there is a pose at the middle of one, or until what their turns share fits nowhere.
What is then left of the ranges, no wider than `nest.room.seek.FINEST_DEG`, counts as not proved between the headings
looked at: there a piece all but fits. Two pieces are looked for over pairs of ranges in the same way: what their turns
share must keep clear of each other at some pair of positions (`nest.room.parting`).

So with `Answer.complete` there is no pose at any heading looked at (steps of less than 1° wherever it came near), and
with `every_heading` at none at all, up to the tolerances of `nest.room.ground`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations_with_replacement, product

import numpy as np
import shapely
from shapely.affinity import translate

from geometry.pose import Pose, rotate
from nest.pieces.piece import Foot
from nest.room.answer import Answer, together
from nest.room.ground import keeps_to
from nest.room.parting import may_part, parted, too_near
from nest.room.scraps import class_under, heads_well
from nest.room.seek import FINEST_DEG, Node, Seeker

MOST_LOOKS = 800
"""Pairs of ranges looked at before two pieces are given up as not settled."""

CORNERS_TRIED = 4
"""Places of the first piece at which the second is looked for beside it, before all places of both are."""

STOPPED = "stopped before all was looked at"
NOT_BOTH = "each has room by itself, but not both together"

Stop = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Aim:
    """Of all places the one furthest in this direction is taken, so that what is left stays in one piece."""

    x: float = -1.0
    y: float = -0.2

    def order(self, places: np.ndarray) -> np.ndarray:
        """Indices of (k, 2) places, the one furthest that way first."""
        return np.argsort(-(places @ (self.x, self.y)), kind="stable")

    def furthest(self, region) -> np.ndarray:
        """The corner of a region that lies furthest that way."""
        corners = shapely.get_coordinates(region)
        return corners[self.order(corners)[0]]


def room_for_one(seeker: Seeker, aim: Aim, stop: Stop) -> Answer:
    """A pose for one piece, at bias only where there is none without; or none."""
    across = _one(seeker, False, aim, stop)
    if across.found or not any(span.bias for span in seeker.ground.spans):
        return across
    return together([across, _one(seeker, True, aim, stop)])


def room_for_two(first: Seeker, second: Seeker, gap_mm: float, aim: Aim, stop: Stop) -> Answer:
    """Poses for two pieces that keep the gap from each other, at bias only where there are none without; or none.

    The seekers are one and the same where the pieces are.
    """
    return _without_bias_first(first, lambda bias: _two(first, second, gap_mm, bias, aim, stop))


def _without_bias_first(seeker: Seeker, look: Callable[[bool], Answer]) -> Answer:
    answer = look(False)
    if answer.found or not any(span.bias for span in seeker.ground.spans):
        return answer
    return look(True)


def _roots(seeker: Seeker, bias: bool) -> list[Node]:
    """All ranges across the stretch, with `bias` all at bias too."""
    return [node for side in (False, bias)[: 1 + bias] for some in seeker.roots(bias=side) for node in some]


def _one(seeker: Seeker, bias: bool, aim: Aim, stop: Stop) -> Answer:
    """A pose across the stretch, or at bias; or none of them."""
    said: list[Answer] = []
    for nodes in seeker.roots(bias=bias):
        said.append(Answer((), False, False, 0.0, STOPPED) if stop() else _among(seeker, nodes, aim, stop))
        if said[-1].found or said[-1].why == STOPPED:
            break
    return together(said) if said else Answer(why=_no_room(seeker))


def _among(seeker: Seeker, nodes: list[Node], aim: Aim, stop: Stop) -> Answer:
    unsettled, near_misses, step = False, 0, 0.0
    while nodes:
        if stop():
            return Answer((), False, False, step, STOPPED)
        fits = [(node.heading, seeker.exact(node)) for node in nodes]
        for pose, _, _ in _places(seeker, [(heading, fit.sure) for heading, fit in fits], aim):
            return Answer((pose,))
        # where rounding spoils all that is sure there is no telling
        open_here = [fit.unsettled or not fit.sure.is_empty for _, fit in fits]
        unsettled |= any(open_here)
        near_misses += sum(still for node, still in zip(nodes, open_here, strict=True) if node.half == 0.0)
        ranges = [node for node in nodes if node.half > 0.0]
        wide = [node for node in ranges if 2.0 * node.half > FINEST_DEG]
        near_misses += len(ranges) - len(wide)
        step = min((2.0 * node.half for node in ranges), default=step)
        nodes = [half for node in wide for half in seeker.halves(node)]
    return _none(unsettled, near_misses, step, _no_room(seeker))


def _no_room(seeker: Seeker) -> str:
    foot = seeker.shape.piece.foot
    return f"no room for {'a vamp' if foot is Foot.EITHER else f'the {foot} vamp'}"


def _none(unsettled: bool, near_misses: int, step: float, why: str) -> Answer:
    """No poses; what was not settled on the way matters only where some range came near to the end."""
    complete = not (unsettled and near_misses)
    return Answer((), complete, not near_misses, step, why if complete else "the ground at its edge is not settled")


def _two(first: Seeker, second: Seeker, gap_mm: float, bias: bool, aim: Aim, stop: Stop) -> Answer:
    alone = []
    for seeker in dict.fromkeys((first, second)):
        answers = [_one(seeker, side, aim, stop) for side in (False, bias)[: 1 + bias]]
        alone.append(together(answers))
        if not alone[-1].found:
            return alone[-1]
    poses = _beside(first, second, gap_mm, bias, aim)
    return Answer(poses) if poses else _jointly(first, second, gap_mm, bias, stop)


def _places(
    seeker: Seeker, regions: list[tuple[float, shapely.Geometry]], aim: Aim
) -> Iterator[tuple[Pose, float, np.ndarray]]:
    """Poses at the furthest corners of regions, one region each, furthest first, with heading and place."""
    regions = [(heading, region) for heading, region in regions if not region.is_empty]
    if not regions:
        return
    corners = np.array([aim.furthest(region) for _, region in regions])
    for index in aim.order(corners):
        heading, region = regions[index]
        # should rounding spoil the corner, there is still the middle
        for place in (corners[index], shapely.get_coordinates(shapely.point_on_surface(region))[0]):
            pose = seeker.shape.pose(place, heading)
            if _lies_well(seeker, pose):
                yield pose, heading, place
                break


def _lies_well(seeker: Seeker, pose: Pose) -> bool:
    """Whether a pose keeps to its ground, as measured where it is."""
    ground, piece = seeker.ground, seeker.shape.piece
    net = pose.apply(piece.net_outline)
    outlines = pose.apply(piece.cut_outline), net
    return (
        all(keeps_to(shapely.Polygon(ring), strict) for ring, strict in zip(outlines, ground.strict, strict=True))
        and heads_well(ground.hide, net, pose.heading_deg, ground.rules, ground.one_way)
        and (seeker.quality is None or class_under(ground.hide, net) == seeker.quality)
    )


def _beside(first: Seeker, second: Seeker, gap_mm: float, bias: bool, aim: Aim) -> tuple[Pose, ...]:
    """Poses of both with the first in one of its furthest corners; empty if the second has no room beside it there."""
    sure = [(heading, fit.sure) for heading, fit in first.fits(bias=bias)]
    for tried, (pose, heading, place) in enumerate(_places(first, sure, aim)):
        if tried == CORNERS_TRIED:
            break
        ring = rotate(first.shape.rough, heading)
        left = []
        for other, fit in second.fits(bias=bias):
            near = too_near(ring, rotate(second.shape.rough, other), gap_mm)
            region = shapely.difference(fit.sure, translate(near, *place))
            left.append((other, shapely.union_all([one for one in shapely.get_parts(region) if one.area > 0.0])))
        for partner, _, _ in _places(second, left, aim):
            return pose, partner
    return ()


def _jointly(first: Seeker, second: Seeker, gap_mm: float, bias: bool, stop: Stop) -> Answer:
    """Poses of both, looked for over pairs of ranges of headings; or that there are none."""
    if first is second:
        pairs = list(combinations_with_replacement(_roots(first, bias), 2))
    else:
        pairs = list(product(_roots(first, bias), _roots(second, bias)))
    looks, unsettled, near_misses, step = 0, False, 0, 0.0
    while pairs:
        left = []
        for a, b in pairs:
            looks += 1
            if stop():
                return Answer((), False, False, step, STOPPED)
            if looks > MOST_LOOKS:
                return Answer((), False, False, step, "both together come near at too many headings")
            if not _may_both(first, second, a, b, gap_mm):
                continue
            fits = first.exact(a), second.exact(b)
            near = _near(first, second, a, b, gap_mm, exact=True)
            ends, sure = parted(fits[0].sure, fits[1].sure, near)
            if ends is not None:
                poses = first.shape.pose(ends[0], a.heading), second.shape.pose(ends[1], b.heading)
                if _lies_well(first, poses[0]) and _lies_well(second, poses[1]):
                    return Answer(poses)
            at_edge = any(fit.held is not fit.sure for fit in fits)
            still = ends is not None or not sure or (at_edge and may_part(fits[0].held, fits[1].held, near))
            unsettled |= still
            near_misses += still and a.half == b.half == 0.0
            left.append((a, b))
        wider = [max(2.0 * a.half, 2.0 * b.half) for a, b in left]
        near_misses += sum(0.0 < width <= FINEST_DEG for width in wider)
        step = min((width for width in wider if width > 0.0), default=step)
        pairs = [
            pair for (a, b), width in zip(left, wider, strict=True) if width > FINEST_DEG
            for pair in product(_parts(first, a, width), _parts(second, b, width))
        ]
    return _none(unsettled, near_misses, step, NOT_BOTH)


def _parts(seeker: Seeker, node: Node, width: float) -> list[Node]:
    """The halves of a range that is the wider of two, or nearly; else the range."""
    return seeker.halves(node) if 2.0 * node.half > 0.6 * width else [node]


def _may_both(first: Seeker, second: Seeker, a: Node, b: Node, gap_mm: float) -> bool:
    if first.shape.at(a.half).rough is None or second.shape.at(b.half).rough is None:
        return True
    apart = first.shape.reach_mm + second.shape.reach_mm + gap_mm
    (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = a.held.bounds, b.held.bounds
    # Where the outermost points of both are further apart than the two reach nothing needs to be worked out.
    if max(bx1 - ax0, ax1 - bx0, by1 - ay0, ay1 - by0) > apart:
        return True
    return may_part(a.held, b.held, _near(first, second, a, b, gap_mm))


def _near(first: Seeker, second: Seeker, a: Node, b: Node, gap_mm: float, exact: bool = False):
    halves = (0.0, 0.0) if exact else (a.half, b.half)
    one, other = first.shape.at(halves[0]).rough, second.shape.at(halves[1]).rough
    assert one is not None and other is not None  # `_may_both` has looked
    return too_near(rotate(one, a.heading), rotate(other, b.heading), gap_mm)
