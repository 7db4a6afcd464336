"""The ground under the pieces of one hide: direction, class, flaws."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from geometry.precision import OVERLAP_DEPTH_MM
from nest.rules import ZONE_SHARE, Heading, Rules, deviation_deg, judge_heading
from nest.stock.material import Hide
from nest.verify.depth import depth, depth_of_ground
from nest.verify.sheet import Sheet
from nest.verify.verdict import DISTANCE_TOLERANCE_MM, Finding, Rule


@dataclass(frozen=True, slots=True)
class Ground:
    """What lies under the pieces of one hide.

    shares : (pieces, zones) array, share of each net area in each zone.
    classes : worst zone class that counts under each piece; None where no zone counts.
    """

    shares: np.ndarray
    classes: tuple[int | None, ...]


def ground_under(sheet: Sheet, hide: Hide) -> Ground:
    """How much of each net area lies in each zone, and the class that makes."""
    zones = np.array([zone.outline for zone in hide.zones], dtype=object)
    shares = np.zeros((len(sheet.net), len(zones)))
    if len(zones) and len(sheet.net):
        shapely.prepare(zones)
        covered = shapely.covers(zones[None, :], sheet.net[:, None])
        met = shapely.intersects(zones[None, :], sheet.net[:, None]) & ~covered
        piece, zone = np.nonzero(met)
        shares[piece, zone] = shapely.area(shapely.intersection(sheet.net[piece], zones[zone]))
        shares[piece, zone] /= shapely.area(sheet.net[piece])
        shares[covered] = 1.0
    qualities = [zone.quality for zone in hide.zones]
    classes = tuple(max((q for q, s in zip(qualities, row, strict=True) if s > ZONE_SHARE), default=None)
                    for row in shares)
    return Ground(shares, classes)


def heading_verdict(heading: float, stretch: float, rules: Rules, one_way: bool) -> tuple[Heading, Rule, float]:
    """How a heading lies to one stretch direction; if wrong, the rule broken and by how many degrees."""
    judged = judge_heading(heading, stretch, rules, one_way)
    rule = Rule.DIRECTION
    if one_way and judge_heading(heading, stretch, rules) is not Heading.WRONG:
        rule = Rule.ONE_WAY
    targets = (90.0, 45.0, 135.0) if rules.bias_leave else (90.0,)
    beyond = min(deviation_deg(heading, stretch + target, one_way) for target in targets) - rules.tolerance_deg
    return judged, rule, beyond


def direction_findings(sheet: Sheet, stretches, counts, rules, one_way) -> Iterator[Finding | Heading]:
    """One heading per piece that lies at bias, one finding per piece that lies wrong.

    `stretches` are the directions of the zones, `counts` (pieces, zones) says where each holds a
    piece, `rules` one `Rules` for each piece.
    """
    for index, placed in enumerate(sheet.placed):
        heading = placed.pose.heading_deg
        under = {stretch for stretch, count in zip(stretches, counts[index], strict=True) if count}
        verdicts = {stretch: heading_verdict(heading, stretch, rules[index], one_way) for stretch in under}
        wrong = [(beyond, stretch, rule) for stretch, (how, rule, beyond) in verdicts.items() if how is Heading.WRONG]
        if wrong:
            beyond, stretch, rule = max(wrong)
            text = f"heads {heading % 360:.2f}° on stretch at {stretch:g}°, {beyond:.2f}° more than allowed"
            if rule is Rule.ONE_WAY:
                text = f"heads {heading % 360:.2f}° on one-way goods, the toe must point the other way"
            yield sheet.finding(rule, (index,), beyond, "deg", text)
        elif any(how is Heading.BIAS for how, _, _ in verdicts.values()):
            yield Heading.BIAS


def class_findings(sheet: Sheet, hide: Hide, ground: Ground, rules: list[Rules]) -> Iterator[Finding]:
    """Net and trim ground: good enough, and zoned where it must be."""
    bare = shapely.difference(hide.outline, shapely.union_all([zone.outline for zone in hide.zones]))
    shapely.prepare(bare)
    on_bare_net = shapely.intersects(bare, sheet.net)
    on_bare_cut = shapely.intersects(bare, sheet.cut)
    for index, rule in enumerate(rules):
        net, cut = sheet.net[index], sheet.cut[index]
        # Ground good enough for the net area is good enough for the band around it.
        trim_limit = None if rule.trim_quality is None else max(rule.trim_quality, rule.net_quality)
        for z, zone in enumerate(hide.zones):
            if zone.quality > rule.net_quality and ground.shares[index, z] > 0.0:
                deep = depth_of_ground(net, zone.outline, DISTANCE_TOLERANCE_MM)
                if deep > 0.0:
                    text = (f"has its net area {deep:.3f} mm ({ground.shares[index, z]:.2%}) into zone {zone.zone_id} "
                            f"of class {zone.quality}, class {rule.net_quality} is needed")
                    yield sheet.finding(Rule.NET_CLASS, (index,), deep, "mm", text)
                    continue
            if trim_limit is not None and zone.quality > trim_limit and shapely.intersects(zone.outline, cut):
                deep = depth_of_ground(cut, zone.outline, DISTANCE_TOLERANCE_MM)
                if deep > 0.0:
                    text = (f"has its trim-off band {deep:.3f} mm into zone {zone.zone_id} of class {zone.quality}, "
                            f"class {trim_limit} is needed there")
                    yield sheet.finding(Rule.TRIM_CLASS, (index,), deep, "mm", text)
        deep = depth_of_ground(net, bare, DISTANCE_TOLERANCE_MM) if on_bare_net[index] else 0.0
        if deep > 0.0:
            text = f"has its net area {deep:.3f} mm outside every zone"
            yield sheet.finding(Rule.NET_UNZONED, (index,), deep, "mm", text)
        elif trim_limit is not None and on_bare_cut[index]:
            deep = depth_of_ground(cut, bare, DISTANCE_TOLERANCE_MM)
            if deep > 0.0:
                text = f"has its trim-off band {deep:.3f} mm outside every zone"
                yield sheet.finding(Rule.TRIM_CLASS, (index,), deep, "mm", text)


def flaw_findings(sheet: Sheet, hide: Hide, rules: list[Rules]) -> Iterator[Finding]:
    """Net area on any flaw; trim-off band on a flaw that tears or that it may not cover."""
    if not len(sheet.cut) or not hide.flaws:
        return
    tree = shapely.STRtree(sheet.cut)
    for flaw in hide.flaws:
        for index in sorted(tree.query(flaw.outline, predicate="intersects").tolist()):
            name = f"{flaw.kind} {flaw.flaw_id}"
            deep = depth(sheet.net[index], flaw.outline)
            if deep > OVERLAP_DEPTH_MM:
                text = f"has its net area {deep:.3f} mm onto {name}"
                yield sheet.finding(Rule.NET_FLAW, (index,), deep, "mm", text)
                continue
            if flaw.tears or not flaw.coverable or not rules[index].flaws_under_trim:
                deep = depth(sheet.cut[index], flaw.outline)
                if deep > OVERLAP_DEPTH_MM:
                    text = f"has its trim-off band {deep:.3f} mm onto {name}, which it may not cover"
                    yield sheet.finding(Rule.TRIM_FLAW, (index,), deep, "mm", text)
