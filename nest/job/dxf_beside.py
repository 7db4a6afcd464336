"""What a DXF file says or holds beside what is read of it: a base size, paper space, a far origin."""

import re
from collections.abc import Sequence

import numpy as np

from nest.job.drawing import Path
from nest.job.findings import Findings

_BASE_SIZE_TEXT = re.compile(r"(?:sample|base)\s+size\s*[:=]\s*(?P<size>\S.*)", re.I)
"""How a pattern file states the size it is drawn in (ASTM D6673: SAMPLE SIZE, from memory)."""

FAR_MM = 1e5
"""A drawing that lies further than this from its origin gets a warning: a table does not reach there."""


def base_size(document) -> str:
    """The size that a pattern file says it is drawn in; "" where it says none."""
    for space in (document.modelspace(), *document.blocks):
        for text in space.query("TEXT"):
            if match := _BASE_SIZE_TEXT.fullmatch(text.dxf.get("text", "").strip()):
                return match["size"].strip()
    return ""


def say_paper_space(document, name: str, findings: Findings) -> None:
    """Whatever stands in paper space is not read; views of the drawing are nothing to read."""
    for layout in document.layouts:
        if layout.is_modelspace:
            continue
        count = sum(entity.dxftype() != "VIEWPORT" for entity in layout)
        if count:
            what = f"{count} {'entity' if count == 1 else 'entities'} in paper space ({layout.name}) not read"
            findings.warn(name, f"{what}; only what is drawn in model space counts")


def say_far(name: str, paths: Sequence[Path], findings: Findings) -> None:
    """Say where a drawing lies so far from its origin that no table would reach it."""
    corners = np.array([path.points.min(axis=0) for path in paths if len(path.points)]).reshape(-1, 2)
    away = float(np.abs(corners.min(axis=0)).max()) if len(corners) else 0.0
    if away > FAR_MM:
        findings.warn(name, f"it lies {away / 1000.0:.0f} m from its origin; move it there before it goes to a table")
