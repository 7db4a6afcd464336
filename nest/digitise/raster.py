"""A photograph straightened: the plane seen square from above, each pixel the same number of mm wide."""

from dataclasses import dataclass

import numpy as np

from nest.digitise.camera import View
from nest.digitise.vision import opencv

_COARSE = 16
"""Smooth fields are worked out at every 16th pixel and interpolated between; the camera's to thousandths of a pixel."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Pixels on the plane: the middle of the upper left one at (x, y) mm, y downwards by rows."""

    x: float
    y: float
    step: float
    width: int
    height: int

    def points(self, pixels: np.ndarray) -> np.ndarray:
        """Places on the plane, mm, of pixels (n, 2)."""
        return np.column_stack((self.x + self.step * pixels[:, 0], self.y - self.step * pixels[:, 1]))

    def pixels(self, points: np.ndarray) -> np.ndarray:
        """Pixels of places (n, 2) on the plane."""
        return np.column_stack(((points[:, 0] - self.x) / self.step, (self.y - points[:, 1]) / self.step))


def grid_over(bounds: tuple[float, float, float, float], step: float) -> Grid:
    """The grid that covers (x0, y0, x1, y1)."""
    x0, y0, x1, y1 = bounds
    return Grid(
        x0 + 0.5 * step, y1 - 0.5 * step, step, max(1, round((x1 - x0) / step)), max(1, round((y1 - y0) / step))
    )


def straightened(light: np.ndarray, view: View, grid: Grid, height: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """The picture on the grid, and which of its pixels the photograph shows, (h, w) bool.

    Where a pixel of the grid covers several of the photograph these are averaged first.
    """
    cv2 = opencv()
    middle = np.array((grid.x + 0.5 * grid.step * grid.width, grid.y - 0.5 * grid.step * grid.height))
    shrink = max(1, int(grid.step / view.mm_per_pixel(middle)))
    places = from_coarse(view.see(grid.points(coarse_pixels(grid)), height), grid)
    full_h, full_w = light.shape[:2]
    shown = (
        (places[..., 0] >= 0) & (places[..., 1] >= 0) & (places[..., 0] <= full_w - 1) & (places[..., 1] <= full_h - 1)
    )
    if shrink > 1:
        size = (full_w // shrink, full_h // shrink)
        light = cv2.resize(light[: size[1] * shrink, : size[0] * shrink], size, interpolation=cv2.INTER_AREA)
        places = (places + 0.5) / shrink - 0.5
    return cv2.remap(light, places, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), shown


def coarse_pixels(grid: Grid) -> np.ndarray:
    """Every `_COARSE`-th pixel each way, (n, 2), a little beyond the grid's end."""
    y, x = np.mgrid[0 : _coarse(grid.height), 0 : _coarse(grid.width)] * float(_COARSE)
    return np.column_stack((x.ravel(), y.ravel()))


def _coarse(size: int) -> int:
    """Number of coarse pixels along an axis of `size` pixels; at least four, since a cubic needs four points."""
    return max(4, size // _COARSE + 2)


def from_coarse(values: np.ndarray, grid: Grid) -> np.ndarray:
    """Values (n, k) at `coarse_pixels` interpolated at every pixel, exact for cubics; (h, w, k) float32."""
    coarse = values.astype(np.float32).reshape(_coarse(grid.height), _coarse(grid.width), -1)
    across = _cubic(grid.width).T
    down = np.tensordot(_cubic(grid.height), coarse, (1, 0))
    return np.stack([down[..., k] @ across for k in range(coarse.shape[2])], axis=2)


def _cubic(size: int) -> np.ndarray:
    """Weights of the coarse values at each pixel of an axis, (size, coarse) float32: Lagrange's, of the nearest four.

    The library's own cubics do not keep even a straight line straight.
    """
    count = _coarse(size)
    at = np.arange(size) / _COARSE
    first = np.clip(at.astype(int) - 1, 0, count - 4)
    t = at - first
    found = np.zeros((size, count), dtype=np.float32)
    for i in range(4):
        others = [k for k in range(4) if k != i]
        found[np.arange(size), first + i] = np.prod([(t - k) / (i - k) for k in others], axis=0)
    return found


def mask_of(rings, grid: Grid) -> np.ndarray:
    """Pixels whose middles lie in the rings (each (n, 2) mm), even-odd, (h, w) bool."""
    cv2 = opencv()
    mask = np.zeros((grid.height, grid.width), dtype=np.uint8)
    drawn = [np.round(grid.pixels(np.asarray(ring)) * 16.0).astype(np.int32) for ring in rings]
    cv2.fillPoly(mask, drawn, 255, shift=4)
    return mask > 0
