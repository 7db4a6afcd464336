"""What simulated hides hold of an order: its size mix placed on each of them, one after the other."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil, fsum

from nest.errors import PlanProblem
from nest.job.job import Job, Settings
from nest.pieces.make import make_pieces
from nest.pieces.quantities import ordered_quantities
from nest.pieces.style import Style
from nest.placement.budget import Budget
from nest.planning.fill import LeatherTask, limits_for, solve_hide
from nest.planning.guide import EXPECTED_FILL
from nest.planning.offer import see_hide
from nest.planning.run import Engine, Run, TimeShare
from nest.planning.wants import Want, vamp_wants
from nest.stock.material import Hide, Leather

PLENTY = 1.3
"""Sizes are offered in the order's proportions, in all this many times what the hides may hold."""


@dataclass(frozen=True, slots=True)
class HeldBy:
    """What one hide holds: its area, its fit ground, and rough area of the pairs placed, mm²; units of each want."""

    hide_id: str
    area_mm2: float
    fit_mm2: float
    rough_mm2: float
    units: tuple[int, ...]


def order_wants(job: Job, leather: Leather) -> tuple[Want, ...]:
    """What the order wants of one leather.

    Raises
    ------
    InputProblems
        If pieces cannot be made from a style.
    PlanProblem
        If nothing is ordered at all.
    """
    lines = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    styles = {style.name: style for style in job.styles if style.leather == leather.name}
    mine = [line for line in lines if line.style in styles]
    pieces = [
        piece for name, style in styles.items()
        for piece in make_pieces(style, [line.size for line in mine if line.style == name])[0]
    ]
    return vamp_wants(mine, pieces, {name: style.rules for name, style in styles.items()})


def main_style(job: Job, wants: Sequence[Want]) -> Style:
    """The style that takes most of the rough area."""
    areas: dict[str, float] = {}
    for want in wants:
        areas[want.style] = areas.get(want.style, 0.0) + want.count * want.area_mm2
    name = max(areas, key=areas.__getitem__)
    return next(style for style in job.styles if style.name == name)


def hold(
    settings: Settings, leather: Leather, wants: Sequence[Want], hides: Sequence[Hide], *, passes: int, seed: int,
    engine: Engine | None = None, cancelled: Callable[[], bool] = lambda: False,
) -> Iterator[HeldBy]:
    """Yield what each hide holds, in their sequence; a hide that `cancelled` cuts short is left out, and ends it.

    The sizes come from one large order with the proportions of the wants, in the way of `nest.planning.fill`: sizes of
    which most is left come first, and what is placed is taken off. One store of tables serves all hides.

    passes : search passes of each of two searches on each hide; more find more, and take longer.

    Raises
    ------
    PlanProblem
        If placing on a hide fails.
    """
    run = Run(engine or Engine.fresh(), seed, Budget(passes=passes, cancelled=cancelled))
    seen = [see_hide(hide, wants, settings, one_way=leather.one_way) for hide in hides]
    task = LeatherTask(wants, seen, [0] * len(seen), settings, run, leather.one_way)
    room = EXPECTED_FILL * fsum(one.usable_mm2 for one in seen)
    times = max(1.0, PLENTY * room / fsum(want.count * want.area_mm2 for want in wants))
    left = [ceil(times * want.count) for want in wants]
    for index, hide in enumerate(hides):
        if cancelled():
            return
        limits = limits_for(wants, left, seen[index].rooms_of_styles)
        layouts = solve_hide(task, index, limits, TimeShare(run, None), 1.0) if limits else []
        if cancelled():
            return
        if run.failed:  # a hide that could not be placed must not count as one that holds nothing
            raise PlanProblem(run.failed[0])
        units = task.counts(layouts[0]) if layouts else [0] * len(wants)
        left = [n - placed for n, placed in zip(left, units, strict=True)]
        rough = task.area(layouts[0]) if layouts else 0.0
        yield HeldBy(hide.hide_id, hide.outline.area, seen[index].usable_mm2, rough, tuple(units))
