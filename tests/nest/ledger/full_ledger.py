"""A ledger full of rows, written in bulk: hides that were received, reserved and cut, and orders half finished."""

from box_jobs import hide

from nest.ledger import tables
from nest.stock.material import Hide

LINES = 7
"""Sizes of an order."""

ROLLS = 200


def filled(ledger, hides, orders):
    """Fill a ledger with this many hides and orders."""
    with ledger.booking("Ann", "filled") as booking:
        body_id = booking.keep(Hide, hide())
        plan_id = booking.add(tables.plan, code="P0001", name="P0001", until="", body_id=body_id)
        booking.add(tables.plan_move, plan_id=plan_id, seq=1, state="open")
        booking.add_all(tables.hide, [{
            "id": n, "code": f"H{n}", "leather": f"leather {n % 3}", "lot": f"lot {n % 40}", "supplier": f"T{n % 5}",
            "quality": 1 + n % 3, "thickness_mm": 1.4, "area_mm2": 2e6, "drawn_mm2": 2e6, "cost": "80.0000",
            "parent": "", "since": f"2026-{1 + n % 12:02d}-01", "body_id": body_id,
        } for n in range(1, hides + 1)])
        states = ("received", "reserved", "cut")
        booking.add_all(tables.hide_move, [{
            "hide_id": n, "seq": seq, "state": states[seq - 1], "quality": 1 + n % 3, "place": "",
            "plan_id": plan_id if seq > 1 else None,
        } for n in range(1, hides + 1) for seq in range(1, 2 + n % 3)])
        booking.add_all(tables.roll, [{
            "id": n, "code": f"R{n}", "article": "knit", "lot": "", "supplier": "", "length_mm": 6e4,
            "since": "2026-01-01",
        } for n in range(1, ROLLS + 1)])
        booking.add_all(tables.roll_move, [{
            "roll_id": n, "seq": seq, "state": "received", "left_mm": 6e4, "held_mm": 100.0 * (seq - 1), "splices": "",
            "plan_id": plan_id if seq > 1 else None,
        } for n in range(1, ROLLS + 1) for seq in (1, 2)])
        booking.add_all(tables.lacking, [
            {"plan_id": plan_id, "style": "box", "size": f"{36 + at}", "seq": 1, "pairs": 3} for at in range(LINES)
        ])
        cut = [n for n in range(1, hides + 1) if n % 3 == 2]
        booking.add_all(tables.spent, [{
            "plan_id": plan_id, "hide_id": n, "net_mm2": 8e5, "trim_mm2": 3e5, "waste_mm2": 9e5, "remnant_mm2": 0.0,
            "paid_mm2": 2e6, "returned_mm2": 0.0, "cost": "80.0000",
        } for n in cut])
        booking.add_all(tables.work, [{
            "plan_id": plan_id, "material": f"H{n}", "kind": "hide", "lot": f"lot {n % 40}", "supplier": f"T{n % 5}",
            "style": "box", "size": f"{36 + n % LINES}", "cutter": "", "pieces": 40, "rough_mm2": 1.1e6,
            "planned": 2e6, "used": 2e6, "planned_cost": "80", "used_cost": "80",
        } for n in cut])
        booking.add_all(tables.line, [{
            "id": LINES * order + at + 1, "order_no": f"A{order}", "style": "box", "size": f"{36 + at}",
            "due": f"2026-{1 + order % 12:02d}-15", "priority": 0,
        } for order in range(orders) for at in range(LINES)])
        booking.add_all(tables.line_move, [{
            "line_id": n, "seq": seq, "plan_id": plan_id if seq > 1 else None, "wanted": 20,
            "planned": 21 if seq == 2 else 0, "cut": 21 if seq == 3 else 0, "spoiled": 0,
        } for n in range(1, LINES * orders + 1) for seq in range(1, 2 + n % 3)])
