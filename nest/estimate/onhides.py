"""Consumption of an order on simulated hides of each of its leathers, and the number of hides to issue."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nest.estimate.issue import (
    CONFIDENCE,
    LEAST_HIDES,
    Factor,
    area_factor,
    bound_of_sum,
    hides_on_the_mean,
    hides_to_issue,
)
from nest.estimate.supply import supply_of
from nest.estimate.trialhides import HeldBy, hold, main_style, order_wants
from nest.job.job import Job
from nest.pieces.order import cut_quantities
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
    job: Job,
    count: int,
    *,
    passes: int = PASSES,
    seed: int | None = None,
    confidence: float = CONFIDENCE,
    engine: Engine | None = None,
    cancelled: Callable[[], bool] = lambda: False,
    tell: Callable[[str, int, int], None] = lambda leather, done, total: None,
) -> tuple[LeatherOnHides, ...]:
    """Draw `count` hides of each leather, place the order's size mix on them, and say what that comes to.

    The same job, count, passes and seed give the same result. When `cancelled` turns true, what was measured by then
    counts, for leathers with at least LEAST_HIDES hides.

    Parameters
    ----------
    tell : told before each hide: name of the leather, hides done, hides in all

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
        for one in hold(job, leather, wants, hides, passes=passes, seed=seed, engine=engine, cancelled=cancelled):
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
    for line in cut_quantities(job.order, job.styles):
        if (line.style, line.size) in pair_mm2:
            pairs[line.style, line.size] = line.pairs_to_cut
    needed = sum(pair_mm2.values())
    issue = hides_to_issue(needed, rough, confidence) if factor else None
    return LeatherOnHides(
        leather, supply, tuple(held),
        tuple(_size(key, pairs[key], pair_mm2[key] / pairs[key], factor) for key in pair_mm2) if factor else (),
        needed, issue, hides_on_the_mean(needed, rough),
        bound_of_sum(rough, issue, confidence) if issue else 0.0, confidence,
    )


def _size(key: tuple[str, str], pairs: int, rough_mm2: float, factor: Factor) -> SizeOnHides:
    return SizeOnHides(
        *key, pairs, rough_mm2, factor.mean * rough_mm2, factor.spread * rough_mm2, factor.low * rough_mm2,
        factor.high * rough_mm2,
    )
