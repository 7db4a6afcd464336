"""Rigid motions of the plane: translate, rotate, mirror."""

from dataclasses import dataclass

import numpy as np

from geometry.precision import as_ring


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a piece lies: rotated by `heading_deg` about its origin, then moved by (`x`, `y`) mm."""

    x: float
    y: float
    heading_deg: float

    def apply(self, ring: np.ndarray) -> np.ndarray:
        """Return `ring` (n, 2), mm, at this pose."""
        return np.asarray(rotate(ring, self.heading_deg) + np.array((self.x, self.y)))


def rotation(angle_deg: float) -> np.ndarray:
    """The 2 × 2 matrix that turns column vectors by `angle_deg`; exact at multiples of 90°."""
    quarter, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    else:
        cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array(((cos, -sin), (sin, cos)))


def rotate(ring: np.ndarray, angle_deg: float) -> np.ndarray:
    """Return `ring` (n, 2) turned counter-clockwise about the origin by `angle_deg`."""
    return np.asarray(np.asarray(ring) @ rotation(angle_deg).T)


def mirror(ring: np.ndarray) -> np.ndarray:
    """Return `ring` mirrored about y = 0, counter-clockwise again."""
    return as_ring(np.asarray(ring) * (1.0, -1.0))
