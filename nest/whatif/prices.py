"""The price of a millimetre of allowance and of each rule, from the runs of a what-if."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from nest.accounts.charges import ADDED, Charge
from nest.accounts.sheet import CostSheet
from nest.job.job import Job
from nest.pieces.piece import Part
from nest.whatif.changes import AllowanceChange, RuleChange
from nest.whatif.runs import AS_IT_IS, Cost, Costed, cost_all
from nest.whatif.slope import Estimated, common_slope, farthest_from_slope, mean_difference

TOGETHER = 2.0
"""Parts of a style that are moved together lie at most this many times as far beside their slopes as one by one.

On the styles of the demo, whose lattices bend where one allowance passes another, up to 1.44 times, of 34 ways to move
its parts by 1 or 2 mm; on boxes never beyond 1."""


@dataclass(frozen=True, slots=True)
class AllowancePrice:
    """What one mm more at `part` costs, money per mm.

    pair : of one good pair of the style; sizes : of one good pair of each size; order : of the whole order;
    year : of the style's pairs a year, None where the job does not say how many.
    steps_mm : the changes tried, the job as it is included.
    takes : by estimate, what a pair cut of each size takes more of each material a mm, as charges; with what is added
        in percent they make `pair` up, whatever is charged for material. None where layouts, or price breaks, differ
        from change to change.
    beside : how far a good pair of the style, or of any size of it, may lie beside `pair`, money a mm: as far as it did
        at the steps tried, no less than the interval. Several parts moved together: TOGETHER times as far.
    """

    style: str
    part: Part
    pair: Estimated
    sizes: tuple[tuple[str, Estimated], ...]
    order: Estimated
    year: Estimated | None
    steps_mm: tuple[float, ...]
    pairs_a_year: float | None = None
    takes: tuple[Charge, ...] = ()
    beside: float = 0.0


@dataclass(frozen=True, slots=True)
class RulePrice:
    """What a rule costs: a good pair with it less a good pair without, and the same for the whole order.

    takes : as of an allowance.
    """

    name: str
    pair: Estimated
    order: Estimated
    takes: tuple[Charge, ...] = ()


@dataclass(frozen=True, slots=True)
class WhatIf:
    """All prices, the job's own sheet by the first seed, and what there is to say about them."""

    currency: str
    now: CostSheet
    allowances: tuple[AllowancePrice, ...]
    rules: tuple[RulePrice, ...]
    seeds: tuple[int, ...]
    complete: bool
    notes: tuple[str, ...]


def what_if(
    job: Job, allowances: Sequence[AllowanceChange], rules: Sequence[RuleChange], seeds: Sequence[int], cost: Cost, *,
    cancelled: Callable[[], bool] = lambda: False, tell: Callable[[str, int, int], None] | None = None,
) -> WhatIf | None:
    """Cost the job as it is and with every change, and work out the prices; None if stopped before the first was done.

    Prices are those of good pairs, so that a plan that runs short is not taken for a cheap one. Seeds stop once the
    sign of every price is clear. Each look at the figures widens the interval (C. E. Bonferroni's inequality), so that
    looking early errs no more often than the 5 % of one look.
    """
    changes: list[AllowanceChange | RuleChange] = [*allowances, *rules]
    jobs = {AS_IT_IS: job} | {change.name: change.job for change in changes}
    confidence = 1.0 - 0.05 / max(1, len(seeds) - 1)

    def told(found: Costed) -> bool:
        prices: list[AllowancePrice | RulePrice] = [
            *_allowance_prices(job, allowances, found), *_rule_prices(job, rules, found)]
        return all(price.pair.sign_told(confidence) for price in prices)

    runs = cost_all(jobs, seeds, cost, cancelled=cancelled, tell=tell, enough=told)
    if AS_IT_IS not in runs.sheets:
        return None
    now = runs.sheets[AS_IT_IS]
    per_allowance, per_rule = _allowance_prices(job, allowances, runs), _rule_prices(job, rules, runs)
    wanted = sum(line.pairs for line in job.order)
    return WhatIf(
        job.settings.currency, next(iter(now.values())), per_allowance, per_rule, tuple(now), runs.complete,
        (*_notes(runs, wanted, len(seeds)), *_years(job, per_allowance)),
    )


def _allowance_prices(job: Job, allowances: Sequence[AllowanceChange], runs: Costed) -> tuple[AllowancePrice, ...]:
    wanted = sum(line.pairs for line in job.order)
    found = []
    for style, part in dict.fromkeys((change.style, change.part) for change in allowances):
        mine = [change for change in allowances if (change.style, change.part) == (style, part)]
        price = _allowance_price(job, style, part, mine, runs, wanted)
        if price is not None:
            found.append(price)
    return tuple(found)


