"""Scans of invented cards, rendered by exact coverage."""

import numpy as np
import shapely
from camera_scene import coverage, oriented, pieces, srgb

from nest.digitise.picture import Photograph

BACK, CARD, INK = (0.85, 0.85, 0.85), (0.30, 0.38, 0.45), (0.03, 0.03, 0.03)


RULED = (0.55, 0.70, 0.85)


def scan(
    ring, turn_deg: float, shift, *, holes=(), line=None, squares=None, dpi: float = 150.0, page=(300.0, 270.0),
    seed: int = 0,
):
    """A card, turned and moved on the glass, with punched holes (4 mm) or a pen line of 0.6 mm; (h, w, 3) uint8.

    `squares`: mm between fine lines printed on it, as on squared paper.
    """
    import cv2

    rng = np.random.default_rng(seed)
    scale = dpi / 25.4
    width, height = round(page[0] * scale), round(page[1] * scale)
    angle = np.radians(turn_deg)
    turn = np.array(((np.cos(angle), -np.sin(angle)), (np.sin(angle), np.cos(angle))))
    light = np.full((height, width, 3), BACK, dtype=np.float32)

    def paint(shape, colour):
        placed = [pieces(one.coords) @ turn.T + shift for one in (shape.exterior, *shape.interiors)]
        pixels = [np.column_stack((p[:, 0] * scale - 0.5, height - p[:, 1] * scale - 0.5)) for p in placed]
        share, rows, columns = coverage(oriented(pixels), width, height)
        light[rows, columns] += share[:, :, None] * (np.float32(colour) - light[rows, columns])

    paint(shapely.Polygon(ring, [shapely.Point(hole).buffer(2.0, quad_segs=16).exterior for hole in holes]), CARD)
    if squares is not None:
        low, high = np.min(ring, axis=0), np.max(ring, axis=0)
        for k in range(2):
            for at in np.arange(low[k] + squares, high[k] - 0.5 * squares, squares):
                ends = np.array((low, high))
                ends[:, k] = at
                paint(shapely.LineString(ends).buffer(0.1, cap_style="flat"), RULED)
    if line is not None:
        paint(shapely.LineString(line).buffer(0.3), INK)
    light = cv2.GaussianBlur(light, (0, 0), 0.7) + rng.standard_normal(light.shape).astype(np.float32) * 0.006
    return srgb(light)


def picture_of(pixels) -> Photograph:
    """The scan as the program holds it."""
    return Photograph("scan.png", pixels)
