"""The reinforcement: the rough outline moved inwards, what it leaves uncovered, and what it should weigh."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np
import shapely

from geometry.offset import offset_uniform
from geometry.polygon import area, polygon, rings_of
from nest.pieces.piece import Part, Template
from nest.pieces.rough import along_template
from nest.pieces.style import WeightRow

REINFORCEMENT_TOLERANCE_MM = 0.1
"""A reinforcement's outline may lie this far from the true inset, on either side."""

COVER_SLACK_MM = 0.2
"""A reinforcement that stops this little short of the template line still counts as reaching it."""


def reinforcement_outline(rough: np.ndarray, inset_mm: float) -> tuple[np.ndarray, tuple[np.ndarray, ...]]:
    """Return the ring `inset_mm` inside `rough`, and the smaller rings lost if that falls apart.

    Raises
    ------
    ValueError
        If `inset_mm` is negative, or so large that nothing is left.
    """
    if not inset_mm >= 0.0:
        raise ValueError(f"expected a reinforcement inset that is not below zero, found {inset_mm:g} mm")
    rings = offset_uniform(rough, -inset_mm, REINFORCEMENT_TOLERANCE_MM)
    if not rings:
        raise ValueError(f"expected a reinforcement inset that leaves a piece, found {inset_mm:g} mm: nothing is left")
    return rings[0], rings[1:]


def staying_outline(net: np.ndarray, reinforcement: np.ndarray) -> np.ndarray:
    """Return the part of `reinforcement` that stays in the shoe: the largest ring of it within the net outline.

    Raises
    ------
    ValueError
        If no part of the reinforcement lies within the net outline.
    """
    rings = rings_of(shapely.intersection(polygon(net), polygon(reinforcement)))
    if not rings:
        raise ValueError("expected a reinforcement that covers some of the template, found none of it covered")
    return rings[0]


@dataclass(frozen=True, slots=True)
class CoverGap:
    """A stretch of the template line that the reinforcement does not reach: its worst point, in the piece's frame."""

    part: Part
    x: float
    y: float
    short_mm: float


def cover_gaps(template: Template, reinforcement: np.ndarray) -> tuple[CoverGap, ...]:
    """Find where `reinforcement` stops short of the template line by more than COVER_SLACK_MM.

    One gap for each unbroken stretch of the line within one part, worst first.
    """
    points, parts = along_template(template)
    short = shapely.distance(shapely.points(points), polygon(reinforcement))
    stretches: list[list[int]] = []
    for i in np.flatnonzero(short > COVER_SLACK_MM).tolist():
        joins = stretches and stretches[-1][-1] == i - 1 and parts[i] is parts[i - 1]
        if joins:
            stretches[-1].append(i)
        else:
            stretches.append([i])
    last = len(points) - 1
    if len(stretches) > 1 and stretches[0][0] == 0 and stretches[-1][-1] == last and parts[0] is parts[last]:
        stretches[0] = stretches.pop() + stretches[0]
    worst = (max(stretch, key=lambda i: short[i]) for stretch in stretches)
    gaps = (CoverGap(parts[i], float(points[i, 0]), float(points[i, 1]), float(short[i])) for i in worst)
    return tuple(sorted(gaps, key=lambda gap: -gap.short_mm))


def lost_share(lost: Sequence[np.ndarray], kept: np.ndarray) -> float:
    """Share of a reinforcement that is lost because it fell apart and only `kept` is cut (0..1)."""
    gone = fsum(area(ring) for ring in lost)
    return gone / (gone + area(kept))


def wanted_weight(table: Sequence[WeightRow], thickness_mm: float) -> WeightRow | None:
    """Return the row for uppers of this thickness: the first that reaches it; None if none does."""
    rows = sorted(table, key=lambda row: row.upper_to_mm)
    return next((row for row in rows if thickness_mm <= row.upper_to_mm), None)


def weight_warnings(
    style: str, thickness_mm: float, roll_id: str, weight_g_m2: float, table: Sequence[WeightRow]
) -> tuple[str, ...]:
    """Say so when a roll is too light or too heavy for a style's upper; nothing without a table."""
    if not table:
        return ()
    row = wanted_weight(table, thickness_mm)
    if row is None:
        thickest = max(row.upper_to_mm for row in table)
        return (
            f"style {style}: the weight table ends at uppers of {thickest:g} mm, the upper is {thickness_mm:g} mm: "
            f"reinforcement {roll_id} is not checked",
        )
    if weight_g_m2 < row.least_g_m2:
        what = "light"
    elif weight_g_m2 > row.most_g_m2:
        what = "heavy"
    else:
        return ()
    return (
        f"style {style}: reinforcement {roll_id} is too {what} for an upper of {thickness_mm:g} mm: "
        f"{weight_g_m2:g} g/m², wanted {row.least_g_m2:g} to {row.most_g_m2:g} g/m²",
    )
