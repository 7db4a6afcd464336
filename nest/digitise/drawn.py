"""A digitised hide as a drawing: what goes on which layer, and the zones made such that none has a hole."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from geometry.precision import COORDINATE_GRID_MM
from nest.digitise.strokes import Stroked

LEAST_ZONE_MM2 = 400.0
"""Slivers between zones below this are given up."""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnHide:
    """What the drawing of a hide holds, mm.

    zones, flaws : (outline without holes, the words that belong to it).
    photograph : name of the picture; within_mm : how sure the outline is (95 % of it, with 95 % confidence).
    """

    outline: Polygon
    zones: tuple[tuple[Polygon, str], ...]
    flaws: tuple[tuple[Polygon, str], ...]
    photograph: str
    within_mm: float


def draw_hide(
    outline: Polygon, strokes: Sequence[Stroked], photograph: str, within_mm: float, rest: str | None = None,
    stretch_deg: float | None = None,
) -> tuple[DrawnHide, tuple[str, ...]]:
    """Put what was found in the form of a drawing.

    rest : words of a zone for all ground that no stroke encloses, "butt class 1"; None leaves it without.
    stretch_deg : stretch of zones without an arrow; None leaves such zones out, and says so.
    """
    zones: list[tuple[Polygon, str]] = []
    said: list[str] = []
    taken = shapely.Polygon()
    # The smaller zone lies in the larger one, not under it.
    for one in sorted((one for one in strokes if one.meaning.zone), key=lambda one: one.outline.area):
        stretch = one.stretch_deg if one.stretch_deg is not None else stretch_deg
        x, y = one.outline.centroid.coords[0]
        if stretch is None:
            said.append(
                f"the {one.meaning.colour} zone about ({x:.0f}, {y:.0f}) mm has no arrow and was left out; draw one, "
                "or give --stretch"
            )
            continue
        ground = shapely.difference(one.outline, taken)
        zones += [(part, f"{one.meaning.words} stretch {stretch:.1f}") for part in without_holes(ground)]
        taken = shapely.union(taken, one.outline)
    if rest is not None:
        if stretch_deg is None:
            raise ValueError("the rest of a hide needs a stretch")
        ground = shapely.difference(shapely.Polygon(outline.exterior), taken)
        zones += [(part, f"{rest} stretch {stretch_deg:.1f}") for part in without_holes(ground)]
    flaws = tuple((_tidy(one.outline), one.meaning.words) for one in strokes if not one.meaning.zone)
    return DrawnHide(outline, tuple(zones), flaws, photograph, within_mm), tuple(said)


def without_holes(ground) -> list[Polygon]:
    """Ground in pieces without holes: cut through the middle of each hole, upright."""
    pieces: list[Polygon] = []
    waiting = [part for part in shapely.get_parts(ground) if part.geom_type == "Polygon"]
    while waiting:
        piece = waiting.pop()
        if not piece.interiors:
            if piece.area >= LEAST_ZONE_MM2:
                pieces.append(_tidy(piece))
            continue
        x0, y0, x1, y1 = piece.bounds
        at = shapely.Polygon(piece.interiors[0]).centroid.x
        for box in (shapely.box(x0, y0, at, y1), shapely.box(at, y0, x1, y1)):
            half = shapely.intersection(piece, box)
            waiting += [part for part in shapely.get_parts(half) if part.geom_type == "Polygon"]
    return pieces


def _tidy(shape: Polygon) -> Polygon:
    snapped = shapely.set_precision(shape, COORDINATE_GRID_MM)
    parts = [part for part in shapely.get_parts(snapped) if part.geom_type == "Polygon"]
    return shapely.orient_polygons(max(parts, key=shapely.area))


def label_place(shape: Polygon) -> np.ndarray:
    """Where a shape's words stand, well within it."""
    return shapely.get_coordinates(shapely.maximum_inscribed_circle(shape, tolerance=2.0))[0]
