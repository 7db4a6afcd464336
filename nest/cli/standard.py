"""The standard cost beside what a sheet or plan says, as plain data and as a table."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from rich.table import Table
from rich.text import Text

from nest.accounts.standard import Reason, StandardBeside
from nest.cli.costing_result import as_text
from nest.cli.costing_tables import NONE, named, plain_table


def standard_result(found: StandardBeside | None) -> dict[str, Any] | None:
    """The standard cost beside what stands: by size, style and for the order; reasons add up to the difference."""
    if found is None:
        return None
    named = found.reasons

    def reasons(amounts: Sequence[Decimal] | None) -> dict[str, str] | None:
        if amounts is None:
            return None
        return {reason: str(amount) for reason, amount in zip(Reason, amounts, strict=True) if reason in named}

    rows = [row for row in found.rows if row.size or not row.style or sum(1 for one in found.rows if not one.size) > 2]
    return {
        "within_percent_95": dict(found.error_percent),
        "rows": [
            {
                "style": row.style, "size": row.size, "pairs_good": float(row.good), "standard": as_text(row.standard),
                "within_95": as_text(row.error), "good_pair": as_text(row.plan),
                "difference": None if row.plan is None or row.standard is None else str(row.plan - row.standard),
                "reasons": reasons(row.reasons), "standard_all": str(row.standard_all), "all": str(row.plan_all),
                "difference_all": str(row.plan_all - row.standard_all), "reasons_all": reasons(row.reasons_all),
            }
            for row in rows
        ],
    }


def standard_tables(data: dict[str, Any] | None, currency: str, what: str) -> tuple[Table, ...]:
    """Standard cost of a good pair beside `what` it costs here; then why, by style. None gives no table."""
    if data is None:
        return ()
    table = plain_table(
        f"Standard cost of a good pair in {currency}: whatever hides it lies on", "",
        ("standard", "± (95 %)", what, "difference"),
    )
    levels = [bool(row["size"]) + bool(row["style"]) for row in data["rows"]]
    for row, level, following in zip(data["rows"], levels, [*levels[1:], 0], strict=True):
        table.add_row(
            named(row), *(row[key] or NONE for key in ("standard", "within_95", "good_pair", "difference")),
            end_section=following < level,
        )
    order, groups = data["rows"][-1], [row for row in data["rows"] if not row["size"]]
    why = plain_table(
        f"Why a good pair costs otherwise {what}", "",
        (*(row["style"] or "order" for row in groups), "all pairs"),
    )
    for reason, amount in order["reasons_all"].items():
        why.add_row(Text(reason), *((row["reasons"] or {}).get(reason, NONE) for row in groups), amount)
    why.add_row(Text("difference", style="bold"), *(row["difference"] or NONE for row in groups),
                order["difference_all"])
    return table, why
