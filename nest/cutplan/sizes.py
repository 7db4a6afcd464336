"""Sizes of a plan in their order."""

from collections.abc import Iterable

import numpy as np

from nest.pieces.sizing import number_in, size_key
from nest.plan import Plan


def sizes_in_order(plan: Plan) -> tuple[str, ...]:
    """Every size of the plan's pieces once: by number, or where some have none by length of the net outline.

    A style may be shorter than another in the same size, so mean lengths would put 36.5 before 36 where only the
    shorter style comes in half sizes.
    """
    lengths: dict[str, list[float]] = {}
    for piece in plan.pieces:
        lengths.setdefault(piece.size, []).append(float(np.ptp(np.asarray(piece.net_outline)[:, 0])))
    if all(number_in(size) is not None for size in lengths):
        return tuple(sorted(lengths, key=size_key))
    return tuple(sorted(lengths, key=lambda size: (np.mean(lengths[size]), size)))


def by_number(sizes: Iterable[str]) -> list[str]:
    """Sizes as people count them: by their number, others last."""
    return sorted(sizes, key=size_key)
