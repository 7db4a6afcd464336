"""The list of outcomes: one row a piece, `hide,piece,outcome`, as CSV or XLSX.

The outcome is *good*, *pleats*, *marks*, *bonding*, *crack*, *short* or *other*; left empty it is not known. A row may
also hold what was measured (`toe_mm`, `side_mm` or `left_mm` and `right_mm`, `back_mm`, `widening_percent`), the `date`
of pressing, and whether the `reinforcement` of a vamp that failed was *lost* (the rule) or *kept*. Where it names
`style`, `size` or `side` they must be those of the plan, which tells a list of another plan. In place of a number
*others* stands for all pieces of a hide that have no row of their own.
"""

from collections.abc import Sequence
from pathlib import Path

from nest.job.files import Source
from nest.job.findings import Findings, listed, meant
from nest.job.table import Row, heading, read_table_at
from nest.job.values import whole
from nest.outcomes.figures import COLUMNS, day_in, figures_in
from nest.outcomes.outcome import Outcome, Reason
from nest.pieces.piece import Foot, Part
from nest.plan import Plan

NEEDED = ("hide", "piece", "outcome")
CHECKED = ("style", "size", "side")
OPTIONAL = (*CHECKED, *COLUMNS, "date", "reinforcement", "remark")
OTHERS = "others"

_Cut = dict[str, dict[int, Outcome]]
"""Pieces of a plan by hide and number, with nothing known of them."""


def is_outcome_list(path: Path | str) -> bool:
    """Whether a table is a list of outcomes, by its headings."""
    path = Path(path)
    return {"hide", "piece"} <= set(heading(Source(path, path.name), Findings()))


def read_outcomes(
    plan: Plan, path: Path | str, again: Sequence[Plan] = (), findings: Findings | None = None
) -> tuple[Outcome, ...]:
    """The outcomes in the list at `path`, held against the plan; rows in which nothing is known are left out.

    Parameters
    ----------
    again : what was cut again of the plan, `nest.cutagain`: a piece that was has the place it was cut from last.
    findings : where problems and warnings are noted; without it problems are raised.

    Raises
    ------
    InputProblems
        Everything that is wrong with the list: pieces that are unknown or listed twice among it.
    """
    alone = findings is None
    findings = Findings() if findings is None else findings
    rows = read_table_at(path, NEEDED, OPTIONAL, findings)
    cut = _pieces_of(plan, again)
    seen: dict[tuple[str, int], str] = {}
    rest: dict[str, Row] = {}
    found: list[Outcome] = []
    for row in rows or ():
        if row["hide"] not in cut:
            row.refuse("hide", "a hide that the plan cuts something from", meant(row["hide"], cut), findings)
        elif row["piece"].casefold() == OTHERS:
            _note_rest(row, rest, findings)
        elif (outcome := _outcome(row, cut[row["hide"]], seen, findings)) is not None:
            found.append(outcome)
    for hide_id, row in rest.items():
        reason, pressed = _reason(row, findings), day_in(row, findings)
        for number, one in cut[hide_id].items():
            if (hide_id, number) not in seen:
                found.append(_known(one, reason, day=pressed))
    if rows is not None and not rows:
        findings.refuse(Path(path).name, "at least one row", "none", "fill in a row for each piece")
    if alone:
        findings.raise_problems()
    return tuple(one for one in found if one.reason is not None or one.trim_mm or one.widening_percent is not None)


def _pieces_of(plan: Plan, again: Sequence[Plan]) -> _Cut:
    """Every vamp of a plan by hide and number; what was cut again takes the place of what it was cut for."""
    cut: _Cut = {}
    for one in (plan, *again):
        pieces = {piece.piece_id: piece for piece in one.pieces}
        for layout in one.layouts:
            mine = cut.setdefault(layout.hide_id, {})
            for i, placed in enumerate(layout.placed):
                number = layout.number(i)
                before = mine.get(number)
                pair = placed.pair if one is plan else before.pair if before else 0
                mine[number] = Outcome(layout.hide_id, number, pieces[placed.piece_id], placed.pose, pair, None)
    return {hide_id: mine for hide_id, mine in cut.items() if mine}


def _note_rest(row: Row, rest: dict[str, Row], findings: Findings) -> None:
    if row["hide"] in rest:
        findings.refuse(f"{row.where}, piece", f"{OTHERS} of a hide once", f"{OTHERS} of {row['hide']} again",
                        f"see {rest[row['hide']].where}")
    elif row["outcome"].casefold() not in ("", Reason.GOOD):
        row.refuse("outcome", f"good for {OTHERS}", "give each piece that failed a row of its own", findings)
    elif given := [name for name in (*COLUMNS, *CHECKED) if row[name]]:
        row.refuse(given[0], f"an empty cell for {OTHERS}", "give the piece a row of its own", findings)
    else:
        rest[row["hide"]] = row


def _outcome(
    row: Row, mine: dict[int, Outcome], seen: dict[tuple[str, int], str], findings: Findings
) -> Outcome | None:
    before = findings.refused
    number = row.value("piece", lambda text: whole(text, "the number of a piece", least=1), findings)
    if number is None:
        return None
    if number not in mine:
        last = max(mine)
        which = f"from 1 to {last}" if last == len(mine) else listed(sorted(mine), "or")
        findings.refuse(f"{row.where}, piece", f"a number of hide {row['hide']}, {which}", str(number),
                        "see the drawing of the hide")
        return None
    key = row["hide"], number
    if key in seen:
        findings.refuse(f"{row.where}, piece", "each piece once", f"piece {number} of hide {row['hide']} again",
                        f"see {seen[key]}")
        return None
    seen[key] = row.where
    piece = mine[number].piece
    is_so = {"style": piece.style, "size": piece.size, "side": "" if piece.foot is Foot.EITHER else str(piece.foot)}
    for name, value in is_so.items():
        if row[name] and value and row[name].casefold() != value.casefold():
            row.refuse(name, f"{value}, as the plan has piece {number} of hide {row['hide']}",
                       "correct the row, or name the plan that was cut", findings)
    reason, pressed = _reason(row, findings), day_in(row, findings)
    trim, widening = figures_in(row, findings)
    kept = row["reinforcement"].casefold()
    if kept not in ("", "lost", "kept"):
        row.refuse("reinforcement", "lost or kept", "correct it", findings)
    if findings.refused > before:
        return None
    return _known(mine[number], reason, trim, widening, kept != "kept", pressed)


def _known(
    one: Outcome, reason: Reason | None, trim: tuple[tuple[Part, float], ...] = (), widening: float | None = None,
    backed: bool = True, day: str = "",
) -> Outcome:
    return Outcome(one.hide_id, one.number, one.piece, one.pose, one.pair, reason, trim, widening, backed, day)


def _reason(row: Row, findings: Findings) -> Reason | None:
    text = row["outcome"].casefold()
    if not text:
        return None
    if text not in list(Reason):
        row.refuse("outcome", listed(Reason), "correct it", findings)
        return None
    return Reason(text)
