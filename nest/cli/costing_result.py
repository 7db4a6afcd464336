"""Cost sheets, what-ifs, comparisons and trials as plain data: tables show it, `--json` prints it as it is.

Money is text, exact to the currency's minor unit, unless it is the price of a millimetre or of a rule: those are
estimates, numbers with their error. Areas m² or dm², lengths mm, shares 0 to 1. What is not known is None.
"""

from decimal import Decimal
from fractions import Fraction
from typing import Any

from nest.accounts.candidates import Candidate
from nest.accounts.compare import Comparison, Totals
from nest.accounts.money import minor_digits, rounded
from nest.accounts.sheet import LINES, CostSheet, SheetRow
from nest.accounts.trimshares import TrimShare
from nest.pieces.sizing import ordered, size_system
from nest.trial import StyleRevision
from nest.whatif import Estimated, WhatIf
from nest.whatif.saving import Saving


def sheet_result(
    sheet: CostSheet, candidates: tuple[Candidate, ...] = (), trim: tuple[TrimShare, ...] = (), trace: bool = False,
    standard: CostSheet | None = None,
) -> dict[str, Any]:
    """A cost sheet, rows by size, by style ("size" empty) and of the order ("style" empty too)."""
    digits = minor_digits(sheet.currency)
    rows = (*sheet.sizes, *(row for row in sheet.styles if len(sheet.styles) > 1), sheet.order)
    data = {
        "title": sheet.title,
        "currency": sheet.currency,
        "rows": [_row(row) for row in rows],
        "candidates": [
            {
                "replaces": one.replaced, "name": one.name, "total": str(one.sheet.order.total),
                "good_pair": as_text(one.sheet.order.good_pair),
                "dearer_per_pair": _rounded(one.dearer(sheet), digits),
                "good_pair_by_size": _by_size(one.sheet),
                "standard": as_text(None if one.standard is None else one.standard.order.good_pair),
                "standard_dearer": _rounded(one.standard_dearer(standard), digits),
                "standard_by_size": _by_size(one.standard) if one.standard else [],
            }
            for one in candidates
        ],
        "trim_off": [
            {"style": one.style, "size": one.size, "leather": one.leather, "reinforcement": one.reinforcement,
             "avoidable": one.avoidable}
            for one in trim
        ],
        "notes": list(dict.fromkeys([*sheet.notes, *(note for one in candidates for note in one.sheet.notes)])),
    }
    if trace:
        data["trace"] = [
            {"style": row.style, "size": row.size, "line": line, "source": source, "amount": f"{float(amount):.6f}"}
            for row in sheet.sizes for line in LINES for source, amount in sheet.behind(row, line) if amount
        ]
    return data


def _by_size(sheet: CostSheet) -> list[dict[str, Any]]:
    return [{"style": row.style, "size": row.size, "good_pair": as_text(row.good_pair)} for row in sheet.sizes]


def _row(row: SheetRow) -> dict[str, Any]:
    return {
        "style": row.style, "size": row.size, "pairs_cut": float(row.pairs.cut), "pairs_good": float(row.pairs.good),
        "per_pair": None if row.per_pair is None else dict(zip(LINES, map(str, row.per_pair), strict=True)),
        "good_pair": as_text(row.good_pair),
        "amounts": dict(zip(LINES, map(str, row.amounts), strict=True)),
        "total": str(row.total),
    }


def what_if_result(found: WhatIf, how: str) -> dict[str, Any]:
    """Prices of allowances and rules; `how` says in words what they rest on."""
    return {
        "currency": found.currency,
        "how": how,
        "seeds": list(found.seeds),
        "complete": found.complete,
        "good_pair_now": as_text(found.now.order.good_pair),
        "allowances": [
            {
                "style": price.style, "part": str(price.part), "per_mm_pair": estimated(price.pair),
                "per_mm_by_size": [{"size": size, **estimated(slope)} for size, slope in price.sizes],
                "per_mm_order": estimated(price.order),
                "per_mm_year": None if price.year is None else estimated(price.year),
                "steps_mm": list(price.steps_mm),
            }
            for price in found.allowances
        ],
        "rules": [
            {"rule": price.name, "pair": estimated(price.pair), "order": estimated(price.order)}
            for price in found.rules
        ],
        "notes": [*found.notes, *found.now.notes],
    }


