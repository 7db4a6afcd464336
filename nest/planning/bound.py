"""How far a layout can at most be from perfect: a proved bound of the cutting yield, and a reference beside it.

Hides. The net outline of a piece lies on fit ground G; it holds a disc of radius ρ about a point c, and
no point of it is further than R from c. So c lies in G shrunk by ρ, and the net outline within that grown
by R, and within G. No point of the cut outline is further than d from the net outline: so the cut outline
lies within the above grown by d, and within the ground that the outline may use. This holds at every
heading, in steps or not. What all pieces can reach is at most that; and if they stand a gap g apart, each grown by
g/2 still lies in what they reach, grown by g/2, without overlap. Discs are drawn a little too large where they grow and
a little too small where they shrink, so that chords never make the bound too tight.

Rolls. The pieces, each grown by g/2, lie without overlap in the strip grown by g/2: that is a least length.

The reference is the same ground, or the usable strip, filled at the density of each piece's best lattice: a double
lattice, or by translations alone where the material is one-way. It is no bound: a mixture of sizes may interlock more
densely than one size alone.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import fsum

import numpy as np
import shapely

from geometry.lattice import densest_double_lattice, densest_translation_lattice
from geometry.polygon import area, polygon
from geometry.precision import Region
from geometry.processors import for_all
from nest.job.job import Settings
from nest.pieces.piece import Foot, Piece
from nest.pieces.quantities import CutLine
from nest.plan import Bound, Lay
from nest.rules import Rules
from nest.stock.ground import fit_ground, trim_ground
from nest.stock.material import Hide, Roll

SEGMENTS = 16
OUTWARDS = 1.001 / np.cos(np.pi / (4 * SEGMENTS))
"""A disc of chords, and what a buffer may fall short of its distance, made up for."""

Density = Callable[[Piece, float, bool], float]
"""Density of the best lattice of a piece under a gap; without half turns where the last is true."""


def lattice_density(asked: Iterable[tuple[Piece, float, bool]] = ()) -> Density:
    """A function that works the density of each outline out once; both feet of a size share one.

    asked : arguments of calls to come, worked out now, side by side.
    """
    known: dict[tuple, float] = {}

    def key(piece: Piece, gap_mm: float, one_way: bool) -> tuple:
        return piece.style, piece.size, piece.role, gap_mm, one_way

    def density(piece: Piece, gap_mm: float, one_way: bool) -> float:
        if (mine := key(piece, gap_mm, one_way)) not in known:
            densest = densest_translation_lattice if one_way else densest_double_lattice
            known[mine] = float(densest(piece.cut_outline, gap_mm).density)
        return known[mine]

    for_all(lambda one: density(*one), {key(*one): one for one in asked}.values())
    return density


def reachable(hide: Hide, pieces: Sequence[Piece], rules: Rules, margin_mm: float) -> Region:
    """Ground of a hide within reach of these pieces of one style, at any heading; never too little."""
    discs = [_disc(piece) for piece in pieces]
    inside, around, band = min(d[0] for d in discs), max(d[1] for d in discs), max(d[2] for d in discs)
    fit = fit_ground(hide, rules, margin_mm)
    centres = fit.buffer(-inside, quad_segs=SEGMENTS)
    net = shapely.intersection(centres.buffer(around * OUTWARDS, quad_segs=SEGMENTS), fit)
    return shapely.intersection(net.buffer(band * OUTWARDS, quad_segs=SEGMENTS), trim_ground(hide, rules, margin_mm))


def _disc(piece: Piece) -> tuple[float, float, float]:
    """Radius of a disc within the net outline, of one about it, both about one point; width of the band around it."""
    net, cut = polygon(piece.net_outline), polygon(piece.cut_outline)
    centre = shapely.Point(shapely.maximum_inscribed_circle(net, 1.0).coords[0])
    inside = float(shapely.distance(centre, net.exterior)) if net.contains(centre) else 0.0
    around = float(shapely.distance(centre, shapely.points(piece.net_outline)).max())
    band = max(float(shapely.hausdorff_distance(cut.exterior, net.exterior)), 0.1)
    while not net.buffer(band, quad_segs=SEGMENTS).covers(cut):
        band *= 1.1
    return inside, around, band


def demand_of(pieces: Iterable[Piece], quantities: Iterable[CutLine]) -> dict[str, int]:
    """Pieces wanted by piece id; of an outline that serves both feet two a pair."""
    pairs = {(line.style, line.size): line.pairs_to_cut for line in quantities}
    return {
        piece.piece_id: pairs.get((piece.style, piece.size), 0) * (2 if piece.foot is Foot.EITHER else 1)
        for piece in pieces
    }


def hide_bound(
    hide: Hide, by_style: Mapping[str, Sequence[Piece]], demand: Mapping[str, int], rules: Mapping[str, Rules],
    settings: Settings, density: Density, *, one_way: bool,
) -> Bound:
    """Bound and reference of one hide.

    Parameters
    ----------
    by_style : vamps of each style that may lie on the hide
    demand : pieces wanted by piece id, for the mix of densities
    """
    reach = shapely.union_all([
        reachable(hide, pieces, rules[style], settings.edge_room_mm) for style, pieces in by_style.items()
    ])
    gap = settings.hide_apart_mm
    room = reach.area
    pieces = [piece for group in by_style.values() for piece in group]
    if gap > 0.0 and pieces:
        grown = reach.buffer(0.5 * gap * OUTWARDS, quad_segs=SEGMENTS).area
        room = min(room, grown * max(area(piece.cut_outline) / _grown_area(piece, gap) for piece in pieces))
    whole = hide.outline.area
    dense = _mixed(pieces, demand, gap, one_way, density)
    return Bound(hide.hide_id, min(1.0, room / whole), reach.area * dense / whole)


def lay_bound(lay: Lay, roll: Roll, pieces: Mapping[str, Piece], settings: Settings, density: Density) -> Bound:
    """Bound and reference of one lay: what the yield would be at the least length that its pieces may need."""
    placed = [pieces[one.piece_id] for one in lay.placed]
    gap, width = settings.roll_apart_mm, roll.usable_width_mm
    rough = fsum(area(piece.cut_outline) for piece in placed)
    grown = fsum(_grown_area(piece, gap) for piece in placed)
    least = max(grown / (width + gap) - gap, rough / width)
    dense = fsum(area(piece.cut_outline) / density(piece, gap, roll.one_way) for piece in placed) / width

    def share(length: float) -> float:
        return min(1.0, rough / ((length + 2.0 * roll.end_loss_mm) * roll.width_mm))

    return Bound(lay.lay_id, share(least), share(dense))


def _grown_area(piece: Piece, gap: float) -> float:
    """Area of the cut outline grown by half the gap, never too large."""
    return float(polygon(piece.cut_outline).buffer(0.5 * gap, quad_segs=SEGMENTS).area)


def _mixed(pieces: Iterable[Piece], demand: Mapping[str, int], gap: float, one_way: bool, density: Density) -> float:
    """Density of a mix: rough area wanted ÷ ground it would take, each piece in its own lattice."""
    rough, ground = 0.0, 0.0
    for piece in pieces:
        wanted = demand.get(piece.piece_id, 0) * area(piece.cut_outline)
        rough += wanted
        ground += wanted / density(piece, gap, one_way) if wanted else 0.0
    return rough / ground if ground else 0.0
