"""Readings of a stretch test from a table: `material,zone,angle_deg,extension_percent` and, if known, `strip`."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from nest.errors import InputProblems, Problem
from nest.job.findings import Findings
from nest.job.table import read_table_at
from nest.job.values import ValueFault, decimal
from nest.stretch.fit import Reading, Stretch, fit_stretch

MOST_PERCENT = 500.0
"""An extension beyond this is no reading of leather or knitted goods."""


@dataclass(frozen=True, slots=True)
class Tested:
    """What was tested: a hide, a roll or a leather by name, and the zone of the hide or leather ("" for all of it)."""

    material: str
    zone: str

    def __str__(self) -> str:
        return f"{self.material}, {self.zone}" if self.zone else self.material


def read_stretch_test(path: Path | str, reading_error_percent: float | None = None) -> dict[Tested, Stretch]:
    """Read a table of readings and fit each material and zone in it, in the table's sequence.

    Angles count from the material's x axis: that of the hide's drawing, or along the roll. CSV or XLSX.

    Raises
    ------
    InputProblems
        Everything that is wrong with the table, reported together.
    """
    path, findings = Path(path), Findings()
    rows = read_table_at(path, ("material", "angle_deg", "extension_percent"), ("zone", "strip"), findings)
    if rows is not None and not rows and not findings.problems:
        findings.refuse(path.name, "at least three readings", "an empty table", "fill in angles and extensions")
    heaps: dict[Tested, list[Reading]] = {}
    for row in rows or ():
        if not row["material"]:
            row.refuse("material", "the name of what was tested", "fill it in", findings)
            continue
        angle = row.value("angle_deg", partial(_within, most=360.0), findings)
        extension = row.value("extension_percent", partial(_within, most=MOST_PERCENT), findings)
        if angle is not None and extension is not None:
            heaps.setdefault(Tested(row["material"], row["zone"]), []).append(Reading(angle, extension, row["strip"]))
    findings.raise_problems()
    fitted, problems = {}, []
    for tested, readings in heaps.items():
        try:
            fitted[tested] = fit_stretch(readings, reading_error_percent)
        except ValueError as error:
            expected, _, found = str(error).removeprefix("expected ").partition(", found ")
            problems.append(Problem(f"{path.name}, {tested}", expected, found, "test strips at other angles too"))
    if problems:
        raise InputProblems(problems)
    return fitted


def _within(text: str, most: float) -> float:
    """A number from -most to most."""
    value = float(decimal(text, "a number"))
    if not abs(value) <= most:
        raise ValueFault(f"a value from {-most:g} to {most:g}", text)
    return value
