"""Scenarios by their standard cost: what a good pair costs in each, how sure that is, and what a year would save.

Model error: half the 95 % interval of the leather that pairs take (`nest.accounts.standard`). Two scenarios that lie on
the same leather under the same rules err together, by one percentage, so that their difference errs as the difference
of their leather does; otherwise the errors are independent. Where allowances change, the price of what is added or
taken away can also be told by hand: rough area × price ÷ yield as it is. The interval is never narrower than the gap to
that.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from math import hypot

from nest.accounts.charges import ChargeKind, times
from nest.accounts.estimate import GroundMemory, JobEstimate, estimate_job, pair_estimates
from nest.accounts.pair_charges import PairEstimate
from nest.accounts.sheet import CostSheet
from nest.accounts.standard import standard_errors
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.pieces.remembered import PieceMemory
from nest.scenarios.combine import Scenario
from nest.whatif.between import BetweenSizes

_Source = tuple[str, tuple]


@dataclass(frozen=True, slots=True)
class Costed:
    """One scenario by estimate, a good pair of the order, or of one style.

    takes : what pairs take. pair : exact. leather : money for each leather with all that is added to it in percent, by
    leather and rules.
    percents : half the 95 % interval of that. gap : to the way by hand.
    by_style : a good pair of each style.
    """

    scenario: Scenario
    sheet: CostSheet
    takes: Mapping[tuple[str, str], PairEstimate]
    pair: Fraction
    leather: Mapping[_Source, float]
    percents: Mapping[_Source, float]
    gap: float
    by_style: Mapping[str, Fraction]
    notes: tuple[str, ...]

    @property
    def half_width(self) -> float:
        """Half the 95 % interval of `pair`."""
        errors: dict[str, float] = {}
        for key, money in self.leather.items():  # styles err together on one leather, as in `nest.accounts.standard`
            errors[key[0]] = errors.get(key[0], 0.0) + money * self.percents[key] / 100.0
        return max(hypot(*errors.values()), self.gap)

    def half_width_beside(self, other: "Costed") -> float:
        """Half the 95 % interval of the difference to another scenario; 0 to itself."""
        if other is self:
            return 0.0
        errors: dict[tuple[str, bool, bool], float] = {}
        for key in self.leather.keys() | other.leather.keys():
            more = self.leather.get(key, 0.0) - other.leather.get(key, 0.0)
            percent = max(one.percents.get(key, 0.0) for one in (self, other))
            alike = key[0], key in self.leather, key in other.leather
            errors[alike] = errors.get(alike, 0.0) + more * percent / 100.0
        return max(hypot(*errors.values()), self.gap + other.gap)


@dataclass(frozen=True, slots=True)
class Ranked:
    """A scenario in its place.

    dearer, dearer_error : a good pair beside the cheapest, and half the 95 % interval of that.
    saving : a year, by style, beside the job as it is, below 0 where it is dearer; empty where pairs a year are not
        given.
    placed : a good pair as placed, None where that was not asked for; short : pairs that found no room then.
    """

    costed: Costed
    dearer: Fraction
    dearer_error: float
    saving: Mapping[str, float]
    placed: Fraction | None = None
    short: int = 0

    @property
    def sure(self) -> bool:
        """Whether it is dearer than the cheapest beyond doubt."""
        return float(self.dearer) > self.dearer_error


@dataclass(frozen=True, slots=True)
class Scenarios:
    """All scenarios, cheapest first; `failed`: (names of the choices, why) of those that cannot be estimated."""

    currency: str
    sections: tuple[str, ...]
    ranked: tuple[Ranked, ...]
    failed: tuple[tuple[tuple[str, ...], str], ...]
    notes: tuple[str, ...]


def cost_scenarios(
    job: Job, sections: Sequence[str], scenarios: Sequence[Scenario], ground: GroundMemory, *,
    tell: Callable[[str, int, int], None] = lambda name, done, total: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Scenarios | None:
    """Cost every scenario by estimate and rank them; None if `cancelled` before all were done.

    `ground` is that of the job, as the scenarios were combined with. `tell(name, done, total)` is called before each.

    Raises
    ------
    PlanProblem
        If the job as it is cannot be estimated.
    """
    make, runs, failed = PieceMemory(), [], []
    plain: dict[int, tuple[JobEstimate, BetweenSizes]] = {}
    for done, one in enumerate(scenarios):
        if cancelled():
            return None
        tell(", ".join(one.names), done, len(scenarios))
        try:
            runs.append(_costed(one, make, plain))
        except PlanProblem as problem:
            if one.as_it_is:
                raise
            failed.append((one.names, str(problem)))
    now = next(run for run in runs if run.scenario.as_it_is)
    runs.sort(key=lambda run: run.pair)
    ranked = tuple(
        Ranked(run, run.pair - runs[0].pair, run.half_width_beside(runs[0]), _savings(job, now, run)) for run in runs
    )
    notes = dict.fromkeys(note for run in runs for note in run.notes)
    return Scenarios(job.settings.currency, tuple(sections), ranked, tuple(failed), tuple(notes))


def _costed(one: Scenario, make: PieceMemory, plain: dict[int, tuple[JobEstimate, BetweenSizes]]) -> Costed:
    changed = one.changed
    if id(one.plain) not in plain:
        # All sizes of the allowances that the job has: what the estimates between the ends of the run rest on.
        own = _estimate(one.plain, partial(pair_estimates, make=make))
        plain[id(one.plain)] = own, BetweenSizes(one.plain.job, make)
    own, between = plain[id(one.plain)]
    found = own if changed.job == one.plain.job else _estimate(changed, between)
    return costed(one, own, found)


def costed(one: Scenario, own: JobEstimate, found: JobEstimate, of_style: str = "") -> Costed:
    """A scenario by its estimate `found`, for all the order or one style; `own` is that of `one.plain`."""
    changed, sheet = one.changed, found.standard
    good = sheet.row(of_style).pairs.good
    percent = standard_errors(changed.job, found)
    rules = {style.name: style.rules for style in changed.job.styles}
    of_leather: dict[_Source, float] = {}
    by_hand = leather = Fraction(0)
    factor = times(sheet.charges)  # what is added in percent is as unsure as the leather under it
    for charge in sheet.charges:
        if charge.kind is ChargeKind.LEATHER and of_style in ("", charge.style):
            source = charge.stock, (rules[charge.style], changed.job.settings.hide_gap_mm)
            money = factor(charge) * charge.exact
            of_leather[source] = of_leather.get(source, 0.0) + float(money / good)
            takes, before = found.takes[charge.key], own.takes[charge.key]
            ratio = takes.use.rough_mm2 / takes.leather_mm2 * before.leather_mm2 / before.use.rough_mm2
            by_hand, leather = by_hand + money * Fraction(ratio), leather + money
    return Costed(
        one, sheet, found.takes, sheet.row(of_style).pair_price, of_leather,
        {source: percent[source[0]] for source in of_leather}, abs(float((leather - by_hand) / good)),
        {row.style: row.exact_pair for row in sheet.styles if row.exact_pair is not None},
        (*_least_said(changed.job), *changed.notes),
    )


def _estimate(changed, estimates) -> JobEstimate:
    return estimate_job(changed.job, title="scenario", ground=changed.ground, priced_as=changed.priced_as,
                        estimates=estimates)


def _least_said(job: Job) -> tuple[str, ...]:
    """Allowances below the least that the press needs."""
    said = []
    for style in job.styles:
        given = style.allowances
        for part in ("toe", "side", "back"):
            mm, least = getattr(given, f"{part}_mm"), getattr(given, f"least_{part}_mm")
            if mm < least:
                said.append(f"{style.name}: {mm:g} mm at the {part} is below the {least:g} mm that the press needs; "
                            "prove it by a crimping trial first.")
    return tuple(said)


def _savings(job: Job, now: Costed, run: Costed) -> dict[str, float]:
    found = {}
    for style, pair in run.by_style.items():
        pairs = job.settings.costing.pairs_a_year(style, job.order)
        if pairs and style in now.by_style:
            found[style] = pairs * float(now.by_style[style] - pair)
    return found
