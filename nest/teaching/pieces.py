"""Each piece with the ground it came from: class, zone, distance from the edge, heading, flaws in its band, lot."""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from nest.errors import PlanProblem
from nest.outcomes import Outcome, Reason
from nest.plan import Plan
from nest.stock.under import class_of, heading_on, shares_under
from nest.teaching.factors import Factor, factor_of

EDGE_MM = (20.0, 50.0, 100.0, 200.0)
"""Bands of the distance from the edge of the hide end here."""

BAND_DEG = 2.5
"""Width of the bands of deviation."""

_GRID_DEG = 1e-3


@dataclass(frozen=True, slots=True)
class Seen:
    """One piece with its outcome, and what lay under it.

    quality : class that counts under its net outline. zone : the zone that holds most of that.
    edge_mm : least distance of the net outline from the hide's outer edge.
    deviation_deg : largest one from across, or where it lies at bias from 45°, over the zones that count.
    flawed : whether its trim-off band covers a flaw.
    weight_g_m2 : of its reinforcement; 0 without.
    spot : middle of the net outline on the hide, mm.
    """

    style: str
    leather: str
    hide_id: str
    lot: str
    quality: int
    zone: str
    edge_mm: float
    deviation_deg: float
    bias: bool
    flawed: bool
    weight_g_m2: float
    spot: tuple[float, float]
    reason: Reason

    @property
    def failed(self) -> bool:
        """Whether it is lost."""
        return self.reason is not Reason.GOOD


def seen_pieces(plan: Plan, outcomes: Iterable[Outcome]) -> tuple[Seen, ...]:
    """The pieces of a plan whose outcome is known.

    Raises
    ------
    PlanProblem
        If an outcome is of a style, or a hide, that the plan does not have.
    """
    styles = {style.name: style for style in plan.styles}
    hides = {hide.hide_id: hide for hide in plan.hides}
    weights = {roll.roll_id: roll.weight_g_m2 for roll in plan.rolls}
    one_way = {leather.name: leather.one_way for leather in plan.leathers}
    found = []
    for one in outcomes:
        if one.reason is None:
            continue
        style, hide = styles.get(one.piece.style), hides.get(one.hide_id)
        if style is None or hide is None:
            raise PlanProblem(f"piece {one.number} of hide {one.hide_id} is not of this plan; name the plan it is of.")
        net, rough = one.pose.apply(one.piece.net_outline), one.pose.apply(one.piece.cut_outline)
        shares = shares_under(hide, net)
        one_sided = one_way.get(hide.leather, False)
        deviation, bias = heading_on(hide, shares, one.pose.heading_deg, style.rules, one_sided)
        zone = hide.zones[int(shares.argmax())].zone_id if len(shares) else ""
        outline = Polygon(net)
        found.append(Seen(
            style.name, hide.leather, hide.hide_id, hide.lot, class_of(hide, shares), zone,
            float(shapely.distance(hide.outline.exterior, outline)), deviation, bias,
            any(shapely.intersects(flaw.outline, Polygon(rough)) for flaw in hide.flaws),
            weights.get(style.roll, 0.0), outline.centroid.coords[0], one.reason,
        ))
    return tuple(found)


def band_of(deviation: float) -> float:
    """The end of the band that a deviation lies in, degrees; an end belongs to its band, whatever rounding does."""
    return BAND_DEG * max(1, -int(-(deviation - _GRID_DEG) // BAND_DEG))


def factors_of(pieces: Sequence[Seen]) -> tuple[Factor, ...]:
    """The factors of some pieces, in the order in which they are shown."""
    edges = (*(f"to {edge:g} mm" for edge in EDGE_MM), f"over {EDGE_MM[-1]:g} mm")
    yes = {False: "no", True: "yes"}.__getitem__
    return (
        factor_of("style", [one.style for one in pieces]),
        factor_of("class", [one.quality for one in pieces], ordered=True),
        factor_of("zone", [one.zone for one in pieces]),
        factor_of("distance from the edge", [bisect_left(EDGE_MM, one.edge_mm) for one in pieces], ordered=True,
                  words=edges.__getitem__),
        factor_of("deviation", [band_of(one.deviation_deg) for one in pieces], ordered=True,
                  words=lambda end: f"{end - BAND_DEG:g} to {end:g}°"),
        factor_of("bias", [one.bias for one in pieces], words=yes),
        factor_of("flaw in the band", [one.flawed for one in pieces], words=yes),
        factor_of("lot", [one.lot for one in pieces]),
        factor_of("reinforcement", [one.weight_g_m2 for one in pieces], ordered=True,
                  words=lambda weight: f"{weight:g} g/m²" if weight else "none"),
    )
