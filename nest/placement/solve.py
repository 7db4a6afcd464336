"""The way in: the shortest strip, the fullest region, and both compiled beforehand."""

import shapely

from geometry.precision import as_ring
from nest.placement.budget import Budget
from nest.placement.problem import Ground, Kind, RegionProblem, StripProblem
from nest.placement.solve_region import solve_region
from nest.placement.solve_strip import solve_strip

__all__ = ["solve_region", "solve_strip", "warm_up"]


def warm_up() -> None:
    """Compile the search, so that the first solve's time limit is all its own; instant once it is cached on disk."""
    square = as_ring(((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)))
    sheet = shapely.box(0.0, 0.0, 25.0, 12.0)
    kinds = (Kind("square", square, square, (0.0, 180.0), 2, "squares"),)
    # enough passes to come to the annealing
    solve_region(RegionProblem(kinds, (Ground(sheet, (sheet, sheet)),)), Budget(passes=40), seed=1, workers=1)
    solve_strip(StripProblem(kinds, 12.0), Budget(passes=3), seed=1, workers=1)
