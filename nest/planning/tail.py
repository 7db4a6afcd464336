"""Empty the hide that gives least: what lies on it is offered to all others together.

Each of the others is searched again, first from the layout it has, then anew, with what is offered on top of its own.
It takes what it can; what it lets go in exchange is offered to the next. Where all is taken the hide stays whole;
where not, it holds only what is left. Then opened hides are exchanged for whole ones with more room, as long as that
costs less than emptying saves: choosing hides by their layouts never sees what one that was not filled would hold.
Where no more can be emptied, what lies on a hide moves to a cheaper one that may hold it.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import fsum

from nest.planning.fill import LeatherTask, UnitsByHide, abreast, fill_hide, in_limits, limits_for, solve_hide
from nest.planning.guide import EARLY_FILL, EXPECTED_FILL, Guide, guide_of
from nest.planning.lastroom import complete_exactly
from nest.planning.run import SEARCHES, TimeShare
from nest.planning.wants import Unit

MOST_FAILED = 2
"""Emptying ends when this many hides could not be emptied; time that is left then goes into the attempt that left
least over, for every search begins from another seed."""

ROUNDS = 2
"""How often the other hides are searched again for one: from their layouts, then anew."""

EXCHANGES = 4
"""This many pairs of an opened and a whole hide are exchanged at most for one to be emptied."""

LEAST_GAIN = 0.5
"""An exchange must bring room for this share of what is on offer of a style, or it is not worth the searches."""

ATTEMPT_SHARE = 0.3
"""Share of the time that is left for one attempt to save a hide."""

FIRST_SOLVES = 8.0
"""A hide opened in exchange is filled in one of this many parts of an attempt's time."""

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
    while not tail.ended and placed:
        if len(placed) == 1 or len(failed) == MOST_FAILED or failed.issuperset(placed):
            if not whole_only:
                placed = tail.on_cheaper(placed)
            if (one := tail.resumed(placed)) is None:
                break
            placed, failed = one, set()
            task.note(placed)
            continue
        least = min(
            (hide for hide in placed if hide not in failed),
            key=lambda hide: (tail.worth(placed[hide]) / max(weights[hide], 1), hide),
        )
        after, whole = tail.without(placed, least)
        if whole or not whole_only:
            placed = after
            task.note(placed)
        if not whole:
            if not whole_only and (one := tail.exchanged(placed, least)) is not None:
                placed = one
                task.note(placed)
            else:
                failed.add(least)
    return placed


