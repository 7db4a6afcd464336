"""From photographs with marks to a solved table: found, refused where that is due, and put in a frame of its own."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geometry.pose import rotate, rotation
from nest.digitise.camera import View
from nest.digitise.marks import USUAL_SIDE_MM, SeenMark, each_once, find_marks, measure_edges
from nest.digitise.marksheet import CROSS
from nest.digitise.picture import Photograph
from nest.digitise.solve import SHARED, Distance, Known, Layout, Solution, edges_observed, solve, usual
from nest.digitise.start import first_answer
from nest.digitise.tapes import refuse_distances, said_of_distances
from nest.digitise.vision import PhotographProblem

LEAST_MARKS = 4
ADVISED_MARKS = 8

ROW_SHARE = 0.12
"""Marks spread less than this across, of what they spread along, lie in a row: nothing is known beside it."""

MOST_BLUR_MM = 2.2
"""Standard deviation of the blur on the table; a sharp photograph has half a millimetre."""

EDGE_ERROR_PIXELS = 0.15
BAD_MARK = 5.0
"""A mark whose residuals are this many times the others' is bent, wet or moved, and left out."""


@dataclass(frozen=True, slots=True)
class Frame:
    """From the frame that is solved in to that of the drawing: a turn, then a move in mm."""

    turn_deg: float
    shift: tuple[float, float]

    def apply(self, points: np.ndarray) -> np.ndarray:
        """Points (n, 2) in the drawing's frame."""
        return rotate(points, self.turn_deg) + np.array(self.shift)

    def view(self, view: View) -> View:
        """The same view of points given in the drawing's frame."""
        flat = rotation(self.turn_deg)
        solid = np.eye(3)
        solid[:2, :2] = flat
        turn = view.turn @ solid.T
        return View(view.lens, turn, view.shift - turn[:, :2] @ np.array(self.shift))


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """A solved table.

    solution, frame : the answer, and the frame of drawings.
    seen : marks of each photograph.
    left_out : numbers of marks that do not fit the others.
    around : middles of all marks of a fixed table, seen or not, (k, 2) mm, in the frame that is solved in.
    blur_pixels, said : of each photograph the blur, and sentences about all.
    """

    solution: Solution
    frame: Frame
    seen: tuple[tuple[SeenMark, ...], ...]
    left_out: tuple[int, ...]
    blur_pixels: tuple[float, ...]
    said: tuple[str, ...]
    around: np.ndarray | None = None

    def view(self, photograph: int = 0) -> View:
        """The view of one photograph, in the frame of drawings."""
        return self.frame.view(self.solution.layout.view(self.solution.values, photograph))

    def doubt_of(self, pixels: np.ndarray, height: float = 0.0, photograph: int = 0) -> np.ndarray:
        """Where pixels (p, 2) may lie on the plane as well: (n, p, 2) mm, each of n moves times a unit deviate."""
        solution, small = self.solution, 1e-3
        base = self.view(photograph).on_plane(pixels, height)
        moves = []
        for way in solution.spread.T:
            view = self.frame.view(solution.layout.view(solution.values + small * way, photograph))
            moves.append((view.on_plane(pixels, height) - base) / small)
        return np.array(moves)

    def hull(self) -> shapely.Polygon:
        """Hull of the marks' middles, in the frame of drawings."""
        points = self.places() if self.around is None else self.frame.apply(self.around)
        return shapely.convex_hull(shapely.MultiPoint(points))

    def where(self, x: float, y: float) -> str:
        """A place in words: its mm in the frame of drawings, and the mark nearest to it, which a hand finds sooner."""
        nearest = int(np.argmin(np.hypot(*(self.places() - (x, y)).T)))
        return f"({x:.0f}, {y:.0f}) mm, by mark {self.solution.layout.numbers[nearest]}"

    def places(self) -> np.ndarray:
        """Middles of the marks, (m, 2) mm, in the frame of drawings."""
        return self.frame.apply(self.solution.layout.places(self.solution.values)[:, :2])


