"""The camera: pinhole with two terms of radial distortion, and the plane it looks at.

A point X of the world is seen at x = f · d(r) · (X'/Z', Y'/Z') + c with X' = R X + t, r² = (X'² + Y'²) / Z'² and
d = 1 + k1 r² + k2 r⁴. The table is the plane z = 0, seen from z > 0.

References
----------
D. C. Brown (1971), Close-range camera calibration, Photogrammetric Engineering 37:855-866.
Z. Zhang (2000), A flexible new technique for camera calibration, doi:10.1109/34.888718.
"""

from dataclasses import dataclass

import numpy as np

_UNDO_STEPS = 20


@dataclass(frozen=True, slots=True)
class Lens:
    """Focal length and principal point in pixels, radial distortion; the picture's size in pixels."""

    focal: float
    cx: float
    cy: float
    k1: float
    k2: float
    width: int
    height: int

    @classmethod
    def of(cls, values: np.ndarray, width: int, height: int) -> "Lens":
        """The lens of the five numbers that are solved for, and of a picture's size."""
        focal, cx, cy, k1, k2 = (float(one) for one in values)
        return cls(focal, cx, cy, k1, k2, width, height)

    def values(self) -> np.ndarray:
        """The five numbers that are solved for."""
        return np.array((self.focal, self.cx, self.cy, self.k1, self.k2))


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A lens at a place: `turn` (3, 3) and `shift` (3,) take points of the plane's frame, mm, to the camera's."""

    lens: Lens
    turn: np.ndarray
    shift: np.ndarray

    def see(self, points: np.ndarray, height: float = 0.0) -> np.ndarray:
        """Where points (n, 2) of the plane, mm, `height` mm above it, lie in the picture; (n, 2) pixels."""
        seen = points @ self.turn[:, :2].T + (self.shift + height * self.turn[:, 2])
        return distorted(self.lens, seen[:, :2] / seen[:, 2:3])

    def on_plane(self, pixels: np.ndarray, height: float = 0.0) -> np.ndarray:
        """Where the rays of pixels (n, 2) meet the plane `height` mm above the table; (n, 2) mm."""
        rays = undistorted(self.lens, np.asarray(pixels, dtype=np.float64))
        away = np.column_stack((rays, np.ones(len(rays)))) @ self.turn
        centre = self.centre
        along = (height - centre[2]) / away[:, 2]
        return centre[:2] + along[:, None] * away[:, :2]

    @property
    def centre(self) -> np.ndarray:
        """Place of the camera, (3,) mm."""
        return -self.turn.T @ self.shift

    @property
    def tilt_deg(self) -> float:
        """Angle between the camera's axis and the plumb line on the table."""
        return float(np.degrees(np.arccos(np.clip(-self.turn[2, 2], -1.0, 1.0))))

    def mm_per_pixel(self, at: np.ndarray) -> float:
        """How much of the plane one pixel covers about a point (2,) of it; the geometric mean of two directions."""
        near = self.see(np.array(((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))) + at)
        area = abs(np.linalg.det(near[1:] - near[0]))
        return float(1.0 / np.sqrt(max(area, 1e-12)))


def distorted(lens: Lens, rays: np.ndarray) -> np.ndarray:
    """Pixels of normalised rays (n, 2)."""
    squared = (rays * rays).sum(axis=1, keepdims=True)
    bent = 1.0 + squared * (lens.k1 + squared * lens.k2)
    return lens.focal * rays * bent + (lens.cx, lens.cy)


def undistorted(lens: Lens, pixels: np.ndarray) -> np.ndarray:
    """Normalised rays (n, 2) of pixels: Newton's method on the radius."""
    bent = (pixels - (lens.cx, lens.cy)) / lens.focal
    far = np.hypot(bent[:, 0], bent[:, 1])
    radius = far.copy()
    for _ in range(_UNDO_STEPS):
        squared = radius * radius
        value = radius * (1.0 + squared * (lens.k1 + squared * lens.k2)) - far
        slope = 1.0 + squared * (3.0 * lens.k1 + 5.0 * squared * lens.k2)
        step = value / np.where(slope > 0.1, slope, 0.1)
        radius = radius - step
        if np.abs(step).max(initial=0.0) < 1e-12:
            break
    return bent * np.divide(radius, far, out=np.ones_like(far), where=far > 1e-12)[:, None]


def turn_of(vector: np.ndarray) -> np.ndarray:
    """Rotation matrix of a rotation vector (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-12:
        return np.eye(3)
    x, y, z = vector / angle
    cross = np.array(((0.0, -z, y), (z, 0.0, -x), (-y, x, 0.0)))
    return np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross
