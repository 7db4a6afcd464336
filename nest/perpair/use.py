"""Leather of one pair: its lattice, the edge model, and the ground that is not fit, waste by waste."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import fsum

from nest.perpair.measures import Interlock
from nest.perpair.reach import Probe, Reach
from nest.perpair.yield_model import FIGURES_ERROR_PERCENT, REACH_ERROR_PERCENT, hide_yield, reached_yield
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.style import Style
from nest.stock.distribution import SIDES
from nest.stock.ground import unfit_share
from nest.stock.material import Hide, Leather

FLAT_UNFIT_SHARE = 0.15 / 1.15
"""Where nothing is known of a leather's ground: an addition of 15 % for flaws, as in old use on hides (trade notes)."""


@dataclass(frozen=True, slots=True)
class KnownGround:
    """What is known of a leather for one style: mean area of a hide, share of it that is unfit, and their source.

    reach : what the vamp of the base size can reach, where hides are known; None where only figures are.
    beside : ground with reach that these figures are set beside: then they tell what they change of its yield.
    probe : what looked at the hides for `reach`.
    fit : what makes ground fit for the style, where hides are known; styles with equal ones want the same ground.
    """

    hide_mm2: float
    unfit_share: float
    tolerance_deg: float
    method: str
    reach: Reach | None = None
    beside: "KnownGround | None" = None
    probe: Probe | None = field(default=None, compare=False)
    fit: tuple = ()


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


def ground_of(
    leather: Leather, hides: Sequence[Hide], style: Style, margin_mm: float, made: Sequence[Piece] = ()
) -> KnownGround:
    """What is known of a leather for one style; among the pieces `made` of it the vamp of the base size is looked for.

    Raises
    ------
    InputProblems
        If the vamp of the base size cannot be made.
    """
    rules, tolerance = style.rules, style.rules.tolerance_deg
    area = mean_hide_mm2(leather, hides)
    if hides:
        base = style.grading.base_size
        pieces = [one for one in made if one.size == base] or make_pieces(style, [base])[0]
        vamp = next(one for one in pieces if one.role is Role.VAMP and one.foot is not Foot.RIGHT)
        probe = Probe(hides, vamp, rules, margin_mm, one_way=leather.one_way)
        fit = rules.net_quality, rules.trim_quality, rules.flaws_under_trim, tolerance
        which = "the hide" if len(hides) == 1 else f"the {len(hides)} hides"
        said = f"unfit ground and reach of {which} of the job"
        return KnownGround(area, unfit_share(hides, rules, margin_mm), tolerance, said, probe.mean, None, probe, fit)
    said = "" if leather.mean_hide_mm2 else f", a side of {area / 1e4:.0f} dm² taken for want of a mean area"
    if leather.unfit_share is not None:
        return KnownGround(area, leather.unfit_share, tolerance, f"unfit ground as the leather states it{said}")
    return KnownGround(area, FLAT_UNFIT_SHARE, tolerance, f"15 % added for flaws, flat (trade notes){said}")


def mean_hide_mm2(leather: Leather, hides: Sequence[Hide]) -> float:
    """Mean area of the job's hides, else as the leather states it, else of a usual side."""
    if hides:
        return fsum(hide.outline.area for hide in hides) / len(hides)
    return SIDES.area_mean_mm2 if leather.mean_hide_mm2 is None else leather.mean_hide_mm2


def leather_use(locked: Interlock, ground: KnownGround) -> LeatherUse | None:
    """Leather of one pair; None where hides are so small that the edge model leaves nothing."""
    share = _yield_by_figures(locked, ground) if ground.reach is None else _yield_by_reach(locked, ground, ground.reach)
    beside = ground.beside
    if beside is not None and beside.reach is not None and (told := _yield_by_figures(locked, beside)) > 0.0:
        share *= _yield_by_reach(locked, beside, beside.reach) / told
    # Trim-off reaches over unfit ground, which is a waste of its own: no waste may come out below zero.
    share = min(share, (1.0 - ground.unfit_share) * locked.density)
    if share <= 0.0:
        return None
    rough = 2.0 * locked.rough_mm2
    material = rough / share
    first = locked.parallelogram_mm2 - rough
    third = ground.unfit_share * material
    return LeatherUse(
        rough, 2.0 * locked.net_mm2, locked.parallelogram_mm2, locked.density, share, first,
        material - rough - first - third, third, (locked.method, _edge_method(ground), ground.method),
    )


def _yield_by_figures(locked: Interlock, ground: KnownGround) -> float:
    return hide_yield(
        locked.density, locked.straight_density, ground.unfit_share, ground.hide_mm2, locked.rough_mm2,
        ground.tolerance_deg,
    )


def _yield_by_reach(locked: Interlock, ground: KnownGround, reach: Reach) -> float:
    return reached_yield(
        locked.density, locked.straight_density, reach, ground.hide_mm2, locked.rough_mm2, ground.tolerance_deg,
    )


def _edge_method(ground: KnownGround) -> str:
    error = FIGURES_ERROR_PERCENT if ground.reach is None else REACH_ERROR_PERCENT
    return f"edge model, {error:g} % off on a single simulated side (root mean square)"