def solve_scene(
    photographs: Sequence[Photograph], side_mm: float = USUAL_SIDE_MM, distances: Sequence[Distance] = ()
) -> Scene:
    """Find the marks in photographs of one table and solve for everything.

    Raises
    ------
    PhotographProblem
        If there are too few marks, they lie in a row, a photograph is blurred, or the marks do not fit together.
    """
    sizes = {one.size for one in photographs}
    if len(sizes) > 1:
        raise PhotographProblem(
            f"The photographs are of different sizes ({', '.join(f'{w} × {h}' for w, h in sorted(sizes))} pixels); "
            "take all with one camera, held the same way."
        )
    seen, said = [], []
    for one in photographs:
        usable, of_marks = each_once(find_marks(one))
        _refuse_few(one, usable, of_marks)
        seen.append(usable)
        said += [sentence for sentence in of_marks if sentence not in said]
    numbers = _tied(photographs, seen)
    for tape in distances:
        for number in (tape.first, tape.second):
            if number not in numbers:
                raise PhotographProblem(
                    f"The distance {tape.first} to {tape.second}: mark {number} is not seen; show it or leave it out."
                )
    layout = Layout(numbers, *photographs[0].size, side_mm, len(photographs), CROSS)
    known = usual(layout)
    solution = first_answer(layout, seen, known)
    if solution is None or solution.rms_pixels > 8.0:
        raise PhotographProblem(
            f"{photographs[0].name}: the marks do not fit one flat table; lay all of them flat, of the same print."
        )
    solution, seen, left_out, blur = _refined(photographs, seen, solution, known, distances)
    for photograph, view, pixels in zip(photographs, range(len(photographs)), blur, strict=True):
        refuse_blur(photograph, solution, view, pixels)
    frame = frame_of(solution, photographs[0].turns)
    said += [f"mark {number} does not fit the others and was left out" for number in left_out]
    said += said_of_distances(solution, distances)
    return Scene(solution, frame, tuple(map(tuple, seen)), left_out, blur, tuple(said))


def _refuse_few(photograph: Photograph, found: list[SeenMark], said: list[str]) -> None:
    """Refuse a photograph with too few marks, or marks in a row; `said` of those that were left out."""
    if len(found) < LEAST_MARKS:
        also = "".join(f"; {sentence}" for sentence in said[:3])
        raise PhotographProblem(
            f"{photograph.name}: expected at least {LEAST_MARKS} marks ({ADVISED_MARKS} or more are better), found "
            f"{len(found)}; lay more about the hide, wholly in the picture, flat, sharp and lit{also}."
        )
    middles = np.array([one.corners.mean(axis=0) for one in found])
    spread = np.linalg.svd(middles - middles.mean(axis=0), compute_uv=False)
    if spread[1] < ROW_SHARE * spread[0]:
        raise PhotographProblem(f"{photograph.name}: the marks lie in a row; lay them on all sides of the hide.")


def _tied(photographs: Sequence[Photograph], seen: Sequence[Sequence[SeenMark]]) -> tuple[int, ...]:
    """Numbers of all marks, the largest of the first photograph first; each shares marks with those before."""
    known: set[int] = set()
    for photograph, marks in zip(photographs, seen, strict=True):
        own = {mark.number for mark in marks}
        if known and len(own & known) < LEAST_MARKS:
            raise PhotographProblem(
                f"{photograph.name}: expected {LEAST_MARKS} marks that the photographs before it show too, found "
                f"{len(own & known)}; leave the marks where they are."
            )
        known |= own
    reference = max(seen[0], key=lambda mark: mark.side_pixels).number
    return (reference, *sorted(known - {reference}))


