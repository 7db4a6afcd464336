"""Used against planned as a table for files and for the screen."""

from collections.abc import Sequence

from nest.accounts.used import UsedRow
from nest.report.tables import Table
from nest.units import dm2, metres

_DIGITS = 3


def used_table(rows: Sequence[UsedRow], currency: str) -> Table:
    """One row for each style and size, each style ("all"), and the order; hides are shared by the sizes on them."""
    header = (
        "style", "size", "hides_planned", "hides_used", "leather_dm2_planned", "leather_dm2_used", "roll_m_planned",
        "roll_m_used", "vamps_cut", "vamps_spoiled", "vamps_good", "pairs_expected", "pairs_finished",
        "leather_dm2_per_good_pair_planned", "leather_dm2_per_good_pair_used", "roll_m_per_good_pair_planned",
        "roll_m_per_good_pair_used", f"cost_planned_{currency}", f"cost_used_{currency}",
        f"dearer_than_planned_{currency}",
    )
    return Table("used against planned", header, tuple(_row(row) for row in rows))


def _row(row: UsedRow) -> tuple:
    a, b = row.planned, row.used
    return (
        row.style or "all", row.size or "all", round(a.hides, 2), round(b.hides, 2),
        round(dm2(a.leather_mm2), _DIGITS), round(dm2(b.leather_mm2), _DIGITS), round(metres(a.roll_mm), _DIGITS),
        round(metres(b.roll_mm), _DIGITS), b.vamps, row.spoiled, row.good, round(float(a.pairs), 2), int(b.pairs),
        *(None if area is None else round(dm2(area), _DIGITS) for area in (
            a.leather_per_pair_mm2, b.leather_per_pair_mm2)),
        *(None if length is None else round(metres(length), _DIGITS) for length in (
            a.roll_per_pair_mm, b.roll_per_pair_mm)),
        a.amount, b.amount, row.difference,
    )
