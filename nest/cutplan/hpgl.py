"""Marks and cuts in HP-GL, for older tables: pen 2 marks, pen 1 cuts, pen 3 punches, in the order of the work.

HP-GL (published reference): coordinates are whole plotter units of 0.025 mm; IN initialises, SP chooses a pen, PU
lifts and moves, PD draws; every command ends with a semicolon. Rounding moves a point by at most 0.0125 mm an axis.
"""

import os

import numpy as np

from nest.atomic import atomic_path
from nest.cutplan.path import CutPath, Mark
from nest.cutplan.work import Work
from nest.job.cutting_table import CuttingTable, NumberTool

UNITS_PER_MM = 40
LEAST_UNIT, MOST_UNIT = -(2**15), 2**15 - 1
"""Coordinates that the reference guarantees: whole numbers of 16 bits."""
CUT_PEN, MARK_PEN, PUNCH_PEN = 1, 2, 3
_POINTS_A_COMMAND = 32
"""Old buffers are short: a long line is drawn by several commands."""


def write_work_hpgl(work: Work, path: str | os.PathLike) -> None:
    """Write the work to `path`, atomically. Raises PlanProblem if its folder does not exist."""
    with atomic_path(path) as part:
        part.write_text(hpgl_text(work), encoding="ascii", newline="\n")


def hpgl_text(work: Work) -> str:
    """The work as HP-GL; lead-ins, overcut and ways of a knife are drawn, no reference and no text;
    the head comes home."""
    commands, held = ["IN"], 0
    for step in work.steps:
        pen = _pen(step, work.table)
        if pen != held:
            commands.append(f"SP{pen}")
            held = pen
        for line in step.strokes(work.table.overcut_mm):
            commands += _drawn(line)
    return ";\n".join([*commands, "PU0,0", "SP0"]) + ";\n"


def _pen(step: Mark | CutPath, table: CuttingTable) -> int:
    if not isinstance(step, Mark):
        return CUT_PEN
    return PUNCH_PEN if step.use == "number" and table.number is NumberTool.PUNCH else MARK_PEN


def _drawn(points) -> list[str]:
    """Move with the pen up to the first point, then draw to all others; no point twice in a row."""
    units = np.rint(np.asarray(points, dtype=np.float64) * UNITS_PER_MM).astype(np.int64)
    keep = np.ones(len(units), dtype=bool)
    keep[1:] = np.any(units[1:] != units[:-1], axis=1)
    units = units[keep]
    told = [f"{x},{y}" for x, y in units]
    strokes = [told[i : i + _POINTS_A_COMMAND] for i in range(1, len(told), _POINTS_A_COMMAND)]
    return [f"PU{told[0]}", *(f"PD{','.join(stroke)}" for stroke in strokes)]
