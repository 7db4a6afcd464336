"""A few kinds small enough to think about, and problems made of them; mm."""

from dataclasses import replace

import numpy as np
from shapely import Polygon, box

from geometry.pose import mirror
from geometry.precision import as_ring
from nest.placement.budget import Budget
from nest.placement.problem import Ground, Kind, RegionProblem, StripProblem

SQUARE = as_ring([(0, 0), (50, 0), (50, 50), (0, 50)])
SLAT = as_ring([(-40, -15), (40, -15), (40, 15), (-40, 15)])
ELL = as_ring([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])
TRIANGLE = as_ring([(0, 0), (60, 0), (0, 40)])
NEEDLE = as_ring([(0, -4), (90, 0), (0, 4)])
HALF_TURN = (0.0, 180.0)
QUARTERS = (0.0, 90.0, 180.0, 270.0)


def kind(name: str, ring: np.ndarray, limit: int, headings=(0.0,), core=None, family: str = "", side: int = 0) -> Kind:
    """A kind whose core is its outline unless one is given."""
    return Kind(name, ring, ring if core is None else core, tuple(headings), limit, family, side)


def left_and_right(limit: int, headings=HALF_TURN, family: str = "pair") -> tuple[Kind, Kind]:
    """A lopsided piece and its mirror image, to be placed in twos."""
    left = kind("left", ELL, limit, headings, family=family, side=-1)
    return left, replace(left, name="right", outline=mirror(ELL), core=mirror(ELL), side=1)


def mixed_strip(gap_mm: float = 0.0) -> StripProblem:
    """Twelve items of four kinds, each with other headings, on a strip 130 wide."""
    kinds = (
        kind("square", SQUARE, 3),
        kind("slat", SLAT, 2, (0.0, 90.0)),
        kind("ell", ELL, 4, QUARTERS),
        kind("triangle", TRIANGLE, 3, (20.0, 200.0)),
    )
    return StripProblem(kinds, 130.0, gap_mm)


def filled(kinds, ground, gap_mm: float = 0.0, core_ground=None, level=None) -> RegionProblem:
    """Kinds that all share one ground, their cores kept to `core_ground` at every heading."""
    best = ground if core_ground is None else core_ground
    grounds = tuple(Ground(ground, (best,) * len(k.headings_deg)) for k in kinds)
    return RegionProblem(tuple(kinds), grounds, gap_mm, level)


def holed_sheet() -> Polygon:
    """A 320 by 220 sheet with a corner cut off and a hole."""
    hole, corner = box(140, 90, 190, 130), Polygon([(330, 120), (330, 230), (240, 230)])
    return box(0, 0, 320, 220).difference(hole).difference(corner)


def passes(count: int) -> Budget:
    """A stopping rule that makes results reproducible."""
    return Budget(passes=count)
