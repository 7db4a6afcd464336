"""Ground measured under a placed piece: how much is wrong, which class counts, and where little enough is wrong."""

from collections.abc import Sequence

import numpy as np
import shapely

from geometry.precision import Region
from nest.rules import ZONE_SHARE, Heading, Rules, judge_heading
from nest.stock.material import Hide
from nest.stock.under import shares_under

MOST_MEASURED = 3_000
"""Positions measured before the question is given up as not settled."""

AT_ONCE = 32
"""Squares that are quartered at a time."""

QUARTERS = 0.5 * np.array([(-1.0, -1.0, 0.0), (1.0, -1.0, 0.0), (1.0, 1.0, 0.0), (-1.0, 1.0, 0.0)])

LEAST_MM = 0.02
"""Squares of positions are not halved below this."""


def settled(
    held: Region, net: np.ndarray, wrong: Sequence[Region], own: Sequence[Region] = ()
) -> tuple[tuple[float, float] | None, bool]:
    """Look for a position of `net` (n, 2) within `held` at which wrong ground is no more than is let pass.

    With `own` ground, more than that of it must lie under the piece, or it would not count.

    The area of wrong ground under the piece changes by no more than the way it is moved times its greatest width: so a
    square of positions whose middle has too much by more than that is done with, the others are quartered. Returns the
    position, or None, and whether some squares were left unsettled.
    """
    piece = shapely.Polygon(net)
    ground, needed = shapely.union_all(list(wrong)), shapely.union_all(list(own))
    limit = (ZONE_SHARE - 1e-6) * piece.area
    steepest = 2.0 * float(np.hypot(*(net - net.mean(axis=0)).T).max())
    shapely.prepare(held)
    corners = shapely.get_coordinates(held)
    corners = corners[np.linspace(0, len(corners) - 1, min(64, len(corners))).astype(int)]
    lacking = _lacking(ground, needed, limit, net, corners)
    best = int(np.argmin(lacking))
    if lacking[best] <= limit:
        return (float(corners[best, 0]), float(corners[best, 1])), False
    low_x, low_y, high_x, high_y = held.bounds
    # squares by middle and side, and what is lacking at their middles
    squares = np.array([[0.5 * (low_x + high_x), 0.5 * (low_y + high_y), max(high_x - low_x, high_y - low_y)]])
    worth = np.zeros(1)
    measured, unsettled = 0, False
    while len(squares):
        if measured > MOST_MEASURED:
            return None, True
        # those that promise most first: a place is mostly found before all of them are gone through
        order = np.argsort(worth, kind="stable")
        first, squares, worth = squares[order[:AT_ONCE]], squares[order[AT_ONCE:]], worth[order[AT_ONCE:]]
        parts = (first[:, None] * (1.0, 1.0, 0.5) + 0.5 * first[:, None, 2:] * QUARTERS[None]).reshape(-1, 3)
        half = 0.5 * parts[:, 2:]
        parts = parts[shapely.intersects(held, shapely.box(*(parts[:, :2] - half).T, *(parts[:, :2] + half).T))]
        lacking = _lacking(ground, needed, limit, net, parts[:, :2])
        measured += len(parts)
        good = np.flatnonzero((lacking <= limit) & shapely.intersects_xy(held, *parts[:, :2].T))
        if len(good):
            x, y, _ = parts[good[np.argmin(lacking[good])]]
            return (float(x), float(y)), False
        lower = lacking - steepest * parts[:, 2] * np.sqrt(0.5)
        wide = parts[:, 2] > LEAST_MM
        unsettled |= bool(((lower <= limit) & ~wide).any())
        keep = (lower <= limit) & wide
        squares, worth = np.vstack((squares, parts[keep])), np.concatenate((worth, lacking[keep]))
    return None, unsettled


def _lacking(wrong, needed, limit: float, net: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Area by which places fall short: wrong ground, or, added to `limit`, what is missing of the needed ground."""
    lacking = _under(wrong, net, places)
    if needed.is_empty:
        return lacking
    return np.maximum(lacking, limit + 1.01 * limit - _under(needed, net, places))


def _under(ground, net: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Area of the ground under the ring at each of (k, 2) places."""
    if not len(places):
        return np.empty(0)
    rings = shapely.polygons(net[None] + places[:, None, :])
    return shapely.area(shapely.intersection(ground, rings))


def heads_well(hide: Hide, net: np.ndarray, heading_deg: float, rules: Rules, one_way: bool) -> bool:
    """Whether the zones under a placed net outline allow its heading, but for what is let pass of all together."""
    wrong = [judge_heading(heading_deg, zone.stretch_deg, rules, one_way) is Heading.WRONG for zone in hide.zones]
    return float(shares_under(hide, net)[wrong].sum()) <= ZONE_SHARE


def class_under(hide: Hide, net: np.ndarray) -> int:
    """Class that counts under a placed net outline: the worst of those that hold more than is let pass; 0 for none.

    Where zones of one class hold so much together, but none of them by itself, it is not told: -1.
    """
    shares = shares_under(hide, net)
    qualities = np.array([zone.quality for zone in hide.zones])
    by_zone = max(qualities[shares > ZONE_SHARE], default=0)
    by_sum = max((q for q in qualities if shares[qualities == q].sum() > ZONE_SHARE), default=0)
    return int(by_zone) if by_zone == by_sum else -1
