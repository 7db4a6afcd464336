"""Fault waste: ground of a hide that no piece could use because of its flaws and unfit zones.

By the inner-fit test. A position is valid where the rough outline lies on ground it may be cut from and
the net outline on ground good enough for it; the ground within reach is all that the rough
outline covers at any valid position. Reach is worked out twice, as the hide is and as if it had no faults:
its flaws gone, its unfit zones (too low a class for the net area, or no zone at all) fit, with stretch in any
direction. The difference is lost to faults; what was cut from it after all is taken off, so that
fault waste is ground that was really left.

To be affordable, not every piece is tried at every heading:

* of each style on this leather the smallest vamp the plan holds, one foot standing for both: a larger one
  reaches less, but for the corners that only another outline fills;
* as few headings as needed for every fit zone to allow one, the one that most fit ground allows first, and
  their half turns unless the leather is one-way;
* outlines of hide and piece thinned to SIMPLIFY_MM.

Both reaches are too small by what this leaves out, their difference changes little: on three invented
sides of 1.9 m² with zones 20° apart it came to 10.6 to 11.2 % of the hide in 0.2 to 0.4 s, to 10.2 to 10.9 %
with eighteen headings. The directions of fit zones bind both times: ground lost where two directions
meet is edge waste.
"""

from collections.abc import Callable, Iterable
from math import fsum

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from geometry.nofit import inner_fit_polygon
from geometry.polygon import area
from geometry.pose import rotate
from geometry.precision import Region, as_ring
from nest.pieces.piece import Piece, Role
from nest.plan import Plan
from nest.rules import Heading, Rules, judge_heading
from nest.stock.ground import fit_zones, joined_zones, trim_ground, usable_ground
from nest.stock.material import Hide, Zone

SIMPLIFY_MM = 0.5

InnerFit = Callable[[Region, np.ndarray], Region]
"""Positions at which a ring lies within a region, as `geometry.nofit.inner_fit_polygon` gives them."""


def lost_to_faults(plan: Plan, hide: Hide, inner_fit: InnerFit = inner_fit_polygon) -> Region:
    """Ground of `hide` that the plan's styles could reach if it had no faults, and cannot as it is."""
    one_way = any(leather.one_way for leather in plan.leathers if leather.name == hide.leather)
    usable = shapely.simplify(usable_ground(hide, plan.settings.edge_room_mm), SIMPLIFY_MM)
    as_is, faultless = [], []
    for style in plan.styles:
        vamps = [piece for piece in plan.pieces if piece.style == style.name and piece.role is Role.VAMP]
        if style.leather == hide.leather and vamps:
            smallest = min(vamps, key=lambda piece: area(piece.cut_outline))
            real, without = _reaches(hide, usable, smallest, style.rules, one_way, inner_fit)
            as_is += real
            faultless += without
    return shapely.difference(shapely.union_all(faultless), shapely.union_all(as_is))


def fault_mm2(lost: Region, cuts: Iterable[np.ndarray]) -> float:
    """Area of the ground `lost` to faults that none of the placed outlines `cuts` covers, mm²."""
    return float(shapely.difference(lost, shapely.union_all([Polygon(ring) for ring in cuts])).area)


def _reaches(
    hide: Hide, usable: Region, piece: Piece, rules: Rules, one_way: bool, inner_fit: InnerFit
) -> tuple[list[Region], list[Region]]:
    """Ground within reach of one piece: as the hide is, and without its faults; one region for each heading."""
    fit = fit_zones(hide, rules)
    flaws = shapely.union_all([flaw.outline for flaw in hide.flaws])
    off_limits = shapely.difference(hide.outline, trim_ground(hide, rules))
    as_is, faultless = [], []
    for heading in headings(fit or hide.zones, rules, one_way):
        cut, net = (_ring(ring, heading) for ring in (piece.cut_outline, piece.net_outline))
        allowed: list[Region] = []
        against: list[Region] = []
        for zone in fit:
            right = judge_heading(heading, zone.stretch_deg, rules, one_way) is not Heading.WRONG
            (allowed if right else against).append(zone.outline)
        good = shapely.difference(joined_zones(allowed), shapely.union_all([flaws, *against]))
        free = at = _fit(usable, cut, inner_fit)
        # Where the cut outline lies within the usable ground, so does the net outline.
        if against:
            free = shapely.intersection(
                free, _fit(shapely.difference(usable, shapely.union_all(against)), net, inner_fit)
            )
        if not off_limits.is_empty:
            at = _fit(shapely.difference(usable, off_limits), cut, inner_fit)
        at = shapely.intersection(at, _fit(shapely.intersection(usable, good), net, inner_fit))
        as_is.append(_covered(at, cut, inner_fit))
        faultless.append(_covered(free, cut, inner_fit))
    return as_is, faultless


def headings(zones: Iterable[Zone], rules: Rules, one_way: bool) -> tuple[float, ...]:
    """Few headings of which every zone of known stretch allows one; that which most ground allows stands first."""
    left = [(zone.outline.area, zone.stretch_deg) for zone in zones if zone.stretch_deg is not None]
    chosen = []
    while left:
        candidates = [
            (stretch + 90.0 + turn * rules.tolerance_deg) % 360.0 for turn in (0.0, 1.0, -1.0) for _, stretch in left
        ]
        served = [
            [one for one in left if judge_heading(heading, one[1], rules, one_way) is not Heading.WRONG]
            for heading in candidates
        ]
        best = max(range(len(candidates)), key=lambda i: fsum(area for area, _ in served[i]))
        chosen.append(candidates[best])
        left = [one for one in left if one not in served[best]]
    turns = (0.0,) if one_way else (0.0, 180.0)
    return tuple((one + turn) % 360.0 for one in chosen or [0.0] for turn in turns)


def _covered(at: Region, cut: np.ndarray, inner_fit: InnerFit) -> Region:
    """Ground that `cut` covers at the positions `at`."""
    at = _regions(at)
    if at.is_empty:
        return at
    # A point is covered from some position unless the piece, turned about by a half turn, fits around it
    # beside all positions: what is not in reach is again an inner fit.
    extent = float(np.ptp(cut, axis=0).sum()) + float(np.abs(cut).max())
    window = shapely.box(*at.bounds).buffer(extent, join_style="mitre")
    beside = shapely.difference(window.buffer(2.0 * extent, join_style="mitre"), at)
    return shapely.difference(window, inner_fit(beside, as_ring(-cut)))


def _fit(ground: Region, ring: np.ndarray, inner_fit: InnerFit) -> Region:
    ground = _regions(ground)
    return ground if ground.is_empty else inner_fit(shapely.simplify(ground, SIMPLIFY_MM), ring)


def _ring(ring: np.ndarray, heading: float) -> np.ndarray:
    thin = shapely.simplify(Polygon(rotate(ring, heading)), SIMPLIFY_MM)
    return as_ring(shapely.get_coordinates(thin.exterior))


def _regions(ground: Region) -> MultiPolygon:
    """The polygons of a ground without those too thin to hold anything."""
    parts = shapely.get_parts(ground)
    return shapely.multipolygons(parts[shapely.area(parts) > SIMPLIFY_MM**2])
