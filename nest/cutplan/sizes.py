"""Sizes of a plan in their order."""

import numpy as np

from nest.plan import Plan


def sizes_in_order(plan: Plan) -> tuple[str, ...]:
    """Every size of the plan's pieces once, shortest net outline first (the mean where styles differ)."""
    lengths: dict[str, list[float]] = {}
    for piece in plan.pieces:
        lengths.setdefault(piece.size, []).append(float(np.ptp(np.asarray(piece.net_outline)[:, 0])))
    return tuple(sorted(lengths, key=lambda size: (np.mean(lengths[size]), size)))
