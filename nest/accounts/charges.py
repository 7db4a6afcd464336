"""Every figure of a cost sheet as a sum of charges: who bears it, for what, and which layout or estimate is behind it.

A charge is a quantity times a price, exactly. Sheets only add charges up, so each amount in them can be taken apart
again into the hides, lays or estimates it comes from.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from geometry.polygon import edge_lengths
from nest.accounts.areas import MaterialUse
from nest.accounts.cost import OrderCost, good_pairs, order_cost
from nest.pieces.piece import Role
from nest.plan import Plan
from nest.stock.material import Hide
from nest.units import MM2_PER_M2


class Kind(StrEnum):
    """What a charge is for."""

    LEATHER = "leather"
    REINFORCEMENT = "reinforcement"
    CUTTING = "cutting"
    SCRAP = "scrap credit"


@dataclass(frozen=True, slots=True)
class Charge:
    """`quantity` in `unit` at `price`, borne by one style and size; `source` names the layout or estimate behind it.

    `material` says what is priced: a leather and its class, a roll, labour, scrap. A scrap credit has a price below
    zero.
    """

    style: str
    size: str
    kind: Kind
    source: str
    quantity: Fraction
    unit: str
    price: Fraction
    material: str

    @property
    def exact(self) -> Fraction:
        """The amount, not rounded."""
        return self.quantity * self.price


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of one style and size: cut, and expected to come out well."""

    cut: Fraction
    good: Fraction


def plan_charges(
    plan: Plan, uses: Sequence[MaterialUse], seconds: Mapping[str, float] | None = None, cost: OrderCost | None = None
) -> tuple[Charge, ...]:
    """Charges of everything cut in `plan`.

    Leather and reinforcement as in `nest.accounts.cost`. Cutting: `seconds` by hide and lay at the labour rate,
    shared by the length of the cut lines. Scrap: what a hide leaves outside the cut lines, shared by rough area. Both
    only where the plan's settings price them.

    Parameters
    ----------
    uses : from `nest.accounts.areas`
    seconds : what the table takes for each hide and lay; where one is missing its cutting costs nothing
    cost : of these uses, if it is known already
    """
    cost = cost or order_cost(plan, uses)
    costing = plan.settings.costing
    placed = {layout.hide_id: layout.placed for layout in plan.layouts} | {lay.lay_id: lay.placed for lay in plan.lays}
    names = {hide.hide_id: _hide_name(hide) for hide in plan.hides} | {lay.lay_id: lay.roll_id for lay in plan.lays}
    charges: list[Charge] = []
    for use, material in zip(uses, cost.materials, strict=True):
        hide = use.role is Role.VAMP
        source = f"layout of hide {use.material_id}" if hide else f"lay {use.material_id}"
        whole = sum(Fraction(part.rough_mm2) for part in use.sizes)
        shares = {(part.style, part.size): Fraction(part.rough_mm2) / whole for part in use.sizes}
        kind = Kind.LEATHER if hide else Kind.REINFORCEMENT
        quantity = Fraction(material.quantity)
        name = names[use.material_id]
        charges += _shared(shares, kind, source, quantity, material.unit, Fraction(material.price), name)
        if hide and costing.scrap_per_m2:
            left = Fraction(use.account.waste_mm2) / Fraction(MM2_PER_M2)
            charges += _shared(shares, Kind.SCRAP, source, left, "m2", -Fraction(costing.scrap_per_m2), "scrap")
        if costing.labour_per_hour and use.material_id in (seconds or {}):
            hours = Fraction(seconds[use.material_id]) / 3600
            lengths = _cut_lengths(plan, placed[use.material_id])
            charges += _shared(lengths, Kind.CUTTING, source, hours, "h", Fraction(costing.labour_per_hour), "labour")
    return tuple(charges)


def plan_pairs(plan: Plan, uses: Iterable[MaterialUse]) -> dict[tuple[str, str], Pairs]:
    """Pairs of each style and size: vamps cut ÷ 2, and what is expected to come out well of them."""
    lines = {(line.style, line.size): line for line in plan.order}
    cut: dict[tuple[str, str], Fraction] = {}
    for use in uses:
        for part in use.sizes:
            key = part.style, part.size
            cut[key] = cut.get(key, Fraction(0)) + (Fraction(part.pieces, 2) if use.role is Role.VAMP else 0)
    return {key: Pairs(pairs, good_pairs(pairs, lines.get(key))) for key, pairs in sorted(cut.items())}


def _hide_name(hide: Hide) -> str:
    return f"{hide.leather}, class {hide.quality}" + (", own price" if hide.price is not None else "")


def _cut_lengths(plan: Plan, placed) -> dict[tuple[str, str], Fraction]:
    """Share of each style and size in the length cut on one material."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    lengths: dict[tuple[str, str], Fraction] = {}
    for one in placed:
        piece = pieces[one.piece_id]
        key = piece.style, piece.size
        lengths[key] = lengths.get(key, Fraction(0)) + Fraction(float(edge_lengths(piece.cut_outline).sum()))
    whole = sum(lengths.values())
    return {key: length / whole for key, length in lengths.items()}


def _shared(
    shares: Mapping[tuple[str, str], Fraction], kind: Kind, source: str, quantity: Fraction, unit: str,
    price: Fraction, material: str,
) -> list[Charge]:
    """One charge for each style and size; the quantities add up to `quantity`."""
    return [Charge(*key, kind, source, quantity * share, unit, price, material) for key, share in shares.items()]
