"""Shapes for the geometry tests: a few with closed forms, and a strategy for any star-shaped ring."""

import numpy as np
from hypothesis import strategies as st

from geometry.precision import as_ring

UNIT_SQUARE = as_ring([(0, 0), (1, 0), (1, 1), (0, 1)])


def regular(n: int, radius: float = 1.0) -> np.ndarray:
    """Regular n-gon about the origin, corners at `radius`."""
    angles = 2.0 * np.pi * np.arange(n) / n
    return as_ring(radius * np.column_stack((np.cos(angles), np.sin(angles))))


@st.composite
def star_rings(draw, least: int = 4, most: int = 14) -> np.ndarray:
    """A simple ring seen whole from the origin, hollow and pointed at will, 20 to 100 mm out."""
    n = draw(st.integers(least, most))
    radii = draw(st.lists(st.floats(20.0, 100.0), min_size=n, max_size=n))
    shift = draw(st.floats(0.0, 1.0))
    angles = 2.0 * np.pi * (np.arange(n) + shift) / n
    return as_ring(np.array(radii)[:, None] * np.column_stack((np.cos(angles), np.sin(angles))))
