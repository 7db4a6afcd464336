"""From the hide's own coordinates to the cutting table's, and back."""

import re
from dataclasses import dataclass

import numpy as np
import shapely

from geometry.pose import rotation
from nest.job.cutting_table import Corner, CuttingTable

_SIDES = {Corner.LOWER_LEFT: (0, 1), Corner.LOWER_RIGHT: (2, 1), Corner.UPPER_LEFT: (0, 3), Corner.UPPER_RIGHT: (2, 3)}
"""Which of least x, least y, most x, most y lie at the corner."""

_NUMBER = r"(-?\d+\.\d+)"
_TOLD = re.compile(rf"x = {_NUMBER} X \+ {_NUMBER} Y \+ {_NUMBER}, y = {_NUMBER} X \+ {_NUMBER} Y \+ {_NUMBER}")


@dataclass(frozen=True, slots=True)
class Frame:
    """Mirrored about the y axis (or not), then turned, then moved by (`x`, `y`) mm."""

    mirrored: bool = False
    turn_deg: float = 0.0
    x: float = 0.0
    y: float = 0.0

    @property
    def matrix(self) -> np.ndarray:
        """The 2 × 2 matrix for column vectors."""
        return rotation(self.turn_deg) @ np.diag((-1.0 if self.mirrored else 1.0, 1.0))

    def apply(self, points) -> np.ndarray:
        """Points (n, 2) of the hide on the table; a ring changes its sense if mirrored."""
        return np.asarray(points, dtype=np.float64) @ self.matrix.T + (self.x, self.y)

    def undo(self, points) -> np.ndarray:
        """Points (n, 2) of the table on the hide."""
        # The matrix is orthogonal: its inverse is its transpose.
        return (np.asarray(points, dtype=np.float64) - (self.x, self.y)) @ self.matrix

    def direction_deg(self, angle_deg: float) -> float:
        """A direction on the hide as it runs on the table."""
        return self.turn_deg + (180.0 - angle_deg if self.mirrored else angle_deg)

    def region(self, region):
        """A shapely geometry of the hide on the table."""
        return shapely.transform(region, self.apply)

    def told(self) -> str:
        """The frame in exact words that `frame_from` reads: X, Y on the hide, x, y on the table."""
        (a, b), (c, d) = self.matrix + 0.0
        return (f"x = {a:.12f} X + {b:.12f} Y + {self.x:.4f}, y = {c:.12f} X + {d:.12f} Y + {self.y:.4f}")


def frame_of(table: CuttingTable, region, *, turned_over: bool) -> Frame:
    """The frame that puts a material (a shapely region, mm) on the table as the table wants it."""
    shown = Frame(turned_over, table.turn_deg)
    if table.origin is Corner.DIGITISED:
        return Frame(turned_over, table.turn_deg, table.origin_x_mm, table.origin_y_mm)
    bounds = shown.region(region).bounds
    across, up = _SIDES[table.origin]
    at = np.round((table.origin_x_mm - bounds[across], table.origin_y_mm - bounds[up]), 4) + 0.0
    return Frame(turned_over, table.turn_deg, float(at[0]), float(at[1]))


def frame_from(text: str) -> Frame | None:
    """The frame stated in a text, or None if it states none."""
    match = _TOLD.search(text)
    if match is None:
        return None
    a, b, x, c, d, y = map(float, match.groups())
    mirrored = a * d - b * c < 0.0
    # The second column is (-sin, cos) of the turn, mirrored or not.
    return Frame(mirrored, float(np.degrees(np.arctan2(-b, d))) + 0.0, x, y)


def frame_words(table: CuttingTable, turned_over: bool, up: str = "Grain side up") -> tuple[str, ...]:
    """How the material lies on the table, for people; `up` says which side of it looks up if it is not turned over."""
    up = "Grain side down: the drawing is mirrored" if turned_over else up
    turn = f"turned {table.turn_deg:g} deg counter-clockwise" if table.turn_deg else "not turned"
    if table.registered is not None:
        return (f"{up}; as the hide was found to lie on the table.",)
    if table.origin is Corner.DIGITISED:
        place = "coordinates as digitised"
        if table.origin_x_mm or table.origin_y_mm:
            place += f", moved by ({table.origin_x_mm:g}, {table.origin_y_mm:g}) mm"
    else:
        place = f"{table.origin} corner of the material at ({table.origin_x_mm:g}, {table.origin_y_mm:g}) mm"
    return (f"{up}, {turn}; {place}.",)
