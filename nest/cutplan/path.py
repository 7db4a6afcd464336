"""The way of the tool around one piece: moved out by its radius, entered from the trim-off band, cut past its start."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from geometry.arcs import arc_chain, chord_ring
from geometry.offset import offset_uniform
from geometry.thinning import thin_outwards
from nest.cutplan.easing import eased
from nest.cutplan.grid import rounded, tidy
from nest.cutplan.knife import KnifeWay, past_start
from nest.cutplan.marks import CLEARANCE_MM, LEAST_MM
from nest.errors import PlanProblem
from nest.job.cutting_table import OFFSET_ERROR_MM, TRAILS_TO_TURN, CuttingTable

_ROUNDING_MM = 0.01
_KEPT_MM = 1e-3
BULGE_DECIMALS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """A mark on one of the placed pieces: the use of its layer, and its line (n, 2) as it is drawn, mm on the table."""

    index: int
    use: str
    line: np.ndarray

    def strokes(self, overcut_mm: float = 0.0) -> tuple[np.ndarray, ...]:
        """The way of the tool: marks are never overcut."""
        return (self.line,)


@dataclass(frozen=True, slots=True, eq=False)
class CutPath:
    """How one piece is cut; coordinates are the table's, mm, on the grid.

    index : which of the placed pieces.
    wanted : ring of the piece.
    ring : closed way of the tool, counter-clockwise, from where it begins; equal to `wanted` but for its first point
        when the tool has no radius and nothing is thinned.
    lead : (2, 2) way into the cut from within the trim-off band, or None.
    arcs : the same ring as arcs (`geometry.arcs`), (m, 3), where it is made of them; `ring` is their chords.
    knife : how the tool goes, where that is not along the line it cuts.
    """

    index: int
    wanted: np.ndarray
    ring: np.ndarray
    lead: np.ndarray | None = None
    arcs: np.ndarray | None = None
    knife: KnifeWay | None = None

    def whole(self, overcut_mm: float = 0.0) -> np.ndarray:
        """All that is cut (n, 2): lead-in, once around, and on past the start by `overcut_mm`."""
        lead = self.ring[:0] if self.lead is None else self.lead[:1]
        return np.vstack((lead, self.ring, self.ring[:1], past_start(self.ring, overcut_mm)))

    def strokes(self, overcut_mm: float = 0.0) -> tuple[np.ndarray, ...]:
        """The way of the tool, each time from where it is lowered to where it is raised."""
        return (self.whole(overcut_mm),) if self.knife is None else self.knife.strokes


def tool_ring(wanted: np.ndarray, table: CuttingTable) -> np.ndarray:
    """The closed way of the tool around a ring: never within it, at most thin_mm beyond the tool's radius outside."""
    if table.tool_radius_mm > 0.0:
        (moved,) = offset_uniform(wanted, table.tool_radius_mm, max(table.curve_mm or table.thin_mm, OFFSET_ERROR_MM))
        return tidy(moved)
    thinned = table.thin_mm > 0.0 and not table.curve_mm
    return tidy(thin_outwards(wanted, table.thin_mm)) if thinned else wanted


CHORD_TURN_DEG = 5.0
"""Chords of an arc turn by no more than this."""

_OUT, _OUT_ERROR, _OUTSIDE, _SAGITTA = 0.35, 0.05, 0.5, 0.05
_EASED = 0.2
_INSIDE = (0.3, 0.22, 0.14, 0.06)
"""Shares of curve_mm: the outline is moved out; arcs may leave it outwards, and inwards by the first that holds. Arcs
leave the kinks between them by the share before that.
"""


def smooth_chain(outline: np.ndarray, table: CuttingTable) -> np.ndarray | None:
    """The way of the tool around an outline as arcs, (m, 3): never within it, at most curve_mm beyond its radius.

    None where no arcs hold that.
    """
    curve, radius = table.curve_mm, table.tool_radius_mm
    (moved,) = offset_uniform(outline, radius + _OUT * curve, _OUT_ERROR * curve)
    shape = shapely.Polygon(outline)
    least = shapely.buffer(shape, radius - _KEPT_MM, quad_segs=64)
    most = shapely.buffer(shape, radius + curve, quad_segs=64)
    for share in _INSIDE:
        chain = on_grid_chain(eased(arc_chain(moved, _OUTSIDE * curve, share * curve), _EASED * curve))
        chain = chain[np.hypot(*(np.roll(chain[:, :2], -1, axis=0) - chain[:, :2]).T) > _ROUNDING_MM]
        way = shapely.Polygon(chords(chain, curve)[0])
        if way.is_valid and shapely.covers(way, least) and shapely.covers(most, way):
            return chain
    return None


