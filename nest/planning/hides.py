"""Which hides are opened and what is cut from each, so that the order is met with the least cost of material."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from nest.job.job import Settings
from nest.placement.choose_layouts import LEFT_OUT, Candidate, Container, choose_layouts
from nest.planning.fill import EXPECTED_FILL, Bench, Filled, fill, hide_cost, solve_hide
from nest.planning.finish import finish
from nest.planning.offer import HideGrounds, see_hide
from nest.planning.run import Run, Share
from nest.planning.wants import Recasts, Unit, Want
from nest.stock.material import Hide, Leather

FINISH_SHARE = 0.12
"""Share of the time kept for the hide that is opened last."""


@dataclass(frozen=True, slots=True)
class HidePlan:
    """Units cut from each hide (in the sequence of the hides on offer), and units missing of each want."""

    placed: tuple[tuple[HideGrounds, tuple[Unit, ...]], ...]
    short: tuple[int, ...]


def plan_hides(
    wants: Sequence[Want], hides: Sequence[Hide], leather: Leather, settings: Settings, run: Run, share: Share,
    done: int = 0,
) -> HidePlan:
    """Meet the wants of one leather from its hides.

    Hides are filled in rank of cost until the wants are met, and some more; then CP-SAT chooses hides,
    layouts and what each place is cut as. What is still short is cut from another hide, as long as there
    are any; what is over is not cut, all on one hide; and that hide is planned again, as small as can be.
    """
    seen = [see_hide(hide, wants, settings, one_way=leather.one_way) for hide in hides] if wants else []
    bench = Bench(wants, seen, [hide_cost(hide, leather) for hide in hides], settings, run)
    left = share.left
    to_fill = share if left is None else Share(run, run.elapsed + (1.0 - FINISH_SHARE) * left)
    candidates = fill(bench, to_fill, done)
    recasts = Recasts(wants)
    placed, short = _choose(bench, recasts, candidates)
    attempt = 1
    while any(short) and not run.cancelled():
        hide = _next_hide(bench, placed, short)
        if hide is None:
            break
        limits = {w: n for w, n in enumerate(short) if n}
        layouts = solve_hide(bench, hide, limits, share, 2.0, stage="hides", attempt=attempt,
                             done=done + sum(map(bench.pieces, placed.values())))
        attempt += 1
        candidates += [Filled(hide, units) for units in layouts]
        before = sum(short)
        placed, short = _choose(bench, recasts, candidates)
        if sum(short) >= before:
            break
    placed = finish(bench, placed, share, done)
    run.tell("finish", "", done + sum(map(bench.pieces, placed.values())))
    return HidePlan(tuple((seen[hide], placed[hide]) for hide in sorted(placed)), tuple(short))


def _choose(bench: Bench, recasts: Recasts, candidates: Sequence[Filled]):
    """Units of each chosen hide, and units missing of each want."""
    bench.run.tell("choice")
    containers = [
        Container(cost, ceil(seen.hide.measured_area_mm2)) for cost, seen in zip(bench.costs, bench.seen, strict=True)
    ]
    # Of like units the first are used: those left out lie together at the end of the hide.
    ordered = [sorted(filled.units, key=lambda unit: min(pose.x for pose in unit.poses)) for filled in candidates]
    offers = [
        Candidate(filled.hide, tuple(_serves_as(bench, recasts, filled.hide, unit) for unit in units))
        for filled, units in zip(candidates, ordered, strict=True)
    ]
    choice = choose_layouts(
        containers, offers, [want.count for want in bench.wants], [ceil(want.area_mm2) for want in bench.wants]
    )
    placed: dict[int, tuple[Unit, ...]] = {}
    for c, serves in zip(choice.chosen, choice.serves, strict=True):
        units = tuple(
            recasts.recast(unit, want) for unit, want in zip(ordered[c], serves, strict=True) if want != LEFT_OUT
        )
        if units:
            placed[candidates[c].hide] = units
    return placed, list(choice.short)


def _serves_as(bench: Bench, recasts: Recasts, hide: int, unit: Unit) -> tuple[int, ...]:
    """Wants the unit may be cut as, its own first; its pieces must still lie on ground of one class."""
    return tuple(
        want for want in recasts.possible(unit.want)
        if bench.seen[hide].whole(bench.wants[want], recasts.recast(unit, want))
    )


def _next_hide(bench: Bench, placed: dict[int, tuple[Unit, ...]], short: Sequence[int]) -> int | None:
    """The cheapest hide not opened yet that may hold what is short, else the best in rank; None if all are open."""
    closed = [hide for hide in bench.ranked if hide not in placed]
    missing = sum(n * want.area_mm2 for n, want in zip(short, bench.wants, strict=True))
    enough = [hide for hide in closed if EXPECTED_FILL * bench.seen[hide].usable_mm2 >= missing]
    if enough:
        return min(enough, key=lambda hide: bench.costs[hide])
    return closed[0] if closed else None
