"""How densely one outline packs in a lattice: by translations alone, or together with its half-turned copies.

The densest lattice among all is sought for any simple outline, hollow ones too; see `densest_double_lattice`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from geometry._polish import polish
from geometry._rows import scan_rows
from geometry.nofit import no_fit_polygon
from geometry.polygon import area, centroid, why_not_simple
from geometry.precision import GeometryError, as_ring
from geometry.tables import Tables, build_table, join_tables

SAMPLES_ACROSS = 20
"""First translations are tried at all corners of the no-fit polygon, and on its edges this many to √area."""

STARTS = 12
"""This many of the best samples are searched further."""

NARROW_STEPS, POLISH_ROUNDS = 6, 80
TABLE_CELLS = 32

RELATIVE_TOLERANCE = 1e-8
"""Outlines may reach this share of √area into each other: the grid of no-fit polygons, 2e-6 mm for a vamp."""


@dataclass(frozen=True, slots=True)
class Lattice:
    """A packing by the translations k `u` + j `v` for all whole k, j; mm.

    One cell, the parallelogram of `u` and `v`, holds one outline; or two, the second turned half round about
    the origin of its coordinates and then moved by `half_turn_offset`.
    """

    density: float
    """Area of the outlines in a cell ÷ area of the cell; the gap counts as waste."""
    u: tuple[float, float]
    v: tuple[float, float]
    half_turn_offset: tuple[float, float] | None
    cell_area: float
    """Determinant of `u` and `v`, mm²."""

    def outlines(self, ring: np.ndarray, columns: int, rows: int) -> list[np.ndarray]:
        """Return `ring` and its half-turned copies in `columns` by `rows` cells, in rows along `u`."""
        ring = np.asarray(ring)
        cell = [ring] if self.half_turn_offset is None else [ring, np.array(self.half_turn_offset) - ring]
        u, v = np.array(self.u), np.array(self.v)
        return [outline + k * u + j * v for j in range(rows) for k in range(columns) for outline in cell]


def densest_translation_lattice(ring: np.ndarray, gap: float = 0.0) -> Lattice:
    """Return the densest lattice of `ring` by translations alone, outlines at least `gap` mm apart.

    Method, accuracy and errors as `densest_double_lattice`.
    """
    return _densest(ring, gap, double=False)


def densest_double_lattice(ring: np.ndarray, gap: float = 0.0) -> Lattice:
    """Return the densest double lattice of `ring`, outlines at least `gap` mm apart.

    A double lattice is the union of two lattice packings, one of the outline and one of its half-turned copy
    (Kuperberg & Kuperberg 1990). It is at least as dense as the translation lattice for convex outlines;
    a hollow outline may do better without half turns.

    Let N and M be the no-fit polygons of the outline with itself and with its half-turned copy. A lattice (u, v)
    with the copy at c packs when no k u + j v lies inside N and no c + k u + j v inside M. The first translation u is
    sampled along the outline of N: some pair of neighbours the same way round touches. With u given the rows are
    fixed, and the best v and c put them together at corners of the ground they leave free; all pairs of such
    corners are tried. The best few u are narrowed down by golden section, and at last all six numbers move
    together by sequential linear programming. What is returned packs, checked against N and M, to 1e-8 of
    √area. It is a local optimum: that it is the best of all is not proved. Places into which the outline fits
    without any play are not found. O(s k (n + m)²) for s samples, n and m corners of N and M, k of their
    neighbours in a row.

    Parameters
    ----------
    ring : (n, 2) array
        Simple outline, mm; any position and size.
    gap : float
        Least distance between outlines, mm; round corners keep up to 0.5 % of it more.

    Raises
    ------
    GeometryError
        If the outline crosses itself.

    References
    ----------
    G. Kuperberg, W. Kuperberg (1990), Double-lattice packings of convex bodies in the plane,
    doi:10.1007/BF02187800.
    D. M. Mount (1991), The densest double-lattice packing of a convex polygon, DIMACS Series 6, 245–262.
    """
    return _densest(ring, gap, double=True)


def _densest(ring: np.ndarray, gap: float, *, double: bool) -> Lattice:
    ring = as_ring(ring)
    return _worked_out(ring.tobytes(), float(gap), double)


@lru_cache(maxsize=4096)
def _worked_out(coordinates: bytes, gap: float, double: bool) -> Lattice:
    """The densest lattice; kept, for the estimate, the bound and the account of one order ask for the same outlines."""
    middle, local, rounder, same, table = _with_itself(coordinates, gap)
    turned = table
    if double:
        turned = _table(_rounded(no_fit_polygon(local, -local, gap), rounder))
    found = _search(same, table, turned, double)
    u, v, c = np.linalg.solve(rounder, found[1:].reshape(3, 2).T).T
    u, v = _shortest_basis(u, v)
    cell = float(u[0] * v[1] - u[1] * v[0])
    offset = None
    if double:
        x, y = _nearest_to_origin(c, u, v) + 2.0 * middle
        offset = float(x), float(y)
    density = (2.0 if double else 1.0) * area(np.frombuffer(coordinates).reshape(-1, 2)) / cell
    return Lattice(density, (float(u[0]), float(u[1])), (float(v[0]), float(v[1])), offset, cell)


@lru_cache(maxsize=16)
def _with_itself(
    coordinates: bytes, gap: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, shapely.Geometry, Tables]:
    """What both lattices of an outline begin with: they are asked for one after the other.

    Its centroid, the ring about it, the map that makes it round, and its no-fit polygon with itself so mapped, with
    the table of that.
    """
    ring = np.frombuffer(coordinates).reshape(-1, 2)
    crossing = why_not_simple(ring)
    if crossing:
        raise GeometryError(f"expected an outline that does not cross or touch itself, found {crossing}")
    middle = centroid(ring)
    local = ring - middle
    # Densities do not change with an affine map: search where the outline is as round as can be, its area 1.
    rounder = _to_round(local)
    same = _rounded(no_fit_polygon(local, local, gap), rounder)
    return middle, local, rounder, same, _table(same)


def _rounded(shape: shapely.Geometry, rounder: np.ndarray) -> shapely.Geometry:
    return shapely.orient_polygons(shapely.transform(shape, lambda points: points @ rounder.T))


def _to_round(ring: np.ndarray) -> np.ndarray:
    """The linear map, (2, 2), that makes the second moment of area about the origin alike all round, and area 1."""
    after = np.roll(ring, -1, axis=0)
    weight = (ring[:, 0] * after[:, 1] - ring[:, 1] * after[:, 0])[:, None, None]
    both = ring + after
    squares = sum(p[:, :, None] * p[:, None, :] for p in (ring, after, both))
    moment = (weight * squares).sum(axis=0)
    lower = np.linalg.cholesky(moment)
    return np.asarray(np.linalg.inv(lower) * np.sqrt(np.linalg.det(lower) / area(ring)))


def _table(shape: shapely.Geometry) -> Tables:
    return join_tables([build_table(shape, cells=TABLE_CELLS)])


def _search(shape: shapely.Geometry, same: Tables, turned: Tables, double: bool) -> np.ndarray:
    """Sample u along the outline of `shape`, narrow the best down, polish; (det, u, v, c) as a (7,) array."""
    least = 2.0 if double else 1.0
    starts = []
    for outline in shapely.get_rings(shapely.segmentize(shape, 1.0 / SAMPLES_ACROSS)):
        here = np.ascontiguousarray(shapely.get_coordinates(outline)[:-1])
        # N is its own half-turned copy, and so is a lattice: half the plane is enough.
        half = (here[:, 1] > 0.0) | ((here[:, 1] == 0.0) & (here[:, 0] > 0.0))
        value = np.full(len(here), np.inf)
        value[half] = scan_rows(same, turned, double, here[half], least, RELATIVE_TOLERANCE)[:, 0]
        dip = (value <= np.roll(value, 1)) & (value <= np.roll(value, -1)) & np.isfinite(value)
        before, after = np.roll(here, 1, axis=0), np.roll(here, -1, axis=0)
        starts += [(value[i], i, before[i], here[i], after[i]) for i in np.flatnonzero(dip)]
    starts.sort(key=lambda start: start[:2])
    lines = np.array([points for _, _, *points in starts[:STARTS]])
    narrowed = _narrow(lambda u: scan_rows(same, turned, double, u, least, RELATIVE_TOLERANCE), lines)
    polished = [polish(same, turned, double, start, 0.02, RELATIVE_TOLERANCE, POLISH_ROUNDS) for start in narrowed]
    return min(polished, key=lambda lattice: lattice[0])


def _narrow(best_with: Callable[[np.ndarray], np.ndarray], lines: np.ndarray) -> np.ndarray:
    """Golden-section search for the best u along each broken line of three points; `lines` (n, 3, 2), result (n, 7)."""
    before, here, after = lines.transpose(1, 0, 2)

    def at(place: np.ndarray) -> np.ndarray:
        end = np.where(place[:, None] > 0.0, after, before)
        return best_with(here + np.abs(place)[:, None] * (end - here))

    ratio = 0.5 * (np.sqrt(5.0) - 1.0)
    best = at(np.zeros(len(here)))
    low, high = np.full(len(here), -1.0), np.ones(len(here))
    left, right = high - ratio * (high - low), low + ratio * (high - low)
    at_left, at_right = at(left), at(right)
    for _ in range(NARROW_STEPS):
        for trial in (at_left, at_right):
            best = np.where((trial[:, 0] < best[:, 0])[:, None], trial, best)
        lower = at_left[:, 0] <= at_right[:, 0]
        low, high = np.where(lower, low, left), np.where(lower, right, high)
        left, right = high - ratio * (high - low), low + ratio * (high - low)
        # One of the two new places is an old one: its value moves over.
        fresh = at(np.where(lower, left, right))
        at_left, at_right = (
            np.where(lower[:, None], fresh, at_right),
            np.where(lower[:, None], at_left, fresh),
        )
    return best


def _shortest_basis(u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lagrange's reduction: the two shortest translations, u the shorter one and towards +x, v to its left."""
    while True:
        if u @ u > v @ v:
            u, v = v, u
        times = np.round((u @ v) / (u @ u))
        if times == 0.0:
            break
        v = v - times * u
    u = -u if (u[0], u[1]) < (0.0, 0.0) else u
    return u, v if u[0] * v[1] - u[1] * v[0] > 0.0 else -v


def _nearest_to_origin(c: np.ndarray, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """The shortest c + k u + j v, for a shortest basis."""
    k, j = -np.round(np.linalg.solve(np.column_stack((u, v)), c))
    near = [c + (k + a) * u + (j + b) * v for a in (-1, 0, 1) for b in (-1, 0, 1)]
    return min(near, key=lambda point: point @ point)
