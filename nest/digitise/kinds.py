"""Two kinds of ground, leather and table, told apart by their colour under uneven light.

Light multiplies, so colours are compared as logarithms of linear light. A plain table's own light is a quadratic over
the plane, fitted to what lies beside the mark sheets and then to all that is table; leather is what leaves it. Of a
table that is not plain a photograph without the hide is known: leather is what differs from that.
"""

from dataclasses import dataclass

import numpy as np

from nest.digitise.vision import opencv

DARKEST = 0.004
"""Added to linear light before its logarithm is taken: the sensor's own darkness."""

_ROUNDS = 4
_THIN = 3
LEAST_CHANGE = 6.0
"""Leather differs from the empty table by at least this many standard deviations of the table's own colour."""


@dataclass(frozen=True, slots=True, eq=False)
class Kinds:
    """Both kinds on a grid.

    leather : (h, w) bool, what is nearer to leather than to table.
    separation : how far the two kinds lie apart, in their common spread.
    colour : (h, w, 3) logarithm of light, less the table's.
    own : (h, w, 3) logarithm of light in which the leather is plain.
    """

    leather: np.ndarray
    separation: float
    colour: np.ndarray
    own: np.ndarray

    def off_table(self, table: np.ndarray) -> np.ndarray:
        """How far each pixel's colour lies from the table's, (h, w)."""
        return np.linalg.norm(self.colour - np.median(self.colour[table], axis=0), axis=2)

    def off_leather(self, hide: np.ndarray) -> np.ndarray:
        """How far each pixel's colour lies from the leather's, (h, w)."""
        if self.own is self.colour:
            return np.linalg.norm(self.own - np.median(self.own[hide], axis=0), axis=2)
        factors = _surface(self.own[::_THIN, ::_THIN], hide[::_THIN, ::_THIN], plain=True)
        return np.linalg.norm(self.own - _field(factors, hide.shape), axis=2)


def plain_kinds(light: np.ndarray, ground: np.ndarray, table: np.ndarray) -> Kinds:
    """Leather on a plain table, in linear light (h, w, 3); `table`: where the table is seen for sure, beside the marks.

    Both kinds are found in a few rounds on every `_THIN`-th pixel each way, then told apart on all.
    """
    colour = opencv().blur(_log(light), (3, 3))
    thin, own_ground, own_table = (one[::_THIN, ::_THIN] for one in (colour, ground, table))
    score: np.ndarray | None = None
    for _ in range(_ROUNDS):
        factors = _surface(thin, own_table, plain=True)
        away = thin - _field(factors, thin.shape[:2])
        own = away[own_table]
        # Spread by the middle half: what little leather is among it does not count.
        spread = np.maximum((np.percentile(own, 75, axis=0) - np.percentile(own, 25, axis=0)) / 1.35, 0.02)
        if score is None:
            distance = np.sqrt(((away / spread) ** 2).sum(axis=2))
            leather = own_ground & (distance > max(6.0, _halfway(distance[own_ground])))
        else:
            leather = own_ground & (score > 0.0)
        other = own_ground & ~leather
        if min(leather.sum(), other.sum()) < 50 // _THIN:
            return Kinds(np.zeros_like(ground), 0.0, colour, colour)
        hide = np.median(away[leather], axis=0)
        apart = hide - np.median(own, axis=0)
        common = np.diag(spread**2) + np.cov(np.clip(away[leather] - hide, -1.0, 1.0).T) + 1e-4 * np.eye(3)
        along = np.linalg.solve(common, apart)
        along /= np.linalg.norm(along)
        score = away @ along
        low, high = np.median(score[other]), np.median(score[leather])
        middle = 0.5 * (low + high)
        score = score - middle
        own_table = own_ground & (score < -0.25 * (high - low))
    assert score is not None
    near, far = score[leather], score[other]
    wide = sum(float(np.percentile(np.abs(one - np.median(one)), 68)) for one in (near, far))
    colour -= _field(factors, ground.shape)
    leather = colour @ along.astype(np.float32) > np.float32(middle)
    return Kinds(leather, float((high - low) / max(0.5 * wide, 1e-6)), colour, colour)


