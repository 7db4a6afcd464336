"""What a choice of hides is worth: beside greedy orders of the same layouts, and above the least that is possible.

Three figures are set beside what the plan opens. Greedy: the same candidate layouts, hides taken in stock order, or
the largest first, the next opened when one is full. Best of the layouts found: the solver's own bound among them.
Least by area: no choice of hides whatever their layouts costs less, for on none can more rough area lie than its
ground within reach allows (`nest.planning.bound`), and together they must hold what is placed. Beside that bound the
reference: the same with that ground filled at the density of the best lattices; it is no bound, for a
mixture of sizes may interlock more densely.

Costs are whole hides, less the price break that those opened reach together. A bound looks at every break: what so
much leather costs at least, with so much off. A lattice bound of every hide takes some hundredths of a second.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor, fsum

from nest.job.job import Job
from nest.plan import Bound, GreedyIssue, HideIssue
from nest.selection.cover import least_cost_of_cover
from nest.selection.greedy import take_in_order
from nest.selection.layouts import Choice, Container, OfferedLayout
from nest.stock.material import Hide, Leather
from nest.stock.prices import cost_of_hides, costs_of_hides
from nest.units import MM2_PER_AREA_UNIT

STOCK_ORDER, LARGEST_FIRST = "stock order", "order of size"
_FINE = 10_000
"""Parts of a unit of the currency that money is counted in here."""


@dataclass(frozen=True, slots=True)
class Found:
    """What came of choosing: containers, candidates and sizes as `choose_layouts` had them, and the two greedy orders.

    least_cost : the solver's bound among the candidates.
    """

    containers: tuple[Container, ...]
    sizes: tuple[int, ...]
    candidates: tuple[OfferedLayout, ...]
    greedy: tuple[tuple[str, Choice], ...]
    least_cost: int


def greedy_orders(
    containers: Sequence[Container], candidates: Sequence[OfferedLayout], demand: Sequence[int], sizes: Sequence[int]
) -> tuple[tuple[str, Choice], ...]:
    """The candidates taken in stock order, and the largest containers first."""
    stock = range(len(containers))
    largest = sorted(stock, key=lambda index: (-containers[index].size, index))
    return tuple(
        (name, take_in_order(order, candidates, demand, sizes))
        for name, order in ((STOCK_ORDER, stock), (LARGEST_FIRST, largest))
    )


def rank_of(choice: Choice, containers, candidates, sizes: Sequence[int]) -> tuple[int, int, int]:
    """What choices are compared by: size missing, cost, number opened; less is better."""
    opened = [containers[candidates[c].container] for c in choice.chosen]
    missing = sum(size * n for size, n in zip(sizes, choice.short, strict=True))
    return missing, sum(box.cost for box in opened), len(opened)


def issue_of(
    job: Job, leather: str, found: Found, opened: Sequence[str], costs: dict[str, int], placed_mm2: float,
    bounds: Mapping[str, Bound],
) -> HideIssue:
    """The figures of one leather; money to a hundredth of a minor unit.

    Parameters
    ----------
    opened : ids of the hides the plan opens
    costs : cost at list price of every hide of the leather that could be opened, hundredths, by id
    placed_mm2 : rough area on the hides opened
    bounds : of every such hide, by id
    """
    of = next(one for one in job.leathers if one.name == leather)
    known = {hide.hide_id: hide for hide in job.hides}
    hides = [known[hide_id] for hide_id in costs]
    greedy = []
    for name, choice in found.greedy:
        missing, _, number = rank_of(choice, found.containers, found.candidates, found.sizes)
        taken = [hides[found.candidates[c].container] for c in choice.chosen]
        greedy.append(GreedyIssue(name, number, _money(cost_of_hides(taken, of)), float(missing)))
    rooms, likely = (
        [hide.outline.area * getattr(bounds[hide.hide_id], name) for hide in hides]
        for name in ("cutting_yield_at_most", "reference_yield")
    )
    # emptying hides after the choice finds layouts that it did not know
    listed = Fraction(min(found.least_cost, sum(costs[one] for one in opened)), 100)
    return HideIssue(
        leather, len(opened), _money(cost_of_hides([known[one] for one in opened], of)), tuple(greedy),
        _money(_least(hides, of, [0.0] * len(hides), 0.0, listed)),
        _money(_least(hides, of, rooms, placed_mm2)), _money(_least(hides, of, likely, placed_mm2)),
    )


def _least(
    hides: Sequence[Hide], leather: Leather, rooms: Sequence[float], needed: float, listed: Fraction = Fraction(0)
) -> Fraction:
    """The least that hides with so much room cost, and no less than `listed` before a break, at whichever break.

    That many percent are off only where as much is bought as the break asks for.
    """
    areas = [hide.measured_area_mm2 for hide in hides]
    found = []
    for start, off in ((Decimal(0), Decimal(0)), *leather.breaks):
        least = float(start) * MM2_PER_AREA_UNIT[leather.price_unit]
        if least <= fsum(areas):
            costs = [floor(cost * _FINE) for cost in costs_of_hides(hides, leather, off)]
            bought = Fraction(least_cost_of_cover(costs, rooms, needed, areas, least), _FINE)
            found.append(max(bought, listed * (1 - Fraction(off) / 100)))
    return min(found)


def hide_issues(job: Job, hide_plans, bounds: Mapping[str, Bound]) -> tuple[HideIssue, ...]:
    """The figures of every leather that something is cut from and whose hides all have a bound.

    hide_plans : as `nest.planning.stages` makes them.
    """
    issues = []
    for wants, plan in hide_plans:
        if plan.found is None or not plan.placed or not all(hide_id in bounds for hide_id, _ in plan.costs):
            continue
        placed = fsum(wants[unit.want].area_mm2 for _, units in plan.placed for unit in units)
        opened = [seen.hide.hide_id for seen, _ in plan.placed]
        leather = plan.placed[0][0].hide.leather
        issues.append(issue_of(job, leather, plan.found, opened, dict(plan.costs), placed, bounds))
    return tuple(issues)


def _money(amount: Fraction) -> Decimal:
    return Decimal(round(amount * _FINE)).scaleb(-4)
