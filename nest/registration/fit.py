"""The rigid motion that brings drawn points nearest to measured ones, by least squares.

W. Kabsch (1976), Acta Crystallographica A 32, 922-923, doi:10.1107/S0567739476001873, for the turn;
S. Umeyama (1991), IEEE Transactions on Pattern Analysis and Machine Intelligence 13, 376-380, doi:10.1109/34.88573, for
the sign that keeps it from being a mirroring, and for the scale.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True, eq=False)
class RigidFit:
    """Points are turned by `turn_deg` about the origin, then moved by `moved_mm` (2,).

    scale : by how much longer the measured lengths are than the drawn ones, as a factor; it is shown, never applied.
    residuals_mm : (n,) distances of the measured points from where the motion puts the drawn ones.
    if_mirrored_mm : (n,) the same for the best motion that turns the drawing over.
    """

    turn_deg: float
    moved_mm: np.ndarray
    scale: float
    residuals_mm: np.ndarray
    if_mirrored_mm: np.ndarray

    def apply(self, points: ArrayLike) -> np.ndarray:
        """Points (n, 2), mm, moved."""
        return np.asarray(np.asarray(points, dtype=np.float64) @ _turn(self.turn_deg).T + self.moved_mm)


def rigid_fit(drawn: ArrayLike, measured: ArrayLike) -> RigidFit:
    """The motion from `drawn` to `measured`, (n, 2) mm each, n of at least 2.

    Raises
    ------
    ValueError
        If there are fewer points, or those of one side lie in one place.
    """
    before, after = (np.asarray(points, dtype=np.float64).reshape(-1, 2) for points in (drawn, measured))
    if len(before) < 2 or len(before) != len(after):
        raise ValueError("at least two drawn points, each with its measured one, are needed")
    a, b = before - before.mean(axis=0), after - after.mean(axis=0)
    spread = float((a * a).sum())
    if spread == 0.0 or not b.any():
        raise ValueError("the points lie in one place")
    left, sizes, right = np.linalg.svd(a.T @ b)
    sign = 1.0 if np.linalg.det(right.T @ left.T) > 0.0 else -1.0
    matrix, mirroring = (right.T @ np.diag((1.0, last)) @ left.T for last in (sign, -sign))
    # At its best a motion maps middle to middle.
    moved = after.mean(axis=0) - matrix @ before.mean(axis=0)
    return RigidFit(
        float(np.degrees(np.arctan2(matrix[1, 0], matrix[0, 0]))), moved, float((sizes * (1.0, sign)).sum()) / spread,
        np.hypot(*(b - a @ matrix.T).T), np.hypot(*(b - a @ mirroring.T).T),
    )


def error_at(points: ArrayLike, at: ArrayLike, reading_mm: float = 1.0) -> float:
    """Standard error of where the fitted motion puts a place `at` (2,), mm, if every coordinate read has this error.

    Of independent errors of size s at n points, the mean moves by s / sqrt(n), and the turn by s / sqrt(sum of r^2), r
    being their distances from their mean: to first order, by propagation of errors through the fit.
    """
    points = np.asarray(points, dtype=np.float64)
    middle = points.mean(axis=0)
    spread = float(((points - middle) ** 2).sum())
    far = float(((np.asarray(at, dtype=np.float64) - middle) ** 2).sum())
    return reading_mm * float(np.sqrt(2.0 / len(points) + far / spread))


def _turn(deg: float) -> np.ndarray:
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return np.array(((c, -s), (s, c)))
