"""Direction of most stretch, stretch ratio and their uncertainty, from extensions read at several angles.

Under one load the extension at angle θ follows the plane strain transformation of any mechanics-of-materials text:

    ε(θ) = a + b cos 2θ + c sin 2θ,  a = (εx + εy) / 2,  b = (εx − εy) / 2,  c = γ / 2

Least squares gives (a, b, c) and their covariance; the greatest extension is a + r with r = √(b² + c²), in the
direction ½ atan2(c, b), the least is a − r square to it. Uncertainties of direction, ratio and extensions follow
by the delta method: the covariance is carried through the first derivatives (JCGM 100:2008, Guide to the expression of
uncertainty in measurement, 5.2; from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, degrees, fsum, hypot, inf

import numpy as np

from nest.statistics import fisher_quantile, student_quantile

CONFIDENCE = 0.95
LEAST_ANGLES = 3


@dataclass(frozen=True, slots=True)
class Reading:
    """Extension of one strip under the load, percent, at an angle from the material's x axis, degrees.

    Readings of the same `strip` and angle are averaged: repeats on one strip do not say how strips differ.
    """

    angle_deg: float
    extension_percent: float
    strip: str = ""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What a stretch test says.

    direction_deg : direction of most stretch, 0 ≤ d < 180, from the material's x axis.
    most_percent, least_percent : extensions in that direction and square to it.
    x_percent, y_percent, shear_percent : εx, εy and γ.
    ratio : most ÷ least; infinity where the least is not above zero.
    direction_within_deg, ratio_within : half widths of 95 % intervals; infinity where the readings
        leave no degree of freedom and no reading error was stated.
    isotropic : whether equal stretch in all directions is within the 95 % region of the readings.
    """

    direction_deg: float
    most_percent: float
    least_percent: float
    x_percent: float
    y_percent: float
    shear_percent: float
    ratio: float
    direction_within_deg: float
    ratio_within: float
    isotropic: bool
    readings: int
    residual_percent: float
    """Standard deviation of the readings about the curve; 0 with three."""


def fit_stretch(readings: Sequence[Reading], reading_error_percent: float | None = None) -> Stretch:
    """Fit the readings of one material or zone.

    Parameters
    ----------
    reading_error_percent : standard deviation of a reading, where it is known; by default it is estimated from the
        scatter about the curve, which needs more than three readings.

    Raises
    ------
    ValueError
        If fewer than three directions differ (modulo 180°), or the angles do not tell the three unknowns apart.
    """
    angles, extensions = _averaged(readings)
    if len({round(angle % 180.0, 6) for angle in angles}) < LEAST_ANGLES:
        raise ValueError(f"expected readings at three or more different angles, found {len(set(angles % 180.0))}")
    twice = np.radians(2.0 * angles)
    design = np.column_stack((np.ones(len(angles)), np.cos(twice), np.sin(twice)))
    if np.linalg.cond(design) > 1e4:
        raise ValueError("expected angles well apart, such as 0, 45 and 90, found some within a degree of each other")
    solved = np.linalg.lstsq(design, extensions, rcond=None)[0]
    left = extensions - design @ solved
    freedom = len(angles) - 3
    scatter = float(np.sqrt(left @ left / freedom)) if freedom else 0.0
    error = scatter if reading_error_percent is None else reading_error_percent
    known = reading_error_percent is not None
    covariance = error**2 * np.linalg.inv(design.T @ design)
    return _described(solved, covariance, inf if known else freedom, len(angles), scatter)


def _averaged(readings: Sequence[Reading]) -> tuple[np.ndarray, np.ndarray]:
    """Angles and extensions, one of each strip and angle; a strip without a name stands alone."""
    heaps: dict[tuple[float, str | int], list[float]] = {}
    for at, one in enumerate(readings):
        heaps.setdefault((one.angle_deg, one.strip or at), []).append(one.extension_percent)
    return np.array([angle for angle, _ in heaps]), np.array([fsum(heap) / len(heap) for heap in heaps.values()])


def _described(solved: np.ndarray, covariance: np.ndarray, freedom: float, count: int, scatter: float) -> Stretch:
    a, b, c = (float(value) for value in solved)
    r = hypot(b, c)
    most, least = a + r, a - r
    unit = np.array((0.0, b, c)) / r if r > 0.0 else np.zeros(3)
    turn = np.array((0.0, -c, b)) / (2.0 * r * r) if r > 0.0 else np.zeros(3)
    d_most, d_least = np.array((1.0, 0.0, 0.0)) + unit, np.array((1.0, 0.0, 0.0)) - unit
    ratio = most / least if least > 0.0 else inf
    d_ratio = (d_most - ratio * d_least) / least if least > 0.0 else np.zeros(3)
    direction_within, ratio_within, isotropic = inf, inf, r == 0.0
    if freedom > 0:
        t = student_quantile(0.5 + 0.5 * CONFIDENCE, freedom)

        def within(derivative: np.ndarray) -> float:
            return t * float(np.sqrt(derivative @ covariance @ derivative))

        ratio_within = within(d_ratio) if least > 0.0 else inf
        if r > 0.0:
            direction_within = min(90.0, degrees(within(turn)))
            isotropic = _no_direction(np.array((b, c)), covariance[1:, 1:], freedom)
    return Stretch(
        direction_deg=(0.5 * degrees(atan2(c, b))) % 180.0,
        most_percent=most,
        least_percent=least,
        x_percent=a + b,
        y_percent=a - b,
        shear_percent=2.0 * c,
        ratio=ratio,
        direction_within_deg=direction_within,
        ratio_within=ratio_within,
        isotropic=isotropic,
        readings=count,
        residual_percent=scatter,
    )


def _no_direction(found: np.ndarray, covariance: np.ndarray, freedom: float) -> bool:
    """Whether the joint 95 % region of (b, c) holds the origin, where there is no direction at all."""
    if not np.linalg.det(covariance) > 0.0:
        return False
    return float(found @ np.linalg.solve(covariance, found)) / 2.0 <= fisher_quantile(CONFIDENCE, freedom)
