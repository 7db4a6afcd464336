"""Closed outlines of a drawing by layer: what most tests of the reader look at."""

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from nest.job.dxf import read_drawing, refuse_open
from nest.job.files import Source
from nest.job.findings import Findings


def read_outlines(
    path: Path | str, layers: Iterable[str] | None = None, unit: str | None = None
) -> dict[str, tuple[np.ndarray, ...]]:
    """Closed outlines of a DXF file by layer, as (n, 2) arrays in mm, not closed, as drawn.

    `unit` (a key of MM_PER_LENGTH_UNIT) is needed for a drawing that states none.

    Raises
    ------
    InputProblems
        If the drawing cannot be read, or a path on one of the layers stays open.
    """
    findings = Findings()
    path = Path(path)
    drawing = read_drawing(Source(path, path.name), unit, findings, layers)
    outlines: dict[str, list[np.ndarray]] = {}
    for item in drawing.paths if drawing else ():
        if item.closed:
            outlines.setdefault(item.layer, []).append(item.points)
    for layer in {path.layer for path in drawing.paths} if drawing else ():
        refuse_open(drawing, drawing.paths_on(layer), findings)
    findings.raise_problems()
    return {layer: tuple(rings) for layer, rings in outlines.items()}
