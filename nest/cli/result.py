"""What a run comes to, as plain data: the summary table shows it, `--json` prints it as it is.

Money is text, exact to the currency's minor unit; areas dm² or m², lengths m, shares 0 to 1. A figure
that is not known, because nothing was cut, is None.
"""

from pathlib import Path
from typing import Any

from nest.accounts import Accounts, yields
from nest.accounts.areas import AreaAccount
from nest.accounts.consumption import Consumption
from nest.cutplan.nicksaid import plan_not_told
from nest.pieces.piece import Role
from nest.plan import HideIssue, Plan
from nest.report.checks import checks_on, verdict_words
from nest.report.searched import search_said
from nest.report.summary import size_run
from nest.units import dm2, m2, metres
from nest.verify import Verdict


def plan_result(plan: Plan, accounts: Accounts, verdict: Verdict, folder: Path | None = None) -> dict[str, Any]:
    """Everything the summary of a judged and costed plan shows; `folder` is where it was written."""
    used = {layout.hide_id for layout in plan.layouts if layout.placed}
    run = size_run(plan)
    return {
        "plan": plan.name,
        "verdict": verdict_result(plan, verdict),
        "order": {
            "pairs_wanted": sum(row.wanted for row in run),
            "pairs_to_cut": sum(row.to_cut for row in run),
            "pairs_for_rejects": str(plan.settings.reject_pairs),
            "pairs_short": [
                {"style": row.style, "size": row.size, "pairs": row.short} for row in run if row.short > 0.0
            ],
        },
        "hides": {
            "used": [hide.hide_id for hide in plan.hides if hide.hide_id in used],
            "cut_already": [name for name in plan.begun.cut_hides if name in used],
            "to_cut": [layout.hide_id for layout in plan.layouts_to_cut],
            "whole": [hide.hide_id for hide in plan.hides if hide.hide_id not in used],
        },
        "search": list(search_said(plan, accounts.uses).sentences),
        "issue": [issue_result(one) for one in plan.issues],
        "leather": _use(accounts.leather, accounts.leather_consumption),
        "reinforcement": _use(accounts.reinforcement, accounts.reinforcement_consumption) | _rolls(plan, accounts),
        "cost": cost_result(accounts),
        "notes": [*plan.warnings, *accounts.notes, *plan_not_told(plan)],
        "folder": None if folder is None else str(folder),
    }


def issue_result(one: HideIssue) -> dict[str, Any]:
    """What the choice of hides of one leather is worth; a saving below nil is a greedy order that misses pairs."""
    return {
        "leather": one.leather,
        "hides": one.hides,
        "cost": str(one.cost),
        "greedy": [
            {"order": greedy.order, "hides": greedy.hides, "cost": str(greedy.cost),
             "missing_dm2": dm2(greedy.missing_mm2), "saving": str(greedy.cost - one.cost)}
            for greedy in one.greedy
        ],
        "least_of_layouts": str(one.least_of_layouts),
        "least_by_area": str(one.least_by_area),
        "reference": str(one.reference),
        "gap": one.gap,
    }


def verdict_result(plan: Plan, verdict: Verdict) -> dict[str, Any]:
    """The verdict, each check with what is wrong, and what is missing from the order or too much."""
    counts = verdict.checks
    return {
        "words": verdict_words(verdict),
        "ok": verdict.ok,
        "order_met": verdict.order_met,
        "checks": [{"check": check.words, "wrong": list(check.wrong)} for check in checks_on(plan, verdict)],
        "short": [finding.sentence for finding in verdict.short],
        "over": [finding.sentence for finding in verdict.over],
        "counted": {name: getattr(counts, name) for name in type(counts).__dataclass_fields__},
    }


def cost_result(accounts: Accounts) -> dict[str, Any]:
    """Cost by style and size, by style ("size" empty) and of the order ("style" empty too)."""
    cost = accounts.cost
    trim = {(row.style, row.size): row for row in accounts.trim}
    leather = {(row.style, row.size): row for row in accounts.leather_consumption}
    backing = {(row.style, row.size): row for row in accounts.reinforcement_consumption}
    rows = []
    for pair in cost.pairs:
        key = pair.style, pair.size
        share = trim.get(key)
        rows.append({
            "style": pair.style,
            "size": pair.size,
            "pairs_cut": leather[key].pairs if key in leather else 0.0,
            "leather_dm2": _per_pair(leather.get(key), lambda row: dm2(row.gross_mm2)),
            "reinforcement_m": _per_pair(backing.get(key), lambda row: metres(row.length_mm)),
            "leather": str(pair.leather),
            "reinforcement": str(pair.reinforcement),
            "spoilage": str(pair.spoilage),
            "good_pair": str(pair.good_pair),
            "trim_off_share": share and str(share.leather_share_per_pair + share.reinforcement_share_per_pair),
            "trim_off_avoidable": share and _text(share.avoidable_per_pair),
        })
    return {
        "currency": cost.currency,
        "leather": str(cost.leather),
        "reinforcement": str(cost.reinforcement),
        "total": str(cost.total),
        "per_pair": rows,
    }


def _use(account: AreaAccount, rows: tuple[Consumption, ...]) -> dict[str, Any]:
    """Area used, its yields, and the consumption of a pair over the whole order."""
    found = yields(account)
    return {
        "area_m2": m2(account.material_mm2),
        "cutting_yield": found.cutting if account.material_mm2 else None,
        "net_yield": found.net if account.material_mm2 else None,
        "dm2_per_pair": _per_pair(rows[-1] if rows else None, lambda row: dm2(row.gross_mm2)),
    }


def _rolls(plan: Plan, accounts: Accounts) -> dict[str, Any]:
    """Metres off each roll, end losses included."""
    lengths = {use.material_id: use.length_mm for use in accounts.uses if use.role is Role.REINFORCEMENT}
    rolls: dict[str, float] = {}
    for lay in plan.lays:
        if lay.placed:
            rolls[lay.roll_id] = rolls.get(lay.roll_id, 0.0) + metres(lengths[lay.lay_id])
    return {"metres": sum(rolls.values()), "metres_by_roll": rolls}


def _per_pair(row: Consumption | None, figure) -> float | None:
    return figure(row.per_pair()) if row is not None and row.pairs > 0 else None


def _text(amount) -> str | None:
    return None if amount is None else str(amount)
