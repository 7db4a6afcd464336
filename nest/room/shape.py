"""One piece turned about a point of its own: what all headings of a range share of it, and what they sweep."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import ceil, log, pi, sqrt

import numpy as np
import shapely

from geometry.polygon import area, polygon, rings_of
from geometry.pose import Pose, rotate
from geometry.precision import COORDINATE_GRID_MM
from geometry.turning import reach_of, shared_by_turns, swept_by_turns
from nest.pieces.piece import Piece
from nest.rules import ZONE_SHARE

LENS = 2.0 * pi / 3.0 - 0.5 * sqrt(3.0)
"""Area that two discs of radius 1 share, each with its centre on the edge of the other (elementary)."""

RUNG = 1.2
"""Half widths of ranges are rounded up to a power of this."""


@dataclass(frozen=True, slots=True, eq=False)
class Turned:
    """Rings of a piece about its pivot at heading 0, shared by all turns of a range; None where nothing is shared.

    deep : points of the net outline so far within it that wrong ground under one of them, with a disc of that
        radius around it, is more than a piece may have. swept : what the net outline sweeps.
    """

    rough: np.ndarray | None
    net: np.ndarray | None
    deep: np.ndarray | None
    swept: np.ndarray


@dataclass(frozen=True, eq=False)
class Shape:
    """A piece with its pivot at the origin: the middle of the smallest circle around it, so that turns move it least.

    disc_mm : radius of discs within `Turned.deep`'s meaning; what may lie on wrong ground is less than two of them
        share, each with its centre on the other.
    """

    piece: Piece
    pivot: np.ndarray
    rough: np.ndarray
    net: np.ndarray
    deep: np.ndarray | None
    reach_mm: float
    disc_mm: float
    known: dict[float, Turned] = field(default_factory=dict)

    @classmethod
    def of(cls, piece: Piece) -> "Shape":
        """The piece about its pivot."""
        circle = shapely.minimum_bounding_circle(polygon(piece.cut_outline))
        pivot = shapely.get_coordinates(circle.centroid)[0]
        rough, net = piece.cut_outline - pivot, piece.net_outline - pivot
        disc = 1.001 * sqrt(ZONE_SHARE * area(net) / LENS)
        within = rings_of(polygon(net).buffer(-disc))
        return cls(piece, pivot, rough, net, within[0] if within else None, reach_of(rough), disc)

    def at(self, half_deg: float) -> Turned:
        """What turns of up to `half_deg` to either side share; of a little more, so that few are worked out."""
        if half_deg > 0.0:
            half_deg = RUNG ** ceil(log(half_deg, RUNG) - 1e-9)
        if half_deg not in self.known:
            self.known[half_deg] = Turned(
                shared_by_turns(self.rough, half_deg), shared_by_turns(self.net, half_deg),
                None if self.deep is None else shared_by_turns(self.deep, half_deg), swept_by_turns(self.net, half_deg),
            )
        return self.known[half_deg]

    def radii_mm(self) -> tuple[float, float]:
        """Radii of the discs about the pivot that lie within the rough and the net outline; 0 if it lies outside."""
        pivot = shapely.Point(0.0, 0.0)
        rough, net = (
            float(shapely.distance(shape.exterior, pivot)) if shape.contains(pivot) else 0.0
            for shape in (polygon(self.rough), polygon(self.net))
        )
        return rough, net

    def pose(self, at: Iterable[float], heading_deg: float) -> Pose:
        """The pose, on the coordinate grid, that has the pivot at this (x, y)."""
        x, y = at
        heading = round(heading_deg, 6) % 360.0
        dx, dy = rotate(self.pivot[None, :], heading)[0]
        grid = COORDINATE_GRID_MM
        return Pose(round(round((x - dx) / grid) * grid, 4), round(round((y - dy) / grid) * grid, 4), heading)
