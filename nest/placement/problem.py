"""The problem as the solver sees it: kinds of items, regions and strips to place them in, layouts."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely.geometry import MultiPolygon, Polygon

from geometry.pose import Pose


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """A kind of item, of which up to `limit` are placed.

    outline : ring that no other outline may overlap, mm.
    core : ring within the outline, kept to better ground than the outline.
    headings_deg : the headings an item may have.
    worth : what one item counts for when a region is filled, by default its area; the same unit for all kinds. A kind
        that fits inside another is worth no more than that.
    family, side : items of one family complete each other in twos: one of side -1 with one of side
        +1, or any two of side 0. An empty family needs no partner.
    """

    name: str
    outline: np.ndarray
    core: np.ndarray
    headings_deg: tuple[float, ...]
    limit: int
    family: str = ""
    side: int = 0
    worth: float | None = None


def worth_of(kind: Kind) -> float:
    """What one item of a kind counts for, mm² of its outline where nothing else is said."""
    return Polygon(kind.outline).area if kind.worth is None else kind.worth


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """Where items of one kind may lie: the outline within `outline`, the core within `core[h]` at heading h.

    better : parts of the ground that tell levels apart, each within the next: cores in the first have the lowest level.
    """

    outline: Polygon | MultiPolygon
    core: tuple[Polygon | MultiPolygon, ...]
    better: tuple[Polygon | MultiPolygon, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class RegionProblem:
    """Fill a region: `grounds[k]` is the ground of `kinds[k]`; outlines stay `gap_mm` apart.

    Items of one family complete each other only where `level` of (kind index, pose) is equal; the search is led by
    `Ground.better`, and `level` has the last word. `begin_from` is a layout to go on from, in place of a fresh start.
    """

    kinds: tuple[Kind, ...]
    grounds: tuple[Ground, ...]
    gap_mm: float = 0.0
    level: Callable[[int, Pose], int] | None = None
    begin_from: tuple["Item", ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class StripProblem:
    """Place exactly `limit` items of every kind on the shortest strip of this width; x along the strip."""

    kinds: tuple[Kind, ...]
    width_mm: float
    gap_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Item:
    """An item placed: index of its kind, and its pose."""

    kind: int
    pose: Pose


@dataclass(frozen=True, slots=True)
class Layout:
    """Items placed without overlap. `length_mm` is the strip length used, 0 in a region."""

    items: tuple[Item, ...]
    length_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Progress:
    """What a listener hears: seconds since the start, items placed, and the figure to improve."""

    seconds: float
    placed: int
    figure: float
    """Share of the region covered by outlines, or density on the strip; 0..1."""


Listener = Callable[[Progress], None]
