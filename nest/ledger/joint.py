"""All that is due, planned together from the stock that is free; and what that saves beside order by order."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from nest.begun.rows import rows_met
from nest.job.job import Job
from nest.ledger.offer import StockOffer, offer, order_lines
from nest.ledger.standing import standing
from nest.ledger.stock import cost_of
from nest.ledger.store import Ledger
from nest.plan import Begun, Plan
from nest.planning.run import Engine

Make = Callable[..., Plan]
"""Makes a plan of a job; takes seconds and engine as `nest.planning.make.make_plan` does."""


def plan_due(
    ledger: Ledger, job: Job, make: Make, *, until: str = "", orders: Sequence[str] = (), whole_stock: bool = False,
    say: Callable[[str], None] = lambda words: None,
) -> tuple[StockOffer, Plan]:
    """A plan on the oldest hides; where leather is short on these, on all. Raises as `nest.ledger.offer.offer`."""
    offered = offer(ledger, job, until=until, orders=orders, whole_stock=whole_stock)
    for words in offered.said:
        say(words)
    found = make(offered.job)
    if offered.left_out and short_of_leather(found):
        say(f"The {len(offered.hides)} oldest hides do not do: planning again with all "
            f"{len(offered.hides) + offered.left_out} that are free.")
        offered = offer(ledger, job, until=until, orders=orders, whole_stock=True)
        found = make(offered.job)
    return offered, found


def short_of_leather(plan: Plan) -> bool:
    """Whether a vamp of the order has found no place."""
    placed = standing(plan, Begun()).to_cut
    return any(placed[line.style, line.size] < line.pairs_to_cut for line in plan.order)


@dataclass(frozen=True, slots=True)
class Saved:
    """What orders open planned together, and one by one: hides, what these cost whole, and pairs short."""

    orders: int
    hides: int
    cost: Decimal
    hides_one_by_one: int
    cost_one_by_one: Decimal
    pairs_short_one_by_one: int


def beside_one_by_one(offered: StockOffer, found: Plan, make: Make, seconds: float | None) -> Saved | None:
    """What planning together costs, and order by order, the most urgent first; None where there is one order."""
    orders = dict.fromkeys(row.order_no for row in offered.lines)
    if len(orders) < 2:
        return None
    left, plans = list(offered.job.hides), []
    whole = sum(row.short for row in offered.lines)
    for name in orders:
        mine = [row for row in offered.lines if row.order_no == name]
        part = seconds and seconds * sum(row.short for row in mine) / whole
        wanted = {row.style for row in mine}
        styles = tuple(style for style in offered.job.styles if style.name in wanted)
        asked = replace(offered.job, order=order_lines(mine), hides=tuple(left), styles=styles)
        plans.append(make(asked, engine=Engine.fresh(), seconds=part))
        used = {layout.hide_id for layout in plans[-1].layouts if layout.placed}
        left = [hide for hide in left if hide.hide_id not in used]
    short = sum(row.short for one in plans for row in rows_met(one))
    return Saved(len(orders), *_opened([found]), *_opened(plans), short)


def _opened(plans: Sequence[Plan]) -> tuple[int, Decimal]:
    """Hides that some plans open, and what these cost whole."""
    number, cost = 0, Decimal(0)
    for one in plans:
        leathers = {leather.name: leather for leather in one.leathers}
        used = {layout.hide_id for layout in one.layouts if layout.placed}
        for hide in one.hides:
            if hide.hide_id in used:
                number, cost = number + 1, cost + cost_of(hide, leathers[hide.leather])
    return number, cost
