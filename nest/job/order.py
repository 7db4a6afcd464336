"""The order: pairs wanted by style and size, from CSV or XLSX."""

from collections.abc import Mapping

from nest.job.files import Source
from nest.job.findings import Findings, meant
from nest.job.job import OrderLine
from nest.job.schema import GradingSection
from nest.job.table import read_table
from nest.job.values import ValueFault, whole
from nest.pieces.sizing import SizeError


def read_order(
    source: Source, gradings: Mapping[str, GradingSection | None], findings: Findings
) -> tuple[OrderLine, ...]:
    """Read the order: columns style, size and pairs; style may be left out when there is one style.

    Lines of the same style and size are added up, and said; sizes get their one spelling.

    Parameters
    ----------
    gradings
        Grading of each style the job file names; None where that was refused, and sizes cannot be checked.
    """
    alone = len(gradings) == 1
    needed = ("size", "pairs") if alone else ("style", "size", "pairs")
    rows = read_table(source, needed, ("style",) if alone else (), findings)
    if rows is None:
        return ()
    if not rows:
        findings.refuse(source.name, "at least one line", "an empty order", "fill in sizes and pairs")
        return ()
    before = len(findings.problems)
    wanted: dict[tuple[str, str], int] = {}
    for row in rows:
        style = row["style"] or (next(iter(gradings)) if alone else "")
        if style not in gradings:
            findings.refuse(f"{row.where}, style", "a style of the job file", repr(style), meant(style, gradings))
        size = _size(row["size"], gradings.get(style), f"{row.where}, size", findings)
        try:
            pairs = whole(row["pairs"], "a number of pairs")
        except ValueFault as fault:
            findings.refuse(f"{row.where}, pairs", fault.expected, fault.found, fault.remedy)
            continue
        if (style, size) in wanted:
            findings.warn(row.where, f"style {style}, size {size} is ordered more than once; the pairs are added up")
        wanted[style, size] = wanted.get((style, size), 0) + pairs
    if len(findings.problems) == before and not any(wanted.values()):
        findings.refuse(source.name, "pairs to make", "0 pairs in all", "fill in the pairs")
    return tuple(OrderLine(style, size, pairs) for (style, size), pairs in wanted.items() if pairs)


def _size(text: str, grading: GradingSection | None, where: str, findings: Findings) -> str:
    """The one spelling of a size; as it is, and a problem, if it is none."""
    if grading is None:
        return text
    try:
        return grading.label(text)
    except SizeError as error:
        findings.refuse(where, error.expected, error.found if text else "an empty cell", "correct the size")
        return text
