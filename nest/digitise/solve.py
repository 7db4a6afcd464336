"""Camera, marks and views solved together by least squares, and how sure the answer is.

Unknown are the lens (focal length, principal point, two terms of distortion), the place of the camera for each
photograph, place and turn of each mark on the table, the scale of the print, and by how many pixels black and white
edges seem moved (no camera's tone curve is quite the standard one). Known are the marks' size, and distances that
somebody measured. The reference mark holds the frame while solving.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nest.digitise.camera import Lens, View, turn_of
from nest.digitise.marks import CORNERS, MeasuredEdges, SeenMark

PRINT_SPREAD = 0.0013
"""Standard deviation of a printer's scale that was checked with the rule on the sheet: printers are off by 0.15 %, and
where the rule shows 0.3 mm in 100 mm the sheet is printed again."""

PRINCIPAL_SPREAD = 0.006
"""Standard deviation of the principal point about the picture's middle, as a share of its width."""

DISTORTION_SPREAD = (0.2, 0.2)
FOCAL_SPREAD = 0.5
"""Of its logarithm, about one picture's width: telephones have 0.7 to 0.9, long lenses 2."""

TONE_SPREAD_PIXELS = 0.5

LEAST_ERROR_PIXELS = 0.05
"""No edge is known better than this, whatever the fit says: paper is not flat and ink spreads."""

LENS, TONE, SCALE = slice(0, 5), 5, 6
"""Where the unknowns stand; behind them six for each photograph, then three for each mark."""

SHARED = 7

ROUNDS = 4
_STEP = 1e-5
"""Of the usual size of an unknown, for derivatives."""


@dataclass(frozen=True, slots=True, eq=False)
class Observed:
    """What was measured in one photograph; n places.

    mark : (n,) index of the mark in the list of numbers.
    local, pixels, normals : as in `MeasuredEdges`.
    edge : (n,) 1 where the place is an edge from black to white, 0 at corners.
    """

    mark: np.ndarray
    local: np.ndarray
    pixels: np.ndarray
    normals: np.ndarray
    edge: np.ndarray


