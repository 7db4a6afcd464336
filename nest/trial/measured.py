"""The table of a crimping trial: one row a piece tried, as CSV or XLSX.

Columns: size, piece (any name that tells it from the others of its size), and as far as measured: style (may be left
out when the job has one), toe_mm, side_mm or left_mm and right_mm, back_mm: trim that is left beyond the template line
after crimping, below 0 where the piece does not reach the line; widening_percent: how much wider it came out of the
press; rejected (yes or no) and the reason. A cell left blank was not measured. Where the table says of any piece of a
style whether it was rejected, a measured one without a word was not; where it says so of none, nothing is known of
rejects. The date of pressing and the lot may stand there too, for the record of trim (`nest.drift`). A row with nothing
in it but its size and piece is left out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from nest.job.findings import Findings
from nest.job.job import Job
from nest.job.table import Row, read_table_at
from nest.outcomes import Outcome, read_outcomes
from nest.outcomes.figures import COLUMNS, day_in, figures_in
from nest.pieces.piece import Part
from nest.pieces.sizing import SizeError, size_label, size_system
from nest.plan import Plan

NEEDED = ("size", "piece")
OPTIONAL = ("style", *COLUMNS, "rejected", "reason", "date", "lot")
_WORDS = {"": None, "no": False, "n": False, "0": False, "false": False,
          "yes": True, "y": True, "1": True, "true": True, "x": True}


@dataclass(frozen=True, slots=True)
class TriedPiece:
    """One piece of a trial: trim left by part where measured (mm; the lesser of two sides), widening in percent.

    rejected : None where it is not known. day : ISO 8601 date of pressing, lot : of the leather, "" where not said.
    """

    style: str
    size: str
    piece: str
    trim_mm: tuple[tuple[Part, float], ...]
    widening_percent: float | None
    rejected: bool | None
    reason: str
    day: str = ""
    lot: str = ""

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
    path, findings = Path(path), Findings()
    rows = read_table_at(path, NEEDED, OPTIONAL, findings)
    if rows == ():
        findings.refuse(path.name, "at least one piece", "none", "fill in one row for each piece tried")
    pieces: list[TriedPiece] = []
    seen: dict[tuple, str] = {}
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
            path.name, "measured figures, or whether pieces were rejected", "rows without any", "fill in the table"
        )
    findings.raise_problems()
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
        findings.refuse_name(f"{row.where}, style", "a style of the job file", name, styles)
    else:
        try:
            size = size_label(size_system(styles[name].grading.system), size)
        except SizeError as error:
            findings.refuse(f"{row.where}, size", error.expected, error.found, "correct the size")
    if not row["piece"]:
        row.refuse("piece", "a name or number", "number the pieces", findings)
    known, widening = figures_in(row, findings)
    rejected = _WORDS.get(row["rejected"].casefold())
    if row["rejected"].casefold() not in _WORDS:
        row.refuse("rejected", "yes or no", "write yes or no", findings)
    elif rejected and not row["reason"]:
        row.refuse("reason", "why the piece was rejected", "write the reason", findings)
    elif row["reason"] and not rejected:
        findings.warn(row.where, f"the reason {row['reason']!r} stands with a piece that was not rejected")
    pressed = day_in(row, findings)
    if findings.refused > before:
        return None
    return TriedPiece(name, size, row["piece"], known, widening, rejected, row["reason"], pressed, row["lot"])


def tried_in(outcomes: Iterable[Outcome], job: Job) -> tuple[TriedPiece, ...]:
    """The pieces of a list of outcomes as those of a trial; of styles that the job no longer has none."""
    styles = {style.name for style in job.styles}
    return tuple(
        TriedPiece(
            one.piece.style, one.piece.size, f"{one.hide_id}-{one.number}", one.trim_mm, one.widening_percent,
            one.failed, str(one.reason) if one.failed else "",
        )
        for one in outcomes if one.piece.style in styles
    )


def read_trial_outcomes(
    path: Path | str, job: Job, plan: Plan, again: Sequence[Plan] = ()
) -> tuple[tuple[TriedPiece, ...], tuple[str, ...]]:
    """As `read_trial`, of a list of outcomes of a plan; `again` as `nest.outcomes.read_outcomes`.

    Raises
    ------
    InputProblems
        Every problem found in it, or if the job has none of its styles.
    """
    findings = Findings()
    outcomes = read_outcomes(plan, path, again, findings)
    pieces = tried_in(outcomes, job)
    if not pieces and not findings.problems:
        findings.refuse(Path(path).name, "outcomes of a style of the job", "none", "name the job of that plan")
    findings.raise_problems()
    return pieces, tuple(findings.warnings)
