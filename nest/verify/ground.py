"""The ground under the pieces of one hide: direction, class, flaws."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np
import shapely

from geometry.precision import OVERLAP_DEPTH_MM, Region
from nest.rules import Rules
from nest.stock.material import Hide
from nest.verify.depth import depth, depth_of_ground
from nest.verify.headings import at_bias, heading_fault, is_wrong
from nest.verify.sheet import Sheet
from nest.verify.verdict import DISTANCE_TOLERANCE_MM, WRONG_SHARE, Finding, Rule


@dataclass(frozen=True, slots=True)
class GroundUnder:
    """What lies under the pieces of one hide.

    shares : (pieces, zones) array, share of each net area in each zone.
    classes : class of the ground under each piece: the worst of which zones that bad or worse hold more than
        `WRONG_SHARE` of the net area together; None where there is none.
    """

    shares: np.ndarray
    classes: tuple[int | None, ...]


def ground_under(sheet: Sheet, hide: Hide) -> GroundUnder:
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
    qualities = np.array([zone.quality for zone in hide.zones], dtype=object)
    return GroundUnder(shares, tuple(_class_of(qualities, row) for row in shares))


def _class_of(qualities: np.ndarray, shares: np.ndarray) -> int | None:
    """The worst class of which zones that bad or worse hold enough together to count."""
    known = sorted(set(qualities.tolist()), reverse=True)
    return next((quality for quality in known if shares[qualities >= quality].sum() > WRONG_SHARE), None)


def direction_findings(
    sheet: Sheet, stretches: Sequence[float | None], shares: np.ndarray, rules: Sequence[Rules], one_way: bool
) -> Iterator[Finding | int]:
    """A 1 for each piece that lies at bias, one finding per piece that lies wrong.

    `stretches` are the directions of the zones, None where they are unknown, `shares` (pieces, zones) how much of each
    net area each holds, `rules` one `Rules` for each piece. A heading is wrong when the zones that do not allow it hold
    more than `WRONG_SHARE` of the net area together.
    """
    for index, placed in enumerate(sheet.placed):
        heading, rule = placed.pose.heading_deg, rules[index]
        held: dict[float | None, float] = {}
        for stretch, share in zip(stretches, shares[index].tolist(), strict=True):
            if share > 0.0:
                held[stretch] = held.get(stretch, 0.0) + share
        faults = {stretch: heading_fault(heading, stretch, rule, one_way) for stretch in held}
        wrong = [stretch for stretch, (beyond, _) in faults.items() if is_wrong(beyond)]
        if fsum(held[stretch] for stretch in wrong) > WRONG_SHARE:
            counting = [stretch for stretch in wrong if held[stretch] > WRONG_SHARE] or wrong
            if None in counting:
                text = (f"has {held[None]:.2%} of its net area on unknown stretch, where nothing may lie without leave "
                        "for bias")
                yield sheet.finding(Rule.DIRECTION, (index,), 100.0 * held[None], "%", text)
                continue
            beyond, stretch, broken = max((faults[stretch][0], stretch, faults[stretch][1]) for stretch in counting)
            text = f"heads {heading % 360:.2f}° on stretch at {stretch:g}°, {beyond:.2f}° more than allowed"
            if broken is Rule.ONE_WAY:
                text = f"heads {heading % 360:.2f}° on one-way goods, the toe must point the other way"
            yield sheet.finding(broken, (index,), beyond, "deg", text)
        elif fsum(held[s] for s in held if s not in wrong and at_bias(heading, s, rule, one_way)) > WRONG_SHARE:
            yield 1


def class_findings(sheet: Sheet, hide: Hide, ground: GroundUnder, rules: list[Rules]) -> Iterator[Finding]:
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


def scrap_findings(sheet: Sheet, hide: Hide, rules: list[Rules], told: set[int]) -> Iterator[Finding]:
    """Pieces on many small parts of wrong ground, each of which is let pass alone; those in `told` are left out.

    What lies off the hide or over a hole is a finding of its own and is not counted here.
    """
    right: dict[Rules, tuple[Region, Region]] = {}
    for index, rule in enumerate(rules):
        if index in told:
            continue
        if rule not in right:
            right[rule] = _right_ground(hide, rule)
            shapely.prepare(right[rule])
        net, cut = sheet.net[index], sheet.cut[index]
        for what, region, ground, broken in (
            ("net area", net, right[rule][0], Rule.NET_CLASS), ("trim-off band", cut, right[rule][1], Rule.TRIM_CLASS)
        ):
            wrong = 0.0 if shapely.covers(ground, region) else _wrong_on(hide, region, ground) / net.area
            if wrong > WRONG_SHARE:
                text = (f"has its {what} on small parts of wrong ground that add up to {wrong:.2%} of its net area, "
                        f"{WRONG_SHARE:.1%} is the most")
                yield sheet.finding(broken, (index,), 100.0 * wrong, "%", text)
                break


def _wrong_on(hide: Hide, region: Region, ground: Region) -> float:
    """Area of a region that lies on the hide, but not on this ground."""
    return float(shapely.difference(shapely.intersection(region, hide.outline), ground).area)


def _right_ground(hide: Hide, rule: Rules) -> tuple[Region, Region]:
    """Where net area may lie, and where the trim-off band may."""
    trim_limit = None if rule.trim_quality is None else max(rule.trim_quality, rule.net_quality)
    barred = [flaw.outline for flaw in hide.flaws if flaw.tears or not flaw.coverable or not rule.flaws_under_trim]

    def within(limit: int | None, flaws: Iterable[Region]) -> Region:
        ground = hide.outline
        if limit is not None:
            ground = shapely.intersection(ground, shapely.union_all([z.outline for z in hide.zones]))
        bad = [zone.outline for zone in hide.zones if limit is not None and zone.quality > limit]
        return shapely.difference(ground, shapely.union_all([*bad, *flaws]))

    return within(rule.net_quality, [flaw.outline for flaw in hide.flaws]), within(trim_limit, barred)
