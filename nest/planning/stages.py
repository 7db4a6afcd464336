"""The stages of which a plan is made: pieces, hides leather by leather, rolls, layouts, bounds, warnings."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from math import fsum

from nest.job.job import Job
from nest.pieces.grading import template_of_size
from nest.pieces.make import pieces_of_lines
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import CutLine
from nest.pieces.reinforcement import weight_warnings
from nest.pieces.style import Style
from nest.plan import Bound, HideLayout, Lay, Placed, PlannedStyle
from nest.planning.bound import Density, demand_of, hide_bound, lay_bound
from nest.planning.grounds import class_under
from nest.planning.hides import HidePlan, plan_hides
from nest.planning.pairs import numbered
from nest.planning.rolls import plan_roll
from nest.planning.run import Run, TimeShare
from nest.planning.wants import Unit, Want
from nest.stock.material import Leather
from nest.urgency import Tiers, ranks, tiers

ROLL_SHARE, ROLL_SECONDS = 0.15, 30.0
"""Share of the time that is kept for rolls, and what they need at most; they may also have what hides leave."""


def kept_for_rolls(run: Run) -> float:
    """Share of a run's time that is kept for rolls."""
    return ROLL_SHARE if run.seconds is None else min(ROLL_SHARE, ROLL_SECONDS / run.seconds)


def pieces_ordered(job: Job, quantities: Sequence[CutLine], warnings: list[str]) -> tuple[Piece, ...]:
    """Pieces of every ordered size; `warnings` grows by what there is to say about them and their rolls."""
    pieces: list[Piece] = []
    rolls = {roll.roll_id: roll for roll in job.rolls}
    for style, made, said in pieces_of_lines(job.styles, quantities):
        pieces += made
        warnings += said
        if style.roll in rolls:
            roll = rolls[style.roll]
            warnings += weight_warnings(
                style.name, style.thickness_mm, roll.roll_id, roll.weight_g_m2, job.weight_table
            )
    return tuple(pieces)


def planned_style(job: Job, style: Style, quantities: Sequence[CutLine]) -> PlannedStyle:
    """What a plan keeps of a style, with the templates of the sizes ordered."""
    sizes = [line.size for line in quantities if line.style == style.name]
    return PlannedStyle(
        style.name, style.leather, style.roll, style.rules, style.allowances, style.reject_percent,
        style.widening_percent, style.reinforcement_inset_mm, style.notes,
        tuple(template_of_size(style.templates, size, style.grading) for size in sizes),
        style.grading.base_size, style.reject_percent_by_quality, style.thickness_mm, job.weight_table, style.crimping,
        style.rates,
    )


def urgency_of(job: Job, quantities: Sequence[CutLine]) -> dict[tuple[str, str], Tiers]:
    """Pairs to cut of each style and size by their rank of urgency in the whole order; none where all are alike."""
    rank = ranks(job.order)
    if len(rank) < 2:
        return {}
    return {(line.style, line.size): tiers(line.rows, line.pairs_to_cut, rank) for line in quantities}


def plan_rolls(job: Job, needed, rules, run: Run, warnings: list[str]) -> tuple[Lay, ...]:
    """The lays of all rolls; each has its share of the time left, by its pieces."""
    by_name = {style.name: style.roll for style in job.styles}
    total = sum(needed.values())
    lays: list[Lay] = []
    begin, asked = run.elapsed, 0
    seconds = None if run.seconds is None else max(run.seconds - begin, kept_for_rolls(run) * run.seconds)
    for roll in job.rolls:
        mine = {piece: number for piece, number in needed.items() if by_name[piece.style] == roll.roll_id}
        if not mine:
            continue
        asked += sum(mine.values())
        share = TimeShare(run, None if seconds is None else begin + seconds * asked / total)
        try:
            settings = job.settings
            found = plan_roll(roll, mine, rules, settings.roll_apart_mm, run, share, room_mm=settings.strip_room_mm)
        except Exception as error:  # whatever it is, also MemoryError: one roll must not lose the hides
            run.fail(f"roll {roll.roll_id}", error)
            continue
        warnings += found.warnings
        if found.lay is not None:
            lays.append(found.lay)
            run.watch.settle(len(found.lay.placed))
    return tuple(lays)


def plan_leathers(
    job: Job, wants: Sequence[Want], run: Run, time_share: float,
    held: Callable[[Sequence[Want]], Mapping[str, tuple[Unit, ...]]] | None = None, *, sheets_hold: bool = True,
) -> list[tuple[Sequence[Want], HidePlan]]:
    """What is cut from the hides, leather by leather; each has its share of the time left, by its area.

    held : units of the wants of one leather that lie on hides already, by hide.
    sheets_hold : whether these stay as they lie unless a hide can be done without.
    """
    run.watch.settled = 0
    leather_of = {style.name: style.leather for style in job.styles}
    groups: list[tuple[Leather, list[Want]]] = []
    for leather in job.leathers:
        mine = [want for want in wants if leather_of[want.style] == leather.name]
        if mine:
            groups.append((leather, mine))
    to_come = fsum(want.count * want.area_mm2 for _, mine in groups for want in mine)
    plans: list[tuple[Sequence[Want], HidePlan]] = []
    for leather, mine in groups:
        area = fsum(want.count * want.area_mm2 for want in mine)
        until = None
        if run.seconds is not None:
            until = run.elapsed + max(0.0, time_share * run.seconds - run.elapsed) * area / to_come
        to_come -= area
        hides = [hide for hide in job.hides if hide.leather == leather.name]
        plan = plan_hides(
            mine, hides, leather, job.settings, run, TimeShare(run, until), held and held(mine),
            sheets_hold=sheets_hold)
        run.watch.settle(sum(len(unit.poses) for _, units in plan.placed for unit in units))
        plans.append((mine, plan))
    return plans