def changed_kinds(light: np.ndarray, empty: np.ndarray, ground: np.ndarray, table: np.ndarray) -> Kinds:
    """Leather on any table that was photographed `empty` too; arrays as in `plain_kinds`."""
    cv2 = opencv()
    own = cv2.blur(_log(light), (3, 3))
    colour = own - cv2.blur(_log(empty), (3, 3))
    for _ in range(_ROUNDS):
        factors = _surface(colour[::_THIN, ::_THIN], table[::_THIN, ::_THIN], plain=False)
        away = colour - _field(factors, ground.shape)
        sample = away[table][::_THIN]
        spread = np.maximum((np.percentile(sample, 75, axis=0) - np.percentile(sample, 25, axis=0)) / 1.35, 0.02)
        distance = np.linalg.norm(away / spread.astype(np.float32), axis=2)
        limit = max(LEAST_CHANGE, _halfway(distance[ground][::_THIN]))
        leather = ground & (distance > limit)
        table = ground & (distance < 0.5 * limit)
        if min(leather.sum(), table.sum()) < 50:
            return Kinds(np.zeros_like(ground), 0.0, away, own)
    apart = np.median(distance[leather]) - np.median(distance[table])
    return Kinds(leather, float(apart), away, own)


def _surface(colour: np.ndarray, table: np.ndarray, plain: bool) -> np.ndarray:
    """The table's colour over the grid: a quadratic if it is `plain`, else a plane; factors (6, 3) of `_terms`.

    Fitted in rounds, each without what left the one before.
    """
    y, x = np.nonzero(table)
    rows = slice(None, None, max(1, len(x) // 20000))
    terms = _terms(x[rows], y[rows], table.shape)[:, : 6 if plain else 3]
    values = colour[y[rows], x[rows]]
    keep = np.ones(len(terms), dtype=bool)
    for _ in range(5):
        found = np.linalg.lstsq(terms[keep], values[keep], rcond=None)[0]
        off = np.sqrt(((values - terms @ found) ** 2).sum(axis=1))
        keep = off <= max(2.5 * float(np.median(off)), 0.05)
    return np.vstack((found, np.zeros((6 - len(found), 3))))


def _terms(x: np.ndarray, y: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """What a quadratic is made of at pixels of a grid of this shape, (n, 6)."""
    x, y = (2.0 * one / max(1, size - 1) - 1.0 for one, size in ((x, shape[1]), (y, shape[0])))
    return np.column_stack((np.ones_like(x), x, y, x * x, x * y, y * y))


def _field(factors: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """A quadratic at every pixel of a grid, (h, w, 3) float32."""
    y, x = (np.linspace(-1.0, 1.0, size, dtype=np.float32) for size in shape)
    one, of_x, of_y, of_xx, of_xy, of_yy = factors.astype(np.float32)[:, None]
    field = (one + of_y * y[:, None] + of_yy * y[:, None] ** 2)[:, None] + (of_x * x[:, None] + of_xx * x[:, None] ** 2)
    return field + (of_xy * y[:, None])[:, None] * x[:, None]


def _halfway(values: np.ndarray) -> float:
    """The threshold that parts values best in two (Otsu 1979, doi:10.1109/TSMC.1979.4310076), on their logarithms."""
    logs = np.log(np.maximum(values, 0.3))
    counts, edges = np.histogram(logs, bins=128)
    middles = 0.5 * (edges[1:] + edges[:-1])
    below = np.cumsum(counts)
    sums = np.cumsum(counts * middles)
    above = below[-1] - below
    between = np.where(
        (below > 0) & (above > 0), (sums[-1] * below / below[-1] - sums) ** 2 / np.maximum(below * above, 1), 0.0
    )
    return float(np.exp(edges[int(np.argmax(between)) + 1]))


def _log(light: np.ndarray) -> np.ndarray:
    return np.log(light.astype(np.float32) / 65535.0 + DARKEST)