def estimated(figure: Estimated) -> dict[str, float | bool | None]:
    """A figure with its standard error and half its 95 % interval, and whether that tells dearer from cheaper."""
    return {"value": figure.value, "error": figure.error, "half_width_95": figure.half_width,
            "sign_told": figure.error is None or figure.sign_told()}


def comparison_result(found: Comparison, names: tuple[str, str]) -> dict[str, Any]:
    """Two plans side by side, and the causes of the change."""
    return {
        "currency": found.currency,
        "before": {"plan": names[0], **_totals(found.before)},
        "after": {"plan": names[1], **_totals(found.after)},
        "change": str(found.change),
        "causes": [
            {"cause": str(one.cause), "leather": str(one.leather), "reinforcement": str(one.reinforcement),
             "amount": str(one.amount)}
            for one in found.causes if one.leather or one.reinforcement
        ],
        "by_size": [{"style": style, "size": size, "change": str(amount)} for style, size, amount in found.by_size],
        "notes": list(found.notes),
    }


def _totals(totals: Totals) -> dict[str, Any]:
    return {
        "pairs_wanted": totals.pairs_wanted, "pairs_cut": float(totals.pairs_cut), "leather_m2": totals.leather_m2,
        "reinforcement_m2": totals.reinforcement_m2, "cutting_yield": totals.cutting_yield,
        "net_yield": totals.net_yield, "dm2_per_pair": totals.dm2_per_pair, "cost": str(totals.cost),
    }


def trial_result(revisions: tuple[StyleRevision, ...], rule: str) -> list[dict[str, Any]]:
    """What a trial found, style by style, shortages first."""
    return [
        {
            "style": one.style.name,
            "rule": rule,
            "shortages": [
                {"size": result.size, "part": str(result.part), "short_mm": -result.worst_mm}
                for result in one.shortages
            ],
            "parts": [
                {
                    "size": result.size, "part": str(result.part), "pieces": result.count, "mean_mm": result.mean_mm,
                    "own_sd_mm": result.own_sd_mm, "sd_mm": result.sd_mm, "worst_mm": result.worst_mm,
                    "wanted_mm": result.wanted_mm, "factor": result.factor, "short": result.short,
                    "lean": result.lean, "now_mm": result.now_mm, "new_mm": result.new_mm,
                }
                for result in one.results
            ],
            "rejects": {
                "tried": one.rejects.tried, "rejected": one.rejects.rejected, "rate": one.rejects.rate,
                "interval_95": [one.rejects.low, one.rejects.high],
                "reasons": [{"reason": reason, "pieces": number} for reason, number in one.rejects.reasons],
            },
            "allowances": [
                {"size": size, "tried": size in one.sizes, "toe_mm": new.toe_mm, "side_mm": new.side_mm,
                 "back_mm": new.back_mm, "toe_before_mm": old.toe_mm, "side_before_mm": old.side_mm,
                 "back_before_mm": old.back_mm}
                for size in ordered(size_system(one.style.grading.system), (*one.sizes, *one.others))
                for new, old in [(one.revised.allowances.for_size(size), one.style.allowances.for_size(size))]
            ],
            "widening_percent": one.revised.widening_percent,
            "reject_percent": one.revised.reject_percent,
            "notes": list(one.notes),
        }
        for one in revisions
    ]


def savings_result(found: tuple[Saving, ...]) -> list[dict[str, Any]]:
    """What a revision saves, style by style and for the order."""
    return [
        {
            "what": f"{one.style or 'order'}, {one.change}", "style": one.style, "before": one.before,
            "after": one.after, "pair": estimated(one.pair), "order": one.order, "year": one.year,
        }
        for one in found
    ]


def _rounded(amount: Fraction | None, digits: int) -> str | None:
    return None if amount is None else str(rounded(amount, digits))


def as_text(amount: Fraction | Decimal | None) -> str | None:
    """Money as text; None where it is not known."""
    return None if amount is None else str(amount)
