"""Rows of an order line by due date and priority: they add up, and what is short falls on the least urgent."""

from collections import Counter
from collections.abc import Iterator
from datetime import date

from nest.plan import CutLine, DueRow
from nest.verify.verdict import Finding, Rule, in_plan


def row_findings(line: CutLine) -> Iterator[Finding]:
    """Rows by due date and priority that make no sense, or do not add up to the pairs of their line."""
    who = f"order line {line.style} {line.size}"
    for row in line.rows:
        if row.pairs < 1:
            yield _said(f"{who}: a row of {row.pairs} pairs makes no sense.")
        if row.priority < 0:
            yield _said(f"{who}: priority {row.priority} makes no sense, 1 is the first and 0 is none.")
        if row.due and not _is_day(row.due):
            yield _said(f"{who}: {row.due!r} is no date as ISO 8601 writes it.")
    for (due, priority), number in Counter((row.due, row.priority) for row in line.rows).items():
        if number > 1:
            yield _said(f"{who}: {number} rows have the due date {due or 'none'} and priority {priority}.", number)
    wanted = sum(row.pairs for row in line.rows)
    if line.rows and wanted != line.pairs_wanted:
        yield _said(
            f"{who}: its rows by due date add up to {wanted} pairs, {line.pairs_wanted} are wanted.",
            abs(wanted - line.pairs_wanted), "pairs",
        )


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _said(sentence: str, amount: float = 1.0, unit: str = "pieces") -> Finding:
    return in_plan(Rule.FIGURE, sentence, (), amount, unit)


def rows_short(line: CutLine, missing_pairs: int) -> str:
    """Which rows are short where this many of the pairs to cut are missing, in words; "" for a line without rows."""
    if not line.rows:
        return ""
    cut = max(0, line.pairs_to_cut - missing_pairs)
    left = min(line.pairs_wanted, cut * line.pairs_wanted // line.pairs_to_cut) if line.pairs_to_cut else 0
    short = {}
    for at in sorted(range(len(line.rows)), key=lambda at: _urgency(line.rows[at])):
        met = min(line.rows[at].pairs, left)
        left -= met
        short[at] = line.rows[at].pairs - met
    said = [f"{short[at]} of {row.pairs} {_words(row)}" for at, row in enumerate(line.rows) if short[at]]
    return f" Pairs wanted that this leaves short: {', '.join(said)}." if said else ""


def _urgency(row: DueRow) -> tuple[bool, int, bool, str]:
    """Rows with a priority first, then those with a due date; the earlier the sooner."""
    return not row.priority, row.priority, not row.due, row.due


def _words(row: DueRow) -> str:
    when = f"due {row.due}" if row.due else "without a due date"
    return f"{when} (priority {row.priority})" if row.priority else when
