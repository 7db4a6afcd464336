"""Where the texts of a picture stand: each near what it names, none on another, all on the page."""

from collections.abc import Sequence

import numpy as np
import shapely

from nest.sheets.page import Box

_APART = 0.8
"""Texts keep this far from each other, points."""

_RINGS, _SPOKES, _STEP = 60, 16, 3.0
"""Places looked at around a spot: circles this many, this far apart, with this many places on the innermost; beyond
the first third of the circles only every third."""

_LOOKED_AT = 300
"""Of the free places around a spot, this many of the nearest are compared."""

_ON_A_LINE = 1.5
"""A place is as bad by this many points for every point of a line that it covers."""

_PARTS, _ON_A_TEXT = 12, 15.0
"""The line from a place to its spot is seen in this many parts; each that ends on what is taken counts this much."""

_ALONG = 5.0
"""A line is taken at points this far apart: less than any text is high or wide."""

_LETTERS = 0.85
"""Letters leave some of the height of their box blank."""

_GRID = 13
"""Places along each side of a piece that its text is tried at."""


class Spots:
    """Boxes that are taken within a frame; `around` and `within` find room for another, and `take` takes it."""

    def __init__(self, frame: Box):
        self._frame = frame
        self._taken = np.zeros((0, 4))
        self._lines = np.zeros((0, 2))

    def avoid(self, points) -> None:
        """Texts should rather not stand on these points (n, 2) of a line."""
        self._lines = np.vstack((self._lines, points))

    def take(self, *boxes: Box) -> None:
        """No other text may stand there."""
        rows = [(box.x0, box.y0, box.x1, box.y1) for box in boxes]
        self._taken = np.vstack((self._taken, np.array(rows).reshape(-1, 4)))

    def take_line(self, start, end, half: float = 0.6) -> None:
        """No other text may stand on this line, nor within `half` of it."""
        steps = 2 + int(np.hypot(*(np.asarray(end) - start)) / _ALONG)
        self.take(*(Box(x - half, y - half, x + half, y + half) for x, y in np.linspace(start, end, steps)))

    @property
    def foot(self) -> tuple[float, float]:
        """The middle of the frame's lower edge."""
        return 0.5 * (self._frame.x0 + self._frame.x1), self._frame.y1

    def free(self, box: Box) -> bool:
        """Whether nothing stands there, and it lies within the frame."""
        centre = np.array(((0.5 * (box.x0 + box.x1), 0.5 * (box.y0 + box.y1)),))
        return self._first(centre, box.x1 - box.x0, box.y1 - box.y0) is not None

    def around(self, at, wide: float, high: float, clear: float = 2.0, towards=None) -> Box | None:
        """A free place near `at` for a text of this size, `clear` of it, on as few lines as may be; None without any.

        `towards` : a direction (2,) that places are preferred in.
        """
        at, half = np.asarray(at, dtype=np.float64), np.array((0.5 * wide, 0.5 * high))
        for rings in (_RINGS // 6, _RINGS):
            centres = _around(at, 0.5 * wide + clear, 0.5 * high + clear, towards, rings)
            centres = centres[self._room(centres, half)][:_LOOKED_AT]
            if len(centres):
                break
        else:
            return None
        near = self._lines[(np.abs(self._lines - at) < np.abs(centres - at).max(axis=0) + half).all(axis=1)]
        covered = (np.abs(centres[:, None, :] - near[None]) < half + _APART).all(axis=2).sum(axis=1)
        away = np.hypot(*np.maximum(np.abs(centres - at) - half, 0.0).T)
        worse = _ON_A_LINE * covered + _ON_A_TEXT * self._crossed(at, centres, half)
        return _box(centres[int(np.argmin(away + worse))], half)

    def _crossed(self, at: np.ndarray, centres: np.ndarray, half: np.ndarray) -> np.ndarray:
        """How many parts of the line from a spot to each of these places end on what is taken, (n,)."""
        shares = np.linspace(1.0 / _PARTS, 1.0, _PARTS)[:, None, None]
        ways = at + shares * (np.clip(at, centres - half, centres + half) - at)
        low, top = ways.min(axis=(0, 1)), ways.max(axis=(0, 1))
        near = self._taken[(self._taken[:, :2] < top).all(axis=1) & (self._taken[:, 2:] > low).all(axis=1)]
        # What the spot itself stands on says nothing about a place.
        near = near[~((near[:, :2] < at) & (near[:, 2:] > at)).all(axis=1)]
        ways = ways[:, :, None, :]
        on = (ways > near[:, :2] - _APART).all(axis=3) & (ways < near[:, 2:] + _APART).all(axis=3)
        return np.asarray(on.any(axis=2).sum(axis=0))

    def within(self, shape, wide: float, high: float, rows=()) -> Box | None:
        """A free place for a text of this size within a shapely polygon, as near its middle as there is.

        `rows` : boxes (x0, y0, x1, y1) of its letters, from its middle, where they do not fill it.
        """
        x0, y0, x1, y1 = shapely.bounds(shape)
        if not (x1 - x0 >= wide and y1 - y0 >= high):  # nor where the polygon is empty
            return None
        middle = shapely.get_coordinates(shapely.centroid(shape))[0]
        x = np.append(np.linspace(x0 + 0.5 * wide, x1 - 0.5 * wide, _GRID), middle[0])
        y = np.append(np.linspace(y0 + 0.5 * high, y1 - 0.5 * high, _GRID), middle[1])
        centres = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        half = np.array((0.5 * wide, 0.5 * high))
        shapely.prepare(shape)
        letters = half * (1.0, _LETTERS)
        for low_x, low_y, top_x, top_y in rows or ((*-letters, *letters),):
            x, y = centres.T
            centres = centres[shapely.contains_properly(shape, shapely.box(x + low_x, y + low_y, x + top_x, y + top_y))]
        return self._first(centres[np.argsort(np.hypot(*(centres - middle).T), kind="stable")], wide, high)

    def _first(self, centres: np.ndarray, wide: float, high: float) -> Box | None:
        half = np.array((0.5 * wide, 0.5 * high))
        free = self._room(centres, half)
        return _box(centres[int(np.argmax(free))], half) if free.any() else None

    def _room(self, centres: np.ndarray, half: np.ndarray) -> np.ndarray:
        """Whether a text of this half width and height has room at each of these places, (n,)."""
        low, top = centres - half, centres + half
        frame = self._frame
        free = (low >= (frame.x0, frame.y0)).all(axis=1) & (top <= (frame.x1, frame.y1)).all(axis=1)
        meets = (low[:, None, :] < self._taken[None, :, 2:] + _APART).all(axis=2)
        meets &= (top[:, None, :] > self._taken[None, :, :2] - _APART).all(axis=2)
        return free & ~meets.any(axis=1)


def _box(centre: np.ndarray, half: np.ndarray) -> Box:
    return Box(*(centre - half).tolist(), *(centre + half).tolist())


def _around(at: np.ndarray, x: float, y: float, towards: Sequence[float] | None, rings: int) -> np.ndarray:
    """Centres on ellipses around a spot, nearest first; those in the preferred direction before others as near."""
    found: list[np.ndarray] = []
    for ring in (*range(min(rings, _RINGS // 3)), *range(_RINGS // 3, rings, 3)):
        angles = np.linspace(0.0, 2.0 * np.pi, _SPOKES + 2 * ring, endpoint=False)
        way = np.column_stack((np.cos(angles), np.sin(angles)))
        if towards is not None:
            way = way[np.argsort(-(way @ np.asarray(towards)), kind="stable")]
        # On the box around the spot, not on the ellipse: a text beside a spot is as near as one above it.
        reach = np.minimum(x / np.maximum(np.abs(way[:, 0]), 1e-9), y / np.maximum(np.abs(way[:, 1]), 1e-9))
        found.append(at + way * (reach + ring * _STEP)[:, None])
    return np.vstack(found)
