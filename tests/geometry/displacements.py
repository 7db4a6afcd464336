"""Invented vamp outlines and displacements of one about another, for holding penetration depths against shapely."""

from typing import NamedTuple

import numpy as np
import shapely

from geometry.curves import closed_bspline
from geometry.nofit import no_fit_polygon
from geometry.overlap import depth_inside, depth_outside, inside
from geometry.pose import mirror, rotate
from geometry.precision import as_ring
from geometry.tables import build_table, join_tables

_HALF = np.array([(128, 20), (108, 58), (64, 84), (8, 98), (-50, 110), (-92, 104), (-104, 78), (-82, 56), (-40, 26)])
"""One half of an invented vamp: toe, side, wing, throat; mm."""


ON_EDGE_MM = 1e-9
"""Nearer to an edge than this, rounding says on which side a point lies."""


def vamp_ring(rng: np.random.Generator, grid: float = 0.001) -> np.ndarray:
    """A vamp-like ring about 230 by 220 mm: round toe, two uneven wings, a hollow throat; corners on `grid` mm.

    A coarse grid makes many coordinates fall together.
    """
    upper = _HALF + rng.uniform(-8.0, 8.0, _HALF.shape)
    lower = (_HALF + rng.uniform(-8.0, 8.0, _HALF.shape))[::-1] * (1.0, -1.0)
    outline = closed_bspline(np.vstack((upper, lower)), chord_error=0.4)
    return as_ring(np.round(outline / grid) * grid)


class Pair(NamedTuple):
    """A fixed and a moving ring, their no-fit polygon and its table."""

    fixed: np.ndarray
    moving: np.ndarray
    no_fit: shapely.Geometry
    tables: tuple

    @property
    def size(self) -> float:
        """Larger side of the fixed ring's bounding box, mm."""
        return float(np.ptp(self.fixed, axis=0).max())

    def depths(self, spots: np.ndarray) -> np.ndarray:
        """(n,) penetration depths by table at displacements (n, 2); mm."""
        return np.array([depth_inside(self.tables, 0, x, y) for x, y in spots])

    def gaps(self, spots: np.ndarray) -> np.ndarray:
        """(n,) distances of the outlines by a table of the ground outside, at displacements within the no-fit's box."""
        tables = join_tables([build_table(self.no_fit, cells=32, outside=True)])
        return np.array([depth_outside(tables, 0, x, y) for x, y in spots])

    def apart(self, spots: np.ndarray) -> np.ndarray:
        """(n,) distances of the outlines by shapely, from the outlines alone, mm."""
        rings = self.moving[None, :, :] + spots[:, None, :]
        return shapely.distance(shapely.Polygon(self.fixed), shapely.polygons(rings))

    def boxed(self, spots: np.ndarray) -> np.ndarray:
        """The displacements within the no-fit polygon's bounding box, where a table tells true distances."""
        x0, y0, x1, y1 = self.no_fit.bounds
        return spots[((spots >= (x0, y0)) & (spots <= (x1, y1))).all(axis=1)]

    def told_inside(self, spots: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Whether displacements lie inside the no-fit polygon: by table, and by shapely; those on its edge left out."""
        points = shapely.points(spots)
        clear = shapely.distance(self.no_fit.boundary, points) > ON_EDGE_MM
        told = np.array([inside(self.tables, 0, x, y) for x, y in spots[clear]], dtype=bool)
        return told, shapely.contains(self.no_fit, points[clear])

    def shared(self, spots: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(n,) area that both outlines share by shapely, mm², and its thickness 2 × area ÷ perimeter, mm."""
        rings = self.moving[None, :, :] + spots[:, None, :]
        common = shapely.intersection(shapely.Polygon(self.fixed), shapely.polygons(rings))
        area, around = shapely.area(common), shapely.length(common)
        return area, np.divide(2.0 * area, around, out=np.zeros_like(area), where=area > 0.0)


def vamp_pair(rng: np.random.Generator, cells: int = 32) -> Pair:
    """Two vamps at a relative angle of a few degrees or half a turn, one of them sometimes mirrored."""
    grid = float(rng.choice((1.0, 0.25, 0.001)))
    fixed, moving = vamp_ring(rng, grid), vamp_ring(rng, grid)
    if rng.random() < 0.5:
        moving = mirror(moving)
    turn = float(rng.choice((0.0, 180.0, rng.uniform(-10.0, 10.0), 180.0 + rng.uniform(-10.0, 10.0))))
    moving = as_ring(rotate(moving, turn))
    no_fit = no_fit_polygon(fixed, moving)
    return Pair(fixed, moving, no_fit, join_tables([build_table(no_fit, cells=cells)]))


def random_spots(pair: Pair, count: int, rng: np.random.Generator) -> np.ndarray:
    """Displacements all over the no-fit polygon's box and a little beyond."""
    x0, y0, x1, y1 = pair.no_fit.bounds
    return rng.uniform((x0 - 10.0, y0 - 10.0), (x1 + 10.0, y1 + 10.0), (count, 2))


def contact_spots(pair: Pair, count: int, rng: np.random.Generator) -> np.ndarray:
    """Displacements at which outlines meet to the last bit, or as near as arithmetic gets.

    In turn: corners of the no-fit polygon; points along its edges; a corner of one ring upon a corner of the
    other; a corner upon an edge; the abscissa of one no-fit corner with the ordinate of another, so that rays
    run exactly through corners.
    """
    corner = shapely.get_coordinates(pair.no_fit)
    kinds = np.array_split(np.arange(count), 5)
    pick = [rng.integers(len(corner), size=len(kind)) for kind in kinds]
    a = pair.fixed[rng.integers(len(pair.fixed), size=count)]
    b = pair.moving[rng.integers(len(pair.moving), size=count)]
    start = rng.integers(len(pair.fixed), size=count)
    share = rng.choice((0.25, 0.5, 0.75, 0.1, 1.0 / 3.0), size=(count, 1))
    upon = pair.fixed[start] + share * (np.roll(pair.fixed, -1, axis=0)[start] - pair.fixed[start])
    along = pair.no_fit.boundary.interpolate(rng.uniform(0.0, 1.0, len(kinds[1])), normalized=True)
    return np.concatenate((
        corner[pick[0]],
        shapely.get_coordinates(along),
        (a - b)[kinds[2]],
        (upon - b)[kinds[3]],
        np.column_stack((corner[pick[4], 0], corner[rng.permutation(pick[4]), 1])),
    ))
