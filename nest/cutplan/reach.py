"""Whether table and tool reach what is to be cut, and whether HP-GL does: the warnings where not."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from nest.cutplan.curves import tight_words
from nest.cutplan.frame import Frame, frame_of
from nest.cutplan.hpgl import LEAST_UNIT, MOST_UNIT, UNITS_PER_MM
from nest.job.cutting_table import CuttingTable, FileKind
from nest.plan import HideLayout, Lay, Plan

Box = tuple[float, float, float, float]
"""Least x, least y, most x, most y, mm."""

_ROUNDING_MM = 0.01


def table_box(table: CuttingTable, used: Box) -> Box:
    """Where the table can be taken to reach, if the material lies within `used`; inf where nothing is known.

    Never to the other side of its origin, unless the material itself lies there.
    """
    spans = [_span(*span) for span in ((table.length_mm, used[0], used[2]), (table.width_mm, used[1], used[3]))]
    (x_min, x_max), (y_min, y_max) = spans
    return x_min, y_min, x_max, y_max


def cut_box(rings: Sequence[np.ndarray], table: CuttingTable) -> Box:
    """The box that no cut leaves, if these rings (n, 2) are to be cut out."""
    x_min, y_min, x_max, y_max = shapely.total_bounds([shapely.LinearRing(ring) for ring in rings])
    beyond = table.reach_mm + table.knife_offset_mm
    return x_min - beyond, y_min - beyond, x_max + beyond, y_max + beyond


def reach_words(box: Box, table: CuttingTable) -> Iterator[str]:
    """A sentence for each limit that cuts within this box leave."""
    sizes = (("x", table.length_mm, box[0], box[2]), ("y", table.width_mm, box[1], box[3]))
    for axis, size, low, high in sizes:
        if size is None:
            continue
        # A table may count from either of its ends.
        if max(-low, high - size) > _ROUNDING_MM and max(high, -size - low) > _ROUNDING_MM:
            yield (
                f"cuts leave the table, which reaches {size:g} mm from its origin along {axis}: set origin and "
                "turn_deg so that it fits, or cut it on a larger table"
            )
    if FileKind.HPGL not in table.files:
        return
    if min(box[0], box[1]) < -_ROUNDING_MM:
        yield (
            "HP-GL coordinates are below 0, and many tables draw only above: set origin to \"lower left\", or move it "
            "by origin_x_mm and origin_y_mm"
        )
    units = np.array(box) * UNITS_PER_MM
    if units.min() < LEAST_UNIT or units.max() > MOST_UNIT:
        yield (
            f"HP-GL coordinates leave 16 bits, {LEAST_UNIT} to {MOST_UNIT} plotter units "
            f"({MOST_UNIT / UNITS_PER_MM:.0f} mm): a table that keeps to them cuts in wrong places; see its manual, or "
            "give it the DXF drawing"
        )


def table_notes(plan: Plan) -> tuple[str, ...]:
    """The same for all that is still to be cut by a plan, each sentence once, after what curves are too tight."""
    said: dict[str, list[HideLayout | Lay]] = {}
    table = plan.settings.table
    for part, frame in _parts(plan):
        rings = [frame.apply(one.pose.apply(plan.piece(one.piece_id).cut_outline)) for one in part.placed]
        for sentence in reach_words(cut_box(rings, table), table):
            said.setdefault(sentence, []).append(part)
    parts: list[HideLayout | Lay] = [*plan.layouts_to_cut, *plan.lays_to_cut]
    used = {one.piece_id: None for part in parts for one in part.placed}
    tight = tight_words(map(plan.piece, used), table)
    tool = (f"Cut lines: {tight}; each drawing says on how many of its own.",) if tight else ()
    return (*tool, *(f"{_listed(those)}: {sentence}." for sentence, those in said.items()))


def _listed(parts: Sequence[HideLayout | Lay]) -> str:
    """Hides and lays by name: "Hides H01, H02; lay L1"."""
    lays = [f"lay {part.lay_id}" for part in parts if isinstance(part, Lay)]
    hides = [part.hide_id for part in parts if not isinstance(part, Lay)]
    named = ([f"hide{'s' if len(hides) > 1 else ''} {', '.join(hides)}"] if hides else []) + lays
    told = "; ".join(named)
    return told[:1].upper() + told[1:]


def _parts(plan: Plan) -> Iterator[tuple[HideLayout | Lay, Frame]]:
    """Hides and lays to cut, and how they lie on the table."""
    table = plan.settings.table
    stock: dict[str, object] = {hide.hide_id: hide.outline for hide in plan.hides}
    widths = {roll.roll_id: roll.usable_width_mm for roll in plan.rolls}
    parts = plan.groups_to_cut
    for part in parts:
        if not part.placed:
            continue
        if isinstance(part, Lay):
            strip = shapely.box(0.0, 0.0, part.length_mm, widths[part.roll_id])
            yield part, frame_of(table, strip, turned_over=False)
        else:
            outline = stock[part.hide_id]
            yield part, frame_of(table, outline, turned_over=table.grain_down)


def _span(size: float | None, low: float, high: float) -> tuple[float, float]:
    """From where to where the table reaches along one axis."""
    size = np.inf if size is None else size
    return (min(0.0, low), max(size, high)) if high > 0.0 else (min(-size, low), 0.0)