def _rule_prices(job: Job, rules: Sequence[RuleChange], runs: Costed) -> tuple[RulePrice, ...]:
    now, wanted = runs.sheets[AS_IT_IS], sum(line.pairs for line in job.order)
    found = []
    for change in rules:
        pair = mean_difference(_pairs(now, "", ""), _pairs(runs.sheets.get(change.name, {}), "", ""))
        if pair is not None:
            takes = _takes({0.0: now, 1.0: runs.sheets[change.name]})
            found.append(RulePrice(change.name, pair, pair.times(wanted), takes))
    return tuple(found)


def _allowance_price(job: Job, style: str, part: Part, changes, runs: Costed, wanted: int) -> AllowancePrice | None:
    by_step = {0.0: runs.sheets[AS_IT_IS]}
    by_step |= {change.mm: runs.sheets[change.name] for change in changes if change.name in runs.sheets}

    def tried(of_style: str, size: str) -> dict[int, dict[float, float]]:
        costs: dict[int, dict[float, float]] = {}
        for mm, sheets in sorted(by_step.items()):
            for seed, value in _pairs(sheets, of_style, size).items():
                costs.setdefault(seed, {})[mm] = value
        return costs

    def slope(of_style: str, size: str) -> Estimated | None:
        return common_slope(tried(of_style, size))

    pair, order = slope(style, ""), slope("", "")
    if pair is None or order is None:
        return None
    sizes = dict.fromkeys(line.size for line in job.order if line.style == style)
    by_size = ((size, slope(style, size)) for size in sizes)
    told = tuple((size, found) for size, found in by_size if found is not None)
    beside = max(
        max(found.half_width or 0.0, farthest_from_slope(tried(style, size), found.value))
        for size, found in (("", pair), *told)
    )
    a_year = job.settings.costing.pairs_a_year(style, job.order)
    return AllowancePrice(
        style, part, pair, told, order.times(wanted), pair.times(a_year) if a_year else None, tuple(sorted(by_step)),
        a_year, _takes(by_step), beside,
    )


def _takes(by_step: Mapping[float, Mapping[int, CostSheet]]) -> tuple[Charge, ...]:
    """Slope of what a pair cut takes of each material by size, from sheets by estimate; none from layouts."""
    per_pair: dict[Charge, dict[float, float]] = {}
    for step, sheets in sorted(by_step.items()):
        sheet = next(iter(sheets.values()))
        cut = {(row.style, row.size): row.pairs.cut for row in sheet.sizes}
        for charge in sheet.charges:
            if charge.of:
                return ()
            if charge.kind in ADDED:
                continue
            bare = replace(charge, source="", quantity=Fraction(0))
            found = per_pair.setdefault(bare, {})
            found[step] = found.get(step, 0.0) + float(charge.quantity / cut[charge.key])
    if any(len(found) != len(by_step) for found in per_pair.values()):
        return ()  # a price break is reached at some steps only: the price is no sum of quantities then
    slopes = ((bare, common_slope({0: found})) for bare, found in per_pair.items())
    return tuple(replace(bare, quantity=Fraction(slope.value)) for bare, slope in slopes if slope and slope.value)


def _pairs(sheets, style: str, size: str) -> dict[int, float]:
    """Exact price of a good pair by seed, where one was cut."""
    found = {}
    for seed, sheet in sheets.items():
        try:
            exact = sheet.row(style, size).exact_pair
        except KeyError:
            continue
        if exact is not None:
            found[seed] = float(exact)
    return found


def _years(job: Job, prices: Sequence[AllowancePrice]) -> tuple[str, ...]:
    """How one number of pairs a year is shared by several styles."""
    styles = dict.fromkeys(line.style for line in job.order)
    if not job.settings.costing.pairs_per_year or len(styles) < 2 or not prices:
        return ()
    each = ", ".join(f"{style} {job.settings.costing.pairs_a_year(style, job.order):,.0f}" for style in styles)
    return (f"Pairs a year are shared as the order's pairs are: {each}; give pairs_per_year by style if they differ.",)


def _notes(runs: Costed, wanted: int, asked: int) -> tuple[str, ...]:
    notes = []
    sheets = [sheet for by_seed in runs.sheets.values() for sheet in by_seed.values()]
    short = sum(sheet.order.pairs.good < wanted for sheet in sheets)
    if short:
        notes.append(
            f"{short} of {len(sheets)} plans are short of pairs; prices are those of the pairs they give. More passes, "
            "or more hides, make them surer."
        )
    if runs.enough:
        done = len(runs.sheets[AS_IT_IS])
        notes.append(f"Stopped after {done} of {asked} seeds: by then every change is dearer or cheaper beyond doubt.")
    if not runs.complete:
        notes.append("Stopped early: prices rest on the runs that were finished.")
    return tuple(notes)
