"""What the page needs to work out the cost anew when a price or a quantity is changed in it.

The charges of the cost sheet are summed as there: quantity × price, and the cost of a size spread over its good pairs
is that of one. What has the same price is one box: hides of a class, lays of a roll, cutting, scrap. Nothing is placed
again.
"""

from decimal import Decimal
from fractions import Fraction

from nest.accounts.charges import ADDED, ChargeKind, times
from nest.accounts.money import minor_digits
from nest.accounts.sheet import CostSheet

KINDS = tuple(ChargeKind)
_COUNTED = {ChargeKind.LEATHER: "hides", ChargeKind.REINFORCEMENT: "lays"}


def cost_model(sheet: CostSheet) -> dict:
    """Boxes of what is priced with quantity and price, and for each size how much of each box its pairs use.

    `times` is what freight, duty, overhead and margin make of a box. A credit has its price above zero, as it is spoken
    of, and quantities below. `shown` is what the cost sheet shows of a good pair and of all: it stands while nothing is
    changed, so that the page agrees with itself to the last digit.
    """
    boxes: dict[tuple, dict] = {}
    used: dict[tuple[str, str], dict[int, float]] = {}
    behind: dict[tuple, set[str]] = {}
    digits, factor = minor_digits(sheet.currency), times(sheet.charges)
    own = [charge for charge in sheet.charges if charge.kind not in ADDED]
    for charge in sorted(own, key=lambda one: KINDS.index(one.kind)):
        sign = -1 if charge.kind is ChargeKind.SCRAP else 1
        key = charge.kind, charge.material, charge.unit, charge.paid_price
        box = boxes.setdefault(key, {
            "index": len(boxes), "name": charge.material if sign > 0 else charge.kind, "unit": charge.unit,
            "price": plain(sign * charge.paid_price, digits),
            "quantity": 0.0, "what": _COUNTED.get(charge.kind, ""), "sign": sign,
            "times": float(factor(charge)),
        })
        behind.setdefault(key, set()).add(charge.of)
        box["quantity"] += float(charge.quantity)
        row = used.setdefault(charge.key, {})
        row[box["index"]] = row.get(box["index"], 0.0) + sign * float(charge.quantity)
    for key, box in boxes.items():
        box["number"] = len(behind[key]) if box["what"] else 0
    sizes = [
        {
            "style": row.style, "size": row.size, "good": float(row.pairs.good),
            "shown": [str(row.good_pair), str(row.total)],
            "uses": [[box, amount] for box, amount in sorted(used.get((row.style, row.size), {}).items())],
        }
        for row in sheet.sizes
        if row.pairs.good > 0
    ]
    return {
        "currency": sheet.currency, "digits": digits, "boxes": list(boxes.values()), "sizes": sizes,
        "shown": [str(sheet.order.good_pair), str(sheet.total)],
    }


def plain(price: Fraction, digits: int = 0) -> str:
    """A price as a decimal number with no more than nine digits after the point, and no fewer than these."""
    whole, _, rest = f"{Decimal(price.numerator) / Decimal(price.denominator):.9f}".partition(".")
    rest = rest.rstrip("0").ljust(digits, "0")
    return f"{whole}.{rest}" if rest else whole
