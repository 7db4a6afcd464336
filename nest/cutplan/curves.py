"""How tight the curves of a cut line are: what is to be said of them to a tool that follows no small radius."""

from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from geometry.arcs import CORNER_DEG, radii
from nest.cutplan.path import smooth_chain, tool_ring
from nest.job.cutting_table import CuttingTable
from nest.pieces.piece import Piece


def curve_radii(piece: Piece, table: CuttingTable) -> np.ndarray:
    """Radius of the cut line along it, mm, inf where it is straight: of its arcs, else at its vertices; no corners."""
    outline = np.asarray(piece.cut_outline)
    chain = smooth_chain(outline, table) if table.curve_mm > 0.0 else None
    return vertex_radii(tool_ring(outline, table)) if chain is None else radii(chain)


def vertex_radii(ring: np.ndarray) -> np.ndarray:
    """Radius of the circle through each vertex of a ring (n, 2) and its two neighbours, mm; inf at corners."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turn = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
    with np.errstate(divide="ignore"):
        found = np.hypot(*(before + after).T) / (2.0 * np.abs(np.sin(turn)))
    return np.where(np.abs(np.degrees(turn)) > CORNER_DEG, np.inf, found)


def tight_words(pieces: Iterable[Piece], table: CuttingTable) -> str:
    """The warning where curves are tighter than the tool follows; "" where none is, or no radius is stated."""
    least = table.least_radius_mm
    if least is None:
        return ""
    tight = [found for found in (_tight(piece, table) for piece in pieces) if found[0]]
    if not tight:
        return ""
    count = sum(number for number, _ in tight)
    many = "curve is" if count == 1 else "curves are"
    return (
        f"{count} {many} tighter than the {least:g} mm that the tool follows, down to "
        f"{min(tightest for _, tightest in tight):.1f} mm"
    )


@lru_cache(maxsize=1024)
def _tight(piece: Piece, table: CuttingTable) -> tuple[int, float]:
    """How many curves of a piece are too tight, each once however many vertices it has; the least radius, mm."""
    found = curve_radii(piece, table)
    tight = found < table.least_radius_mm
    begun = int((tight & ~np.roll(tight, 1)).sum())
    return begun or int(tight.all()), float(found.min())
