"""Lists that come in, as CSV or XLSX: orders, rolls, and what a stocktake counted."""

from dataclasses import dataclass
from pathlib import Path

from nest.job.files import Source, checked_source
from nest.job.findings import Findings, meant
from nest.job.job import Job
from nest.job.order import row_size, row_urgency
from nest.job.schema import GradingSection
from nest.job.table import Row, heading, read_table_at
from nest.job.values import checked_name, positive, whole
from nest.ledger.stock import RollReceived
from nest.units import MM_PER_LENGTH_UNIT

MM_PER_M = MM_PER_LENGTH_UNIT["m"]


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """Pairs wanted of one style and size for one order, by a date."""

    order_no: str
    style: str
    size: str
    pairs: int
    due: str = ""
    priority: int = 0


def read_orders(path: Path | str, job: Job) -> tuple[tuple[OrderedLine, ...], tuple[str, ...]]:
    """The lines of a list of orders, and what there is to say: columns order, style, size, pairs; due and priority.

    An order may have several lines of a style and size with different due dates. Lines alike in all are added up.

    Raises
    ------
    InputProblems
        Everything that is wrong with the list.
    """
    findings = Findings()
    gradings = {
        style.name: GradingSection(system=style.grading.system, base_size=style.grading.base_size)
        for style in job.styles
    }
    alone = len(gradings) == 1
    needed = ("order", "size", "pairs") if alone else ("order", "style", "size", "pairs")
    rows = _rows(path, needed, ("style", "due", "priority") if alone else ("due", "priority"), findings, "line")
    wanted: dict[tuple, int] = {}
    for row in rows:
        order_no = row.value("order", checked_name, findings)
        style = row["style"] or (next(iter(gradings)) if alone else "")
        if style not in gradings:
            findings.refuse_name(f"{row.where}, style", "a style of the job file", style, gradings)
        size = row_size(row["size"], gradings.get(style), f"{row.where}, size", findings)
        pairs = row.value("pairs", lambda text: whole(text, "a number of pairs"), findings)
        urgency = row_urgency(row, findings)
        if order_no is None or pairs is None or urgency is None:
            continue
        key = order_no, style, size, *urgency
        if key in wanted:
            said = f"order {order_no}, {style} {size} is listed more than once; the pairs are added up"
            findings.warn(row.where, said)
        wanted[key] = wanted.get(key, 0) + pairs
    findings.raise_problems()
    return (
        tuple(OrderedLine(order_no, style, size, pairs, due, priority)
              for (order_no, style, size, due, priority), pairs in wanted.items()),
        tuple(findings.warnings),
    )


def holds_rolls(path: Path | str) -> bool:
    """Whether a list has the columns of a list of rolls; InputProblems if it cannot be read."""
    findings, path = Findings(), Path(path)
    source = checked_source(Source(path, path.name), path.name, findings)
    names = (heading(source, findings) if source else None) or ()
    findings.raise_problems()
    return "length_m" in names and "file" not in names


def read_rolls(path: Path | str, job: Job) -> tuple[tuple[RollReceived, ...], tuple[str, ...]]:
    """The rolls of a list, and what there is to say: columns id, roll, length_m; lot and splices_m, if wanted.

    `roll` is the name of a roll in the job file; `splices_m` the distances of splices from its outer end, separated by
    blanks. Raises as `read_orders`.
    """
    findings = Findings()
    articles = [roll.roll_id for roll in job.rolls]
    found: dict[str, RollReceived] = {}
    for row in _rows(path, ("id", "roll", "length_m"), ("lot", "splices_m"), findings, "roll"):
        code = row.value("id", checked_name, findings)
        length = row.value("length_m", lambda text: positive(text, "a length"), findings)
        splices = row.value("splices_m", lambda text: [positive(one, "a length") for one in text.split()], findings)
        if row["roll"] not in articles:
            row.refuse("roll", "a roll of the job file", meant(row["roll"], articles), findings)
        if code in found:
            findings.refuse(f"{row.where}, id", "an id of its own", f"{code!r} again", "give it another")
        if code is None or length is None or splices is None:
            continue
        if any(splice >= length for splice in splices):
            within = f"splices within the {length:g} m"
            findings.refuse(f"{row.where}, splices_m", within, row["splices_m"], "correct it")
        found[code] = RollReceived(
            code, row["roll"], MM_PER_M * length, tuple(sorted(MM_PER_M * one for one in splices)), row["lot"]
        )
    findings.raise_problems()
    return tuple(found.values()), tuple(findings.warnings)


@dataclass(frozen=True, slots=True)
class Counted:
    """One hide or roll that a stocktake found; its length, mm, if it is a roll and was measured."""

    code: str
    length_mm: float | None = None


def read_counted(path: Path | str) -> tuple[tuple[Counted, ...], tuple[str, ...]]:
    """What a stocktake counted, and what there is to say: the column id; of rolls length_m. Raises as `read_orders`."""
    findings = Findings()
    found: dict[str, Counted] = {}
    for row in _rows(path, ("id",), ("length_m",), findings, "hide"):
        length = row.value("length_m", lambda text: positive(text, "a length") if text else None, findings)
        if row["id"] in found:
            findings.warn(row.where, f"{row['id']} is listed more than once; it counts once")
        found[row["id"]] = Counted(row["id"], None if length is None else MM_PER_M * length)
    findings.raise_problems()
    return tuple(found.values()), tuple(findings.warnings)


def _rows(path, needed, optional, findings: Findings, what: str) -> tuple[Row, ...]:
    rows = read_table_at(path, needed, optional, findings) or ()
    if not rows and not findings.problems:
        findings.refuse(Path(path).name, f"at least one {what}", "an empty list", "fill it in")
    return rows
