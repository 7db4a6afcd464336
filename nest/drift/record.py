"""The record of trim: one row a piece and part, from lists of outcomes and trials, for as long as it is kept.

A row names the piece that was measured by its `id`, which follows from the plan's name, the hide, the number and the
pose, so that a list read twice adds nothing, also where the rest was planned again in between. It holds the allowance
that the piece was cut with, too, so that trim left can be compared after the allowance was changed.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from nest.errors import PlanProblem
from nest.job.findings import Findings, listed
from nest.job.job import Job
from nest.job.table import Row, read_table_at
from nest.job.values import ValueFault, day, decimal
from nest.outcomes import Outcome
from nest.outcomes.figures import MOST_MM
from nest.pieces.piece import Foot, Part
from nest.plan import Plan
from nest.trial.effective import allowance_left, effective_allowance, reach_of
from nest.trial.measured import TriedPiece

COLUMNS = (
    "date", "plan", "id", "style", "size", "side", "part", "leather", "lot", "hide", "piece", "allowance_mm", "trim_mm",
)
_NEEDED = tuple(name for name in COLUMNS if name not in ("plan", "side", "lot", "hide", "piece"))
_DIGITS = 10


@dataclass(frozen=True, slots=True)
class Measured:
    """Trim left at one part of one piece, mm.

    day : ISO 8601 date of pressing. id : of the piece. side : left or right, "" where the vamp serves both feet, or it
    is not known. allowance_mm : in effect when it was cut, as `nest.trial.effective` has it.
    """

    day: str
    plan: str
    id: str
    style: str
    size: str
    side: str
    part: Part
    leather: str
    lot: str
    hide: str
    piece: str
    allowance_mm: float
    trim_mm: float

    @property
    def key(self) -> tuple[str, Part]:
        """What no other row has."""
        return self.id, self.part

    @property
    def cells(self) -> tuple[str | float, ...]:
        """The row as the record holds it."""
        return (self.day, self.plan, self.id, self.style, self.size, self.side, str(self.part), self.leather, self.lot,
                self.hide, self.piece, self.allowance_mm, self.trim_mm)


def of_outcomes(plan: Plan, outcomes: Iterable[Outcome], pressed: str = "") -> tuple[Measured, ...]:
    """What was measured of a plan's pieces; `pressed` is the day of those whose list does not say.

    Raises
    ------
    PlanProblem
        If the day of one is not known.
    """
    styles = {style.name: style for style in plan.styles}
    hides = {hide.hide_id: hide for hide in plan.hides}
    found = []
    for one in outcomes:
        if not one.trim_mm:
            continue
        what = f"piece {one.number} of hide {one.hide_id}"
        on = _known_day(one.day or pressed, what)
        style, hide = styles[one.piece.style], hides[one.hide_id]
        allowances = style.allowances.for_size(one.piece.size)
        # an older plan holds no templates: then the side's allowance is taken as it is given
        reach = next((reach_of(each) for each in style.templates if each.size == one.piece.size), 0.0)
        pose = one.pose
        name = _id(plan.name, one.hide_id, one.number, one.piece.piece_id, pose.x, pose.y, pose.heading_deg)
        side = "" if one.piece.foot is Foot.EITHER else str(one.piece.foot)
        for part, trim in one.trim_mm:
            allowance = round(allowance_left(allowances, part, style.widening_percent, reach), 3)
            found.append(Measured(
                on, plan.name, name, style.name, one.piece.size, side, part, style.leather, hide.lot, one.hide_id,
                str(one.number), allowance, trim,
            ))
    return tuple(found)


def of_trial(job: Job, pieces: Iterable[TriedPiece], pressed: str = "") -> tuple[Measured, ...]:
    """What was measured in a trial; arguments and errors as above."""
    styles = {style.name: style for style in job.styles}
    found = []
    for one in pieces:
        if not one.trim_mm:
            continue
        style, on = styles[one.style], _known_day(one.day or pressed, f"piece {one.piece} of size {one.size}")
        name = _id("trial", on, one.style, one.size, one.piece)
        for part, trim in one.trim_mm:
            allowance = round(effective_allowance(style, one.size, part, style.widening_percent), 3)
            found.append(Measured(
                on, "trial", name, one.style, one.size, "", part, style.leather, one.lot, "", one.piece, allowance,
                trim,
            ))
    return tuple(found)


def with_more(known: Sequence[Measured], more: Iterable[Measured]) -> tuple[tuple[Measured, ...], int, int]:
    """The record with more rows, by date; how many were added, and how many it held already.

    Raises
    ------
    PlanProblem
        If the record holds another figure for a piece that is measured again.
    """
    held = {one.key: one for one in known}
    added, again = [], 0
    for one in more:
        old = held.get(one.key)
        if old is None:
            held[one.key] = one
            added.append(one)
        elif abs(old.trim_mm - one.trim_mm) < 1e-9:
            again += 1
        else:
            where = f"hide {one.hide}, piece {one.piece}" if one.hide else f"size {one.size}, piece {one.piece}"
            raise PlanProblem(
                f"{where}: the record has {old.trim_mm:g} mm at the {one.part} of it (id {one.id}), the list now says "
                f"{one.trim_mm:g} mm; correct whichever is wrong. Nothing was added."
            )
    return tuple(sorted((*known, *added), key=lambda one: (one.day, one.plan, one.hide))), len(added), again


def read_record(path: Path | str) -> tuple[Measured, ...]:
    """The record at `path`.

    Raises
    ------
    InputProblems
        Everything that is wrong with it, rows that are there twice among it.
    """
    findings = Findings()
    rows = read_table_at(path, _NEEDED, COLUMNS, findings)
    found: list[Measured] = []
    seen: dict[tuple[str, Part], str] = {}
    for row in rows or ():
        one = _measured(row, findings)
        if one is None:
            continue
        if one.key in seen:
            findings.refuse(f"{row.where}, id", "each part of a piece once", f"the {one.part} of {one.id} again",
                            f"see {seen[one.key]}")
        seen[one.key] = row.where
        found.append(one)
    findings.raise_problems()
    return tuple(found)


def _measured(row: Row, findings: Findings) -> Measured | None:
    before = findings.refused
    on = row.value("date", lambda text: day(text, "the date of pressing"), findings)
    allowance, trim = (row.value(name, _figure, findings) for name in ("allowance_mm", "trim_mm"))
    if row["part"] not in list(Part):
        row.refuse("part", listed(Part), "correct it", findings)
    if row["side"] not in ("", "left", "right"):
        row.refuse("side", "left, right or an empty cell", "correct it", findings)
    for name in ("id", "style", "size", "leather"):
        if not row[name]:
            row.refuse(name, "a name", "fill it in", findings)
    if findings.refused > before or on is None or allowance is None or trim is None:
        return None
    names = ("plan", "id", "style", "size", "leather", "lot", "hide", "piece")
    return Measured(
        day=on, side=row["side"], part=Part(row["part"]), allowance_mm=allowance, trim_mm=trim,
        **{name: _plain(row[name]) for name in names},
    )


def _figure(text: str) -> float:
    value = float(decimal(text, "a figure in mm", example="9.5"))
    if abs(value) > MOST_MM:
        raise ValueFault(f"a figure from -{MOST_MM:g} to {MOST_MM:g}", text)
    return value


def _plain(text: str) -> str:
    """A cell without the apostrophe that keeps a spreadsheet from taking it for a formula."""
    return text[1:] if text.startswith("'") else text


def _known_day(text: str, what: str) -> str:
    if not text:
        raise PlanProblem(f"{what}: its day of pressing is not known; fill in the column date, or give --day.")
    return text


def _id(*what: object) -> str:
    return sha256("|".join(map(str, what)).encode()).hexdigest()[:_DIGITS]
