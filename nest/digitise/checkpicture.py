"""The check picture: the straightened photograph with everything that was found drawn over it."""

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

from nest.atomic import atomic_path
from nest.digitise.camera import View
from nest.digitise.picture import Photograph, to_srgb
from nest.digitise.raster import Grid, grid_over, straightened
from nest.digitise.vision import opencv

LONGEST_PIXELS = 2400
ROOM_MM = 60.0
BACKDROP_PIXELS, BACKDROP_ROOM_MM = 900, 15.0
EDGE, HOLE, ZONE, FLAW, MARK, OTHER = (0, 0, 255), (255, 0, 255), (255, 160, 0), (0, 140, 255), (0, 200, 0), (255, 0, 0)
"""Colours of what is drawn, blue, green, red."""


def straight_picture(photograph: Photograph, view: View, bounds, height: float = 0.0, longest: int = LONGEST_PIXELS):
    """The photograph straightened over (x0, y0, x1, y1) mm, and its grid; (h, w, 3) uint8."""
    x0, y0, x1, y1 = bounds
    grid = grid_over(bounds, max(x1 - x0, y1 - y0) / longest)
    light, shown = straightened(photograph.light, view, grid, height)
    picture = to_srgb(light.astype(np.float32) / 65535.0)
    picture[~shown] = 255
    return picture, grid


class Canvas:
    """A straightened picture to draw on, in mm."""

    def __init__(self, picture: np.ndarray, grid: Grid):
        self.picture, self.grid = np.ascontiguousarray(picture), grid

    def line(self, points, colour, closed: bool = True, width: int = 2) -> None:
        """A line or ring (n, 2) mm."""
        pixels = np.round(self.grid.pixels(np.asarray(points)) * 16.0).astype(np.int32)
        cv2 = opencv()
        cv2.polylines(self.picture, [pixels], closed, colour, width, cv2.LINE_AA, shift=4)

    def text(self, words: str, at, colour, size: float = 0.6) -> None:
        """Words, ASCII, with a white rim, from `at` (2,) mm to the right."""
        cv2 = opencv()
        plain = words.encode("ascii", "replace").decode()
        x, y = np.round(self.grid.pixels(np.asarray(at, dtype=np.float64)[None])[0]).astype(int).tolist()
        # Bold letters are wider: the rim is the same letters, moved a little each way.
        rim = [((x + dx, y + dy), (255, 255, 255)) for dx in (-2, 0, 2) for dy in (-2, 0, 2)]
        for place, ink in (*rim, ((x, y), colour)):
            cv2.putText(self.picture, plain, place, cv2.FONT_HERSHEY_SIMPLEX, size, ink, 1, cv2.LINE_AA)

    def rulers(self) -> None:
        """Millimetres along the left and the lower edge: a tick every 100, a number every 500."""
        grid, cv2 = self.grid, opencv()
        left, low = grid.x, grid.y - grid.step * (grid.height - 1)
        for upright, start, length in ((False, left, grid.width), (True, low, grid.height)):
            for hundred in range(int(np.ceil(start / 100.0)), int((start + grid.step * length) // 100.0) + 1):
                at, long = 100.0 * hundred, 22 if hundred % 5 == 0 else 10
                place = np.array((left, at)) if upright else np.array((at, low))
                x, y = np.round(grid.pixels(place[None])[0]).astype(int).tolist()
                end = (x + long, y) if upright else (x, y - long)
                for width, ink in ((5, (255, 255, 255)), (2, (0, 0, 0))):
                    cv2.line(self.picture, (x, y), end, ink, width)
                if hundred % 5 == 0 and (x, y) != (0, grid.height - 1):
                    shift = (26.0, -5.0) if upright else (6.0, 24.0)
                    self.text(f"{at:.0f}", place + grid.step * np.array(shift), (0, 0, 0), 0.6)

    def arrow(self, at, angle_deg: float, length: float, colour) -> None:
        """A double arrow about `at`, `length` mm long."""
        away = 0.5 * length * np.array((np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))))
        middle = np.asarray(at)
        a, b = np.round(self.grid.pixels(np.array((middle - away, middle + away)))).astype(int).tolist()
        cv2 = opencv()
        for first, last in ((a, b), (b, a)):
            cv2.arrowedLine(self.picture, first, last, colour, 2, cv2.LINE_AA, tipLength=0.12)


def hide_picture(
    photograph: Photograph, view: View, outline: Polygon, zones: Sequence, flaws: Sequence, marks: Iterable, *,
    height: float, title: str,
) -> np.ndarray:
    """All that was found of a hide, drawn over it. `zones`, `flaws`: (polygon, words); `marks`: (number, (x, y))."""
    marks = list(marks)
    everything = [outline.bounds, *((x - 80.0, y - 80.0, x + 80.0, y + 80.0) for _, (x, y) in marks)]
    low = np.min([one[:2] for one in everything], axis=0) - ROOM_MM
    high = np.max([one[2:] for one in everything], axis=0) + ROOM_MM
    picture, grid = straight_picture(photograph, view, (*low, *high), height)
    canvas = Canvas(picture, grid)
    for shape, words in zones:
        canvas.line(shape.exterior.coords[:-1], ZONE)
        at = shapely.get_coordinates(shapely.maximum_inscribed_circle(shape, tolerance=3.0))[0]
        stretch = float(words.rpartition(" stretch ")[2])
        canvas.arrow(at, stretch, 90.0, ZONE)
        canvas.text(words, np.add(at, (55.0, -5.0)), ZONE, 0.9)
    for shape, words in flaws:
        canvas.line(shape.exterior.coords[:-1], FLAW)
        canvas.text(words, (shape.bounds[2] + 5.0, shape.centroid.y), FLAW, 0.8)
    for i, ring in enumerate((outline.exterior, *outline.interiors)):
        canvas.line(ring.coords[:-1], HOLE if i else EDGE)
    for number, at in marks:
        canvas.text(str(number), at, MARK, 1.0)
    canvas.text(title, np.add(low, (90.0, 70.0)), EDGE, 0.8)
    canvas.rulers()
    return canvas.picture


def write_backdrop(photograph: Photograph, view: View, outline: Polygon, height: float, path: Path) -> None:
    """Write what cut sheets show under a layout, as `nest.job.backdrop` reads it: grey, in few levels, atomically."""
    x0, y0, x1, y1 = (round(one, 1) for one in outline.buffer(BACKDROP_ROOM_MM).bounds)
    picture, _ = straight_picture(photograph, view, (x0, y0, x1, y1), height, BACKDROP_PIXELS)
    grey = opencv().cvtColor(picture, opencv().COLOR_BGR2GRAY) & 0xF8
    rows, columns = grey.shape
    with atomic_path(path) as part:
        part.write_bytes(f"P5\n# mm {x0} {y0} {x1} {y1}\n{columns} {rows}\n255\n".encode() + grey.tobytes())


def write_picture(picture: np.ndarray, path: str | Path) -> None:
    """Write a picture, atomically, as the suffix says (PNG or JPEG)."""
    cv2 = opencv()
    suffix = Path(path).suffix.casefold()
    # PNG takes no quality, and says so on the terminal.
    good, data = cv2.imencode(suffix, picture, () if suffix == ".png" else (cv2.IMWRITE_JPEG_QUALITY, 85))
    assert good
    with atomic_path(path) as part:
        part.write_bytes(data.tobytes())
