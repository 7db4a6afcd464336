"""What the trim-off costs: its share of the material, and the part of it that the press does not need.

share : price × trim-off area ÷ cutting yield, material by material: the cost of a hide or lay times
    trim-off area ÷ rough area.
avoidable : likewise for the area between the rough outline and the one that the least allowances would
    give; of the leather alone.

What one millimetre more or less would change is a third figure and needs another placement; it is
not reckoned here, and the three are never added.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import shapely

from geometry.polygon import area, polygon
from geometry.pose import mirror
from nest.accounts.areas import MaterialUse
from nest.accounts.cost import OrderCost
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.job.job import Allowances
from nest.pieces.piece import Foot, Part, Piece, Role, Template
from nest.pieces.rough import rough_outline
from nest.plan import Plan, PlannedStyle


@dataclass(frozen=True, slots=True)
class TrimCost:
    """Cost of the trim-off of one style and size, all pairs together and for one pair cut.

    size "" and style "" : the whole order, to whose figures the sizes add up. `avoidable` is None where the
    plan does not say how the least rough outline runs.
    """

    style: str
    size: str
    leather_share: Decimal
    reinforcement_share: Decimal
    avoidable: Decimal | None
    leather_share_per_pair: Decimal
    reinforcement_share_per_pair: Decimal
    avoidable_per_pair: Decimal | None


def avoidable_mm2(style: PlannedStyle, piece: Piece) -> float | None:
    """Area of the rough vamp `piece` beyond the outline that the least allowances would give, mm².

    That outline is made around the plan's template of this size; without one only if the least allowance is the
    same all round, which needs no parts. None otherwise.
    """
    rough, net = piece.cut_outline, piece.net_outline
    if piece.foot is Foot.RIGHT:
        rough, net = mirror(rough), mirror(net)
    least = _least(style.allowances)
    template = next((one for one in style.templates if one.size == piece.size), None)
    if template is None:
        if len({least.toe_mm, least.side_mm, least.back_mm}) > 1:
            return None
        template = Template(style.name, piece.size, net, (Part.SIDE,) * len(net))
    return shapely.difference(polygon(rough), polygon(rough_outline(template, least))).area


def _least(given: Allowances) -> Allowances:
    least = (given.least_toe_mm, given.least_side_mm, given.least_back_mm)
    return Allowances(*least, *least, blend_mm=given.blend_mm)


def trim_costs(plan: Plan, uses: Sequence[MaterialUse], cost: OrderCost) -> tuple[TrimCost, ...]:
    """Cost of trim-off by size, and for the order; empty if nothing was cut. Rounded as in `nest.accounts.money`."""
    if not cost.sizes:
        return ()
    digits = minor_digits(cost.currency)
    keys = [(one.style, one.size) for one in cost.sizes]
    avoidable = _avoidable_shares(plan, keys)
    names = ("leather", "reinforcement", "avoid")
    columns = {name: dict.fromkeys(keys, Fraction(0)) for name in names}
    for use, material in zip(uses, cost.materials, strict=True):
        whole = sum(Fraction(part.rough_mm2) for part in use.sizes)
        column = columns["leather" if use.role is Role.VAMP else "reinforcement"]
        for part in use.sizes:
            key = part.style, part.size
            per_area = material.exact / whole
            column[key] += per_area * (Fraction(part.rough_mm2) - Fraction(part.net_mm2))
            if use.role is Role.VAMP:
                columns["avoid"][key] += per_area * Fraction(part.rough_mm2) * Fraction(avoidable[key] or 0.0)
    pairs = [one.pairs_cut for one in cost.sizes]
    known = all(share is not None for share in avoidable.values())
    shown = {name: _column([column[key] for key in keys], pairs, digits) for name, column in columns.items()}
    rows = []
    for i, (style, size) in enumerate([*keys, ("", "")]):
        has_avoidable = known if not style else avoidable[style, size] is not None
        (leather, each_leather), (backing, each_backing), (avoid, each_avoid) = (shown[name][i] for name in columns)
        rows.append(TrimCost(
            style, size, leather, backing, avoid if has_avoidable else None,
            each_leather, each_backing, each_avoid if has_avoidable else None,
        ))
    return tuple(rows)


def _column(parts: list[Fraction], pairs: list[Fraction], digits: int) -> list[tuple[Decimal, Decimal]]:
    """For each size, then for all: the amount shown and the same per pair cut (0 where no vamp was cut)."""
    total = sum(parts, Fraction(0))
    amounts = [*apportioned(parts, rounded(total, digits), digits), rounded(total, digits)]
    each = [part / count if count else Fraction(0)
            for part, count in zip([*parts, total], [*pairs, sum(pairs)], strict=True)]
    return [(amount, rounded(one, digits)) for amount, one in zip(amounts, each, strict=True)]


def _avoidable_shares(plan: Plan, keys) -> Mapping[tuple[str, str], float | None]:
    """Share of the rough area of each size that is avoidable (0..1), None if not known; 0 where no vamp is cut."""
    styles = {style.name: style for style in plan.styles}
    vamps = {(piece.style, piece.size): piece for piece in plan.pieces if piece.role is Role.VAMP}
    shares: dict[tuple[str, str], float | None] = dict.fromkeys(keys, 0.0)
    for key in vamps.keys() & shares.keys():
        found = avoidable_mm2(styles[key[0]], vamps[key])
        shares[key] = None if found is None else found / area(vamps[key].cut_outline)
    return shares
