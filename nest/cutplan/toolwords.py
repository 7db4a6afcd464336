"""What drawing and sheet say of the tool: how it goes, what it writes, and what to look out for."""

from collections.abc import Iterable

import numpy as np

from geometry.arcs import radii
from nest.cutplan.curves import tight_words
from nest.cutplan.grid import exact
from nest.cutplan.path import CHORD_TURN_DEG
from nest.cutplan.reach import cut_box, reach_words
from nest.cutplan.work import Work
from nest.job.cutting_table import NumberPlace, NumberTool
from nest.pieces.piece import Piece
from nest.text import count_words

_WHERE = {NumberPlace.BAND: "within the trim-off band", NumberPlace.INSIDE: "inside the net area"}


def tool_words(work: Work) -> list[str]:
    """How the tool's way differs from the outlines wanted."""
    table, told = work.table, []
    if table.tool_radius_mm > 0.0:
        radius = exact(table.tool_radius_mm)
        told.append(f"Cut lines are moved out by the tool's radius, {radius} mm: leave it to no other.")
    if table.curve_mm > 0.0:
        told.append(_curve_words(work))
    elif table.thin_mm > 0.0:
        thin = exact(table.thin_mm)
        told.append(f"Cut lines have fewer vertices: up to {thin} mm outside the outline, never inside.")
    if table.lead_in_mm > 0.0:
        led = sum(path.lead is not None for path in work.paths)
        lead = exact(table.lead_in_mm)
        told.append(f"Lead-ins of up to {lead} mm within the trim-off band: {led} of {len(work.paths)}.")
    if table.overcut_mm > 0.0:
        told.append(f"Overcut {table.overcut_mm:g} mm in HP-GL files; DXF outlines are closed: set it on the table.")
    return [*told, *knife_words(work), *number_words(work)]


def knife_words(work: Work) -> list[str]:
    """Where a knife goes otherwise than along the line that it cuts."""
    table, ways = work.table, [path.knife for path in work.paths if path.knife is not None]
    if not ways:
        return []
    told = []
    if table.knife_offset_mm > 0.0:
        told.append(
            f"The blade trails its pivot by {table.knife_offset_mm:g} mm: files in HP-GL and lean drawings hold the "
            "way of the pivot; set no offset on the table. This drawing holds the line that is cut: give it to no "
            "head with such a blade."
        )
    loops, turned = (sum(getattr(way, name) for way in ways) for name in ("loops", "turned"))
    how = "is raised and turned" if table.lift_at_corners else "turns on the spot"
    if table.corner_loop_mm > 0.0:
        told.append(
            f"{count_words(loops, 'corner')} with a loop of up to {table.corner_loop_mm:g} mm within the trim-off "
            f"band; {count_words(turned, 'corner')} without room for one, where the knife {how}."
        )
    elif turned:
        told.append(f"{count_words(turned, 'corner')} where the knife {how}.")
    return told


def number_words(work: Work) -> list[str]:
    """What writes the number of a piece, where, and on how many."""
    table = work.table
    if table.number is NumberTool.NONE:
        return []
    done = len({mark.index for mark in work.marks if mark.use == "number"})
    told = [f"Numbers of the pieces by {table.number} {_WHERE[table.number_place]}: {done} of {len(work.placed)}."]
    if table.number is NumberTool.PUNCH:
        told.append(
            "Punched numbers: hold the edge towards you and read from left to right. A dot near the edge counts one, "
            "a dot further in counts five; two dots further in, with none near the edge, are a nought."
        )
    if done < len(work.placed):
        told.append("Look out: a piece without room for its number is known by the picture of the sheet alone.")
    return told


def look_out(work: Work, pieces: Iterable[Piece]) -> list[str]:
    """What an operator is to look out for with this tool on this table; `pieces` are those placed."""
    table, found = work.table, []
    if tight := tight_words(pieces, table):
        found.append(f"Look out: {tight}.")
    bare = sum(path.knife is not None and path.knife.bare for path in work.paths)
    if bare:
        found.append(
            f"Look out: {count_words(bare, 'cut')} without room for a lead-in, where the blade may come down up to "
            f"{2.0 * table.knife_offset_mm:g} mm off the line; the cut runs on past its start to make up for it."
        )
    rings = [path.wanted for path in work.paths]
    beyond = [f"Look out: {words}." for words in reach_words(cut_box(rings, table), table)] if rings else []
    return found + beyond


def _curve_words(work: Work) -> str:
    """How cut lines are smoothed, and how tight their curves are."""
    table = work.table
    tightest = [float(radii(path.arcs).min()) for path in work.paths if path.arcs is not None]
    least = min(tightest, default=np.inf)
    how = "arcs" if table.arcs else f"chords, turning by {CHORD_TURN_DEG:g} deg at most along a curve"
    smallest = f"smallest radius {least:.1f} mm" if np.isfinite(least) else "no curve"
    plain = sum(path.arcs is None for path in work.paths)
    rest = f"; {plain} outlines stay as they are" if plain else ""
    return (
        f"Cut lines are smooth: up to {exact(table.curve_mm)} mm outside the outline, never inside; {how}, "
        f"{smallest}{rest}."
    )
