"""Fill hides one after the other until an order is met: what each is offered, and what comes of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from shapely.geometry import Polygon

from nest.job.job import Settings
from nest.planning.offer import HideGrounds, make_offer, units_of
from nest.planning.run import Run, Share
from nest.planning.wants import Unit, Want
from nest.stock.material import Hide, Leather
from nest.units import MM2_PER_AREA_UNIT

MOST_KINDS, LEAST_KINDS = 10, 4
"""A hide is offered about so many kinds of piece, as many as it has seconds: each costs time to prepare."""

SPREAD = 1.8
"""A hide is offered so many times its share of every size, so that the solver has a choice of sizes."""

SPARE_HIDES = 1
"""Hides filled beyond the order, so that there is a choice of hides."""

TAIL_SHARE = 0.3
"""What is missing counts as a tail when it is no more than this share of what a hide holds: too little to open one
for without trying the others again."""

EXPECTED_FILL = 0.85
"""Rough area that a hide may hold, as a share of its ground fit for net area; for sharing out sizes."""

EARLY_FILL = 0.65
"""The same of a hide that had little time; for sharing out time, so that the last hides get as much as the first."""


@dataclass(frozen=True, slots=True)
class Filled:
    """A layout found for one hide: index of the hide, and its units."""

    hide: int
    units: tuple[Unit, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """What is worked on: wants of one leather, its hides as they see them, and their costs in hundredths."""

    wants: Sequence[Want]
    seen: Sequence[HideGrounds]
    costs: Sequence[int]
    settings: Settings
    run: Run
    one_way: bool = False

    @property
    def ranked(self) -> list[int]:
        """Hides with fit ground, least cost for it first."""
        fit = [h for h, seen in enumerate(self.seen) if seen.usable_mm2 > 0.0]
        return sorted(fit, key=lambda h: (self.costs[h] / self.seen[h].usable_mm2, h))

    def area(self, units: Sequence[Unit]) -> float:
        """Rough area of some units, mm²."""
        return sum(self.wants[unit.want].area_mm2 for unit in units)

    def counts(self, units: Sequence[Unit]) -> list[int]:
        """How many units there are of each want."""
        counts = [0] * len(self.wants)
        for unit in units:
            counts[unit.want] += 1
        return counts

    def pieces(self, units: Sequence[Unit]) -> int:
        """How many pieces the units hold."""
        return sum(len(unit.poses) for unit in units)


def hide_cost(hide: Hide, leather: Leather) -> int:
    """What the whole hide costs, in hundredths of the currency: price × measured area."""
    price = hide.price
    if price is None:
        price = dict(leather.price_by_quality).get(hide.quality, leather.price)
    area = Decimal(hide.measured_area_mm2) / Decimal(MM2_PER_AREA_UNIT[leather.price_unit])
    return round(100 * price * area)


def limits_for(wants: Sequence[Want], left: Sequence[int], usable_mm2: float, most_kinds: int = MOST_KINDS):
    """How many units of each want a hide is offered, by index of the want.

    Sizes with most still to cut come first, until there are enough kinds and enough to choose from, or to fill the
    hide where that takes more than MOST_KINDS; each is offered its share of what the hide may hold times SPREAD, so
    that no size is used up before the others.
    """
    groups: dict[tuple[str, str], list[int]] = {}
    for w, want in enumerate(wants):
        if left[w] > 0:
            groups.setdefault((want.style, want.size), []).append(w)
    room = EXPECTED_FILL * usable_mm2
    offered: list[int] = []
    kinds, whole = 0, 0.0
    for group in sorted(groups.values(), key=lambda group: -sum(left[w] * wants[w].area_mm2 for w in group)):
        more = sum(len(wants[w].distinct) for w in group)
        enough = SPREAD * room if kinds + more <= MOST_KINDS else usable_mm2
        if kinds + more > most_kinds and whole >= enough:
            break
        offered += group
        kinds += more
        whole += sum(left[w] * wants[w].area_mm2 for w in group)
    share = min(1.0, SPREAD * room / whole) if whole else 0.0
    return {w: min(left[w], ceil(left[w] * share)) for w in offered}


def solve_hide(
    bench: Bench,
    hide: int,
    limits: Mapping[int, int],
    share: Share,
    solves: float,
    *,
    stage: str = "hides",
    done: int = 0,
    attempt: int = 0,
    within: Polygon | None = None,
    seen: HideGrounds | None = None,
) -> list[tuple[Unit, ...]]:
    """Distinct layouts of one hide, the one of most area first; none if nothing can be placed.

    seen : the hide as it is seen for this once, else as the bench has it.
    """
    run, seen = bench.run, seen or bench.seen[hide]
    found: dict[tuple[Unit, ...], None] = {}
    try:
        offer = make_offer(seen, bench.wants, limits, bench.settings.hide_apart_mm, within)
        if not offer.problem.kinds:
            return []
        run.tell(stage, seen.hide.hide_id, done)
        layouts = run.engine.solve_region(
            offer.problem, share.limit(solves), seed=run.seed + 1000 * attempt + hide,
            listener=run.hears(stage, seen.hide.hide_id, done),
        )
        for layout in layouts:
            units = units_of(layout.items, offer, seen, bench.wants)
            if units:
                found.setdefault(_in_limits(units, limits))
    except Exception as error:  # whatever it is, also MemoryError: one hide must not lose the others
        run.fail(f"hide {seen.hide.hide_id}", error)
        return []
    return sorted(found, key=lambda units: -bench.area(units))


def _in_limits(units: Sequence[Unit], limits: Mapping[int, int]) -> tuple[Unit, ...]:
    left, kept = dict(limits), []
    for unit in units:
        left[unit.want] -= 1
        if left[unit.want] >= 0:
            kept.append(unit)
    return tuple(kept)


def fill(bench: Bench, share: Share, done: int) -> list[Filled]:
    """Fill the hides in rank until the wants are met but for a tail, and SPARE_HIDES more with sizes of all kinds.

    Every layout found is a candidate; the fullest of a hide is taken off what is still to cut.
    """
    left = [want.count for want in bench.wants]
    candidates: list[Filled] = []
    spare = SPARE_HIDES
    waiting = bench.ranked
    per_hide: list[float] = []
    kinds = MOST_KINDS
    while waiting and not bench.run.cancelled():
        missing = sum(n * want.area_mm2 for n, want in zip(left, bench.wants, strict=True))
        if per_hide and missing <= TAIL_SHARE * sum(per_hide) / len(per_hide):
            missing = 0.0
        hide = waiting.pop(0)
        if not missing and not spare:
            break
        usable = bench.seen[hide].usable_mm2
        mean = sum(per_hide) / len(per_hide) if per_hide else EARLY_FILL * usable
        to_come = min(1 + len(waiting), ceil(missing / max(mean, 1.0)) + spare)
        spare -= not missing
        if share.left is not None:
            kinds = min(MOST_KINDS, max(LEAST_KINDS, int(share.left / to_come)))
        limits = limits_for(bench.wants, left if missing else [want.count for want in bench.wants], usable, kinds)
        layouts = solve_hide(bench, hide, limits, share, to_come, done=done)
        candidates += [Filled(hide, units) for units in layouts]
        if layouts and missing:
            best = layouts[0]
            per_hide.append(bench.area(best))
            left = [n - placed for n, placed in zip(left, bench.counts(best), strict=True)]
            done += bench.pieces(best)
    return candidates