def absorbed(
    task: LeatherTask, placed: UnitsByHide, short: Sequence[int], share: TimeShare
) -> tuple[UnitsByHide, list[int]]:
    """The hides with what is short offered to all of them together, and what is short still; arguments as above."""
    tail = _tail(task, share, FIRST_ABSORBED)
    pool = _Pool(dict(placed), list(short))
    tail.offer(pool, tail.share)
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
    nearest: _Pool | None = None
    """Of the attempts that failed the one that left least over."""

    @property
    def ended(self) -> bool:
        """Whether time is up or a stop was asked for."""
        return self.task.run.cancelled() or self.share.left == 0.0

    def worth(self, units: Sequence[Unit]) -> float:
        """What some units count for."""
        return self.task.worth(units, self.guide.prices)

    def on_cheaper(self, placed: UnitsByHide) -> UnitsByHide:
        """The hides with what lies on one moved to a whole one that costs less, where all of it finds room there."""
        task, share, tried, failed = self.task, self._part(), set[tuple[int, int]](), 0
        while failed < EXCHANGES and not self.ended:
            if (pair := self._cheaper(placed, tried)) is None:
                break
            tried.add(pair)
            opened, whole = pair
            counts = task.counts(placed[opened])
            self.attempts += 1
            layouts = solve_hide(
                task, whole, {w: n for w, n in enumerate(counts) if n}, share, EXCHANGES - failed,
                attempt=self.attempts)
            if layouts and task.counts(layouts[0]) == counts:
                placed = {hide: units for hide, units in placed.items() if hide != opened} | {whole: layouts[0]}
                task.note(placed)
            else:
                failed += 1
        return placed

    def _cheaper(self, placed: UnitsByHide, tried: set[tuple[int, int]]) -> tuple[int, int] | None:
        """An opened and a whole, cheaper hide: the more that saves and the looser the fit, the better. What lies on the
        one may fill the other no closer than a short search fills any, or than the closest of the plan is filled."""
        task, weights = self.task, self.task.weights_of_good
        areas = {hide: task.areas(units) for hide, units in placed.items()}
        closest = max(EARLY_FILL, *(task.closeness(areas[hide], hide) for hide in placed))
        slack = {
            (opened, whole): closest - task.closeness(areas[opened], whole)
            for opened in placed for whole in task.ranked
            if whole not in placed and (opened, whole) not in tried and weights[whole] < weights[opened]
        }

        def promise(pair: tuple[int, int]) -> tuple[float, float]:
            saved = weights[pair[0]] - weights[pair[1]]
            return saved * slack[pair], saved

        return max((pair for pair in slack if slack[pair] >= 0.0), key=promise, default=None)

    def without(self, placed: UnitsByHide, least: int) -> tuple[UnitsByHide, bool]:
        """The hides after an attempt to empty one, and whether it is empty."""
        pool = _Pool({hide: units for hide, units in placed.items() if hide != least}, self.task.counts(placed[least]))
        before = list(pool.units)
        self.offer(pool, self._part())
        if not any(pool.units):
            return pool.others, True
        self._keep(pool)
        if pool.units == before:
            return placed, False
        rest = self._rest(least, placed[least], pool.units)
        return (placed if rest is None else {**pool.others, least: rest}), False

    def exchanged(self, placed: UnitsByHide, least: int) -> UnitsByHide | None:
        """The hides without the one of least worth, some of them exchanged for whole hides with more room; None if
        what it holds finds no place, or only for what it costs."""
        task = self.task
        pool = _Pool({hide: units for hide, units in placed.items() if hide != least}, task.counts(placed[least]))
        may_cost, tried, begun = task.weights[least], set[tuple[int, int]](), False
        for _ in range(EXCHANGES):
            pair = self._exchange(pool, may_cost, tried)
            if self.ended or (pair is None and not begun):
                return None
            if pair is None:
                self.offer(pool, self._part())
            else:
                tried.add(pair)
                after = self._with(pool, *pair)
                if self._unplaced(after) < self._unplaced(pool):
                    may_cost += task.weights[pair[0]] - task.weights[pair[1]]
                    pool, begun = after, True
            if not any(pool.units):
                return pool.others
            self._keep(pool)
        return None

    def resumed(self, placed: UnitsByHide) -> UnitsByHide | None:
        """The hides of the attempt that left least over, with that placed too; None if time ends before, or it costs
        no less, or passes are what is limited."""
        pool, self.nearest = self.nearest, None
        if pool is None or self.share.left is None or self._cost(pool.others) >= self._cost(placed):
            return None
        while not self.ended:
            self.offer(pool, self._part())
            if not any(pool.units):
                return pool.others
        return None

    def _keep(self, pool: _Pool) -> None:
        """Remember an attempt that has left less over than those before it."""
        if self.nearest is None or self._unplaced(pool) < self._unplaced(self.nearest):
            self.nearest = _Pool(dict(pool.others), list(pool.units))

    def _with(self, pool: _Pool, opened: int, whole: int) -> _Pool:
        """The pool with a whole hide in place of an opened one, after all were offered what is left."""
        counts, share = self.task.counts, self._part()
        wanted = [n + m for n, m in zip(pool.units, counts(pool.others[opened]), strict=True)]
        self.attempts += 1
        layouts = fill_hide(
            self.task, whole, {w: n for w, n in enumerate(wanted) if n}, share, FIRST_SOLVES, prices=self.guide.plain,
            attempt=self.attempts)
        units = layouts[0] if layouts else ()
        others = {hide: mine for hide, mine in pool.others.items() if hide != opened}
        after = _Pool({**others, whole: units}, [n - m for n, m in zip(wanted, counts(units), strict=True)])
        self.offer(after, share)
        return after

    def _exchange(self, pool: _Pool, may_cost: int, tried: set[tuple[int, int]]) -> tuple[int, int] | None:
        """The opened and the whole hide that bring most room for what is on offer when they change places, enough for
        a good part of it, and cost less than they may."""
        task = self.task
        offered = {want.style: 0.0 for want, n in zip(task.wants, pool.units, strict=True) if n}
        for want, n in zip(task.wants, pool.units, strict=True):
            if n:
                offered[want.style] += n * want.area_mm2
        least = LEAST_GAIN * max(offered.values())

        def more_room(pair: tuple[int, int]) -> float:
            opened, whole = (task.seen[one].rooms_of_styles for one in pair)
            return min(whole[style] - opened[style] for style in offered)

        pairs = [
            (opened, whole) for opened in pool.others for whole in task.ranked
            if whole not in pool.others and (opened, whole) not in tried
            and task.weights[whole] - task.weights[opened] < may_cost
        ]
        enough = [pair for pair in pairs if more_room(pair) > least]
        weights = task.weights
        return max(enough, key=lambda pair: (more_room(pair), weights[pair[0]] - weights[pair[1]], pair), default=None)

    def _cost(self, hides: UnitsByHide) -> float:
        weights = self.task.weights
        return sum(weights[hide] for hide in hides)

    def _unplaced(self, pool: _Pool) -> float:
        prices = self.guide.prices
        return fsum(
            n * want.area_mm2 * prices[want.style] for n, want in zip(pool.units, self.task.wants, strict=True))

    def _part(self) -> TimeShare:
        """The time of one attempt to save a hide."""
        run, left = self.task.run, self.share.left
        return self.share if left is None else TimeShare(run, run.elapsed + ATTEMPT_SHARE * left)

    def offer(self, pool: _Pool, share: TimeShare) -> None:
        """Offer what is in the pool to its hides in turn; what is left at last goes wherever there is room for it."""
        self.task.run.watch.here = 0
        for turn in range(ROUNDS):
            order = self._by_slack(pool)
            side_by_side = abreast(self.task.run, len(order))
            for first in range(0, len(order), side_by_side):
                if self.ended or share.left == 0.0 or not any(pool.units):
                    return
                solves = (ROUNDS - turn) * len(order) / side_by_side
                self._take(pool, order[first:first + side_by_side], solves, share, anew=turn > 0)
        if 0 < sum(pool.units) <= MOST_LEFT:
            found = complete_exactly(self.task, pool.others, pool.units, share, opened_only=True)
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

    def _take(self, pool: _Pool, hides: Sequence[int], solves: float, share: TimeShare, *, anew: bool) -> None:
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
                    task, hide, limits, share, solves, prices=self.guide.plain, attempt=attempt, workers=workers)
            return solve_hide(
                task, hide, limits, share, solves, begin_from=pool.others[hide], prices=self.guide.plain,
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
