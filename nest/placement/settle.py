"""Settle a layout: exact touching positions by linear programming.

For every pair that can meet, lines keep the displacement out of the no-fit polygon within the reach
of this step, so that any solution is free of overlap by construction. The programme pushes
all items towards the start of the strip at once (compaction: Li & Milenkovic 1995,
doi:10.1016/0377-2217(95)00021-H; Gomes & Oliveira 2006, doi:10.1016/j.ejor.2004.09.008) and is
repeated from where the items come to lie.
"""

from collections.abc import Callable, Sequence
from functools import cache
from typing import TypeAlias

import numpy as np
import shapely
from ortools.linear_solver import pywraplp

from geometry.nofit import no_fit_polygon
from geometry.pose import Pose, rotate
from geometry.precision import Region, as_ring
from nest.placement.model import grown
from nest.placement.problem import Item, Kind

STEP_SHARE = 0.05
"""Largest move of a round, as a share of the typical width of a kind."""

ROUNDS = 60
LEAST_GAIN = 1e-5
SAFETY = 1e-6
"""Kept between lines and no-fit polygons, mm: more than the solver's own tolerance."""

Form: TypeAlias = tuple[int, float]
"""A kind and its heading, degrees."""

SEAM = 1e-4
"""A line along a triangle's own edge must leave so much more room, mm, to be taken before one along the outline."""


def settle_strip(
    items: Sequence[Item],
    kinds: Sequence[Kind],
    gap_mm: float,
    width_mm: float,
    enough: Callable[[], bool] = lambda: False,
) -> tuple[tuple[Item, ...], float]:
    """Items of a strip layout pushed together along x, and the length they then need.

    Headings stay. The length never grows. `enough` is asked before every round.
    """
    rings = {}
    for item in items:
        key = item.kind, item.pose.heading_deg
        if key not in rings:
            kind = kinds[item.kind]
            rings[key] = (as_ring(rotate(grown(kind.outline, gap_mm), key[1])), rotate(kind.outline, key[1]))
    keys = [(item.kind, item.pose.heading_deg) for item in items]
    where = np.array([(item.pose.x, item.pose.y) for item in items])
    low = np.array([rings[key][1].min(axis=0) for key in keys])
    high = np.array([rings[key][1].max(axis=0) for key in keys])
    step = STEP_SHARE * float(np.mean([np.sqrt(shapely.Polygon(ring).area) for ring, _ in rings.values()]))

    @cache
    def no_fit(one: Form, other: Form) -> Region:
        return no_fit_polygon(rings[one][0], rings[other][0])

    length = float((where[:, 0] + high[:, 0]).max())
    for _ in range(ROUNDS):
        if enough():
            break
        lines = []
        reach = 2.0 * step
        for i in range(len(items)):
            apart_x = np.maximum(where[i, 0] + low[i, 0] - where[:, 0] - high[:, 0],
                                 where[:, 0] + low[:, 0] - where[i, 0] - high[i, 0])
            apart_y = np.maximum(where[i, 1] + low[i, 1] - where[:, 1] - high[:, 1],
                                 where[:, 1] + low[:, 1] - where[i, 1] - high[i, 1])
            for j in np.flatnonzero(np.maximum(apart_x, apart_y) <= reach + gap_mm):
                if j > i:
                    kept = keep_out(no_fit(keys[i], keys[j]), where[j] - where[i], reach)
                    lines += [(i, int(j), *line) for line in kept]
        moved = _push(where, low, high, lines, width_mm, step)
        if moved is None:
            break
        shorter = float((moved[:, 0] + high[:, 0]).max())
        if shorter > length + SAFETY:
            break
        gain, where, length = length - shorter, moved, min(length, shorter)
        if gain < LEAST_GAIN * length:
            break
    settled = tuple(
        Item(item.kind, Pose(float(x), float(y), item.pose.heading_deg))
        for item, (x, y) in zip(items, where, strict=True)
    )
    return settled, length


