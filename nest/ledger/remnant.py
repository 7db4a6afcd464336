"""What is left of a hide that was cut: part-hides that a vamp still fits on, and where the rest of its area went.

What goes off is the ground within the cut lines, the bridges of gap width around them, and strips too narrow to be of
use. Of what remains a part is kept if the exact search (`nest.room`) finds room on it for a vamp of any current style.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from geometry.polygon import area, polygon, snapped
from geometry.precision import COORDINATE_GRID_MM
from nest.pieces.piece import Piece
from nest.room.ground import kept_clear
from nest.room.hide import HideLeft, Wanted
from nest.rules import Rules
from nest.stock.material import Hide, Zone

NARROW_MM = 20.0
"""Strips narrower than this are off: no vamp reaches through them."""


@dataclass(frozen=True, slots=True, eq=False)
class Needs:
    """What is asked of a remnant: a vamp with its style's rules, and how it must keep off edges and other vamps."""

    vamps: tuple[tuple[Piece, Rules], ...]
    one_way: bool
    margin_mm: float
    gap_mm: float


def left_over(hide: Hide, cut: Sequence[np.ndarray], needs: Needs) -> list[Hide]:
    """Part-hides that are left of a hide, the largest first; they have its id, and share its measured area by area.

    cut : outlines cut from it, rings (n, 2) where they lie.
    """
    taken = [kept_clear(polygon(ring), needs.gap_mm) for ring in cut]
    free = shapely.difference(hide.outline, shapely.union_all(taken))
    least = min((area(piece.cut_outline) for piece, _ in needs.vamps), default=np.inf)

    def kept(ground) -> list[Hide]:
        whole = snapped(shapely.union_all([one for one in shapely.get_parts(ground) if isinstance(one, Polygon)]),
                        COORDINATE_GRID_MM)
        parts = [part_of(hide, shapely.orient_polygons(one)) for one in shapely.get_parts(whole) if one.area >= least]
        return [one for one in parts if one.zones and _fits_any(one, needs)]

    found = []
    for ground in shapely.get_parts(free):
        # Without its strips if that leaves room, with them where a vamp needs them.
        found += kept(shapely.intersection(ground, _opened(ground))) or kept(ground)
    return sorted(found, key=lambda one: -one.outline.area)


def _opened(ground: Polygon) -> Polygon:
    """Ground without strips narrower than NARROW_MM."""
    corners = {"join_style": "mitre", "mitre_limit": 5.0}
    return ground.buffer(-0.5 * NARROW_MM, **corners).buffer(0.5 * NARROW_MM, **corners)


def part_of(hide: Hide, outline: Polygon) -> Hide:
    """The part of a hide within an outline."""
    zones = []
    for zone in hide.zones:
        shape = shapely.intersection(zone.outline, outline)
        parts = [one for one in shapely.get_parts(shape) if one.geom_type == "Polygon" and one.area > 1.0]
        if parts:
            whole = snapped(shapely.union_all(parts), COORDINATE_GRID_MM)
            zones.append(Zone(zone.zone_id, zone.quality, zone.stretch_deg, whole))
    share = outline.area / hide.outline.area
    return replace(
        hide, outline=outline, zones=tuple(zones), measured_area_mm2=hide.measured_area_mm2 * share, backdrop=None,
        flaws=tuple(flaw for flaw in hide.flaws if shapely.intersects(flaw.outline, outline)),
    )


def _fits_any(hide: Hide, needs: Needs) -> bool:
    left = HideLeft(hide, needs.one_way, needs.margin_mm, needs.gap_mm)
    return any(left.room_for(Wanted((piece,), rules)).found for piece, rules in needs.vamps)
