"""What the page needs to reckon the cost anew when a price or a quantity is changed in it.

The formula is that of `nest.accounts.cost`: each hide or lay costs quantity × price and is charged whole to the sizes
cut from it, in proportion to their rough area there; the cost of a size spread over its good pairs is that of one.
Hides and lays of the same stock and the same price are one box. Nothing is placed again.
"""

from dataclasses import dataclass

from nest.accounts import Accounts
from nest.accounts.money import minor_digits
from nest.pieces.piece import Role
from nest.plan import Plan
from nest.whatif import WhatIf


@dataclass(frozen=True, slots=True)
class PricedAllowance:
    """What one mm more of one part's allowance costs: a good pair, the order, a year; plain numbers, for the page.

    plus_minus : half the 95 % interval of `per_pair`, None where it is not known.
    tried_mm : least and most change that the price was worked out from.
    """

    style: str
    part: str
    per_pair: float
    plus_minus: float | None
    per_order: float | None = None
    per_year: float | None = None
    tried_mm: tuple[float, float] = (-2.0, 2.0)


def priced_allowances(found: WhatIf) -> tuple[PricedAllowance, ...]:
    """The prices of allowance that a what-if found, for the page."""
    return tuple(
        PricedAllowance(
            one.style, str(one.part), one.pair.value, one.pair.half_width, one.order.value,
            None if one.year is None else one.year.value, (min(one.steps_mm), max(one.steps_mm)),
        )
        for one in found.allowances
    )


def cost_model(plan: Plan, accounts: Accounts) -> dict:
    """Boxes of materials with quantity and price, and for each size how much of each box its pairs use."""
    hides = {hide.hide_id: hide for hide in plan.hides}
    rolls = {lay.lay_id: lay.roll_id for lay in plan.lays}
    boxes: dict[tuple, dict] = {}
    used: dict[tuple[str, str], dict[int, float]] = {}
    for use, material in zip(accounts.uses, accounts.cost.materials, strict=True):
        if use.role is Role.VAMP:
            hide = hides[use.material_id]
            own = hide.price is not None
            key = hide.leather, material.unit, material.price, hide.quality, own
            name = f"{hide.leather}, class {hide.quality}{', price of its own' if own else ''}"
        else:
            name = rolls[use.material_id]
            key = name, material.unit, material.price
        box = boxes.setdefault(key, {
            "index": len(boxes), "name": name, "unit": material.unit, "price": str(material.price), "quantity": 0.0,
            "number": 0, "what": "hides" if use.role is Role.VAMP else "lays",
        })
        box["quantity"] += float(material.quantity)
        box["number"] += 1
        for size in use.sizes:
            row = used.setdefault((size.style, size.size), {})
            row[box["index"]] = row.get(box["index"], 0.0) + float(material.quantity) * size.share
    sizes = [
        {
            "style": one.style, "size": one.size, "good": float(one.pairs_good),
            "uses": [[box, amount] for box, amount in sorted(used.get((one.style, one.size), {}).items())],
        }
        for one in accounts.cost.sizes
        if one.pairs_good > 0
    ]
    return {
        "currency": accounts.cost.currency,
        "digits": minor_digits(accounts.cost.currency),
        "boxes": list(boxes.values()),
        "sizes": sizes,
    }