def layouts_of(hide_plans, pieces: Sequence[Piece], rules) -> tuple[HideLayout, ...]:
    """Layouts of all hides, vamps numbered by pair."""
    by_id = {piece.piece_id: piece for piece in pieces}
    layouts, levels = [], []
    for mine, plan in hide_plans:
        for seen, units in plan.placed:
            placed = tuple(
                Placed(piece.piece_id, pose)
                for unit in units for piece, pose in zip(mine[unit.want].pieces, unit.poses, strict=True)
            )
            class_at = class_under(seen.hide)
            layouts.append(HideLayout(seen.hide.hide_id, placed))
            levels.append([class_at(one.pose.apply(by_id[one.piece_id].net_outline)) for one in placed])
    return numbered(layouts, by_id, rules, levels)


def hide_warnings(job: Job, hide_plans, run: Run) -> list[str]:
    """One sentence for each hide without fit ground, and for each size of which the hides do not give enough.

    Of a run that was stopped nothing is claimed that it did not look for.
    """
    said = []
    leathers = {style.name: style.leather for style in job.styles}
    for mine, plan in hide_plans:
        said += [f"hide {hide_id}: no zone is good enough for net area; it stays whole" for hide_id in plan.unfit]
        why = ""
        if run.cancelled() and mine:
            hides = [hide.hide_id for hide in job.hides if hide.leather == leathers[mine[0].style]]
            seen = sum(hide_id in run.searched for hide_id in hides)
            why = f"{seen} of the {len(hides)} hides of {leathers[mine[0].style]} were looked at"
        for want, missing in zip(mine, plan.short, strict=True):
            if missing:
                what = "pair" if len(want.pieces) == 2 else f"{want.pieces[0].foot} vamp"
                if want.pieces[0].foot is Foot.EITHER and len(want.pieces) == 1:
                    what = "vamp"
                where = f"find no place on the hides of {leathers[want.style]}"
                how = f"not placed before the run was stopped; {why}" if why else (
                    f"{where}: every hide was searched exactly, as the plan leaves it" if plan.looked_everywhere else
                    f"{where}, but not all of them were searched to the end: `vampyield verify --room` does so")
                said.append(
                    f"style {want.style}, size {want.size}: {missing} {what}{'s' * (missing != 1)} of {want.count} "
                    f"to cut {how}"
                )
    return said


def unpaired_warnings(layouts, pieces: Sequence[Piece], rules) -> list[str]:
    """One sentence for each style and size of which vamps find no partner where the order needs pairs."""
    by_id = {piece.piece_id: piece for piece in pieces}
    loose = Counter(
        (by_id[placed.piece_id].style, by_id[placed.piece_id].size)
        for layout in layouts for placed in layout.placed if not placed.pair
    )
    return [
        f"style {style}, size {size}: {number} {'vamp finds' if number == 1 else 'vamps find'} no partner "
        "on ground of the same class"
        for (style, size), number in loose.items() if rules[style].pairs_same_class
    ]


def bounds_of(
    job: Job, layouts, lays, pieces: Sequence[Piece], quantities, rules, density: Density,
    *, known: Mapping[str, Bound] | None = None,
) -> tuple[Bound, ...]:
    """Bound and reference of each layout and lay; those of hides in `known` are not worked out again."""
    by_id = {piece.piece_id: piece for piece in pieces}
    hides = {hide.hide_id: hide for hide in job.hides}
    rolls = {roll.roll_id: roll for roll in job.rolls}
    one_way = {leather.name: leather.one_way for leather in job.leathers}
    demand = demand_of(pieces, quantities)
    bounds = []
    for layout in layouts:
        if known and layout.hide_id in known:
            bounds.append(known[layout.hide_id])
            continue
        hide = hides[layout.hide_id]
        by_style: dict[str, list[Piece]] = {}
        for style in job.styles:
            if style.leather == hide.leather:
                mine = [p for p in pieces if p.style == style.name and p.role is Role.VAMP]
                if mine:
                    by_style[style.name] = mine
        bounds.append(hide_bound(
            hide, by_style, demand, rules, job.settings, density, one_way=one_way[hide.leather]))
    bounds += [lay_bound(lay, rolls[lay.roll_id], by_id, job.settings, density) for lay in lays]
    return tuple(bounds)
