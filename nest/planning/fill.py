"""Fill hides one after the other until an order is met: what each is offered, and what comes of it."""

from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil, fsum, inf

from shapely.geometry import Polygon

from nest.job.job import Settings
from nest.plan import Step
from nest.planning.guide import EARLY_FILL, EXPECTED_FILL, guide_of
from nest.planning.offer import HideGrounds, items_of, make_offer, units_of
from nest.planning.run import SEARCHES, Run, TimeShare
from nest.planning.wants import Unit, Want
from nest.stock.material import Hide, Leather
from nest.stock.prices import costs_of_hides

MOST_KINDS, LEAST_KINDS = 10, 4
"""A hide is offered about this many kinds of piece, as many as it has seconds: each costs time to prepare."""

SPREAD = 1.8
"""A hide is offered this many times its share of every size, so that the solver has a choice of sizes."""

SPARE_HIDES = 1
"""Hides filled beyond the order, so that there is a choice of hides."""

TAIL_SHARE = 0.3
"""What is missing counts as a tail when it is no more than this share of what a hide holds: too little to open one
for without trying the others again."""


REMNANT_SHARE = 0.5
"""A remnant counts for this share of its price when hides are chosen: for what later plans lose if it is used today. It
is filled to 48 % where a whole hide is to 62, so that is 0.78 of its price if it would be used in the end, and 0.23 if
no more of them would be than in a month, 28 of 96 (trial 171). Half lies between; plans by other shares were not held
against each other."""

DEAR_SHARE = 0.75
"""A style worth more than this share of the dearest is placed before those worth less."""

DEAR_TIME = 0.5
"""Share of a hide's time in which the dear styles are placed alone."""


ROUNDS_BY_PASSES = 10
"""With a limit on passes one in this many of the hides still to come are filled side by side; in small orders one."""

UnitsByHide = dict[int, tuple[Unit, ...]]
"""Units on each hide that is opened."""


@dataclass(frozen=True, slots=True)
class Filled:
    """A layout found for one hide: index of the hide, and its units."""

    hide: int
    units: tuple[Unit, ...]


@dataclass(frozen=True, slots=True, eq=False)
class LeatherTask:
    """What is worked on: wants of one leather, its hides as they see them, and their costs in hundredths."""

    wants: Sequence[Want]
    seen: Sequence[HideGrounds]
    costs: Sequence[int]
    settings: Settings
    run: Run
    one_way: bool = False
    leather: str = ""
    by_prices: bool = True
    """Whether prices of the styles lead the fill; else area alone."""
    good: tuple[float, ...] = ()
    """Share of what is cut from each hide that is expected to come out well; empty where nothing is known of that."""

    @property
    def weights(self) -> list[int]:
        """What hides count for when they are chosen: their costs, of remnants REMNANT_SHARE of them.

        Each remnant counts a hundredth more for its place on offer, so that of equals the first is opened.
        """
        return [
            ceil(REMNANT_SHARE * cost) + at if seen.hide.remnant_of else cost
            for at, (seen, cost) in enumerate(zip(self.seen, self.costs, strict=True))
        ]

    @property
    def weights_of_good(self) -> list[float]:
        """The same for what is expected to come out well: a hide whose vamps fail more often counts for more."""
        good = self.good or (1.0,) * len(self.seen)
        return [weight / share for weight, share in zip(self.weights, good, strict=True)]

    @property
    def ranked(self) -> list[int]:
        """Hides with fit ground: remnants as they are on offer, then whole hides, least cost for their ground first."""
        fit = [h for h, seen in enumerate(self.seen) if seen.usable_mm2 > 0.0]
        whole = [h for h in fit if not self.seen[h].hide.remnant_of]
        remnants = [h for h in fit if self.seen[h].hide.remnant_of]
        good = self.good or (1.0,) * len(self.seen)
        return remnants + sorted(whole, key=lambda h: (self.costs[h] / (good[h] * self.seen[h].usable_mm2), h))

    def area(self, units: Sequence[Unit]) -> float:
        """Rough area of some units, mm²."""
        return fsum(self.wants[unit.want].area_mm2 for unit in units)

    def worth(self, units: Sequence[Unit], prices: Mapping[str, float] | None) -> float:
        """What some units count for, mm² of the dearest style."""
        if prices is None:
            return self.area(units)
        return fsum(prices[self.wants[unit.want].style] * self.wants[unit.want].area_mm2 for unit in units)

    def areas(self, units: Sequence[Unit]) -> dict[str, float]:
        """Rough area of some units by style, mm²."""
        areas: dict[str, float] = {}
        for unit in units:
            want = self.wants[unit.want]
            areas[want.style] = areas.get(want.style, 0.0) + want.area_mm2
        return areas

    def closeness(self, areas: Mapping[str, float], hide: int) -> float:
        """Share of a hide's fit ground that rough areas of styles would take: the largest over all sets of styles, each
        on the ground that its styles can use together."""
        rooms = self.seen[hide].rooms_mm2.items()
        taken = [(fsum(areas.get(style, 0.0) for style in styles), room) for styles, room in rooms]
        return max((area / room if room else inf for area, room in taken if area), default=inf)

    def counts(self, units: Sequence[Unit]) -> list[int]:
        """How many units there are of each want."""
        counts = [0] * len(self.wants)
        for unit in units:
            counts[unit.want] += 1
        return counts

    def pieces(self, units: Sequence[Unit]) -> int:
        """How many pieces the units hold."""
        return sum(len(unit.poses) for unit in units)

    def note(self, placed: Mapping[int, Sequence[Unit]]) -> None:
        """Note the plan as it is now in the course of the run."""
        held = self.counts([unit for units in placed.values() for unit in units])
        missing = fsum(max(0, want.count - n) * want.area_mm2 for want, n in zip(self.wants, held, strict=True))
        cost = Decimal(sum(self.costs[hide] for hide in placed)).scaleb(-2)
        self.run.courses.note(self.leather, Step(self.run.spent, len(placed), cost, round(missing, 1)))


