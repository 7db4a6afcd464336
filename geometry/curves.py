"""Curves as chords: arcs, bulges, ellipses, splines.

Every function here takes the largest distance allowed between the curve and its chords
(`chord_error`, mm) and keeps it. A circle's arc of radius r over the angle d leaves its chord by the
sagitta r (1 - cos(d / 2)).
"""

from math import acos, atan, ceil, hypot, pi, radians, sqrt

import numpy as np

from geometry.precision import CHORD_ERROR_MM, GeometryError

LARGEST_STEP_RAD = pi / 4.0
"""No chord spans more than this, however small the arc: a hole stays round."""


def chord_step(radius: float, chord_error: float = CHORD_ERROR_MM) -> float:
    """Largest angle (radians) one chord may span on a circle of `radius` mm.

    Raises
    ------
    GeometryError
        If `chord_error` is not above zero.
    """
    if not chord_error > 0.0:
        raise GeometryError(f"expected a chord error above zero, found {chord_error}")
    if radius <= chord_error:
        return LARGEST_STEP_RAD
    return min(LARGEST_STEP_RAD, 2.0 * acos(1.0 - chord_error / radius))


def arc_points(
    centre: tuple[float, float],
    radius: float,
    start_deg: float,
    end_deg: float,
    chord_error: float = CHORD_ERROR_MM,
) -> np.ndarray:
    """Points on an arc, counter-clockwise from `start_deg` to `end_deg`, both ends included.

    An end that does not lie beyond the start lies a turn later (as in a DXF ARC); equal angles give
    the whole circle, its first point repeated at the end.

    Returns
    -------
    (n, 2) float array, mm.
    """
    return ellipse_points(centre, (radius, 0.0), 1.0, start_deg, end_deg, chord_error)


def ellipse_points(
    centre: tuple[float, float],
    major_axis: tuple[float, float],
    ratio: float,
    start_deg: float = 0.0,
    end_deg: float = 360.0,
    chord_error: float = CHORD_ERROR_MM,
) -> np.ndarray:
    """Points on an ellipse, counter-clockwise between two parameter angles, both ends included.

    `major_axis` runs from the centre to the end of the longer half axis; the other half axis is
    `ratio` times as long (as in a DXF ELLIPSE). The ellipse is the flattened image of a circle on its
    longer axis, and flattening shortens distances, so that circle's sagitta bounds the error.

    Returns
    -------
    (n, 2) float array, mm.
    """
    sweep = (end_deg - start_deg) % 360.0 or 360.0
    step = chord_step(hypot(*major_axis), chord_error)
    count = max(1, ceil(radians(sweep) / step - 1e-9))
    angles = np.radians(np.linspace(start_deg, start_deg + sweep, count + 1))
    major = np.asarray(major_axis, dtype=np.float64)
    minor = ratio * np.array((-major[1], major[0]))
    return np.asarray(np.asarray(centre) + np.outer(np.cos(angles), major) + np.outer(np.sin(angles), minor))


def bulge_points(
    start: tuple[float, float],
    end: tuple[float, float],
    bulge: float,
    chord_error: float = CHORD_ERROR_MM,
) -> np.ndarray:
    """Points on a polyline's bulged edge, from `start` to `end`, both included exactly.

    `bulge` is the tangent of a quarter of the included angle, positive when the arc runs
    counter-clockwise (DXF reference, group code 42): 0 is a straight edge, 1 a half circle.

    Returns
    -------
    (n, 2) float array, mm.
    """
    first, last = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    chord = last - first
    if bulge == 0.0 or not chord.any():
        return np.array((first, last))
    included = 4.0 * atan(bulge)
    # The centre lies on the chord's perpendicular bisector, to the left of the chord for 0 < bulge < 1.
    centre = 0.5 * (first + last) + np.array((-chord[1], chord[0])) * (1.0 - bulge * bulge) / (4.0 * bulge)
    radius = hypot(*(first - centre))
    count = max(1, ceil(abs(included) / chord_step(radius, chord_error) - 1e-9))
    turn = np.linspace(0.0, included, count + 1)
    arm = first - centre
    points = centre + np.outer(np.cos(turn), arm) + np.outer(np.sin(turn), (-arm[1], arm[0]))
    points[0], points[-1] = first, last
    return points


