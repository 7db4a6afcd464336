"""Empty the hide that gives least: what lies on it is offered to all others together.

Each of the others is searched again, first from the layout it has, then anew, with what is offered on top of its own.
It takes what it can; what it lets go in exchange is offered to the next. Where all is taken the hide stays whole;
where not, it holds only what is left.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from nest.planning.fill import LeatherTask, UnitsByHide, abreast, fill_hide, in_limits, limits_for, solve_hide
from nest.planning.guide import EXPECTED_FILL, Guide, guide_of
from nest.planning.lastroom import complete_exactly
from nest.planning.run import SEARCHES, TimeShare
from nest.planning.wants import Unit

MOST_FAILED = 2
"""Emptying ends when this many hides could not be emptied."""

ROUNDS = 2
"""How often the other hides are searched again for one: from their layouts, then anew."""

MORE_PASSES = 4

MOST_LEFT = 6
"""Up to this many units that no search placed are looked for room for exactly."""

FIRST_ATTEMPT, FIRST_ABSORBED = 300, 600
"""Attempts count from here, so that no search begins from the seed of an earlier one."""


def emptied(task: LeatherTask, placed: UnitsByHide, share: TimeShare, *, whole_only: bool = False) -> UnitsByHide:
    """The hides with as many emptied as could be, the one of least worth for its cost first.

    whole_only : nothing is moved unless a hide stays whole by that, for every change takes a new sheet.
    """
    tail, weights = _tail(task, share, FIRST_ATTEMPT), task.weights
    failed: set[int] = set()
    while len(failed) < MOST_FAILED and not tail.ended and len(placed) > 1 and placed.keys() - failed:
        least = min(
            (hide for hide in placed if hide not in failed),
            key=lambda hide: (tail.worth(placed[hide]) / max(weights[hide], 1), hide),
        )
        after, whole = tail.without(placed, least)
        if whole or not whole_only:
            placed = after
            task.note(placed)
        if not whole:
            failed.add(least)
    return placed


def absorbed(
    task: LeatherTask, placed: UnitsByHide, short: Sequence[int], share: TimeShare
) -> tuple[UnitsByHide, list[int]]:
    """The hides with what is short offered to all of them together, and what is short still; arguments as above."""
    tail = _tail(task, share, FIRST_ABSORBED)
    pool = _Pool(dict(placed), list(short))
    tail.offer(pool)
    return pool.others, pool.units


def _tail(task: LeatherTask, share: TimeShare, attempts: int) -> "_Tail":
    """Prices are those of the whole order; where passes are limited a search that may save a hide gets more of them."""
    guide = guide_of(task.wants, task.seen, task.weights, [want.count for want in task.wants], task.ranked,
                     by_prices=task.by_prices)
    run = task.run
    if run.passes is not None:
        run = replace(run, budget=replace(run.budget, passes=MORE_PASSES * run.passes))
    return _Tail(replace(task, run=run), guide, TimeShare(run, share.until), attempts)


@dataclass(slots=True)
class _Pool:
    """Hides that are offered something, and the units still on offer, by want."""

    others: UnitsByHide
    units: list[int]


@dataclass(slots=True)
class _Tail:
    """What emptying works with, and how many searches were made."""

    task: LeatherTask
    guide: Guide
    share: TimeShare
    attempts: int

    @property
    def ended(self) -> bool:
        """Whether time is up or a stop was asked for."""
        return self.task.run.cancelled() or self.share.left == 0.0

    def worth(self, units: Sequence[Unit]) -> float:
        """What some units count for."""
        return self.task.worth(units, self.guide.prices)

    def without(self, placed: UnitsByHide, least: int) -> tuple[UnitsByHide, bool]:
        """The hides after an attempt to empty one, and whether it is empty."""
        pool = _Pool({hide: units for hide, units in placed.items() if hide != least}, self.task.counts(placed[least]))
        before = list(pool.units)
        self.offer(pool)
        if not any(pool.units):
            return pool.others, True
        if pool.units == before:
            return placed, False
        rest = self._rest(least, placed[least], pool.units)
        return (placed if rest is None else {**pool.others, least: rest}), False

    def offer(self, pool: _Pool) -> None:
        """Offer what is in the pool to its hides in turn; what is left at last goes wherever there is room for it."""
        self.task.run.watch.here = 0
        for turn in range(ROUNDS):
            order = self._by_slack(pool)
            side_by_side = abreast(self.task.run, len(order))
            for first in range(0, len(order), side_by_side):
                if self.ended or not any(pool.units):
                    return
                solves = (ROUNDS - turn) * len(order) / side_by_side
                self._take(pool, order[first:first + side_by_side], solves, anew=turn > 0)
        if 0 < sum(pool.units) <= MOST_LEFT:
            found = complete_exactly(self.task, pool.others, pool.units, self.share, opened_only=True)
            pool.others, pool.units = found.placed, list(found.short)

    def _by_slack(self, pool: _Pool) -> list[int]:
        """The hides with most ground for what is on offer that no such style lies on, first."""
        task = self.task
        styles = {want.style for want, n in zip(task.wants, pool.units, strict=True) if n}

        def slack(hide: int) -> float:
            room = max((task.seen[hide].rooms_of_styles[style] for style in styles), default=0.0)
            mine = [unit for unit in pool.others[hide] if task.wants[unit.want].style in styles]
            return EXPECTED_FILL * room - task.area(mine)

        return sorted(pool.others, key=lambda hide: (-slack(hide), hide))

    def _take(self, pool: _Pool, hides: Sequence[int], solves: float, *, anew: bool) -> None:
        """Search some hides side by side for more worth, of their own units and those on offer."""
        task = self.task
        side_by_side = min(len(hides), task.run.engine.at_once())
        workers = SEARCHES if side_by_side > 1 else None

        def search(hide: int, attempt: int) -> list[tuple[Unit, ...]]:
            more = limits_for(task.wants, pool.units, task.seen[hide].rooms_of_styles)
            own = task.counts(pool.others[hide])
            limits = {w: n + more.get(w, 0) for w, n in enumerate(own) if n + more.get(w, 0)}
            if anew:
                return fill_hide(
                    task, hide, limits, self.share, solves, prices=self.guide.plain, attempt=attempt, workers=workers)
            return solve_hide(
                task, hide, limits, self.share, solves, begin_from=pool.others[hide], prices=self.guide.plain,
                attempt=attempt, workers=workers)

        with ThreadPoolExecutor(side_by_side) as threads:
            found = list(threads.map(search, hides, range(self.attempts, self.attempts + len(hides))))
        self.attempts += len(hides)
        for hide, layouts in zip(hides, found, strict=True):
            own = task.counts(pool.others[hide])
            there = {w: n + mine for w, (n, mine) in enumerate(zip(pool.units, own, strict=True))}
            best = in_limits(layouts[0], there) if layouts else ()
            if self.worth(best) > self.worth(pool.others[hide]) * (1.0 + 1e-9):
                pool.others[hide] = best
                pool.units = [there[w] - n for w, n in enumerate(task.counts(best))]

    def _rest(self, hide: int, units: tuple[Unit, ...], left: Sequence[int]) -> tuple[Unit, ...] | None:
        """What the hide that is not empty holds then: its own units where they serve, else what a search finds; None
        where not all find a place."""
        kept, missing = [], list(left)
        for unit in units:
            if missing[unit.want] > 0:
                missing[unit.want] -= 1
                kept.append(unit)
        if not any(missing):
            return tuple(kept)
        self.attempts += 1
        layouts = solve_hide(
            self.task, hide, {w: n for w, n in enumerate(left) if n}, self.share, 1.0,
            attempt=self.attempts, begin_from=kept,
        )
        return next((layout for layout in layouts if self.task.counts(layout) == list(left)), None)