def hide_cost(hide: Hide, leather: Leather) -> int:
    """What the whole hide costs at list price, in hundredths of the currency."""
    return round(100 * costs_of_hides([hide], leather)[0])


def limits_for(
    wants: Sequence[Want], left: Sequence[int], rooms_mm2: Mapping[str, float], most_kinds: int = MOST_KINDS
) -> dict[int, int]:
    """How many units of each want a hide is offered, by index of the want.

    Sizes with most still to cut come first, of every style in proportion to what is left of it (highest averages:
    D'Hondt), until there are enough kinds and enough to choose from, or to fill the hide where that takes more than
    MOST_KINDS; each is offered its share of what the hide may hold times SPREAD, so that no size is used up before the
    others.

    Parameters
    ----------
    left : units still to cut of each want
    rooms_mm2 : ground fit for each style
    """
    groups: dict[str, dict[str, list[int]]] = {}
    for w, want in enumerate(wants):
        if left[w] > 0 and rooms_mm2[want.style] > 0.0:
            groups.setdefault(want.style, {}).setdefault(want.size, []).append(w)

    def still(group: Sequence[int]) -> float:
        return fsum(left[w] * wants[w].area_mm2 for w in group)

    ranked = []
    for sizes in groups.values():
        of_style = fsum(map(still, sizes.values()))
        by_size = sorted(sizes.values(), key=lambda group: -still(group))
        ranked += [(of_style / n, group) for n, group in enumerate(by_size, start=1)]
    usable = max((rooms_mm2[style] for style in groups), default=0.0)
    offered: dict[str, list[int]] = {}
    kinds, whole = 0, 0.0
    for _, group in sorted(ranked, key=lambda one: -one[0]):
        more = sum(len(wants[w].distinct) for w in group)
        enough = SPREAD * EXPECTED_FILL * usable if kinds + more <= MOST_KINDS else usable
        if kinds + more > most_kinds and whole >= enough:
            break
        offered.setdefault(wants[group[0]].style, []).extend(group)
        kinds += more
        whole += still(group)
    limits: dict[int, int] = {}
    for style, mine in offered.items():
        share = min(1.0, SPREAD * EXPECTED_FILL * rooms_mm2[style] / still(mine))
        limits |= {w: min(left[w], ceil(left[w] * share)) for w in mine}
    return limits


def solve_hide(
    task: LeatherTask, hide: int, limits: Mapping[int, int], share: TimeShare, solves: float, *, stage: str = "hides",
    attempt: int = 0, within: Polygon | None = None, seen: HideGrounds | None = None,
    prices: Mapping[str, float] | None = None, begin_from: Sequence[Unit] = (), workers: int | None = None,
) -> list[tuple[Unit, ...]]:
    """Distinct layouts of one hide, the one of most worth first; none if nothing can be placed.

    seen : the hide as it is seen for this once, else as the task has it.
    prices : what a mm² of each style counts for; all alike without them.
    begin_from : units of the hide that the search goes on from.
    workers : threads of the search; by default one to a core.
    """
    run, seen = task.run, seen or task.seen[hide]
    found: dict[tuple[Unit, ...], None] = {}
    try:
        offer = make_offer(seen, task.wants, limits, task.settings.hide_apart_mm, within, prices)
        if not offer.problem.kinds:
            return []
        run.watch.tell(stage, seen.hide.hide_id)
        run.searched.append(seen.hide.hide_id)
        layouts = run.engine.solve_region(
            replace(offer.problem, begin_from=items_of(begin_from, offer, task.wants)), share.limit(solves),
            seed=run.seed + 1000 * attempt + hide, listener=run.watch.hears(stage, seen.hide.hide_id),
            **({} if workers is None else {"workers": workers}),
        )
        for layout in layouts:
            units = units_of(layout.items, offer, seen, task.wants)
            if units:
                found.setdefault(in_limits(units, limits))
    except Exception as error:  # whatever it is, also MemoryError: one hide must not lose the others
        run.fail(f"hide {seen.hide.hide_id}", error)
        return []
    return sorted(found, key=lambda units: -task.worth(units, prices))


