"""The two lists that say how far cutting has come: what was cut, and what was spoiled; CSV or XLSX.

What was cut, one row a hide or roll: `material,state` and, where measured, `used,unit`. The state is *cut*, *uncut* or
*withdrawn*; a hide not listed is uncut. Of a roll `used` is the length off it in all, measured from its start; left
empty, its lays are cut as planned. A column `cutter` is read by the ledger alone.

The list of what was spoiled is that of `nest.begun.spoiled`.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import fsum
from pathlib import Path

from geometry.polygon import area as ring_area
from nest.begun.part import cut_part, lays_within, off_roll_mm
from nest.begun.spoiled import read_spoiled
from nest.errors import PlanProblem
from nest.job.files import Source, checked_source
from nest.job.findings import Findings, meant
from nest.job.table import Row, read_table_at
from nest.job.values import AREA_DOUBT, AREA_REFUSAL, AREA_UNITS, area_mm2, positive, two_readings
from nest.plan import Begun, CutHide, Plan, UsedRoll
from nest.units import MM_PER_LENGTH_UNIT

STATES = ("cut", "uncut", "withdrawn")
SHRUNK = 0.95
"""A length off a roll is no less than this share of what was off it before."""


def read_begun(
    plan: Plan, cut: Path | str | None, spoiled: Path | str | None = None, *, withdrawn: tuple[str, ...] = (),
    rejects_cover: bool = False, again: Sequence[Plan] = (),
) -> tuple[Begun, tuple[str, ...]]:
    """How far the cutting of a plan has come, by its lists, and warnings.

    What the plan knows to be cut stays cut, and what is withdrawn stays so, listed again or not. The list of what was
    spoiled counts from the beginning; without one the plan's own stands.

    again : what was cut again of the plan, for a list of outcomes.

    Raises
    ------
    InputProblems
        Everything that is wrong with either list.
    PlanProblem
        As `nest.begun.part.cut_part`.
    """
    findings = Findings()
    old = plan.begun
    hides = {one.hide_id: one for one in old.hides}
    rolls = {one.roll_id: one for one in old.rolls}
    gone = dict.fromkeys((*old.withdrawn, *withdrawn))
    for hide_id in withdrawn:
        if hide_id not in {hide.hide_id for hide in plan.hides}:
            known = [hide.hide_id for hide in plan.hides if hide.hide_id not in hides]
            findings.refuse_name(f"withdrawn hide {hide_id}", "a hide of the plan", hide_id, known)
    if cut is not None:
        _read_cut(plan, cut, hides, rolls, gone, findings)
    for hide_id in gone:
        if hide_id in hides:
            findings.refuse(
                f"hide {hide_id}", "a hide that is not cut", "one that is cut and withdrawn", "list it as one of both"
            )
    begun = replace(
        old, hides=tuple(hides.values()), rolls=tuple(rolls.values()), withdrawn=tuple(gone),
        rejects_cover=rejects_cover,
    )
    if spoiled is not None:
        path = Path(spoiled)
        source = checked_source(Source(path, path.name), path.name, findings)
        part = None if findings.problems else cut_part(plan, begun)
        begun = replace(begun, spoiled=read_spoiled(plan, part, source, again, findings))
    findings.raise_problems()
    return cut_part(plan, begun).begun, tuple(findings.warnings)


def _read_cut(plan: Plan, path: Path | str, hides, rolls, gone, findings: Findings) -> None:
    """Fill in hides, rolls and what is withdrawn from the list of what was cut."""
    rows = read_table_at(path, ("material", "state"), ("used", "unit", "cutter"), findings)
    stock, racks = {hide.hide_id: hide for hide in plan.hides}, {roll.roll_id: roll for roll in plan.rolls}
    seen: dict[str, str] = {}
    for row in rows or ():
        name, state = row["material"], row["state"].casefold()
        if name not in stock and name not in racks:
            if name in gone and state in ("", "withdrawn"):
                continue
            row.refuse("material", "a hide or a roll of the plan", meant(name, [*stock, *racks]), findings)
        elif state not in STATES:
            row.refuse("state", "cut, uncut or withdrawn", "correct it", findings)
        elif name in seen:
            findings.refuse(f"{row.where}, material", "each hide and roll once", f"{name} again", f"see {seen[name]}")
        elif name in stock:
            _cut_hide(plan, stock[name], state, row, hides, gone, findings)
        else:
            _used_roll(plan, racks[name], state, row, rolls, findings)
        seen.setdefault(name, row.where)


def _cut_hide(plan: Plan, hide, state: str, row: Row, hides, gone, findings: Findings) -> None:
    name = hide.hide_id
    if state != "cut":
        if name in hides:
            findings.refuse(f"{row.where}, state", f"cut, as the plan has hide {name}", repr(state), "correct it")
        elif row["used"]:
            row.refuse("used", "no area, for the hide is not cut", "remove it", findings)
        elif state == "withdrawn":
            gone[name] = None
        return
    if not any(layout.hide_id == name and layout.placed for layout in plan.layouts):
        findings.refuse(
            f"{row.where}, material", "a hide that the plan cuts something from", f"{name}, which it leaves whole",
            "correct the id, or list it as withdrawn if it was cut for something else",
        )
        return
    area = None
    if row["used"]:
        key = "unit" if row["unit"] not in AREA_UNITS else "used"
        area = row.value(key, lambda _: area_mm2(row["used"], row["unit"]), findings)
        if area is None or not _sound_area(plan, hide, area, row, findings):
            return
    hides[name] = CutHide(name, area)


def _sound_area(plan: Plan, hide, area: float, row: Row, findings: Findings) -> bool:
    """Whether a hide may have this area: about what it measured before, and no less than its pieces cover."""
    where, found = f"{row.where}, used", f"{area / 1e6:.2f} m²"
    off = area / hide.measured_area_mm2 - 1.0
    before = f"the {hide.measured_area_mm2 / 1e6:.2f} m² that hide {hide.hide_id} measured"
    if abs(off) > AREA_REFUSAL:
        findings.refuse(where, f"about {before}", found, "correct the area or its unit")
        return False
    rough = {piece.piece_id: ring_area(piece.cut_outline) for piece in plan.pieces}
    covered = fsum(rough[one.piece_id] for layout in plan.layouts if layout.hide_id == hide.hide_id
                  for one in layout.placed)
    if area < covered:
        least = f"at least the {covered / 1e6:.2f} m² that the pieces cut from hide {hide.hide_id} cover"
        findings.refuse(where, least, found, "correct the area or its unit")
        return False
    if abs(off) > AREA_DOUBT:
        findings.warn(where, f"{found}, {abs(off):.0%} {'more' if off > 0.0 else 'less'} than {before}; check it")
    return True


def _used_roll(plan: Plan, roll, state: str, row: Row, rolls, findings: Findings) -> None:
    name = roll.roll_id
    before = rolls.get(name)
    length = None if before is None else before.length_mm
    if row["used"]:
        unit = row["unit"] or "m"
        if unit not in MM_PER_LENGTH_UNIT:
            known = ", ".join(MM_PER_LENGTH_UNIT)
            findings.refuse(f"{row.where}, unit", f"a length unit ({known})", repr(unit), "give the unit of the length")
            return
        length = row.value("used", lambda text: positive(text, "a length") * MM_PER_LENGTH_UNIT[unit], findings)
        if length is None:
            return
        if state == "uncut":
            row.refuse("used", "no length, for the roll is not cut", "remove it", findings)
            return
        if not _sound_length(plan, roll, length, state, row, findings):
            return
    elif state == "cut" and {True, False} == {
        lay.lay_id in plan.begun.lays for lay in plan.lays if lay.roll_id == name
    }:
        # The same list, used once more, must not take a lay for cut that was planned since.
        findings.refuse(
            f"{row.where}, used", f"the length off roll {name} in all, for lays were planned on it since",
            "an empty cell", "give the length",
        )
        return
    if state == "withdrawn":
        rolls[name] = UsedRoll(name, length or 0.0, withdrawn=True)
    elif state == "cut":
        # Without a length all its lays are cut; more that was measured before stays.
        rolls[name] = UsedRoll(name, length if row["used"] else max(length or 0.0, off_roll_mm(roll, plan.lays)))
    elif before is not None:
        findings.refuse(f"{row.where}, state", f"cut, as the plan has roll {name}", repr(state), "correct it")


def _sound_length(plan: Plan, roll, length: float, state: str, row: Row, findings: Findings) -> bool:
    """Whether this length may be off a roll: no more than it holds, no less than what is cut of it needs."""
    where, found = f"{row.where}, used", f"{length / 1e3:g} m"

    def refuse(expected: str, remedy: str = "correct the length or its unit", what: str = found) -> bool:
        findings.refuse(where, expected, what, remedy)
        return False

    if length > roll.length_mm:
        return refuse(f"at most the {roll.length_mm / 1e3:g} m that roll {roll.roll_id} holds")
    readings = two_readings(row["used"])
    if readings and 1e3 * length <= roll.length_mm:
        return refuse("a length that can be read one way", "write one of both",
                      f"{row['used']!r}, which may mean {readings[0]} or {readings[1]}")
    before = next((one.length_mm or 0.0 for one in plan.begun.rolls if one.roll_id == roll.roll_id), 0.0)
    if length < SHRUNK * before:
        return refuse(f"at least the {before / 1e3:g} m that were off roll {roll.roll_id} before")
    lays = [lay for lay in plan.lays if lay.roll_id == roll.roll_id]
    try:
        cut = lays_within(plan, roll, length)
    except PlanProblem:  # it ends within a ply
        near = min(_ends_of_plies(roll, lays), key=lambda end: abs(end - length))
        return refuse("a length at the end of a ply, for the plies of a lay are cut whole",
                      f"give the length at its end, such as {near / 1e3:g} m")
    if state != "cut" or not lays:
        return True
    if not cut:
        needed = off_roll_mm(roll, lays[:1])
        return refuse(f"about the {needed / 1e3:g} m that lay {lays[0].lay_id} needs; no piece of it lies within less",
                      "correct the length or its unit, or list the roll as uncut")
    whole = next(lay for lay in lays if lay.lay_id == cut[-1].lay_id)
    if cut[-1].plies < whole.plies:
        findings.warn(where, f"{found} hold {cut[-1].plies} of the {whole.plies} plies of lay {whole.lay_id}; the "
                      "others count as not cut")
    if len(cut[-1].placed) < len(whole.placed):
        needed = off_roll_mm(roll, (*cut[:-1], whole))
        findings.warn(where, f"{found} hold {len(cut[-1].placed)} of the {len(whole.placed)} pieces of lay "
                      f"{whole.lay_id}, which needs {needed / 1e3:g} m; the others count as not cut")
    return True


def _ends_of_plies(roll, lays) -> list[float]:
    """Lengths off a roll at which a ply of its lays ends."""
    ends, before = [], 0.0
    for lay in lays:
        ends += [before + off_roll_mm(roll, (replace(lay, plies=plies),)) for plies in range(1, lay.plies + 1)]
        before = ends[-1]
    return ends
