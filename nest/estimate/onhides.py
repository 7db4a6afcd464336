"""Consumption of an order on simulated hides of each of its leathers, and the number of hides to issue."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import fsum
from statistics import fmean

from nest.estimate.issue import (
    CONFIDENCE,
    LEAST_HIDES,
    Factor,
    area_factor,
    bound_of_sum,
    hides_on_the_mean,
    hides_to_issue,
)
from nest.estimate.make import LeatherTotal, QuickEstimate
from nest.estimate.supply import supply_of
from nest.estimate.trialhides import HeldBy, hold, main_style, order_wants
from nest.job.job import Job
from nest.perpair.use import LeatherUse
from nest.pieces.quantities import cut_quantities
from nest.planning.run import Engine
from nest.planning.wants import Want
from nest.stock.simulate import simulate_hides

PASSES = 1000
"""Search passes on each hide by default: two to three seconds on two cores."""


@dataclass(frozen=True, slots=True)
class SizeOnHides:
    """Leather of one pair of a style and size, mm²: mean, spread from hide to hide, interval of the mean."""

    style: str
    size: str
    pairs_to_cut: int
    rough_mm2: float
    leather_mm2: float
    spread_mm2: float
    low_mm2: float
    high_mm2: float


@dataclass(frozen=True, slots=True)
class LeatherOnHides:
    """One leather: what each hide holds, consumption by size, and hides to issue.

    needed_mm2 : rough area of the pairs to cut.
    issue, on_the_mean : hides to issue so that the order is covered with `confidence`; that would do on the mean. None
        where the hides hold too little to say.
    promised_mm2 : rough area that the hides issued hold at least, with that confidence.
    """

    leather: str
    supply: str
    held: tuple[HeldBy, ...]
    sizes: tuple[SizeOnHides, ...]
    needed_mm2: float
    issue: int | None
    on_the_mean: int | None
    promised_mm2: float
    confidence: float


def on_simulated_hides(
    job: Job, count: int, *, passes: int = PASSES, seed: int | None = None, confidence: float = CONFIDENCE,
    engine: Engine | None = None, cancelled: Callable[[], bool] = lambda: False,
    tell: Callable[[str, int, int], None] = lambda leather, done, total: None,
) -> tuple[LeatherOnHides, ...]:
    """Draw `count` hides of each leather, place the order's size mix on them, and say what that comes to.

    The same job, count, passes and seed give the same result. When `cancelled` turns true, what was measured by then
    counts, for leathers with at least LEAST_HIDES hides.

    Parameters
    ----------
    tell : called before each hide: name of the leather, hides done, hides in all

    Raises
    ------
    ValueError
        If fewer than LEAST_HIDES hides are asked for.
    InputProblems, PlanProblem
        As `nest.estimate.trialhides.order_wants`.
    """
    if count < LEAST_HIDES:
        raise ValueError(f"expected at least {LEAST_HIDES} hides, found {count}")
    seed = job.settings.seed if seed is None else seed
    engine = engine or Engine.fresh()
    found = []
    for leather in job.leathers:
        wants = order_wants(job, leather)
        if not wants or cancelled():
            continue
        stock = [hide for hide in job.hides if hide.leather == leather.name]
        supply = supply_of(leather, stock, main_style(job, wants).rules, job.settings.edge_room_mm)
        hides = simulate_hides(supply.distribution, count, seed=seed, leather=leather.name)
        held: list[HeldBy] = []
        tell(leather.name, 0, count)
        for one in hold(
            job.settings, leather, wants, hides, passes=passes, seed=seed, engine=engine, cancelled=cancelled
        ):
            held.append(one)
            tell(leather.name, len(held), count)
        if len(held) >= LEAST_HIDES:
            found.append(_of_leather(job, leather.name, supply.method, wants, held, confidence))
    return tuple(found)


def _of_leather(
    job: Job, leather: str, supply: str, wants: Sequence[Want], held: list[HeldBy], confidence: float
) -> LeatherOnHides:
    rough = [one.rough_mm2 for one in held]
    factor = area_factor([one.area_mm2 for one in held], rough, confidence)
    pair_mm2: dict[tuple[str, str], float] = {}
    pairs: dict[tuple[str, str], int] = {}
    for want in wants:
        # A pair is one unit, two equal units, or a left and a right one.
        key = want.style, want.size
        pair_mm2[key] = pair_mm2.get(key, 0.0) + want.count * want.area_mm2
    for line in cut_quantities(job.order, job.styles, job.settings.reject_pairs):
        if (line.style, line.size) in pair_mm2:
            pairs[line.style, line.size] = line.pairs_to_cut
    needed = fsum(pair_mm2.values())
    parts = _demanding(wants, held)
    issue, mean = number_to_issue(wants, held, confidence)
    weights = _weights(wants, held)
    more = max((area / fmean(held_mm2) for area, held_mm2 in parts if any(held_mm2)), default=1.0)
    more = more * fmean(rough) / needed if any(rough) else 1.0
    return LeatherOnHides(
        leather, supply, tuple(held),
        tuple(_size(key, pairs[key], pair_mm2[key] / pairs[key], factor, more * weights[key[0]]) for key in pair_mm2)
        if factor else (),
        needed, issue, mean,
        bound_of_sum(rough, issue, confidence) if issue else 0.0, confidence,
    )


def number_to_issue(
    wants: Sequence[Want], held: Sequence[HeldBy], confidence: float = CONFIDENCE
) -> tuple[int | None, int | None]:
    """Hides that cover the wants with this confidence, and hides that would do on the mean, after a sample; None where
    the sample holds too little to say.

    Pieces that need good ground are not exchanged for others: they must be covered by themselves.
    """
    parts = _demanding(wants, held)
    issues = [hides_to_issue(area, each, confidence) if any(each) else None for area, each in parts]
    means = [hides_on_the_mean(area, each) for area, each in parts]
    return _most(issues), _most(means)


def _most(counts: Sequence[int | None]) -> int | None:
    """The largest; None where one is not known."""
    known = [count for count in counts if count is not None]
    return None if len(known) < len(counts) else max(known)


def measured_sizes(found: QuickEstimate, leathers: Sequence[LeatherOnHides]) -> QuickEstimate:
    """The quick estimate with the leather that was measured on simulated hides in its place, where it was."""
    known = {(size.style, size.size): (size, one) for one in leathers for size in one.sizes}
    sizes = []
    for one in found.sizes:
        if (one.style, one.size) in known:
            size, leather = known[one.style, one.size]
            one = replace(one, leather=_measured_use(one.leather, size, leather))
        sizes.append(one)
    totals = []
    for total in found.leathers:
        mine = [size for one in leathers if one.leather == total.leather for size in one.sizes]
        if mine:
            held = next(one.held for one in leathers if one.leather == total.leather)
            material = fsum(size.pairs_to_cut * size.leather_mm2 for size in mine)
            total = LeatherTotal(total.leather, material, fsum(one.area_mm2 for one in held) / len(held))
        totals.append(total)
    return replace(found, sizes=tuple(sizes), leathers=tuple(totals))


def _measured_use(use: LeatherUse | None, size: SizeOnHides, leather: LeatherOnHides) -> LeatherUse:
    """Leather of a pair as it was measured; the parallelogram and the interlock stay those of the lattice."""
    fit = fsum(one.fit_mm2 for one in leather.held) / fsum(one.area_mm2 for one in leather.held)
    waste = max(0.0, size.leather_mm2 - size.rough_mm2)
    first = min(waste, use.first_mm2) if use is not None else 0.0
    third = min((1.0 - fit) * size.leather_mm2, waste - first)
    return LeatherUse(
        size.rough_mm2, use.net_mm2 if use else 0.0, use.parallelogram_mm2 if use else size.rough_mm2,
        use.interlock_yield if use else 1.0, size.rough_mm2 / size.leather_mm2, first, waste - first - third, third,
        (f"placed on {len(leather.held)} simulated hides", leather.supply),
    )


def _demanding(wants: Sequence[Want], held: Sequence[HeldBy]) -> list[tuple[float, list[float]]]:
    """Rough area wanted of the styles that ask for a class or better, and held of them by each hide, class by class."""
    found = []
    for quality in sorted({want.rules.net_quality for want in wants}):
        mine = [w for w, want in enumerate(wants) if want.rules.net_quality <= quality]
        area = fsum(wants[w].count * wants[w].area_mm2 for w in mine)
        found.append((area, [fsum(hide.units[w] * wants[w].area_mm2 for w in mine) for hide in held]))
    return found


def _weights(wants: Sequence[Want], held: Sequence[HeldBy]) -> dict[str, float]:
    """What a style pays for its rough area beside the mean of all. Every hide is charged by rough area, as in a plan.

    The mean over the order, weighted by rough area, is 1.
    """
    needed = dict.fromkeys((want.style for want in wants), 0.0)
    charged, placed = dict(needed), dict(needed)
    for want in wants:
        needed[want.style] += want.count * want.area_mm2
    for hide in held:
        for want, units in zip(wants, hide.units, strict=True):
            area = units * want.area_mm2
            placed[want.style] += area
            charged[want.style] += hide.area_mm2 * area / hide.rough_mm2 if area else 0.0
    if len(needed) < 2 or not all(placed.values()):
        return dict.fromkeys(needed, 1.0)
    each = {style: charged[style] / placed[style] for style in needed}
    mean = fsum(needed[style] * each[style] for style in needed) / fsum(needed.values())
    return {style: figure / mean for style, figure in each.items()}


def _size(key: tuple[str, str], pairs: int, rough_mm2: float, factor: Factor, weight: float) -> SizeOnHides:
    area = weight * rough_mm2
    return SizeOnHides(
        *key, pairs, rough_mm2, factor.mean * area, factor.spread * area, factor.low * area, factor.high * area,
    )
