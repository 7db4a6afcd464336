"""Used against planned: what hides and rolls gave so far, size by size, beside what the plan counted on.

Planned is the whole of a plan: its hides at their measured areas, its lays with end losses, its expected rejects. Used
is what is cut: hides at the areas measured when they were cut (else as planned), lengths as they were taken off the
rolls. A hide or lay is shared by the sizes on it in proportion to their rough area. Money is charged as everywhere
(`nest.accounts.charges`), cutting and scrap where they are priced, at the prices and price breaks of the whole plan.
The difference in money is what the pairs finished cost beyond what the plan would have them cost: what was used, less
planned cost of a good pair × pairs finished. While spoiled pieces and pairs half done weigh on few pairs, it is high.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import reduce
from operator import add

from nest.accounts.areas import MaterialUse, hide_use, lay_use, measure
from nest.accounts.charges import bought_of, plan_charges
from nest.accounts.expected import plan_pairs
from nest.accounts.money import minor_digits, rounded
from nest.accounts.sheet import CostSheet, cost_sheet, plan_sheet
from nest.begun.needs import lost_pieces
from nest.begun.part import cut_part
from nest.errors import PlanProblem
from nest.pieces.piece import Foot, Role
from nest.plan import Begun, Plan


@dataclass(frozen=True, slots=True)
class Sum:
    """One half of the comparison.

    hides : whole hides, shared. pairs : good pairs expected, or finished.
    cost : exact; amount : as the cost sheet of the plan, or of what is cut of it, rounds it.
    """

    hides: float = 0.0
    leather_mm2: float = 0.0
    roll_mm: float = 0.0
    vamps: int = 0
    pairs: Fraction = Fraction(0)
    cost: Fraction = Fraction(0)
    amount: Decimal = Decimal(0)

    def __add__(self, other: "Sum") -> "Sum":
        return Sum(
            self.hides + other.hides, self.leather_mm2 + other.leather_mm2, self.roll_mm + other.roll_mm,
            self.vamps + other.vamps, self.pairs + other.pairs, self.cost + other.cost, self.amount + other.amount,
        )

    @property
    def leather_per_pair_mm2(self) -> float | None:
        """Leather for a good pair; None without any."""
        return self.leather_mm2 / float(self.pairs) if self.pairs else None

    @property
    def roll_per_pair_mm(self) -> float | None:
        """Reinforcement for a good pair; None without any."""
        return self.roll_mm / float(self.pairs) if self.pairs else None


@dataclass(frozen=True, slots=True)
class UsedRow:
    """One style and size ("" for all): planned, used, vamps spoiled, and what the pairs finished cost beyond plan."""

    style: str
    size: str
    planned: Sum
    used: Sum
    spoiled: int
    difference: Decimal | None
    """In the plan's currency; None while no pair is finished or the plan has none of this size."""

    @property
    def good(self) -> int:
        """Vamps cut that are not spoiled."""
        return self.used.vamps - self.spoiled


def used_against_planned(
    plan: Plan, begun: Begun, against: Plan | None = None, seconds: Mapping[str, float] | None = None
) -> tuple[UsedRow, ...]:
    """A row for each style and size, for each style, and for the order.

    Parameters
    ----------
    plan : the plan that was cut from
    begun : how far that has come, as `nest.begun.lists.read_begun`
    against : the plan to hold it against, such as the first one of the order; by default the same
    seconds : as for `nest.accounts.charges.plan_charges`; routes of many hides take long, and empty they cost nothing

    Raises
    ------
    PlanProblem
        As `nest.accounts.charges.plan_charges`, or if the plans are costed in different currencies.
    """
    against, currency = against or plan, plan.settings.currency
    if against.settings.currency != currency:
        currencies = f"{against.settings.currency} and {currency}"
        raise PlanProblem(f"the plans are costed in {currencies}; plan one of them again.")
    part = cut_part(plan, begun)
    cut = replace(plan, layouts=part.layouts, lays=part.lays)
    spoiled = {key: _lost(plan, begun, key) for key in _sizes_cut(plan) | _sizes_cut(against)}
    finished = {key: Fraction(_pairs(_feet(part, key) - lost)) for key, lost in spoiled.items()}
    bought = bought_of(plan_charges(plan, _uses(plan, plan), {}), plan.leathers)
    was, now = _uses(against, against), _measured(part, _uses(part, plan))
    planned_sheet = plan_sheet(against, was, seconds)
    pairs = {key: replace(one, good=finished[key]) for key, one in plan_pairs(cut, now).items()}
    used_sheet = cost_sheet(plan_charges(cut, now, seconds, bought), pairs, currency)
    planned, used = _sides(was, planned_sheet), _sides(now, used_sheet)
    keys = sorted(planned.keys() | used.keys())
    groups = {key: [key] for key in keys}
    groups |= {(style, ""): [key for key in keys if key[0] == style] for style, _ in keys}
    groups["", ""] = keys
    digits = minor_digits(currency)
    nil = rounded(Fraction(0), digits)
    found = []
    for name, group in groups.items():
        a, b = (_added([Sum(amount=nil), *(side[key] for key in group if key in side)]) for side in (planned, used))
        # Size by size, so that a total is the sum of its sizes whatever mix of them is finished.
        amounts = [
            used[key].cost - planned[key].cost / planned[key].pairs * used[key].pairs for key in group
            if key in used and key in planned and planned[key].pairs
        ]
        difference = rounded(sum(amounts, Fraction(0)), digits) if amounts and b.pairs else None
        found.append(UsedRow(*name, a, b, sum(sum(spoiled[key].values()) for key in group), difference))
    return tuple(found)