def fill_hide(
    task: LeatherTask, hide: int, limits: Mapping[int, int], share: TimeShare, solves: float, *,
    prices: Mapping[str, float] | None, **more,
) -> list[tuple[Unit, ...]]:
    """Layouts of one hide as `solve_hide` finds them; where prices differ much the dear styles are placed first.

    Together they would be searched for with cheap ones in their way.
    """
    dear = {w: n for w, n in limits.items() if prices and prices[task.wants[w].style] > DEAR_SHARE}
    first: tuple[Unit, ...] = ()
    if dear and len(dear) < len(limits):
        found = solve_hide(task, hide, dear, share, solves / DEAR_TIME, **more)
        first = found[0] if found else ()
        solves -= 1.0 - DEAR_TIME
    return solve_hide(task, hide, limits, share, solves, prices=prices, begin_from=first, **more)


def abreast(run: Run, hides: int) -> int:
    """How many of these hides are worked on side by side, each unaware of what the others take: as many as the
    engine can. Where passes are limited it goes by the hides alone, so that plans do not depend on who works on them.
    """
    by_passes = run.seconds is None or run.passes is not None
    return max(1, hides // ROUNDS_BY_PASSES if by_passes else min(hides, run.engine.at_once()))


def in_limits(units: Sequence[Unit], limits: Mapping[int, int]) -> tuple[Unit, ...]:
    """The first of the units, as many of each want as its limit allows."""
    left, kept = dict(limits), []
    for unit in units:
        left[unit.want] -= 1
        if left[unit.want] >= 0:
            kept.append(unit)
    return tuple(kept)


def fill(task: LeatherTask, share: TimeShare, wanted: Sequence[int], closed: Collection[int] = ()) -> list[Filled]:
    """Fill hides until all that is `wanted` is met but for a tail, and SPARE_HIDES more with sizes of all kinds.

    Those in `closed` are left alone. Every layout found is a candidate; the one of most worth of a hide is taken off
    what is still to cut, and prices are made anew. Where there are cores enough several hides are filled at once.
    """
    left = list(wanted)
    task.run.watch.here = 0
    candidates: list[Filled] = []
    spare = SPARE_HIDES
    waiting = [hide for hide in task.ranked if hide not in closed]
    held: list[float] = []
    expected = 0.0
    while waiting and not task.run.cancelled():
        missing = fsum(n * want.area_mm2 for n, want in zip(left, task.wants, strict=True))
        if held and missing <= TAIL_SHARE * fsum(held) / len(held):
            missing = 0.0
        if not missing and not spare:
            break
        asked = left if missing else wanted
        gauge = fsum(held) / expected if held else 1.0
        guide = guide_of(task.wants, task.seen, task.weights_of_good, asked, waiting, gauge, by_prices=task.by_prices)
        mean = fsum(held) / len(held) if held else EARLY_FILL * task.seen[guide.order[0]].usable_mm2
        to_come = min(len(waiting), ceil(missing / max(mean, 1.0)) + spare)
        hides = guide.order[: abreast(task.run, to_come - spare)]
        spare -= not missing
        found = _fill_at_once(task, hides, asked, share, to_come / len(hides), guide.plain)
        for hide, layouts in zip(hides, found, strict=True):
            waiting.remove(hide)
            candidates += [Filled(hide, units) for units in layouts]
            if layouts and missing:
                best = in_limits(layouts[0], dict(enumerate(left)))
                held.append(task.area(best))
                expected += EARLY_FILL * task.seen[hide].usable_mm2
                left = [n - placed for n, placed in zip(left, task.counts(best), strict=True)]
                task.run.watch.here += task.pieces(best)
    return candidates


def _fill_at_once(
    task: LeatherTask, hides: Sequence[int], wanted: Sequence[int], share: TimeShare, solves: float,
    prices: Mapping[str, float] | None,
) -> list[list[tuple[Unit, ...]]]:
    """Layouts of some hides side by side; what one is likely to take is not offered to the next."""
    kinds = MOST_KINDS if share.left is None else min(MOST_KINDS, max(LEAST_KINDS, int(share.left / solves)))
    offers, left = [], list(wanted)
    for hide in hides:
        offers.append(limits_for(task.wants, left, task.seen[hide].rooms_of_styles, kinds))
        left = [max(n - ceil(offers[-1].get(w, 0) / SPREAD), 0) for w, n in enumerate(left)]
    with ThreadPoolExecutor(side_by_side := min(len(hides), task.run.engine.at_once())) as pool:
        workers = {"workers": SEARCHES} if side_by_side > 1 else {}
        return list(pool.map(
            lambda hide, limits: fill_hide(task, hide, limits, share, solves, prices=prices, **workers),
            hides, offers,
        ))
