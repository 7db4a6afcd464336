"""The least to buy for what a plan is short of: hides of each class in stock, and metres of roll.

Hides are drawn like those of a class in stock and filled with what is missing; how many more hides hold all of it with
the confidence asked for is the bound of `nest.estimate.issue`, the same as for hides to issue. It takes what the stock
says of such hides, their area and their unfit ground, for known. Metres of roll are those of a lay that was laid for
what is missing, with its end losses: they are sure, and a longer search may need fewer.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, fsum
from statistics import fmean

from nest.estimate.issue import CONFIDENCE, LEAST_HIDES
from nest.estimate.onhides import number_to_issue
from nest.estimate.supply import supply_of
from nest.estimate.trialhides import HeldBy, hold
from nest.placement.budget import Budget
from nest.plan import Plan
from nest.planning.remaining import reinforcements_left
from nest.planning.rolls import plan_roll
from nest.planning.run import Engine, Run, TimeShare
from nest.planning.wants import Want
from nest.room.shorts import shorts
from nest.rules import Rules
from nest.stock.material import Hide, Leather
from nest.stock.prices import cost_of_hides
from nest.stock.simulate import simulate_hides

SAMPLE, PASSES = 24, 1000
"""Hides drawn of each class, and search passes on each, by default."""

METRE_PARTS = 10
"""Metres of roll are rounded up to a tenth."""


@dataclass(frozen=True, slots=True)
class HidesToBuy:
    """Hides of one class of a leather that cover what is missing of it; None for a number the hides cannot promise.

    quality : class of the hides in stock that they are to be like; 0 where there is no stock.
    hides, on_the_mean : that cover it with `confidence`; that would do on the mean.
    area_mm2, cost : of that many hides of mean area, at the price of their class, price breaks taken off.
    held : what each hide drawn holds; supply : what they were drawn like.
    """

    leather: str
    quality: int
    hides: int | None
    on_the_mean: int | None
    area_mm2: float
    cost: Fraction | None
    confidence: float
    held: tuple[HeldBy, ...]
    supply: str


@dataclass(frozen=True, slots=True)
class RollToBuy:
    """Length of one roll's goods for the reinforcements that are missing, end losses included, and what it costs.

    pieces : reinforcements missing; too_wide : how many of them the goods cannot take at any heading.
    """

    roll: str
    length_mm: float
    cost: Fraction
    pieces: int
    too_wide: int


@dataclass(frozen=True, slots=True)
class Purchase:
    """All that is to be bought. `hides` are alternatives within each leather, the cheapest first."""

    hides: tuple[HidesToBuy, ...]
    rolls: tuple[RollToBuy, ...]


def missing_wants(plan: Plan, leather: str) -> tuple[Want, ...]:
    """What a plan is short of from one leather."""
    return tuple(
        Want(one.style, one.size, one.pieces, one.count, one.rules, one.area_mm2)
        for one in shorts(plan) if one.leather == leather
    )


def least_purchase(
    plan: Plan, *, sample: int = SAMPLE, passes: int = PASSES, seed: int | None = None, confidence: float = CONFIDENCE,
    engine: Engine | None = None, cancelled: Callable[[], bool] = lambda: False,
    tell: Callable[[str, int, int], None] = lambda material, done, total: None,
) -> Purchase:
    """What to buy for what `plan` is short of; nothing where it is short of nothing.

    The same plan, sample, passes and seed give the same answer. When `cancelled` turns true what is known by then is
    kept: a class of which fewer than LEAST_HIDES hides were filled is left out.

    Parameters
    ----------
    tell : called before each hide: the leather and its class, hides done, hides in all

    Raises
    ------
    ValueError
        If the sample is smaller than LEAST_HIDES.
    PlanProblem
        If placing on a hide fails, or a leather is priced by an unknown unit.
    """
    if sample < LEAST_HIDES:
        raise ValueError(f"expected a sample of at least {LEAST_HIDES} hides, found {sample}")
    seed = plan.settings.seed if seed is None else seed
    engine = engine or Engine.fresh()
    found: list[HidesToBuy] = []
    for leather in plan.leathers:
        wants = missing_wants(plan, leather.name)
        if not wants:
            continue
        options = []
        for quality, stock in _by_class(plan, leather):
            supply = supply_of(leather, stock, _main_rules(wants), plan.settings.edge_room_mm)
            drawn = simulate_hides(supply.distribution, sample, seed=seed, leather=leather.name)
            name = f"{leather.name}, class {quality}" if quality else leather.name
            held = []
            tell(name, 0, sample)
            for one in hold(
                plan.settings, leather, wants, drawn, passes=passes, seed=seed, engine=engine, cancelled=cancelled
            ):
                held.append(one)
                tell(name, len(held), sample)
            if len(held) < LEAST_HIDES:
                continue
            number, mean = number_to_issue(wants, held, confidence)
            hides = _typical(leather, quality, stock, drawn, number or 0)
            options.append(HidesToBuy(
                leather.name, quality, number, mean, fsum(hide.measured_area_mm2 for hide in hides),
                None if number is None else cost_of_hides(hides, leather), confidence, tuple(held), supply.method,
            ))
        found += sorted(options, key=lambda one: (one.cost is None, one.cost or 0, one.quality))
    return Purchase(tuple(found), _rolls(plan, engine, passes, seed, cancelled))


def _by_class(plan: Plan, leather: Leather) -> list[tuple[int, list[Hide]]]:
    """The hides in stock by class; class 0 without hides where there are none."""
    mine = [hide for hide in plan.hides if hide.leather == leather.name]
    classes = sorted({hide.quality for hide in mine})
    return [(quality, [hide for hide in mine if hide.quality == quality]) for quality in classes] or [(0, [])]


def _main_rules(wants: Sequence[Want]) -> Rules:
    """Rules of the style that takes most of the rough area."""
    areas: dict[str, float] = {}
    for want in wants:
        areas[want.style] = areas.get(want.style, 0.0) + want.count * want.area_mm2
    most = max(areas, key=areas.__getitem__)
    return next(want.rules for want in wants if want.style == most)


def _typical(leather: Leather, quality: int, stock: Sequence[Hide], drawn: Sequence[Hide], number: int) -> list[Hide]:
    """As many hides of mean area; their price is that of the hide in stock that is nearest to it."""
    known = stock or drawn
    mean = fmean(hide.measured_area_mm2 for hide in known)
    nearest = min(known, key=lambda hide: abs(hide.measured_area_mm2 - mean))
    return [replace(nearest, quality=quality or nearest.quality, measured_area_mm2=mean)] * number


def _rolls(plan: Plan, engine: Engine, passes: int, seed: int, cancelled: Callable[[], bool]) -> tuple[RollToBuy, ...]:
    roll_of = {style.name: style.roll for style in plan.styles}
    rules = {style.name: style.rules for style in plan.styles}
    needed = reinforcements_left(plan.order, plan.begun, plan.lays, plan.pieces)
    found = []
    for roll in plan.rolls:
        mine = {piece: number for piece, number in needed.items() if roll_of[piece.style] == roll.roll_id}
        if not mine or cancelled():
            continue
        run = Run(engine, seed, Budget(passes=passes, cancelled=cancelled))
        endless = replace(roll, length_mm=1e9, splices_mm=())
        settings = plan.settings
        gap, room = settings.roll_apart_mm, settings.strip_room_mm
        laid = plan_roll(endless, mine, rules, gap, run, TimeShare(run, None), room_mm=room)
        length = 0.0
        if laid.lay is not None:
            metres = (laid.lay.length_mm + 2.0 * roll.end_loss_mm) / 1e3
            length = 1e3 * ceil(METRE_PARTS * metres - 1e-9) / METRE_PARTS
        found.append(RollToBuy(
            roll.roll_id, length, Fraction(length) / 1000 * Fraction(roll.price_per_m), sum(mine.values()),
            sum(number for _, number in laid.short),
        ))
    return tuple(found)