def bspline_points(
    control: np.ndarray,
    knots: np.ndarray,
    degree: int = 3,
    chord_error: float = CHORD_ERROR_MM,
) -> np.ndarray:
    """Points on a non-rational B-spline over its whole domain, both ends included.

    Within a knot span a chord over the parameter step h leaves the curve by at most h² M / 8, where
    M bounds the second derivative; that derivative is a B-spline itself, and its control points bound it
    (convex hull property). So the error holds by proof, not by sampling.

    Parameters
    ----------
    control : (n, 2) array-like
        Control points, mm.
    knots : (n + degree + 1,) array-like
        Non-decreasing knots.

    Returns
    -------
    (m, 2) float array, mm.

    Raises
    ------
    GeometryError
        If degree, control points and knots do not fit together.

    References
    ----------
    C. de Boor (1978), A Practical Guide to Splines, ch. X.
    """
    points, knot = np.asarray(control, dtype=np.float64), np.asarray(knots, dtype=np.float64)
    if degree < 1 or len(points) <= degree:
        raise GeometryError(f"expected more than {degree} control points for degree {degree}, found {len(points)}")
    if len(knot) != len(points) + degree + 1 or (np.diff(knot) < 0.0).any():
        raise GeometryError(f"expected {len(points) + degree + 1} non-decreasing knots, found {len(knot)}")
    slopes = _derivative(points, knot, degree)
    bends = _derivative(slopes, knot[1:-1], degree - 1) if degree > 1 else np.zeros((len(points) - 2, 2))
    pieces = []
    for span in range(degree, len(points)):
        low, high = knot[span], knot[span + 1]
        if high <= low:
            continue
        # The second derivative over this span depends on the degree - 1 control points ending at span - 2.
        local = bends[max(0, span - degree) : span - 1]
        bound = float(np.hypot(*local.T).max()) if len(local) else 0.0
        count = max(1, ceil((high - low) * sqrt(bound / (8.0 * chord_error))))
        parameters = np.linspace(low, high, count + 1)
        pieces.append(_de_boor(points, knot, degree, span, parameters[:-1]))
    last = max(span for span in range(degree, len(points)) if knot[span + 1] > knot[span])
    pieces.append(_de_boor(points, knot, degree, last, knot[last + 1 : last + 2]))
    return np.concatenate(pieces)


def closed_bspline(control: np.ndarray, degree: int = 3, chord_error: float = CHORD_ERROR_MM) -> np.ndarray:
    """Points on the smooth closed uniform B-spline of `control` (n, 2); (m, 2), not closed."""
    points = np.asarray(control, dtype=np.float64)
    wrapped = np.concatenate((points, points[:degree]))
    knots = np.arange(len(wrapped) + degree + 1, dtype=np.float64)
    return bspline_points(wrapped, knots, degree, chord_error)[:-1]


def _derivative(control: np.ndarray, knots: np.ndarray, degree: int) -> np.ndarray:
    """Control points of a B-spline's derivative (degree - 1, on the knots without first and last)."""
    widths = knots[degree + 1 : degree + len(control)] - knots[1 : len(control)]
    steps = np.diff(control, axis=0)
    # Over a zero width the basis function of this control point is zero everywhere: any value will do.
    return np.asarray(degree * np.divide(steps, widths[:, None], out=np.zeros_like(steps), where=widths[:, None] > 0.0))


def _de_boor(control: np.ndarray, knots: np.ndarray, degree: int, span: int, at: np.ndarray) -> np.ndarray:
    """Evaluate a B-spline at the parameters `at`, all within one knot span."""
    layer = [np.tile(control[span - degree + k], (len(at), 1)) for k in range(degree + 1)]
    for level in range(1, degree + 1):
        for k in range(degree, level - 1, -1):
            low, high = knots[span - degree + k], knots[span + 1 + k - level]
            share = ((at - low) / (high - low))[:, None]
            layer[k] = (1.0 - share) * layer[k - 1] + share * layer[k]
    return layer[degree]