def _refined(photographs, seen, solution: Solution, known: Known, distances):
    """Edges measured and solved with, twice; marks that do not fit are left out."""
    left_out: list[int] = []
    for last in (False, True):
        layout = solution.layout
        edges = [
            {mark.number: measured_mark(one.light[:, :, 1], layout, solution.values, i, mark.number) for mark in marks}
            for i, (one, marks) in enumerate(zip(photographs, seen, strict=True))
        ]
        observed = [edges_observed(layout, one) for one in edges]
        taped = distances if last else ()
        solution = solve(layout, observed, solution.values, known, EDGE_ERROR_PIXELS, taped)
        bad = [] if last else _bad_marks(solution, observed)
        if not last:
            refuse_distances(solution, distances, [layout.numbers[i] for i in bad])
        if bad:
            left_out += [layout.numbers[i] for i in bad]
            kept = [i for i in range(len(layout.numbers)) if i not in bad]
            seen = [[mark for mark in marks if mark.number not in left_out] for marks in seen]
            if min(map(len, seen)) < LEAST_MARKS:
                raise PhotographProblem(
                    f"{photographs[0].name}: the marks do not fit one flat table; lay them flat, all of one print."
                )
            solution, known = _without(solution, known, kept)
    blur = tuple(float(np.median([one.blur for one in marks.values()])) for marks in edges)
    return solution, seen, tuple(sorted(left_out)), blur


def measured_mark(light: np.ndarray, layout: Layout, values: np.ndarray, photograph: int, number: int):
    """The edges of one mark, looked for where these values put it."""
    index = layout.numbers.index(number)
    view = layout.view(values, photograph)

    def see(local: np.ndarray) -> np.ndarray:
        return view.see(layout.on_table(values, np.full(len(local), index), local))

    return measure_edges(light, number, see)


def _bad_marks(solution: Solution, observed) -> list[int]:
    """Marks whose residuals are far above the others'; never the one that holds the frame."""
    count = len(solution.layout.numbers)
    squares, places = np.zeros(count), np.zeros(count)
    for one, left in zip(observed, solution.residuals, strict=True):
        np.add.at(squares, one.mark, left**2)
        np.add.at(places, one.mark, 1.0)
    rms = np.sqrt(squares / np.maximum(places, 1.0))
    usual_rms = max(float(np.median(rms)), EDGE_ERROR_PIXELS / 2.0)
    return [i for i in range(1, count) if rms[i] > BAD_MARK * usual_rms]


def _without(solution: Solution, known: Known, kept: list[int]) -> tuple[Solution, Known]:
    layout = replace(solution.layout, numbers=tuple(solution.layout.numbers[i] for i in kept))
    first = SHARED + 6 * layout.photographs
    columns = [*range(first), *(first + 3 * i + k for i in kept for k in range(3))]
    root = known.root[:, columns]
    used = np.abs(root).sum(axis=1) > 0.0
    return replace(solution, layout=layout, values=solution.values[columns]), Known(known.mean[columns], root[used])


def refuse_blur(photograph: Photograph, solution: Solution, number: int, pixels: float) -> None:
    """Refuse a photograph whose edges are smeared too wide on the table."""
    view = solution.layout.view(solution.values, number)
    middle = solution.layout.places(solution.values)[:, :2].mean(axis=0)
    if pixels * view.mm_per_pixel(middle) > MOST_BLUR_MM:
        raise PhotographProblem(
            f"{photograph.name}: the photograph is blurred ({pixels * view.mm_per_pixel(middle):.1f} mm on the table); "
            "hold the camera still, focus, give more light."
        )


def frame_of(solution: Solution, turns: int) -> Frame:
    """x along the first photograph's width as shown upright, the origin below and left of all marks."""
    layout = solution.layout
    view = layout.view(solution.values)
    middle = np.array((0.5 * layout.width, 0.5 * layout.height))
    # To the right as shown is right, up, left or down as stored.
    right = np.array(((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))[turns % 4]) * 100.0
    away = np.diff(view.on_plane(np.array((middle, middle + right))), axis=0)[0]
    turned = Frame(-float(np.degrees(np.arctan2(away[1], away[0]))), (0.0, 0.0))
    sheet = np.array(((-0.7, -0.7), (0.7, -0.7), (0.7, 0.7), (-0.7, 0.7)))
    corners = [layout.on_table(solution.values, np.full(4, i), sheet) for i in range(len(layout.numbers))]
    low = np.floor(turned.apply(np.concatenate(corners)).min(axis=0) / 10.0) * 10.0
    return replace(turned, shift=(-float(low[0]), -float(low[1])))
