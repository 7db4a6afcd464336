"""Which items complete each other, and on which ground, as the compiled search reads it."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely

from geometry.compiled import compiled, lean
from geometry.overlap import Tables, build_table, inside, join_tables
from nest.placement.problem import Ground, Kind

LEVEL_CELLS = 96
CORE_POINTS = 24
CORE_SHRUNK = 0.98
"""Points are taken this much nearer the middle: a tip that leaves a better ground changes no level."""


class Families(NamedTuple):
    """k kinds, f families, p points, g grounds. Levels are told by points of the core alone: nearly right, and fast."""

    family: np.ndarray
    """(k,) family of a kind, -1 for none."""
    side: np.ndarray
    """(k,) 0 for kinds of which two complete each other, 1 and 2 for the two sides of the others."""
    worth: np.ndarray
    """(f,) mean area of the family's kinds."""
    point: np.ndarray
    """(k, p, 2) points of the core at heading 0."""
    ground: Tables
    better: np.ndarray
    """(k, g) tables of the better grounds of a kind, the best first, -1 where there are no more."""


def families_of(kinds: Sequence[Kind], grounds: Sequence[Ground]) -> Families:
    """Arrays of the families of some kinds, and of the levels of their grounds."""
    names = sorted({kind.family for kind in kinds} - {""})
    family = np.array([names.index(kind.family) if kind.family else -1 for kind in kinds], np.int64)
    area = np.array([shapely.Polygon(kind.outline).area for kind in kinds])
    tables, found = [], {}
    better = np.full((len(kinds), max((len(ground.better) for ground in grounds), default=0)), -1, np.int64)
    for k, ground in enumerate(grounds):
        for g, part in enumerate(ground.better):
            if id(part) not in found:
                found[id(part)] = len(tables)
                tables.append(build_table(part, cells=LEVEL_CELLS))
            better[k, g] = found[id(part)]
    return Families(
        family=family,
        side=np.array([0 if kind.side == 0 else 1 if kind.side < 0 else 2 for kind in kinds], np.int64),
        worth=np.array([area[family == f].mean() for f in range(len(names))]),
        point=np.array([_points(kind.core) for kind in kinds]),
        ground=join_tables(tables),
        better=better,
    )


def _points(ring: np.ndarray) -> np.ndarray:
    line, middle = shapely.LinearRing(ring), shapely.get_coordinates(shapely.Polygon(ring).centroid)[0]
    share = np.arange(CORE_POINTS) / CORE_POINTS
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, share, normalized=True))
    return middle + CORE_SHRUNK * (points - middle)


@lean
def level_of(families, k, cos, sin, x, y):
    """Level of kind k at a pose: how many of its better grounds it leaves."""
    for g in range(families.better.shape[1]):
        table = families.better[k, g]
        if table < 0:
            return g
        whole = True
        for p in range(families.point.shape[1]):
            px, py = families.point[k, p, 0], families.point[k, p, 1]
            if not inside(families.ground, table, x + cos * px - sin * py, y + sin * px + cos * py):
                whole = False
                break
        if whole:
            return g
    return families.better.shape[1]


@lean
def count_in(families, tally, k, level, change):
    """Count an item in (change 1) or out (-1) of `tally` (f, levels, 3); returns the change of area without partner."""
    f = families.family[k]
    if f < 0:
        return 0.0
    before = _without_partner(tally, f, level)
    tally[f, level, families.side[k]] += change
    return families.worth[f] * (_without_partner(tally, f, level) - before)


@compiled
def left_over(model, state, families):
    """How many items lack a partner whatever their kinds become: one on every level with an odd number of items."""
    count = np.zeros(families.better.shape[1] + 1, np.int64)
    for i in range(state.n[0]):
        k, a = state.kind[i], state.angle[i]
        if families.family[k] >= 0:
            count[level_of(families, k, model.cos[a], model.sin[a], state.x[i], state.y[i])] += 1
    return (count & 1).sum()


@lean
def _without_partner(tally, f, level):
    return abs(tally[f, level, 1] - tally[f, level, 2]) + (tally[f, level, 0] & 1)
