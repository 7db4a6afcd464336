"""The list of points measured on the table: `point,x,y`, CSV or XLSX, lengths in the table's unit."""

from collections.abc import Sequence
from pathlib import Path

from nest.job.findings import Findings, listed
from nest.job.table import read_table_at
from nest.job.values import ValueFault, decimal
from nest.units import MM_PER_LENGTH_UNIT

LEAST, MOST = 2, 4
"""This many points, no fewer and no more."""

_FURTHEST_MM = 1e5


def read_measured(path: Path | str, unit: str, known: Sequence[str]) -> dict[str, tuple[float, float]]:
    """Measured points by name, mm on the table; `known` are the names on the drawing, `unit` is that of the list.

    Raises
    ------
    InputProblems
        Everything that is wrong with the list.
    """
    findings = Findings()
    rows = read_table_at(path, ("point", "x", "y"), (), findings)
    found: dict[str, tuple[float, float]] = {}
    for row in rows or ():
        name = row["point"].strip().upper()
        if name not in known:
            row.refuse("point", f"{listed(known)}, as on the drawing", "correct it", findings)
        elif name in found:
            findings.refuse(f"{row.where}, point", "each point once", f"{name} again", "leave one of the two out")
        else:
            x, y = (row.value(axis, lambda text: _length(text, unit), findings) for axis in ("x", "y"))
            found[name] = (x or 0.0, y or 0.0)
    if rows is not None and not findings.problems and not LEAST <= len(found) <= MOST:
        remedy = "measure further points" if len(found) < LEAST else "leave some out"
        findings.refuse(Path(path).name, f"{LEAST} to {MOST} points", str(len(found)), remedy)
    findings.raise_problems()
    return found


def _length(text: str, unit: str) -> float:
    """A coordinate in mm."""
    length = float(decimal(text, "a coordinate")) * MM_PER_LENGTH_UNIT[unit]
    if abs(length) > _FURTHEST_MM:
        raise ValueFault(f"a coordinate of at most {_FURTHEST_MM / MM_PER_LENGTH_UNIT[unit]:g} {unit}", repr(text))
    return length
