"""Ground of a hide that a style's pieces can reach at all, in figures that tell what its edge and its zones take.

A position is open to a piece where its net outline lies on ground good enough, in zones that allow its heading, and
its rough outline on the hide: the joint inner-fit polygon. What the piece covers from there is within reach
(the opening of mathematical morphology). Here outlines and ground are taken with fewer corners: this
is an estimate and bounds nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np
import shapely

from geometry.nofit import joint_fit_polygon, minkowski_sum
from geometry.pose import rotate
from geometry.precision import Region, as_ring
from geometry.processors import for_all
from geometry.thinning import thin_outwards
from geometry.winding import union
from nest.pieces.piece import Piece
from nest.rules import Heading, Rules, judge_heading
from nest.stock.ground import fit_ground, fit_zones, net_ground, trim_ground
from nest.stock.material import Hide

MOST_HIDES = 8
"""Of more hides than this some are looked at, from the smallest to the largest."""

PIECE_THIN_MM, GROUND_THIN_MM, PLAY_THIN_MM = 2.0, 0.5, 1.0


@dataclass(frozen=True, slots=True)
class Reach:
    """What one piece finds on a hide, or the mean of several.

    area_mm2 : ground within reach.
    play_mm2 : area of the positions open to the piece, mean over the headings tried.
    """

    area_mm2: float
    play_mm2: float


class Probe:
    """A vamp held to hides: what it reaches of each, looked at once.

    looked_at : the hides; beyond MOST_HIDES some of them, in the sequence of their fit ground.
    mean : mean reach over all hides, from those looked at in proportion to fit ground.
    """

    def __init__(self, hides: Sequence[Hide], vamp: Piece, rules: Rules, margin_mm: float, *, one_way: bool):
        self._asked = vamp, rules, margin_mm, one_way
        self._known: dict[str, tuple[Region, float]] = {}
        fit = [float(fit_ground(hide, rules, margin_mm).area) for hide in hides]
        order = sorted(range(len(hides)), key=lambda i: (fit[i], hides[i].hide_id))
        if len(order) > MOST_HIDES:
            order = [order[round(i)] for i in np.linspace(0, len(order) - 1, MOST_HIDES)]
        self.looked_at = tuple(hides[i] for i in order)
        found = for_all(self.look, self.looked_at)
        looked_at = fsum(fit[i] for i in order)
        factor = 0.0 if looked_at <= 0.0 else fsum(fit) / len(fit) * len(order) / looked_at
        self.mean = Reach(*(
            factor * fsum(figures) / len(found)
            for figures in zip(*((float(region.area), play) for region, play in found), strict=True)
        ))

    def look(self, hide: Hide) -> tuple[Region, float]:
        """Ground of a hide within reach, and the area of the positions open to the vamp, mm²."""
        if hide.hide_id not in self._known:
            self._known[hide.hide_id] = _covered(hide, *self._asked)
        return self._known[hide.hide_id]


def reach(hide: Hide, vamp: Piece, rules: Rules, margin_mm: float, *, one_way: bool) -> Reach:
    """What a vamp can reach of one hide, *across* and at both edges of the tolerance, at half turns too."""
    whole, play = _covered(hide, vamp, rules, margin_mm, one_way)
    return Reach(float(whole.area), play)


def _covered(hide: Hide, vamp: Piece, rules: Rules, margin_mm: float, one_way: bool) -> tuple[Region, float]:
    """Ground within reach, and the area of the positions open."""
    rough, net = (thin_outwards(outline, PIECE_THIN_MM) for outline in (vamp.cut_outline, vamp.net_outline))
    centre = np.asarray(shapely.Polygon(rough).centroid.coords[0])
    trim = _thinned(trim_ground(hide, rules, margin_mm))
    grounds: dict[tuple[bool, ...], Region] = {}
    covered, play = [], 0.0
    for headings_deg in heading_groups(hide, rules, one_way=one_way):
        areas = []
        for heading in headings_deg:
            good = tuple(
                zone.quality <= rules.net_quality
                and judge_heading(heading, zone.stretch_deg, rules, one_way) is Heading.ACROSS
                for zone in hide.zones
            )
            if good not in grounds:
                grounds[good] = _thinned(net_ground(hide, good, margin_mm))
            turned = as_ring(rotate(rough - centre, heading))
            fit = joint_fit_polygon([(grounds[good], as_ring(rotate(net - centre, heading))), (trim, turned)])
            parts = [part for part in shapely.get_parts(fit.simplify(PLAY_THIN_MM)) if part.area > 0.0]
            areas.append(fsum(part.area for part in parts))
            covered += [minkowski_sum(part, turned) for part in parts]
        play += fsum(areas) / len(areas)
    return union(covered) if covered else shapely.Polygon(), play


def heading_groups(hide: Hide, rules: Rules, *, one_way: bool) -> list[list[float]]:
    """Headings to try, degrees: of the largest fit zone across and both edges; of zones these miss, across alone."""
    groups: list[list[float]] = []
    for zone in sorted(fit_zones(hide, rules), key=lambda zone: -zone.outline.area):
        if zone.stretch_deg is None:
            continue
        across = zone.stretch_deg + 90.0
        if any(judge_heading(heading, zone.stretch_deg, rules, one_way) is Heading.ACROSS
               for group in groups for heading in group):
            continue
        offsets = (0.0,) if groups else (0.0, -rules.tolerance_deg, rules.tolerance_deg)
        turns = (0.0,) if one_way else (0.0, 180.0)
        groups.append([across + offset + turn for offset in dict.fromkeys(offsets) for turn in turns])
    return groups


def _thinned(ground: Region) -> Region:
    # Shrunk first: hairline flaws would vanish from outlines made simpler.
    return ground.buffer(-GROUND_THIN_MM, join_style="mitre").simplify(GROUND_THIN_MM)
