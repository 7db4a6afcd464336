"""The table of a crimping trial: one row a piece tried, as CSV or XLSX.

Columns: size, piece (any name that tells it from the others of its size), and as far as measured: style (may be left
out when the job has one), toe_mm, side_mm or left_mm and right_mm, back_mm: trim that is left beyond the template line
after crimping, below 0 where the piece does not reach the line; widening_percent: how much wider it came out of the
press; rejected (yes or no) and the reason. A cell left blank was not measured. Where the table says of any piece of a
style whether it was rejected, a measured one without a word was not; where it says so of none, nothing is known of
rejects. A row with nothing in it but its size and piece is left out.
"""

from dataclasses import dataclass, replace
from pathlib import Path

from nest.job.files import Source, checked_source
from nest.job.findings import Findings, meant
from nest.job.job import Job
from nest.job.table import Row, read_table
from nest.job.values import ValueFault, decimal
from nest.pieces.piece import Part
from nest.pieces.sizing import SizeError, size_label, size_system

NEEDED = ("size", "piece")
_SIDES = ("side_mm", "left_mm", "right_mm")
OPTIONAL = ("style", "toe_mm", *_SIDES, "back_mm", "widening_percent", "rejected", "reason")

MOST_MM = 100.0
"""Trim or shortage beyond this is a slip of the pen."""

MOST_WIDENING = 30.0
_WORDS = {"": None, "no": False, "n": False, "0": False, "false": False,
          "yes": True, "y": True, "1": True, "true": True, "x": True}


@dataclass(frozen=True, slots=True)
class TriedPiece:
    """One piece of a trial: trim left by part where measured (mm; the lesser of two sides), widening in percent.

    rejected : None where it is not known.
    """

    style: str
    size: str
    piece: str
    trim_mm: tuple[tuple[Part, float], ...]
    widening_percent: float | None
    rejected: bool | None
    reason: str

    def trim(self, part: Part) -> float | None:
        """Trim left at one part; None if not measured."""
        return dict(self.trim_mm).get(part)


def read_trial(path: Path | str, job: Job) -> tuple[tuple[TriedPiece, ...], tuple[str, ...]]:
    """Read the table at `path`; also what was repaired or left out on the way.

    Raises
    ------
    InputProblems
        Every problem found in it.
    """
    findings = Findings()
    path = Path(path)
    source = checked_source(Source(path, path.name), path.name, findings)
    rows = () if source is None else read_table(source, NEEDED, OPTIONAL, findings)
    if rows == () and source is not None:
        findings.refuse(source.name, "at least one piece", "none", "fill in one row for each piece tried")
    pieces, seen = [], {}
    for row in rows or ():
        piece = _piece(row, job, findings)
        if piece is None:
            continue
        key = piece.style, piece.size, piece.piece
        if key in seen:
            findings.refuse(f"{row.where}, piece", "a piece of its own", f"{piece.piece!r} again", f"see {seen[key]}")
        seen[key] = row.where
        if not piece.trim_mm and piece.widening_percent is None and piece.rejected is None:
            what = f"piece {piece.piece} of size {piece.size}"
            findings.warn(row.where, f"{what} is left out: nothing was measured of it, nor is it said to be rejected")
            continue
        pieces.append(piece)
    if seen and not pieces and not findings.problems:
        findings.refuse(
            source.name, "measured figures, or whether pieces were rejected", "rows without any", "fill in the table"
        )
    if findings.problems:
        raise findings.error()
    told = {piece.style for piece in pieces if piece.rejected is not None}
    pieces = [
        replace(piece, rejected=False) if piece.rejected is None and piece.style in told else piece for piece in pieces
    ]
    return tuple(pieces), tuple(findings.warnings)


def _piece(row: Row, job: Job, findings: Findings) -> TriedPiece | None:
    before = findings.refused
    styles = {style.name: style for style in job.styles}
    name = row["style"] or (next(iter(styles)) if len(styles) == 1 else "")
    size = row["size"]
    if name not in styles:
        findings.refuse(f"{row.where}, style", "a style of the job file", repr(name), meant(name, styles))
    else:
        try:
            size = size_label(size_system(styles[name].grading.system), size)
        except SizeError as error:
            findings.refuse(f"{row.where}, size", error.expected, error.found, "correct the size")
    if not row["piece"]:
        findings.refuse(f"{row.where}, piece", "a name or number", "an empty cell", "number the pieces")
    toe, back = (_figure(row, f"{part}_mm", MOST_MM, findings) for part in (Part.TOE, Part.BACK))
    sides = [side for column in _SIDES if (side := _figure(row, column, MOST_MM, findings)) is not None]
    trim = {Part.TOE: toe, Part.SIDE: min(sides, default=None), Part.BACK: back}
    widening = _figure(row, "widening_percent", MOST_WIDENING, findings)
    rejected = _WORDS.get(row["rejected"].casefold())
    if row["rejected"].casefold() not in _WORDS:
        findings.refuse(f"{row.where}, rejected", "yes or no", repr(row["rejected"]), "write yes or no")
    elif rejected and not row["reason"]:
        findings.refuse(f"{row.where}, reason", "why the piece was rejected", "an empty cell", "write the reason")
    elif row["reason"] and not rejected:
        findings.warn(row.where, f"the reason {row['reason']!r} stands with a piece that was not rejected")
    if findings.refused > before:
        return None
    known = tuple((part, value) for part, value in trim.items() if value is not None)
    return TriedPiece(name, size, row["piece"], known, widening, rejected, row["reason"])


def _figure(row: Row, column: str, most: float, findings: Findings) -> float | None:
    """A measured figure; None where the cell is blank, or cannot be read."""
    if not row[column]:
        return None
    try:
        value = float(decimal(row[column], "a measured figure", example="-1.5"))
    except ValueFault as fault:
        findings.refuse(f"{row.where}, {column}", fault.expected, fault.found, fault.remedy)
        return None
    if abs(value) > most:
        findings.refuse(f"{row.where}, {column}", f"a figure from -{most:g} to {most:g}", f"{value:g}", "correct it")
        return None
    return value
