"""Measured directions of most stretch, from a table that the job file names: they take the place of what was drawn.

Columns `material,zone,stretch_deg` and, if known, `in_doubt` (yes or no). A material is a hide, a leather (all its
hides) or a roll; zone "" stands for all zones. Later lines prevail over earlier ones. Angles count from the x axis
of the hide's drawing, or from along the roll.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nest.job.files import Source
from nest.job.findings import Findings, listed
from nest.job.table import Row, read_table
from nest.job.values import decimal
from nest.stock.material import Hide, Leather, Roll

COLUMNS = ("material", "zone", "stretch_deg")
DOUBT_COLUMN = "in_doubt"
_DOUBT = {"": False, "no": False, "false": False, "yes": True, "true": True}


@dataclass(frozen=True, slots=True)
class MeasuredStretch:
    """One line of the table."""

    where: str
    material: str
    zone: str
    stretch_deg: float
    in_doubt: bool


def read_measured_stretch(source: Source, findings: Findings) -> tuple[MeasuredStretch, ...]:
    """Every line of the table that can be used; the others are problems."""
    rows = read_table(source, COLUMNS, (DOUBT_COLUMN,), findings)
    return tuple(line for row in rows or () if (line := _line(row, findings)) is not None)


def _line(row: Row, findings: Findings) -> MeasuredStretch | None:
    angle = row.value("stretch_deg", lambda text: float(decimal(text, "an angle")), findings)
    if angle is None:
        return None
    doubt = _DOUBT.get(row[DOUBT_COLUMN].casefold())
    if doubt is None:
        row.refuse(DOUBT_COLUMN, "yes or no", "correct it", findings)
        return None
    if not row["material"]:
        row.refuse("material", "a hide, a leather or a roll", "fill it in", findings)
        return None
    return MeasuredStretch(row.where, row["material"], row["zone"], angle % 180.0, doubt)


def with_measured_stretch(
    lines: Sequence[MeasuredStretch], hides: Sequence[Hide], rolls: Sequence[Roll], leathers: Sequence[Leather],
    findings: Findings,
) -> tuple[tuple[Hide, ...], tuple[Roll, ...]]:
    """Hides and rolls with measured directions in place of drawn ones; what fits nothing is a problem."""
    hides, rolls = list(hides), list(rolls)
    names = [*(hide.hide_id for hide in hides), *(roll.roll_id for roll in rolls), *(one.name for one in leathers)]
    for line in lines:
        if line.material not in names:
            findings.refuse_name(f"{line.where}, material", "a hide, a leather or a roll of the job",
                                 line.material, names)
            continue
        if line.in_doubt:
            of = f"{line.material}, {line.zone}" if line.zone else line.material
            findings.warn(line.where, f"the stretch of {of} is in doubt by its test; give its styles leave for bias")
        for at, roll in enumerate(rolls):
            if roll.roll_id == line.material:
                if line.zone:
                    findings.refuse(f"{line.where}, zone", "no zone for a roll", repr(line.zone), "leave it empty")
                rolls[at] = replace(roll, measured_stretch_deg=line.stretch_deg)
        mine = [at for at, hide in enumerate(hides) if line.material in (hide.hide_id, hide.leather)]
        zones = sorted({zone.zone_id for at in mine for zone in hides[at].zones})
        if line.zone and mine and line.zone not in zones:
            findings.refuse(
                f"{line.where}, zone", f"a zone of {line.material}", repr(line.zone), f"use {listed(zones)}"
            )
        for at in mine:
            hides[at] = replace(hides[at], zones=tuple(
                replace(zone, stretch_deg=line.stretch_deg) if line.zone in ("", zone.zone_id) else zone
                for zone in hides[at].zones
            ))
    return tuple(hides), tuple(rolls)