def keep_out(
    no_fit: Region, displacement: np.ndarray, reach: float, held_at: np.ndarray | None = None
) -> list[tuple[float, float, float]]:
    """Lines that keep a displacement out of a no-fit polygon while it moves by at most `reach` an axis.

    One line for each triangle of the polygon within reach, like lines once. Returns (normal x, normal y,
    least value of normal . displacement) for each; none if the two cannot meet. They hold at the displacement itself,
    or at `held_at`; if that lies inside a triangle it is held: normal 0.
    """
    held_at = displacement if held_at is None else held_at
    triangles = _triangles_within(no_fit, displacement, reach)
    if len(triangles) == 0:
        return []
    along = np.diff(triangles, axis=1)
    across = np.stack((along[..., 1], -along[..., 0]), axis=-1) / np.hypot(along[..., 0], along[..., 1])[..., None]
    middles = np.round(0.5 * (triangles[:, 1:] + triangles[:, :-1]), 9).reshape(-1, 2)
    _, which, times = np.unique(middles, axis=0, return_inverse=True, return_counts=True)
    seam = (times[which.ravel()] > 1).reshape(-1, 3)
    lines: dict[tuple[float, float], tuple[float, float, float]] = {}
    for corners, own in zip(triangles, across, strict=True):
        # between two corners the nearest point may be a corner: its direction is a normal as well
        toward = held_at - corners[np.argmin(((corners - held_at) ** 2).sum(axis=1))]
        far = np.hypot(*toward)
        normals = np.vstack((own, across[~seam], toward[None] / far if far > SAFETY else np.empty((0, 2))))
        most = (normals @ corners.T).max(axis=1)
        slack = normals @ held_at - most
        # two lines along the seams of a corner would leave a way through it
        best = int(np.argmax(slack - SEAM * (np.arange(len(slack)) < 3)))
        if slack[best] < -SAFETY:
            return [(0.0, 0.0, 0.0)]
        nx, ny = (float(value) for value in normals[best])
        least = float(most[best] + min(SAFETY, slack[best]))
        key = round(nx, 9), round(ny, 9)
        lines[key] = nx, ny, max(least, lines.get(key, (0.0, 0.0, -np.inf))[2])
    return list(lines.values())


def _triangles_within(no_fit: Region, place: np.ndarray, reach: float) -> np.ndarray:
    """What lies of a region within reach of a place along both axes, as triangles: (t, 4, 2), closed, turning left."""
    x, y = place
    near = shapely.intersection(no_fit, shapely.box(x - reach, y - reach, x + reach, y + reach))
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(near))
    corners = shapely.get_coordinates(parts).reshape(-1, 4, 2)
    turned = ~shapely.is_ccw(shapely.get_exterior_ring(parts)) if len(parts) else np.zeros(0, bool)
    corners[turned] = corners[turned, ::-1]
    return np.asarray(corners)


def _push(
    where: np.ndarray, low: np.ndarray, high: np.ndarray, lines: Sequence[tuple[int, int, float, float, float]],
    width: float, step: float,
) -> np.ndarray | None:
    """One linear programme: shortest length within the lines; None if the solver gives up."""
    solver = pywraplp.Solver.CreateSolver("GLOP")
    infinity = solver.infinity()
    n = len(where)
    x = [solver.NumVar(max(-low[i, 0], where[i, 0] - step), where[i, 0] + step, "") for i in range(n)]
    y = [solver.NumVar(max(-low[i, 1], where[i, 1] - step), max(-low[i, 1], where[i, 1] - step,
         min(width - high[i, 1], where[i, 1] + step)), "") for i in range(n)]
    length = solver.NumVar(0.0, infinity, "")
    for i in range(n):
        row = solver.Constraint(float(high[i, 0]), infinity)
        row.SetCoefficient(length, 1.0)
        row.SetCoefficient(x[i], -1.0)
    for i, j, nx, ny, least in lines:
        if nx == 0.0 and ny == 0.0:
            for axis, variables in enumerate((x, y)):
                kept = float(where[j, axis] - where[i, axis])
                row = solver.Constraint(kept, kept)
                row.SetCoefficient(variables[j], 1.0)
                row.SetCoefficient(variables[i], -1.0)
            continue
        row = solver.Constraint(least, infinity)
        for variable, factor in ((x[j], nx), (x[i], -nx), (y[j], ny), (y[i], -ny)):
            row.SetCoefficient(variable, factor)
    objective = solver.Objective()
    objective.SetCoefficient(length, 1.0)
    for variable in x:
        objective.SetCoefficient(variable, 1e-4 / n)
    objective.SetMinimization()
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return None
    return np.array([(a.solution_value(), b.solution_value()) for a, b in zip(x, y, strict=True)])