def _sizes_cut(plan: Plan) -> set[tuple[str, str]]:
    """Styles and sizes that a plan cuts anything of."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    placed = {one.piece_id for group in plan.groups for one in group.placed}
    return {(pieces[one].style, pieces[one].size) for one in placed}


def _uses(plan: Plan, stock: Plan) -> list[MaterialUse]:
    """What each hide and lay gives; only areas paid for, lengths and shares are asked, so no lattice is needed."""
    measures = {piece.piece_id: measure(piece, 1.0) for piece in plan.pieces}
    hides, rolls = {one.hide_id: one for one in stock.hides}, {one.roll_id: one for one in stock.rolls}
    return [
        *(hide_use(hides[one.hide_id], one, measures, 0.0) for one in plan.layouts if one.placed),
        *(lay_use(rolls[one.roll_id], one, measures) for one in plan.lays if one.placed),
    ]


def _measured(part: Plan, uses: Sequence[MaterialUse]) -> list[MaterialUse]:
    """The same with the areas and lengths that were measured; what a roll gave beyond its lays goes with the last."""
    areas = {one.hide_id: one.measured_mm2 for one in part.begun.hides if one.measured_mm2}
    lengths = {one.roll_id: one.length_mm for one in part.begun.rolls if one.length_mm is not None}
    roll_of = {lay.lay_id: lay.roll_id for lay in part.lays}
    width = {roll.roll_id: roll.width_mm for roll in part.rolls}
    planned: dict[str, float] = {}
    for use in uses:
        if use.role is Role.REINFORCEMENT:
            planned[roll_of[use.material_id]] = planned.get(roll_of[use.material_id], 0.0) + use.length_mm
    last = {roll_of[use.material_id]: use.material_id for use in uses if use.role is Role.REINFORCEMENT}
    found = []
    for use in uses:
        if use.role is Role.VAMP:
            found.append(replace(use, paid_mm2=areas.get(use.material_id, use.paid_mm2)))
            continue
        roll = roll_of[use.material_id]
        more = lengths[roll] - planned[roll] if roll in lengths and last[roll] == use.material_id else 0.0
        length = max(0.0, use.length_mm + more)
        found.append(replace(use, length_mm=length, paid_mm2=length * width[roll]))
    return found


def _sides(uses: Sequence[MaterialUse], sheet: CostSheet) -> dict[tuple[str, str], Sum]:
    """Material, pairs and cost by style and size."""
    sides: dict[tuple[str, str], Sum] = {}
    for use in uses:
        vamp = use.role is Role.VAMP
        for one in use.sizes:
            mine = Sum(one.share * vamp, use.paid_mm2 * one.share * vamp, use.length_mm * one.share, one.pieces * vamp)
            key = one.style, one.size
            sides[key] = _added((sides[key], mine)) if key in sides else mine
    return {
        (row.style, row.size): replace(
            sides[row.style, row.size], pairs=row.pairs.good, cost=row.exact, amount=row.total
        )
        for row in sheet.sizes
    }


def _added(sides: Iterable[Sum]) -> Sum:
    return reduce(add, sides, Sum())


def _feet(part: Plan, key: tuple[str, str]) -> Counter[Foot]:
    """Vamps of a size on the hides of a plan, by foot."""
    feet = {piece.piece_id: piece.foot for piece in part.pieces if (piece.style, piece.size) == key}
    return Counter(feet[one.piece_id] for layout in part.layouts for one in layout.placed if one.piece_id in feet)


def _lost(plan: Plan, begun: Begun, key: tuple[str, str]) -> Counter[Foot]:
    """Vamps of a size that were spoiled, by foot."""
    either = any(piece.foot is Foot.EITHER for piece in plan.pieces if (piece.style, piece.size) == key)
    return lost_pieces((one for one in begun.spoiled if (one.style, one.size) == key), either=either)


def _pairs(feet: Counter[Foot]) -> int:
    """Whole pairs that these vamps make."""
    return min(feet[Foot.LEFT], feet[Foot.RIGHT]) + feet[Foot.EITHER] // 2
