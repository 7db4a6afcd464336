"""Coordinates as drawings hold them: on the grid, with no more digits than the grid has; numbers as they say them."""

import numpy as np

from geometry.precision import COORDINATE_GRID_MM, on_grid

DECIMALS = round(-np.log10(COORDINATE_GRID_MM))
"""Digits after the point that the coordinate grid has."""


def tidy(ring) -> np.ndarray:
    """A ring on the grid: counter-clockwise, no vertex repeated."""
    return rounded(on_grid(ring))


def rounded(points) -> np.ndarray:
    """Points on the grid, as they follow each other."""
    return np.round(np.asarray(points, dtype=np.float64), DECIMALS) + 0.0


def exact(number: float) -> str:
    """A number that reads back as it is."""
    return repr(float(number)).removesuffix(".0")
