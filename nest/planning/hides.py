"""Which hides are opened and what is cut from each, so that the order is met with the least cost of material."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import ceil, fsum

from geometry.processors import for_all
from nest.job.job import Settings
from nest.planning.fill import Filled, LeatherTask, UnitsByHide, fill, hide_cost, solve_hide
from nest.planning.finish import finish
from nest.planning.goodground import on_good_ground
from nest.planning.grounds import grid_parts
from nest.planning.guide import EARLY_FILL, EXPECTED_FILL
from nest.planning.lastroom import complete_exactly
from nest.planning.offer import HideGrounds, searched_rules, see_hide
from nest.planning.ranks import differ, short_by_rank
from nest.planning.run import Run, TimeShare
from nest.planning.saving import Found, greedy_orders, rank_of
from nest.planning.spoilage import expected_loss, good_shares
from nest.planning.tail import absorbed, emptied
from nest.planning.urgency import urgent_first
from nest.planning.wants import Recasts, Unit, Want
from nest.selection.layouts import LEFT_OUT, Container, OfferedLayout, choose_layouts
from nest.stock.material import Hide, Leather

FILL_SHARE, FILL_SECONDS, FEW_HIDES, MANY_HIDES = 0.5, 2.5, 3, 12
"""Share of the time in which hides are filled one after the other; then the least of them are emptied. Where that is
less than this many seconds a hide and hides are not many, or they are few, filling takes all but the finish (trial
151)."""

MOST_FILL_SECONDS = 8.0
"""Filling takes no more than this for each hide where there is emptying to do: longer searches of one hide bring
little."""

LOOK_SECONDS = 5.0
"""Nothing is said to be short before all hides were searched exactly for this long, if it takes that."""

FINISH_SHARE, FINISH_SOLVES = 0.2, 3
"""Share of the time kept for doing without the hide that is used least, and for using it from one end; where hides are
many, no more than this many of them take."""


@dataclass(frozen=True, slots=True)
class HidePlan:
    """Units cut from each hide (in the sequence of the hides on offer), and units missing of each want.

    unfit : ids of hides on which no style finds ground good enough for net area.
    costs : cost of every hide on offer, in hundredths, by id.
    found : the last choice among candidates, with greedy orders of them; None where there was none.
    looked_everywhere : whether what is missing was looked for exactly on every hide, as the plan leaves it.
    """

    placed: tuple[tuple[HideGrounds, tuple[Unit, ...]], ...]
    short: tuple[int, ...]
    unfit: tuple[str, ...] = ()
    costs: tuple[tuple[str, int], ...] = ()
    found: Found | None = None
    looked_everywhere: bool = True


def plan_hides(
    wants: Sequence[Want], hides: Sequence[Hide], leather: Leather, settings: Settings, run: Run, share: TimeShare,
    held: Mapping[str, tuple[Unit, ...]] | None = None, *, sheets_hold: bool = True, by_prices: bool = True,
) -> HidePlan:
    """Meet the wants of one leather from its hides.

    Hides are filled one after another, led by what the styles are worth on them, until the wants are met, and some
    more; then CP-SAT chooses hides, layouts and what each place is cut as. What is still short is cut from other
    hides, as long as there are any; then it is offered to all hides together, and at last put wherever there is room
    for it, looked for exactly, at bias too where that has leave. Where all is placed the least used hides are emptied
    into the others. What is over is not cut, all on one hide; and that hide is planned again, as small as can be.

    held : units that lie on hides already, by hide.
    sheets_hold : whether these stay as they lie unless a hide can be done without, for every change takes a new sheet.
    by_prices : whether prices of the styles lead the fill and the least used hides are emptied, as in every plan; else
    area alone leads it, and hides are chosen from what was found, to be held against that.
    """
    run.courses.begin(leather.name, run.spent)
    seen = _see_all(hides if wants else (), wants, settings, run, one_way=leather.one_way)
    task = LeatherTask(wants, seen, [hide_cost(one.hide, leather) for one in seen], settings, run,
                       leather.one_way, leather.name, by_prices,
                       good_shares(seen, wants, settings.edge_room_mm) if wants else ())
    left = share.left
    to_fill = to_empty = share
    if left is not None:
        expected = hides_expected(task)
        finishing = finish_share(expected)
        hasty = left < FILL_SECONDS * expected and expected < MANY_HIDES
        all_fill = expected < FEW_HIDES or hasty or not by_prices
        filling = (1.0 - finishing) * left if all_fill else min(FILL_SHARE * left, MOST_FILL_SECONDS * expected)
        to_fill = TimeShare(run, run.elapsed + filling)
        to_empty = TimeShare(run, run.elapsed + (1.0 - 0.5 * finishing) * left)
    choose = _Chooser(task)
    begun = {at: held[one.hide.hide_id] for at, one in enumerate(seen) if held and one.hide.hide_id in held}
    placed, short, complete = _placed(task, choose, begun, to_fill, to_empty)
    fixed = bool(begun) and sheets_hold
    if not fixed or placed != begun:
        if by_prices and not any(short):
            placed = emptied(task, placed, to_empty, whole_only=fixed)
        if not fixed:
            placed = finish(task, placed, share)
            placed = on_good_ground(task, placed, share)
    task.note(placed)
    run.watch.here = sum(map(task.pieces, placed.values()))
    run.watch.tell("finish")
    unfit = tuple(one.hide.hide_id for one in seen if one.usable_mm2 <= 0.0)
    costs = tuple((one.hide.hide_id, cost) for one, cost in zip(seen, task.costs, strict=True))
    filled = tuple((seen[hide], placed[hide]) for hide in sorted(placed))
    return HidePlan(filled, tuple(short), unfit, costs, choose.found, complete)


def _placed(
    task: LeatherTask, choose: "_Chooser", begun: UnitsByHide, to_fill: TimeShare, share: TimeShare
) -> tuple[UnitsByHide, list[int], bool]:
    """Units of each hide opened, units missing of each want, and whether these were looked for everywhere."""
    short = [want.count - n for want, n in zip(task.wants, _counted(task, begun), strict=True)]
    placed = dict(begun)
    if begun:
        task.note(begun)
    if begun and any(short):
        first = complete_exactly(task, placed, short, to_fill, opened_only=True)
        placed, short = absorbed(task, first.placed, first.short, to_fill)
    if any(short):
        wanted, earlier = short, placed

        def refill(some: list[int], part: TimeShare) -> tuple[UnitsByHide, list[int]]:
            return _filled(task, choose, earlier, some, part, part)

        urgent = differ(task.wants)
        placed, short = _filled(task, choose, earlier, wanted, to_fill, share, spare_time=urgent)
        if any(short) and urgent:
            found = choose.found
            placed, short = urgent_first(task, wanted, (placed, short), refill, share)
            choose.found = found  # the choice for the whole order is what others are compared with
        task.note(placed)
    if not any(short):
        return placed, short, True
    last = complete_exactly(task, placed, short, _long_enough(share))
    return last.placed, list(last.short), last.complete and not task.run.cancelled()


def _long_enough(share: TimeShare) -> TimeShare:
    """Time to say that something is short: what is left, and no less than LOOK_SECONDS."""
    return share if share.until is None else replace(share, until=max(share.until, share.run.elapsed + LOOK_SECONDS))


def _filled(
    task: LeatherTask, choose: "_Chooser", earlier: UnitsByHide, short: list[int], to_fill: TimeShare, share: TimeShare,
    *, spare_time: bool = False,
) -> tuple[UnitsByHide, list[int]]:
    """What is short put on hides beside those placed `earlier`, and what is short then.

    spare_time : half of the time that is left after the choice is kept for another filling.
    """
    candidates = fill(task, to_fill, short, earlier)
    more, short = choose(candidates, short)
    task.note(earlier | more)
    more, short = _opened(task, choose, candidates, more, short, earlier, share)
    placed = earlier | more
    task.note(placed)
    if any(short):
        if spare_time and share.left is not None:
            share = TimeShare(share.run, share.run.elapsed + 0.5 * share.left)
        placed, short = absorbed(task, placed, short, share)
    return placed, short


def _counted(task: LeatherTask, placed: UnitsByHide) -> list[int]:
    return task.counts([unit for units in placed.values() for unit in units])


def hides_expected(task: LeatherTask) -> float:
    """About how many hides the wants will open."""
    usable = [one.usable_mm2 for one in task.seen if one.usable_mm2 > 0.0]
    wanted = fsum(want.count * want.area_mm2 for want in task.wants)
    return min(len(usable), wanted * len(usable) / (EARLY_FILL * fsum(usable))) if usable else 0.0


def finish_share(expected: float) -> float:
    """Share of the time to keep for the finish of a plan that opens about this many hides."""
    return min(FINISH_SHARE, FINISH_SOLVES / (expected + FINISH_SOLVES))


def _see_all(
    hides: Sequence[Hide], wants: Sequence[Want], settings: Settings, run: Run, *, one_way: bool
) -> list[HideGrounds]:
    """The hides that can be seen, side by side: shapely leaves the interpreter to others while it works."""
    asked = {"one_way": one_way, "most_parts": _shared_parts(hides, wants, one_way)}
    seen = for_all(lambda hide: _see(hide, wants, settings, run, **asked), hides)
    return [one for one in seen if one is not None]


def _shared_parts(hides: Sequence[Hide], wants: Sequence[Want], one_way: bool) -> int | None:
    """Parts of the widest tolerance that most hides have between headings, where the order takes several of them.

    Tables of pieces beside pieces made for one then serve the others (trials 148, 164). None where each has its own.
    """
    wanted = fsum(want.count * want.area_mm2 for want in wants)
    if not hides or wanted < FEW_HIDES * max(hide.outline.area for hide in hides):
        return None
    rules = list(searched_rules(wants).values())
    found = Counter(grid_parts(hide, rules, one_way=one_way) for hide in hides)
    found.pop(None, None)
    return max(found, key=lambda parts: (found[parts], parts), default=None)


def _see(hide: Hide, wants: Sequence[Want], settings: Settings, run: Run, **asked) -> HideGrounds | None:
    """The hide as the wants see it; None, and a word about it, if that fails: it must not lose the others."""
    try:
        return see_hide(hide, wants, settings, **asked)
    except Exception as error:
        run.fail(f"hide {hide.hide_id}", error)
        return None


def _opened(
    task: LeatherTask, choose: "_Chooser", candidates: list[Filled], placed: UnitsByHide, short: list[int],
    others: UnitsByHide, share: TimeShare,
) -> tuple[UnitsByHide, list[int]]:
    """Choose again with hides not tried yet, as long as something is short; `others` are not to be touched."""
    wanted = [n + missing for n, missing in zip(_counted(task, placed), short, strict=True)]
    tried = {filled.hide for filled in candidates} | others.keys()
    while any(short) and not task.run.cancelled() and (hide := _not_tried(task, tried, short)) is not None:
        limits = {w: n for w, n in enumerate(short) if n}
        task.run.watch.here = sum(map(task.pieces, placed.values()))
        layouts = solve_hide(task, hide, limits, share, 1.0, attempt=1)
        tried.add(hide)
        if layouts:
            candidates += [Filled(hide, units) for units in layouts]
            placed, short = choose(candidates, wanted)
    return placed, short


class _Chooser:
    """Chooses among candidates; what units of each hide may be cut as is worked out once."""

    def __init__(self, task: LeatherTask):
        self._task = task
        self._recasts = Recasts(task.wants)
        self._known: dict[tuple[int, Unit], tuple[int, ...]] = {}
        self.found: Found | None = None

    def __call__(self, candidates: Sequence[Filled], demand: Sequence[int]) -> tuple[UnitsByHide, list[int]]:
        """Units of each chosen hide, and units missing of each want."""
        task = self._task
        task.run.watch.tell("choice")
        containers = [
            Container(cost, ceil(seen.hide.measured_area_mm2))
            for cost, seen in zip(task.weights, task.seen, strict=True)
        ]
        # Of like units the first are used: what fails most is left out, then what lies at the end of the hide.
        def rank(hide: int, unit: Unit) -> tuple[float, float]:
            return expected_loss(task, hide, (unit,)), min(pose.x for pose in unit.poses)

        ordered = [sorted(filled.units, key=partial(rank, filled.hide)) for filled in candidates]
        offers = [
            OfferedLayout(filled.hide, tuple(self._serves_as(filled.hide, unit) for unit in units),
                          expected_loss(task, filled.hide, units))
            for filled, units in zip(candidates, ordered, strict=True)
        ]
        sizes = [ceil(want.area_mm2) for want in task.wants]
        greedy = greedy_orders(containers, offers, demand, sizes)
        known = min((one for _, one in greedy), key=lambda one: rank_of(one, containers, offers, sizes))
        choice = choose_layouts(containers, offers, demand, sizes, known=known)
        if any(choice.short) and differ(task.wants):
            ranks = [short_by_rank(want, number) for want, number in zip(task.wants, demand, strict=True)]
            choice = choose_layouts(containers, offers, demand, sizes, known=choice, ranks=ranks)
        self.found = Found(tuple(containers), tuple(sizes), tuple(offers), greedy, choice.least_cost)
        placed: UnitsByHide = {}
        for c, serves in zip(choice.chosen, choice.serves, strict=True):
            units = tuple(
                self._recasts.recast(unit, want)
                for unit, want in zip(ordered[c], serves, strict=True) if want != LEFT_OUT
            )
            if units:
                placed[candidates[c].hide] = units
        return placed, list(choice.short)

    def _serves_as(self, hide: int, unit: Unit) -> tuple[int, ...]:
        """Wants the unit may be cut as, its own first; its pieces must still lie on ground of one class."""
        if (hide, unit) not in self._known:
            seen, wants = self._task.seen[hide], self._task.wants
            self._known[hide, unit] = tuple(
                want for want in self._recasts.possible(unit.want)
                if seen.whole(wants[want], self._recasts.recast(unit, want))
            )
        return self._known[hide, unit]


def _not_tried(task: LeatherTask, tried: set[int], short: Sequence[int]) -> int | None:
    """The cheapest hide not tried yet that may hold what is short, else the best in rank; None if all were."""
    left = [hide for hide in task.ranked if hide not in tried]
    missing = fsum(n * want.area_mm2 for n, want in zip(short, task.wants, strict=True))
    enough = [hide for hide in left if EXPECTED_FILL * task.seen[hide].usable_mm2 >= missing]
    if enough:
        weights = task.weights
        return min(enough, key=lambda hide: weights[hide])
    return left[0] if left else None
