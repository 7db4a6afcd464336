"""Versions of a plan side by side: yield, cost, pairs; and every state there was, in words."""

from math import fsum

from geometry.polygon import area
from nest.accounts.sheet import plan_sheet
from nest.edits import History, command_data
from nest.plan import Plan
from nest.whatif import quick_uses

MOST_LISTED = 200
"""The last versions; older ones are reached by their names, or by undoing."""


def standing(plan: Plan) -> dict:
    """What a plan comes to: hides opened, yield of them, pairs placed and to cut, cost without the time of cutting."""
    rough = {piece.piece_id: area(piece.cut_outline) for piece in plan.pieces}
    grounds = {hide.hide_id: hide.outline.area for hide in plan.hides}
    opened = [layout for layout in plan.layouts if layout.placed]
    ground = fsum(grounds[layout.hide_id] for layout in opened)
    placed = fsum(rough[one.piece_id] for layout in opened for one in layout.placed)
    uses = quick_uses(plan)
    return {
        "hides": len(opened), "yield": round(100.0 * placed / ground, 2) if ground else 0.0,
        "pairs": sum(len(layout.placed) for layout in opened) // 2,
        "to_cut": sum(line.pairs_to_cut for line in plan.order),
        "cost": str(plan_sheet(plan, uses, {}).total) if uses else "0", "currency": plan.settings.currency,
    }


def listed(history: History) -> dict:
    """Every state by its number: what made it, and its name if it has one; and which one holds."""
    first = max(0, len(history.versions) - MOST_LISTED)
    states = []
    for number, version in enumerate(history.versions):
        if number >= first or version.name or not number:
            done = {} if version.command is None else command_data(version.command)
            words = f"{done['do'].replace('_', ' ')} {done.get('hide', '')}".strip() if done else "as it was opened"
            states.append({"number": number, "name": version.name, "did": words})
    return {"at": history.at, "states": states}


def beside(one: Plan, other: Plan) -> dict:
    """Two plans side by side, and the hides that lie otherwise."""
    layouts = [{layout.hide_id: layout.placed for layout in plan.layouts if layout.placed} for plan in (one, other)]
    changed = sorted(
        hide_id for hide_id in layouts[0].keys() | layouts[1].keys()
        if layouts[0].get(hide_id) != layouts[1].get(hide_id)
    )
    return {"standings": [standing(one), standing(other)], "changed": changed}
