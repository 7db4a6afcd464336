"""What a run comes to, as plain data: the summary table shows it, `--json` prints it as it is.

Money is text, exact to the currency's minor unit; areas dm² or m², lengths m, shares 0 to 1. A figure
that is not known, because nothing was cut, is None.
"""

from decimal import Decimal
from fractions import Fraction
from math import fsum
from pathlib import Path
from typing import Any

from nest.accounts import Accounts, yields
from nest.accounts.areas import AreaAccount
from nest.accounts.consumption import Consumption
from nest.accounts.money import minor_digits, rounded
from nest.accounts.sheet import LINES, CostSheet
from nest.cli.costing_result import as_text
from nest.cli.shortfall import rows_result
from nest.cli.standard import standard_result
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
            "rows": rows_result(plan),
        },
        "hides": {
            "used": [hide.hide_id for hide in plan.hides if hide.hide_id in used],
            "cut_already": [name for name in plan.begun.cut_hides if name in used],
            "to_cut": [layout.hide_id for layout in plan.layouts_to_cut],
            "whole": [hide.hide_id for hide in plan.hides if hide.hide_id not in used],
        },
        "search": list(search_said(plan, accounts.uses).sentences),
        "issue": [issue_result(one, accounts.cost) for one in plan.issues],
        "leather": _use(accounts.leather, accounts.leather_consumption),
        "reinforcement": _use(accounts.reinforcement, accounts.reinforcement_consumption) | _rolls(plan, accounts),
        "cost": cost_result(accounts),
        "standard": standard_result(accounts.standard),
        "notes": [*plan.warnings, *accounts.notes, *plan_not_told(plan)],
        "folder": None if folder is None else str(folder),
    }


def issue_result(one: HideIssue, sheet: CostSheet) -> dict[str, Any]:
    """What the choice of hides of one leather is worth; a saving below zero is a greedy order that misses pairs.

    What the hides cost is what the cost sheet shows of them.
    """
    digits, cost = minor_digits(sheet.currency), sheet.of_stock(one.leather)

    def shown(amount: Decimal) -> str:
        return str(rounded(Fraction(amount), digits))

    return {
        "leather": one.leather,
        "hides": one.hides,
        "cost": str(cost),
        "greedy": [
            {"order": greedy.order, "hides": greedy.hides, "cost": shown(greedy.cost),
             "missing_dm2": dm2(greedy.missing_mm2), "saving": shown(rounded(Fraction(greedy.cost), digits) - cost)}
            for greedy in one.greedy
        ],
        "least_of_layouts": shown(one.least_of_layouts),
        "least_by_area": shown(one.least_by_area),
        "reference": shown(one.reference),
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
    """The cost sheet by style and size, by style ("size" empty) and of the order ("style" empty too)."""
    sheet = accounts.cost
    trim = {(row.style, row.size): row for row in accounts.trim}
    leather = {(row.style, row.size): row for row in accounts.leather_consumption}
    backing = {(row.style, row.size): row for row in accounts.reinforcement_consumption}
    rows = []
    for row in sheet.rows:
        if row.per_pair is None:
            continue
        key = row.style, row.size
        share = trim.get(key)
        rows.append({
            "style": row.style,
            "size": row.size,
            "pairs_cut": float(row.pairs.cut),
            "leather_dm2": _per_pair(leather.get(key), lambda row: dm2(row.gross_mm2)),
            "reinforcement_m": _per_pair(backing.get(key), lambda row: metres(row.length_mm)),
            **{_name(line): str(amount) for line, amount in zip(LINES, row.per_pair, strict=True)},
            "good_pair": str(row.good_pair),
            "trim_off_share": share and str(share.leather_share_per_pair + share.reinforcement_share_per_pair),
            "trim_off_avoidable": share and as_text(share.avoidable_per_pair),
        })
    return {
        "currency": sheet.currency,
        **{_name(kind): str(amount) for kind, amount in sheet.by_kind.items()},
        "total": str(sheet.total),
        "lines": [_name(line) for line in sheet.lines],
        "per_pair": rows,
    }


def _name(line: str) -> str:
    return line.replace(" ", "_")


def _use(account: AreaAccount, rows: tuple[Consumption, ...]) -> dict[str, Any]:
    """Area as measured, which is paid for, and as drawn; yields of the latter; what a pair of the order takes."""
    found = yields(account)
    return {
        "area_m2": m2(rows[-1].gross_mm2) if rows else 0.0,
        "drawn_m2": m2(account.material_mm2),
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
    return {"metres": fsum(rolls.values()), "metres_by_roll": rolls}


def _per_pair(row: Consumption | None, figure) -> float | None:
    return figure(row.per_pair()) if row is not None and row.pairs > 0 else None
