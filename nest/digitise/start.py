"""A first answer to `nest.digitise.solve`: each guess of the focal length gives a plane, the plane gives the marks."""

from collections.abc import Iterable, Sequence

import numpy as np

from nest.digitise.camera import Lens, View
from nest.digitise.marks import CORNERS, SeenMark
from nest.digitise.solve import SHARED, Known, Layout, Solution, corners_observed, solve
from nest.digitise.vision import opencv

_FOCALS = (0.65, 0.85, 1.1, 1.6)
"""Focal lengths tried, in picture widths."""

_GUESSES = 3
"""The best guesses are gone on with."""

CORNER_ERROR_PIXELS = 0.6


def first_answer(layout: Layout, seen: Sequence[Sequence[SeenMark]], known: Known) -> Solution | None:
    """Values from the corners of the marks alone, as `solve` gives them; None if no guess leads to any.

    `seen` holds the marks of each photograph. Marks of later photographs are tied in by those seen before.
    """
    guesses = sorted(_guesses(layout, seen), key=lambda one: one[0])
    best = None
    observed = [corners_observed(layout, marks) for marks in seen]
    for _, values in guesses[:_GUESSES]:
        found = solve(layout, observed, values, known, CORNER_ERROR_PIXELS)
        if np.isfinite(found.values).all() and (best is None or found.rms_pixels < best.rms_pixels):
            best = found
    return best


def _guesses(layout: Layout, seen: Sequence[Sequence[SeenMark]]):
    """(misfit, values) of each focal length and each of the two ways a square may be turned."""
    longest = max(layout.width, layout.height)
    for share in _FOCALS:
        lens = Lens(
            share * longest, 0.5 * (layout.width - 1), 0.5 * (layout.height - 1), 0.0, 0.0, layout.width, layout.height
        )
        first = next(one for one in seen[0] if one.number == layout.numbers[0])
        for view in _views_of(layout, lens, first):
            values = np.zeros(layout.unknowns)
            values[:SHARED] = (*lens.values(), 0.0, 1.0)
            misfit = 0.0
            places: dict[int, tuple[float, float, float]] = {}
            for number, marks in enumerate(seen):
                own = view if number == 0 else _view_by_marks(layout, lens, marks, places)
                if own is None:
                    break
                for mark in marks:
                    place, off = _placed(layout, own, mark)
                    places.setdefault(mark.number, place)
                    misfit += off
                at = SHARED + 6 * number
                values[at : at + 6] = (*_vector(own.turn), *own.shift)
            if len(places) < len(layout.numbers) or not np.isfinite(misfit):
                continue
            values[SHARED + 6 * layout.photographs :] = np.concatenate([places[one] for one in layout.numbers])
            yield misfit, values


def _views_of(layout: Layout, lens: Lens, mark: SeenMark):
    """The ways this mark may lie before the camera, its own frame taken for the table's."""
    cv2 = opencv()
    square = np.column_stack((CORNERS * layout.side_mm, np.zeros(4)))
    matrix = np.array(((lens.focal, 0.0, lens.cx), (0.0, lens.focal, lens.cy), (0.0, 0.0, 1.0)))
    found = cv2.solvePnPGeneric(square, mark.corners, matrix, None, flags=cv2.SOLVEPNP_IPPE_SQUARE)
    for vector, shift in zip(found[1], found[2], strict=True):
        turn = cv2.Rodrigues(vector)[0]
        if turn[2, 2] < 0.0:
            yield View(lens, turn, shift.ravel())


def view_by_points(lens: Lens, points: np.ndarray, pixels: np.ndarray) -> View | None:
    """The place of the camera from points of the table, (n, 2) mm, seen at pixels; None if there is none."""
    cv2 = opencv()
    matrix = np.array(((lens.focal, 0.0, lens.cx), (0.0, lens.focal, lens.cy), (0.0, 0.0, 1.0)))
    world = np.column_stack((points, np.zeros(len(points))))
    bent = np.array((lens.k1, lens.k2, 0.0, 0.0))
    good, vector, shift = cv2.solvePnP(world, pixels, matrix, bent, flags=cv2.SOLVEPNP_ITERATIVE)
    turn = cv2.Rodrigues(vector)[0] if good else np.eye(3)
    return View(lens, turn, shift.ravel()) if good and turn[2, 2] < 0.0 else None


def _view_by_marks(layout: Layout, lens: Lens, marks: Sequence[SeenMark], places) -> View | None:
    known = [mark for mark in marks if mark.number in places]
    if not known:
        return None
    points = np.concatenate([corners_at(places[mark.number], layout.side_mm) for mark in known])
    return view_by_points(lens, points, np.concatenate([mark.corners for mark in known]))


def corners_at(place: Iterable[float], side_mm: float) -> np.ndarray:
    """Corners of a mark of this place and turn, (4, 2) mm."""
    x, y, angle = place
    turn = np.array(((np.cos(angle), -np.sin(angle)), (np.sin(angle), np.cos(angle))))
    return CORNERS * side_mm @ turn.T + (x, y)


def _placed(layout: Layout, view: View, mark: SeenMark) -> tuple[tuple[float, float, float], float]:
    """Place and turn of a mark on the table, and how badly it fits there, relative to its size."""
    found = view.on_plane(mark.corners)
    middle = found.mean(axis=0)
    away, square = found - middle, CORNERS * layout.side_mm
    angle = float(np.arctan2((square[:, 0] * away[:, 1] - square[:, 1] * away[:, 0]).sum(), (square * away).sum()))
    off = corners_at((*middle, angle), layout.side_mm) - found
    return (float(middle[0]), float(middle[1]), angle), float((off**2).sum() / layout.side_mm**2)


def _vector(turn: np.ndarray) -> np.ndarray:
    return opencv().Rodrigues(turn)[0].ravel()