def chords(chain: np.ndarray, curve_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """The ring of a chain of arcs as HP-GL and the judge have it, and which of its vertices are those of the chain."""
    ring, joints = chord_ring(chain, max(_SAGITTA * curve_mm, 1e-3), CHORD_TURN_DEG)
    return rounded(ring), joints


def placed_chain(chain: np.ndarray, apply, mirrored: bool) -> np.ndarray:
    """A chain of a piece where it lies: points moved by `apply`, counter-clockwise again if that mirrors it."""
    moved = np.column_stack((apply(chain[:, :2]), chain[:, 2]))
    if mirrored:
        # Mirrored and run backwards: the bulge of each edge stays, and stands at its other end.
        moved = np.column_stack((moved[::-1, :2], np.roll(moved[::-1, 2], -1)))
    return on_grid_chain(moved)


def on_grid_chain(chain: np.ndarray) -> np.ndarray:
    """A chain with coordinates on the grid, and bulges to six decimals."""
    return np.column_stack((rounded(chain[:, :2]), np.round(chain[:, 2], BULGE_DECIMALS) + 0.0))


def check_room(wanted: Sequence[np.ndarray], table: CuttingTable, material=None) -> None:
    """Refuse a tool that would cut into neighbours or leave the material (a shapely region, or None).

    A plan made for this table leaves the room; another may not.

    Raises
    ------
    PlanProblem
        If two pieces lie nearer than twice what the tool's way may lie outside its outline, or one nearer than once
        that to the edge of the material.
    """
    reach = table.reach_mm
    if reach == 0.0 or not len(wanted):
        return
    shapes = np.array([shapely.Polygon(ring) for ring in wanted], dtype=object)
    apart, off = _least_apart(shapes, 2.0 * reach), np.inf if material is None else _least_off(shapes, material)
    for least, needed, where in ((apart, 2.0 * reach, "between pieces"), (off, reach, "to the edge of the material")):
        if least < needed - _ROUNDING_MM:
            raise PlanProblem(
                f"{_tool_words(table)} needs {needed:g} mm {where}, found {least:.2f} mm; plan again for this table, "
                f"or reduce tool_radius_mm or {'curve_mm' if table.curve_mm else 'thin_mm'}"
            )


def _tool_words(table: CuttingTable) -> str:
    beyond = f"curves of {table.curve_mm:g} mm" if table.curve_mm else f"thinning of {table.thin_mm:g} mm"
    return f"a tool of radius {table.tool_radius_mm:g} mm with {beyond}"


@dataclass(frozen=True, slots=True)
class Kept:
    """Least distance of cut lines, as the table gets them, from each other and from the edge of the material, mm.

    Inf where there is nothing to be near to.
    """

    apart_mm: float = np.inf
    off_mm: float = np.inf


def kept_by(rings: Sequence[np.ndarray], within_mm: float, material=None) -> Kept:
    """What closed ways keep, where it is less than `within_mm` of each other."""
    shapes = np.array([shapely.Polygon(ring) for ring in rings], dtype=object)
    off = np.inf if material is None or not len(shapes) else _least_off(shapes, material)
    return Kept(_least_apart(shapes, within_mm), off)


def promised(asked_mm: float, kept_mm: float) -> float:
    """A distance asked for, as far as it is kept: whole hundredths of a mm below it."""
    return asked_mm if kept_mm >= asked_mm - _ROUNDING_MM else max(0.0, float(np.floor(kept_mm * 100.0)) / 100.0)


def _least_apart(shapes: np.ndarray, within_mm: float) -> float:
    if len(shapes) < 2:
        return np.inf
    first, second = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=within_mm)
    close = first < second
    return float(shapely.distance(shapes[first[close]], shapes[second[close]]).min(initial=np.inf))


def _least_off(shapes: np.ndarray, material) -> float:
    """Least distance to the edge of the material, its holes included; below zero for a shape that reaches over it."""
    edge = shapely.boundary(material)
    least = float(shapely.distance(shapes, edge).min())
    over = shapes[~shapely.covers(material, shapes)]
    if len(over):
        beyond = shapely.get_coordinates(shapely.difference(over, material))
        least = -float(shapely.distance(shapely.points(beyond), edge).max())
    return least


def leads(ring: np.ndarray, net: np.ndarray, table: CuttingTable, taken=None) -> list[np.ndarray | None]:
    """For each vertex of the tool's way, the lead-in that ends there, or None where the band has no room.

    A lead-in runs slantwise in the sense of the cut, else straight from within; what the tool takes stays
    `CLEARANCE_MM` off the net outline, and its middle within the way. A blade that trails may come down to any side of
    its pivot: it stays within the band too, and has room to turn. None crosses `taken`, a shapely geometry.
    """
    if table.lead_in_mm <= 0.0:
        return [None] * len(ring)
    shape, kept = shapely.Polygon(ring), shapely.Polygon(net)
    shapely.prepare(shape)
    shapely.prepare(kept)
    ways = shapely.get_coordinates(shapely.shortest_line(shapely.points(ring), kept)).reshape(-1, 2, 2)
    away = np.hypot(*(ways[:, 1] - ways[:, 0]).T)
    inward = (ways[:, 1] - ways[:, 0]) / np.maximum(away, 1e-9)[:, None]
    ahead = np.roll(ring, -1, axis=0) - ring
    ahead = ahead / np.hypot(*ahead.T)[:, None]
    trail = table.knife_offset_mm
    clear = CLEARANCE_MM + table.tool_radius_mm + 2.0 * trail
    least = max(LEAST_MM, TRAILS_TO_TURN * trail) + table.tool_radius_mm
    edge = shapely.boundary(shape)
    length = np.minimum(table.lead_in_mm + table.tool_radius_mm, away - clear)
    slanted = inward - ahead
    slanted = slanted / np.maximum(np.hypot(*slanted.T), 1e-9)[:, None]
    found: list[np.ndarray | None] = [None] * len(ring)
    for way in (inward, slanted):
        tips = ring + length[:, None] * way
        lines = shapely.linestrings(np.stack((tips, ring), axis=1))
        fits = (length >= least - 1e-6) & shapely.covers(shape, lines)
        fits &= shapely.distance(lines, kept) >= clear - 1e-6
        if trail > 0.0:
            fits &= shapely.distance(shapely.points(tips - trail * way), edge) >= trail
        if taken is not None:
            fits &= ~shapely.intersects(lines, taken)
        for i in np.flatnonzero(fits):
            found[i] = rounded(np.stack((tips[i], ring[i])))
    return found


def begun_at(ring: np.ndarray, index: int) -> np.ndarray:
    """The ring from another of its vertices."""
    return np.roll(ring, -index, axis=0)
