"""Marks: printed squares of AprilTag family 36h11, what is on them, and where they are in a photograph.

A mark's own frame has its middle at the origin, x to the right and y up as printed; its black square is 1 wide here.
The square is 8 × 8 cells: a black rim of one cell and 6 × 6 cells of code.

References
----------
E. Olson (2011), AprilTag: a robust and flexible visual fiducial system, doi:10.1109/ICRA.2011.5979561.
J. Wang, E. Olson (2016), AprilTag 2, doi:10.1109/IROS.2016.7759617.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from nest.digitise.edges import sampled, steps
from nest.digitise.picture import Photograph
from nest.digitise.vision import opencv

CELLS = 8
MOST_MARKS = 587
"""Codes of the family."""

USUAL_SIDE_MM = 160.0
"""Side of the black square on a printed sheet."""

CORNERS = np.array(((-0.5, 0.5), (0.5, 0.5), (0.5, -0.5), (-0.5, -0.5)))
"""Clockwise as printed from the upper left, as the detector gives them."""

LEAST_SIDE_PIXELS = 48.0
"""Of a mark whose edges are measured: six pixels a cell."""

_SEARCH_PIXELS = 2200
"""Marks are looked for in a picture no longer than this; their edges are measured in the full one."""

_ACROSS, _ALONG = 25, 5
_REACH = 0.42
"""Half a measuring line, in cells; a longer one would meet the next edge."""


@dataclass(frozen=True, slots=True, eq=False)
class SeenMark:
    """A mark in a photograph: its number and the four corners, (4, 2) pixels, to about half a pixel."""

    number: int
    corners: np.ndarray

    @property
    def side_pixels(self) -> float:
        """Mean side."""
        return float(np.hypot(*(self.corners - np.roll(self.corners, 1, axis=0)).T).mean())


@cache
def _family():
    cv2 = opencv()
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)


@cache
def cells_of(number: int) -> np.ndarray:
    """Which cells of a mark are white, (8, 8) bool, the upper row first."""
    cells = opencv().aruco.generateImageMarker(_family(), number, CELLS, borderBits=1) > 127
    cells.setflags(write=False)
    return cells


@cache
def edges_of(number: int) -> tuple[np.ndarray, np.ndarray]:
    """Edges between black and white cells: middles (n, 2) in the mark's frame, and unit normals from black to white."""
    white = np.pad(cells_of(number), 1, constant_values=True)
    middles, normals = [], []
    for row in range(1, CELLS + 1):
        for column in range(1, CELLS + 1):
            if white[row, column]:
                continue
            for down, right in ((0, 1), (0, -1), (1, 0), (-1, 0)):
                if white[row + down, column + right]:
                    x = (column - 0.5 + 0.5 * right) / CELLS - 0.5
                    y = 0.5 - (row - 0.5 + 0.5 * down) / CELLS
                    middles.append((x, y))
                    normals.append((right, -down))
    return np.array(middles), np.array(normals, dtype=np.float64)


def find_marks(photograph: Photograph) -> tuple[SeenMark, ...]:
    """Marks of the family in the photograph, by number; one that lies there twice is here twice."""
    cv2 = opencv()
    grey = cv2.cvtColor(photograph.pixels, cv2.COLOR_BGR2GRAY)
    shrink = min(1.0, _SEARCH_PIXELS / max(grey.shape))
    if shrink < 1.0:
        grey = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.adaptiveThreshWinSizeMin, settings.adaptiveThreshWinSizeMax = 9, 49
    settings.adaptiveThreshWinSizeStep = 20
    settings.minMarkerPerimeterRate = 0.02
    corners, numbers, _ = cv2.aruco.ArucoDetector(_family(), settings).detectMarkers(grey)
    if numbers is None:
        return ()
    # A pixel's middle is a whole number: halves come and go with the scale.
    seen = [
        SeenMark(number, (found.reshape(4, 2).astype(np.float64) + 0.5) / shrink - 0.5)
        for number, found in zip(numbers.ravel().tolist(), corners, strict=True)
    ]
    return tuple(sorted(seen, key=lambda one: one.number))


def each_once(seen: Sequence[SeenMark]) -> tuple[list[SeenMark], list[str]]:
    """Marks that are large enough to be measured and lie there once, and a sentence about each other number."""
    count = Counter(one.number for one in seen)
    said = [f"mark {number} lies there {count[number]} times and was left out; lay each number once"
            for number in count if count[number] > 1]
    small = sorted(one.number for one in seen if one.side_pixels < LEAST_SIDE_PIXELS and count[one.number] == 1)
    said += [f"mark {number} is too small in the picture and was left out" for number in small]
    return [one for one in seen if count[one.number] == 1 and one.number not in small], said


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredEdges:
    """Edges of one mark as measured: n places.

    local : (n, 2) middles in the mark's frame, the square 1 wide.
    pixels : (n, 2) where the edge lies in the picture, on the line measured along.
    normals : (n, 2) unit vectors in the picture from black to white; the place counts along them only.
    blur : median standard deviation of the blur, pixels.
    """

    local: np.ndarray
    pixels: np.ndarray
    normals: np.ndarray
    blur: float


def measure_edges(light: np.ndarray, number: int, see) -> MeasuredEdges:
    """Measure the edges of a mark.

    Parameters
    ----------
    light : (h, w) float or uint16 array
        Linear light.
    see : function
        Takes places (n, 2) in the mark's frame to pixels, good to some two pixels.
    """
    middles, normals = edges_of(number)
    along = np.column_stack((-normals[:, 1], normals[:, 0]))
    cell = 1.0 / CELLS
    across = np.linspace(-_REACH, _REACH, _ACROSS) * cell
    beside = np.linspace(-0.25, 0.25, _ALONG) * cell
    places = (
        middles[:, None, None]
        + across[:, None, None] * normals[:, None, None]
        + (beside[:, None] * along[:, None, None])
    )
    pixels = see(places.reshape(-1, 2)).reshape(places.shape)
    profiles = sampled(light, pixels).mean(axis=2)
    found = steps(profiles)
    start, end = pixels[:, 0].mean(axis=1), pixels[:, -1].mean(axis=1)
    lengths = np.hypot(*(end - start).T)
    typical = np.median(found.contrast)
    sound = (found.contrast > 0.5 * typical) & (found.at > 0.2) & (found.at < 0.8)
    measured = start + found.at[:, None] * (end - start)
    # The line runs along the image of the normal; what is measured across the edge is its own image's normal.
    tip = see(middles + 0.3 * cell * along)
    tail = see(middles - 0.3 * cell * along)
    tangent = (tip - tail) / np.hypot(*(tip - tail).T)[:, None]
    square = np.column_stack((tangent[:, 1], -tangent[:, 0]))
    square *= np.sign((square * (end - start)).sum(axis=1))[:, None]
    blur = float(np.median((found.width * lengths)[sound])) if sound.any() else np.inf
    return MeasuredEdges(middles[sound], measured[sound], square[sound], blur)
