"""Figures measured on crimped pieces, as a row of a table holds them: trim left by part, widening, day of pressing."""

from nest.job.findings import Findings
from nest.job.table import Row
from nest.job.values import day, decimal
from nest.pieces.piece import Part

_SIDES = ("side_mm", "left_mm", "right_mm")
COLUMNS = ("toe_mm", *_SIDES, "back_mm", "widening_percent")

MOST_MM = 100.0
"""Trim or shortage beyond this is a slip of the pen."""

MOST_WIDENING = 30.0


def figures_in(row: Row, findings: Findings) -> tuple[tuple[tuple[Part, float], ...], float | None]:
    """Trim left by part where measured (mm; of two sides the lesser), and widening in percent or None."""
    toe, back = (_figure(row, f"{part}_mm", MOST_MM, findings) for part in (Part.TOE, Part.BACK))
    sides = [side for column in _SIDES if (side := _figure(row, column, MOST_MM, findings)) is not None]
    trim = {Part.TOE: toe, Part.SIDE: min(sides, default=None), Part.BACK: back}
    widening = _figure(row, "widening_percent", MOST_WIDENING, findings)
    return tuple((part, value) for part, value in trim.items() if value is not None), widening


def _figure(row: Row, column: str, most: float, findings: Findings) -> float | None:
    """A measured figure; None where the cell is blank, or cannot be read."""
    if not row[column]:
        return None
    value = row.value(column, lambda text: float(decimal(text, "a measured figure", example="-1.5")), findings)
    if value is not None and abs(value) > most:
        findings.refuse(f"{row.where}, {column}", f"a figure from -{most:g} to {most:g}", f"{value:g}", "correct it")
        return None
    return value


def day_in(row: Row, findings: Findings) -> str:
    """The date of pressing, ISO 8601; "" where the cell is blank, or cannot be read."""
    return row.value("date", lambda text: day(text, "the date of pressing") if text else "", findings) or ""
