"""Which items complete each other, and on which ground, as the compiled search reads it."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely

from geometry.compiled import Whole, compiled, uncounted
from geometry.overlap import inside
from geometry.tables import Table, Tables, build_table, join_tables
from nest.placement._cost import Model, State
from nest.placement.choose import Replacements
from nest.placement.problem import Ground, Kind, worth_of

LEVEL_CELLS = 96
CORE_POINTS = 24
CORE_SHRUNK = 0.98
"""Points are taken this much nearer the middle: a tip that leaves a better ground changes no level."""


class Families(NamedTuple):
    """k kinds, q chains of families, r ranks, p points, g grounds.

    In a chain an item of a family can be cut as one of any family before it, for those fit inside. Levels are known by
    points of the core alone: nearly right, and fast.
    """

    chain: np.ndarray
    """(k,) chain of a kind's family, -1 for none."""
    rank: np.ndarray
    """(k,) place of the family in its chain, from the smallest, 0."""
    side: np.ndarray
    """(k,) 0 for kinds of which two complete each other, 1 and 2 for the two sides of the others."""
    step: np.ndarray
    """(q, r) mean worth of a family's kinds, less that of the family before it."""
    point: np.ndarray
    """(k, p, 2) points of the core at heading 0."""
    ground: Tables
    better: np.ndarray
    """(k, g) tables of the better grounds of a kind, the best first, -1 where there are no more."""


def families_of(kinds: Sequence[Kind], grounds: Sequence[Ground], table: Replacements | None = None) -> Families:
    """Arrays of the families of some kinds, and of the levels of their grounds.

    table : which kinds fit inside which; without it every family is a chain of its own.
    """
    area = np.array([shapely.Polygon(kind.outline).area for kind in kinds])
    chains = _chains(kinds, area, table or {})
    place = {name: (q, r) for q, names in enumerate(chains) for r, name in enumerate(names)}
    worth = {name: np.mean([worth_of(kind) for kind in kinds if kind.family == name]) for name in place}
    step = np.zeros((len(chains), max(map(len, chains), default=0)))
    for name, (q, r) in place.items():
        step[q, r] = worth[name] - (worth[chains[q][r - 1]] if r else 0.0)
    tables: list[Table] = []
    found: dict[int, int] = {}
    better = np.full((len(kinds), max((len(ground.better) for ground in grounds), default=0)), -1, np.int64)
    for k, ground in enumerate(grounds):
        for g, part in enumerate(ground.better):
            if id(part) not in found:
                found[id(part)] = len(tables)
                tables.append(build_table(part, cells=LEVEL_CELLS))
            better[k, g] = found[id(part)]
    return Families(
        chain=np.array([place.get(kind.family, (-1, 0))[0] for kind in kinds], np.int64),
        rank=np.array([place.get(kind.family, (-1, 0))[1] for kind in kinds], np.int64),
        side=np.array([0 if kind.side == 0 else 1 if kind.side < 0 else 2 for kind in kinds], np.int64),
        step=step,
        point=np.array([_points(kind.core) for kind in kinds]),
        ground=join_tables(tables),
        better=better,
    )


def _chains(kinds: Sequence[Kind], area: np.ndarray, table: Replacements) -> list[list[str]]:
    """Families one inside the next; each joins the chain whose largest is nearest to it."""
    members: dict[str, list[int]] = {}
    for k in np.argsort(area, kind="stable").tolist():
        if kinds[k].family:
            members.setdefault(kinds[k].family, []).append(k)

    def fits(family: str, smaller: str) -> bool:
        sides = {kinds[k].side for k in members[family]} == {kinds[k].side for k in members[smaller]}
        return sides and all(
            any((k, c) in table and kinds[c].side == kinds[k].side for c in members[smaller]) for k in members[family])

    chains: list[list[str]] = []
    for family in members:
        last = next((chain for chain in reversed(chains) if fits(family, chain[-1])), None)
        if last is None:
            last = []
        else:
            chains.remove(last)
        last.append(family)
        chains.append(last)  # the latest is the nearest in size
    return chains


def _points(ring: np.ndarray) -> np.ndarray:
    line, middle = shapely.LinearRing(ring), shapely.get_coordinates(shapely.Polygon(ring).centroid)[0]
    share = np.arange(CORE_POINTS) / CORE_POINTS
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, share, normalized=True))
    return np.asarray(middle + CORE_SHRUNK * (points - middle))


@uncounted
def level_of(families: Families, k: Whole, cos: float, sin: float, x: float, y: float) -> int:
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
    return int(families.better.shape[1])


@uncounted
def count_in(families: Families, tally: np.ndarray, k: Whole, level: Whole, change: int) -> tuple[float, float]:
    """Count an item in (change 1) or out (-1) of `tally` (q, levels, r, 3), items of at least that rank on each side.

    Returns by how much the area without partner changes: of whole items, and of what larger ones lose to smaller
    partners. Items pair in the order of rank, so that at every rank the surplus of one side loses that rank's step.
    """
    q = families.chain[k]
    whole, part = 0.0, 0.0
    if q >= 0:
        for r in range(families.rank[k] + 1):
            before = _without_partner(tally, q, level, r)
            tally[q, level, r, families.side[k]] += change
            more = families.step[q, r] * (_without_partner(tally, q, level, r) - before)
            if r == 0:
                whole = more
            else:
                part += more
    return whole, part


@compiled
def left_over(model: Model, state: State, families: Families) -> int:
    """How many items lack a partner whatever their kinds become: one on every level with an odd number of items."""
    count = np.zeros(families.better.shape[1] + 1, np.int64)
    for i in range(state.n[0]):
        k, a = state.kind[i], state.angle[i]
        if families.chain[k] >= 0:
            count[level_of(families, k, model.cos[a], model.sin[a], state.x[i], state.y[i])] += 1
    return int((count & 1).sum())


@uncounted
def _without_partner(tally: np.ndarray, q: Whole, level: Whole, r: Whole) -> int:
    """Of the items of rank r or more, those without partner among them."""
    return int(abs(tally[q, level, r, 1] - tally[q, level, r, 2]) + (tally[q, level, r, 0] & 1))
