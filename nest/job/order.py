"""The order: pairs wanted by style, size and due date, from CSV or XLSX."""

from collections.abc import Mapping

from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.schema import GradingSection
from nest.job.table import Row, read_table
from nest.job.values import day, whole
from nest.pieces.sizing import SizeError
from nest.pieces.style import OrderLine


def read_order(
    source: Source, gradings: Mapping[str, GradingSection | None], findings: Findings
) -> tuple[OrderLine, ...]:
    """Read the order: columns style, size and pairs; style may be left out when there is one style; due and priority
    in any case.

    Lines of the same style, size, due date and priority are added up, and said; sizes get their one spelling.

    Parameters
    ----------
    gradings
        Grading of each style the job file names; None where that was refused, and sizes cannot be checked.
    """
    alone = len(gradings) == 1
    needed = ("size", "pairs") if alone else ("style", "size", "pairs")
    rows = read_table(source, needed, (*(("style",) if alone else ()), "due", "priority"), findings)
    if rows is None:
        return ()
    if not rows:
        findings.refuse(source.name, "at least one line", "an empty order", "fill in sizes and pairs")
        return ()
    before = findings.refused
    wanted: dict[tuple[str, str, str, int], int] = {}
    for row in rows:
        style = row["style"] or (next(iter(gradings)) if alone else "")
        if style not in gradings:
            findings.refuse_name(f"{row.where}, style", "a style of the job file", style, gradings)
        size = row_size(row["size"], gradings.get(style), f"{row.where}, size", findings)
        pairs = row.value("pairs", lambda text: whole(text, "a number of pairs"), findings)
        urgency = None if pairs is None else row_urgency(row, findings)
        if pairs is None or urgency is None:
            continue
        key = (style, size, *urgency)
        if key in wanted:
            with_same = " with the same due date and priority" * any(urgency)
            findings.warn(
                row.where, f"style {style}, size {size} is ordered more than once{with_same}; the pairs are added up"
            )
        wanted[key] = wanted.get(key, 0) + pairs
    if findings.refused == before and not any(wanted.values()):
        findings.refuse(source.name, "pairs to make", "0 pairs in all", "fill in the pairs")
    return tuple(
        OrderLine(style, size, pairs, due, priority) for (style, size, due, priority), pairs in wanted.items() if pairs
    )


def row_urgency(row: Row, findings: Findings) -> tuple[str, int] | None:
    """Due date and priority of a row; None, and a problem for each that cannot be read."""
    due = row.value("due", lambda text: day(text, "a due date") if text else "", findings)
    priority = row.value(
        "priority", lambda text: whole(text, "a priority, 1 the first", least=1) if text else 0, findings)
    return None if due is None or priority is None else (due, priority)


def row_size(text: str, grading: GradingSection | None, where: str, findings: Findings) -> str:
    """The one spelling of a size; as it is, and a problem, if it is none."""
    if grading is None:
        return text
    try:
        return grading.label(text)
    except SizeError as error:
        findings.refuse(where, error.expected, error.found if text else "an empty cell", "correct the size")
        return text
