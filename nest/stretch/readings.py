"""Readings of a stretch test from a table: `material,zone,angle_deg,extension_percent` and, if known, `strip`."""

from dataclasses import dataclass
from pathlib import Path

from nest.errors import InputProblems, Problem
from nest.job.files import Source, checked_source
from nest.job.findings import Findings
from nest.job.table import read_table
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
    path = Path(path)
    findings = Findings()
    source = checked_source(Source(path, path.name), path.name, findings)
    rows = source and read_table(source, ("material", "angle_deg", "extension_percent"), ("zone", "strip"), findings)
    if rows is not None and not rows and not findings.problems:
        findings.refuse(path.name, "at least three readings", "an empty table", "fill in angles and extensions")
    heaps: dict[Tested, list[Reading]] = {}
    for row in rows or ():
        if not row["material"]:
            findings.refuse(f"{row.where}, material", "the name of what was tested", "an empty cell", "fill it in")
            continue
        values = {}
        for column, low, high in (("angle_deg", -360.0, 360.0), ("extension_percent", -MOST_PERCENT, MOST_PERCENT)):
            try:
                values[column] = float(decimal(row[column], "a number"))
            except ValueFault as fault:
                findings.refuse(f"{row.where}, {column}", fault.expected, fault.found, fault.remedy)
                continue
            if not low <= values[column] <= high:
                findings.refuse(
                    f"{row.where}, {column}", f"a value from {low:g} to {high:g}", row[column], "correct it"
                )
        if len(values) == 2:
            heaps.setdefault(Tested(row["material"], row["zone"]), []).append(
                Reading(values["angle_deg"], values["extension_percent"], row["strip"])
            )
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
