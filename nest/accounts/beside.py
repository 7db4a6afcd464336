"""Leather that a plan takes, beside what was estimated before anything was placed."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from nest.accounts.areas import MaterialUse
from nest.pieces.piece import Role
from nest.plan import Plan


@dataclass(frozen=True, slots=True)
class BesideEstimate:
    """One leather: what the pieces placed take of it, and what they were estimated to take; mm².

    placed_mm2 : hides opened, of the one that is used least only what its pieces take at the yield of the others.
    error_percent : how far the estimate may be off.
    """

    leather: str
    placed_mm2: float
    expected_mm2: float
    error_percent: float

    @property
    def above(self) -> float:
        """Share by which the plan lies above the estimate; below zero where it takes less."""
        return self.placed_mm2 / self.expected_mm2 - 1.0

    @property
    def worth_more_time(self) -> bool:
        """Whether it lies further above than the estimate may be off."""
        return 100.0 * self.above > self.error_percent


def beside_estimate(plan: Plan, uses: Sequence[MaterialUse]) -> tuple[BesideEstimate, ...]:
    """Each leather of which more than one hide is used, beside the estimate that the plan keeps.

    The estimate is that of the order, in proportion to the rough area that is placed.
    """
    leather_of = {hide.hide_id: hide.leather for hide in plan.hides}
    found = []
    for expected in plan.search.expected if plan.search else ():
        mine = [use for use in uses
                if use.role is Role.VAMP and leather_of[use.material_id] == expected.leather and use.sizes]
        if len(mine) < 2:
            continue
        least, others = least_used(mine)
        full = fsum(one.account.material_mm2 for one in others)
        cutting = fsum(one.account.rough_mm2 for one in others) / full
        placed = full + min(least.account.material_mm2, least.account.rough_mm2 / cutting)
        rough = fsum(one.account.rough_mm2 for one in mine)
        found.append(BesideEstimate(
            expected.leather, placed, expected.material_mm2 * rough / expected.rough_mm2, expected.error_percent
        ))
    return tuple(found)


def least_used(uses: Sequence[MaterialUse]) -> tuple[MaterialUse, list[MaterialUse]]:
    """The hide of one leather that is filled least, and the others."""
    least = min(uses, key=lambda use: use.account.rough_mm2 / use.account.material_mm2)
    return least, [use for use in uses if use is not least]
