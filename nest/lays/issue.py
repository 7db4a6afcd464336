"""How many equal rolls to issue for lays whose plies are cut from them."""

from collections.abc import Sequence
from math import ceil

from nest.lays.plan import PlannedLay
from nest.placement.cut_lengths import Cuts, fewest_stocks


def rolls_to_issue(lays: Sequence[PlannedLay], roll_length_mm: float) -> Cuts:
    """Fewest rolls of one length from which every ply can be cut whole, proved where `Cuts.proved` says so.

    Lengths are taken in whole cm, plies rounded up and the roll down.

    Raises
    ------
    ValueError
        If a ply is longer than the roll.
    """
    plies = [ceil(lay.ply_mm / 10.0 - 1e-9) for lay in lays]
    return fewest_stocks(int(roll_length_mm // 10.0), plies, [lay.plies for lay in lays])
