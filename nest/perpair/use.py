"""Leather of one pair: its lattice, the edge model, and the ground that is not fit, waste by waste."""

from collections.abc import Sequence
from dataclasses import dataclass

from nest.fitground import unfit_share
from nest.perpair.edge import hide_yield
from nest.perpair.measures import Interlock
from nest.rules import Rules
from nest.stock.distribution import SIDES
from nest.stock.material import Hide, Leather

FLAT_UNFIT_SHARE = 0.15 / 1.15
"""Where nothing is known of a leather's ground: an addition of 15 % for flaws, as in old use on hides (trade notes)."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What is known of a leather for one style: mean area of a hide, share of it that is unfit, and whence."""

    hide_mm2: float
    unfit_share: float
    method: str


@dataclass(frozen=True, slots=True)
class LeatherUse:
    """Leather for one pair, mm²: rough + first + second + third waste = material.

    first waste : what the densest interlocking leaves; second : the edge; third : ground that is not fit.
    """

    rough_mm2: float
    net_mm2: float
    parallelogram_mm2: float
    interlock_yield: float
    cutting_yield: float
    first_mm2: float
    second_mm2: float
    third_mm2: float
    methods: tuple[str, ...]

    @property
    def material_mm2(self) -> float:
        """Leather a pair takes."""
        return self.rough_mm2 + self.first_mm2 + self.second_mm2 + self.third_mm2


def ground_of(leather: Leather, hides: Sequence[Hide], rules: Rules, margin_mm: float) -> Ground:
    """What is known of a leather for one style's rules."""
    if hides:
        said = f"unfit ground of the {len(hides)} hides of the job"
        return Ground(mean_hide_mm2(leather, hides), unfit_share(hides, rules, margin_mm), said)
    area = mean_hide_mm2(leather, hides)
    said = "" if leather.mean_hide_mm2 else f", a side of {area / 1e4:.0f} dm² taken for want of a mean area"
    if leather.unfit_share is not None:
        return Ground(area, leather.unfit_share, f"unfit ground as the leather states it{said}")
    return Ground(area, FLAT_UNFIT_SHARE, f"15 % added for flaws, flat (trade notes){said}")


def mean_hide_mm2(leather: Leather, hides: Sequence[Hide]) -> float:
    """Mean area of the job's hides, else as the leather states it, else of a usual side."""
    if hides:
        return sum(hide.outline.area for hide in hides) / len(hides)
    return SIDES.area_mean_mm2 if leather.mean_hide_mm2 is None else leather.mean_hide_mm2


def leather_use(locked: Interlock, ground: Ground) -> LeatherUse | None:
    """Leather of one pair; None where hides are so small that the edge model leaves nothing."""
    share = hide_yield(
        locked.density, locked.straight_density, ground.unfit_share, ground.hide_mm2, locked.rough_mm2
    )
    if share <= 0.0:
        return None
    rough = 2.0 * locked.rough_mm2
    material = rough / share
    first = locked.parallelogram_mm2 - rough
    third = ground.unfit_share * material
    return LeatherUse(
        rough, 2.0 * locked.net_mm2, locked.parallelogram_mm2, locked.density, share, first,
        material - rough - first - third, third, (locked.method, "edge model", ground.method),
    )