@dataclass(frozen=True, slots=True)
class Distance:
    """Somebody measured `length_mm` between the crosses of two marks."""

    first: int
    second: int
    length_mm: float

    @property
    def spread_mm(self) -> float:
        """Standard deviation of a careful measurement by tape."""
        return 0.5 + 1.0e-4 * self.length_mm


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """What there is to solve: numbers of the marks, size of the picture, nominal side, the marks' crosses.

    cross : place of the cross that distances are measured between, in the mark's frame, the square 1 wide.
    """

    numbers: tuple[int, ...]
    width: int
    height: int
    side_mm: float
    photographs: int
    cross: tuple[float, float]

    @property
    def unknowns(self) -> int:
        """How many numbers are solved for."""
        return SHARED + 6 * self.photographs + 3 * len(self.numbers)

    def lens(self, values: np.ndarray) -> Lens:
        """The lens of these values."""
        return Lens.of(values[LENS], self.width, self.height)

    def view(self, values: np.ndarray, photograph: int = 0) -> View:
        """The view of one photograph."""
        own = values[SHARED + 6 * photograph : SHARED + 6 * photograph + 6]
        return View(self.lens(values), turn_of(own[:3]), own[3:])

    def places(self, values: np.ndarray) -> np.ndarray:
        """Place and turn of the marks, (m, 3): x, y in mm, angle in radians."""
        return values[SHARED + 6 * self.photographs :].reshape(-1, 3)

    def on_table(self, values: np.ndarray, mark: np.ndarray, local: np.ndarray) -> np.ndarray:
        """Points of marks on the table, (n, 2) mm."""
        place = self.places(values)[mark]
        cos, sin = np.cos(place[:, 2]), np.sin(place[:, 2])
        x, y = local[:, 0] * self.side_mm * values[SCALE], local[:, 1] * self.side_mm * values[SCALE]
        return np.column_stack((place[:, 0] + cos * x - sin * y, place[:, 1] + sin * x + cos * y))

    def crosses(self, values: np.ndarray) -> np.ndarray:
        """Where the marks' crosses lie, (m, 2) mm."""
        return self.on_table(values, np.arange(len(self.numbers)), np.tile(self.cross, (len(self.numbers), 1)))


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What is known of the unknowns before: `root` (r, n) times (values - `mean`) has unit spread."""

    mean: np.ndarray
    root: np.ndarray


@dataclass(frozen=True, eq=False)
class Solution:
    """The answer.

    values : in the order of `Layout`.
    jacobian : (m, n) derivatives of all misses, in their standard deviations, by the values.
    residuals : by photograph, pixels; distance_residuals : of tapes, in their standard deviations.
    """

    layout: Layout
    values: np.ndarray
    jacobian: np.ndarray
    residuals: tuple[np.ndarray, ...]
    distance_residuals: np.ndarray

    @cached_property
    def spread(self) -> np.ndarray:
        """(n, n), makes of unit noise the doubt about the values; times its transpose it is their covariance."""
        return _spread(self.jacobian)

    @property
    def rms_pixels(self) -> float:
        """Root mean square of all residuals."""
        return float(np.sqrt(np.mean(np.concatenate(self.residuals) ** 2)))


def usual(layout: Layout) -> Known:
    """What is known of any camera and any print; little."""
    mean, spread = np.zeros(layout.unknowns), np.full(layout.unknowns, np.inf)
    longest = float(max(layout.width, layout.height))
    mean[:SHARED] = (longest, 0.5 * (layout.width - 1), 0.5 * (layout.height - 1), 0.0, 0.0, 0.0, 1.0)
    spread[:SHARED] = (
        FOCAL_SPREAD * longest,
        PRINCIPAL_SPREAD * longest,
        PRINCIPAL_SPREAD * longest,
        *DISTORTION_SPREAD,
        TONE_SPREAD_PIXELS,
        PRINT_SPREAD,
    )
    # The first mark holds the frame.
    first = SHARED + 6 * layout.photographs
    spread[first : first + 2], spread[first + 2] = 1e-3, 1e-6
    known = np.isfinite(spread)
    return Known(mean, np.diag(1.0 / np.where(known, spread, 1.0))[known])


def corners_observed(layout: Layout, seen: Sequence[SeenMark]) -> Observed:
    """Corners of marks, each counted twice: along x and along y of the picture."""
    index = {number: i for i, number in enumerate(layout.numbers)}
    count = 8 * len(seen)
    return Observed(
        np.repeat([index[one.number] for one in seen], 8), np.tile(np.repeat(CORNERS, 2, axis=0), (len(seen), 1)),
        np.repeat(np.concatenate([one.corners for one in seen]), 2, axis=0), np.tile(np.eye(2), (4 * len(seen), 1)),
        np.zeros(count),
    )


def edges_observed(layout: Layout, edges: Mapping[int, MeasuredEdges]) -> Observed:
    """Edges of marks, by number."""
    index = {number: i for i, number in enumerate(layout.numbers)}
    mark = np.concatenate([np.full(len(one.local), index[number]) for number, one in edges.items()])
    local, pixels, normals = (
        np.concatenate([getattr(one, key) for one in edges.values()]) for key in ("local", "pixels", "normals"))
    return Observed(mark, local, pixels, normals, np.ones(len(mark)))


def solve(
    layout: Layout, observed: Sequence[Observed], start: np.ndarray, known: Known, error_pixels: float,
    distances: Sequence[Distance] = (),
) -> Solution:
    """Least squares from `start`; `error_pixels` is what a place is trusted to.

    Places that miss by more than three times that count less (Huber's weights, found anew in each of `ROUNDS` rounds).
    """
    from scipy.optimize import least_squares

    model = _Model(layout, tuple(observed), tuple(distances))
    size = _sizes(layout)
    values = np.asarray(start, dtype=np.float64)
    for _ in range(ROUNDS):
        far = np.abs(model.misses(values)) / error_pixels
        weight = np.where(far > 3.0, np.sqrt(3.0 / np.maximum(far, 3.0)), 1.0) / error_pixels

        def away(x: np.ndarray, weight=weight) -> np.ndarray:
            v = x * size
            return np.concatenate((weight * model.misses(v), model.tapes(v), known.root @ (v - known.mean)))

        def slopes(x: np.ndarray, weight=weight) -> np.ndarray:
            v = x * size
            return (
                np.concatenate((weight[:, None] * model.slopes(v, size), model.tape_slopes(v, size), known.root)) * size
            )

        found = least_squares(away, values / size, jac=slopes, method="lm", xtol=1e-10, ftol=1e-10, max_nfev=60)
        done = np.abs(found.x - values / size).max() < 1e-6
        values = found.x * size
        if done:
            break
    left = model.misses(values)
    freedom = max(1, len(left) - layout.unknowns)
    error = max(LEAST_ERROR_PIXELS, float(np.sqrt((left**2).sum() / freedom)))
    jacobian = np.concatenate((model.slopes(values, size) / error, model.tape_slopes(values, size), known.root))
    return Solution(layout, values, jacobian, tuple(np.split(left, np.cumsum(model.counts)[:-1])), model.tapes(values))


def tape_gaps(solution: Solution, distances: Sequence[Distance]) -> tuple[np.ndarray, np.ndarray]:
    """What a solution that was found without these distances makes of each, less what was measured; mm.

    With it the standard deviation of that difference, by tape and solution together.
    """
    model = _Model(solution.layout, (), tuple(distances))
    slopes = model.tape_slopes(solution.values, _sizes(solution.layout))
    tape = np.array([one.spread_mm for one in distances])
    spread = np.sqrt(1.0 + ((slopes @ solution.spread) ** 2).sum(axis=1))
    return model.tapes(solution.values) * tape, spread * tape


@dataclass(frozen=True, slots=True, eq=False)
class _Model:
    """What the layout predicts, less what was observed."""

    layout: Layout
    observed: tuple[Observed, ...]
    distances: tuple[Distance, ...]

    @property
    def counts(self) -> list[int]:
        return [len(one.mark) for one in self.observed]

    def misses(self, values: np.ndarray) -> np.ndarray:
        """By how much places are missed across their edges, pixels."""
        parts = []
        for i, one in enumerate(self.observed):
            seen = self.layout.view(values, i).see(self.layout.on_table(values, one.mark, one.local))
            parts.append(((seen - one.pixels) * one.normals).sum(axis=1) + values[TONE] * one.edge)
        return np.concatenate(parts)

    def tapes(self, values: np.ndarray) -> np.ndarray:
        """By how much measured distances are missed, in their standard deviations."""
        index = {number: i for i, number in enumerate(self.layout.numbers)}
        at = self.layout.crosses(values)
        return np.array(
            [
                (np.hypot(*(at[index[one.first]] - at[index[one.second]])) - one.length_mm) / one.spread_mm
                for one in self.distances
            ]
        )

    def slopes(self, values: np.ndarray, size: np.ndarray) -> np.ndarray:
        """Derivative of `misses`, by central differences; all marks move at once, for each place has but one mark."""
        layout = self.layout
        marks, views = SHARED + 6 * layout.photographs, range(SHARED, SHARED + 6 * layout.photographs)
        mark = np.concatenate([one.mark for one in self.observed])
        rows = np.arange(len(mark))
        found = np.zeros((len(mark), layout.unknowns))
        for column in (*range(SHARED), *views):
            found[:, column] = self._slope(values, [column], size[column])
        for k in range(3):
            found[rows, marks + 3 * mark + k] = self._slope(
                values, range(marks + k, layout.unknowns, 3), size[marks + k]
            )
        return found

    def _slope(self, values: np.ndarray, columns, size: float) -> np.ndarray:
        step = np.zeros(len(values))
        step[list(columns)] = _STEP * size
        return (self.misses(values + step) - self.misses(values - step)) / (2.0 * _STEP * size)

    def tape_slopes(self, values: np.ndarray, size: np.ndarray) -> np.ndarray:
        """Derivative of `tapes`."""
        found = np.zeros((len(self.distances), len(values)))
        if self.distances:
            for column in (SCALE, *range(SHARED + 6 * self.layout.photographs, len(values))):
                step = np.zeros(len(values))
                step[column] = _STEP * size[column]
                found[:, column] = (self.tapes(values + step) - self.tapes(values - step)) / (2.0 * step[column])
        return found


def _spread(jacobian: np.ndarray) -> np.ndarray:
    """The matrix that makes of unit noise the doubt about the unknowns: a root of the inverse of the normal matrix.

    By singular values of the scaled Jacobian itself: squared, unknowns that hang together would drown in rounding.
    """
    scale = 1.0 / np.maximum(np.sqrt((jacobian**2).sum(axis=0)), 1e-15)
    _, level, axes = np.linalg.svd(jacobian * scale, full_matrices=False)
    return scale[:, None] * axes.T / np.maximum(level, 1e-12 * level[0])


def _sizes(layout: Layout) -> np.ndarray:
    """A usual step of each unknown, so that all are of the same size to the solver."""
    size = np.empty(layout.unknowns)
    size[:SHARED] = (1000.0, 100.0, 100.0, 0.1, 0.1, 1.0, 0.01)
    size[SHARED : SHARED + 6 * layout.photographs] = np.tile((0.1, 0.1, 0.1, 100.0, 100.0, 100.0), layout.photographs)
    size[SHARED + 6 * layout.photographs :] = np.tile((100.0, 100.0, 0.1), len(layout.numbers))
    return size
