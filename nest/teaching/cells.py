"""Rates over the map: square cells of the frame, pooled in part, and which of them stand out."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nest.teaching.binomial import PooledShare, pooled_shares

ACROSS = 8
"""Cells along the frame."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its box in the frame, mm; the share that failed; `told` +1 or −1 where it is beyond doubt above or
    below the share of all, 0 where that cannot be told."""

    x0: float
    y0: float
    x1: float
    y1: float
    share: PooledShare
    told: int


def cells_of(spots: Sequence[tuple[float, float]], failed: Sequence[bool], bounds) -> tuple[Cell, ...]:
    """Cells that hold pieces.

    Parameters
    ----------
    spots : places of the pieces in the frame, mm; bounds : x0, y0, x1, y1 of the frame.
    """
    x0, y0, x1, y1 = bounds
    side = (x1 - x0) / ACROSS
    rows = max(1, int(np.ceil((y1 - y0) / side)))
    places = np.asarray(spots, float)
    column = np.clip(((places[:, 0] - x0) // side).astype(int), 0, ACROSS - 1)
    row = np.clip(((places[:, 1] - y0) // side).astype(int), 0, rows - 1)
    key = row * ACROSS + column
    held = np.unique(key)
    lost = np.asarray(failed, bool)
    counts = [(int(lost[key == one].sum()), int((key == one).sum())) for one in held]
    shares = pooled_shares(*zip(*counts, strict=True))
    whole = lost.mean()
    found = []
    for one, share in zip(held, shares, strict=True):
        r, c = divmod(int(one), ACROSS)
        told = int(share.low > whole) - int(share.high < whole)
        left, low = x0 + c * side, y0 + r * side
        found.append(Cell(left, low, left + side, low + side, share, told))
    return tuple(found)
